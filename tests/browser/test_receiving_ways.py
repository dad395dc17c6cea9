"""Each way in which a cylinder comes has a page in order, on a phone and at a desk, all of it unfolded."""

import os
from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from inventory.shelf.origins import WAYS

from .conftest import HOME, Server
from .test_every_page import _faults


@pytest.mark.parametrize("widths", [(360, 320), (1440, 768)])
def test_each_way_is_in_order(visitor: Callable[..., Page], server: Server, widths: tuple[int, int]) -> None:
    page = visitor(server, width=widths[0])
    found = {}
    ways = [f"origin={origin}&kind={kind}" for origin, kinds in WAYS.items() for kind in kinds]
    for way in ["only=gas", *ways]:
        page.goto(f"{server.address}{HOME}cylinders/receive/?{way}")
        for more in page.locator("main form details").all():
            more.evaluate("one => { one.open = true }")
        if faults := _faults(page, widths):
            found[way] = faults
        if folder := os.environ.get("PICTURES"):
            name = way.replace("&", "-").replace(" ", "")
            page.screenshot(path=f"{folder}/way-{widths[0]}-{name}.png", full_page=True)
    assert found == {}
