"""Each way in which a cylinder comes has a page in order, on a phone and at a desk, all of it unfolded."""

import os
from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from inventory.shelf.origins import WAYS

from .conftest import HOME, Server
from .looking import faults_everywhere, with_axe


@pytest.mark.any_database
def test_each_way_is_in_order(visitor: Callable[..., Page], server: Server) -> None:
    page = with_axe(visitor(server))
    found = {}
    ways = [f"origin={origin}&kind={kind}" for origin, kinds in WAYS.items() for kind in kinds]
    for way in ["only=gas", *ways]:
        page.goto(f"{server.address}{HOME}cylinders/receive/?{way}")
        for more in page.locator("main form details").all():
            more.evaluate("one => { one.open = true }")
        if wrong := faults_everywhere(page):
            found[way] = wrong
        if folder := os.environ.get("PICTURES"):
            name = way.replace("&", "-").replace(" ", "")
            for width in (360, 1440):
                page.set_viewport_size({"width": width, "height": 800})
                page.screenshot(path=f"{folder}/way-{width}-{name}.png", full_page=True)
    assert found == {}
