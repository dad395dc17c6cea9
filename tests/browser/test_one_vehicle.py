"""On a phone: a plate that was typed otherwise, one that was misread, and two records of one vehicle made one."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from .conftest import HOME, Server, lines_of, next_page
from .looking import faults
from .test_journeys import choose, send


def start(page: Page, server: Server, plate: str) -> None:
    page.goto(f"{server.address}{HOME}visits/new/")
    page.fill("[name=registration]", plate)
    choose(page, "state", "runs")
    send(page)


def answer(page: Page, words: str) -> None:
    """Press a button beside a question."""
    with next_page(page):
        page.get_by_role("button", name=words).click()


def records(server: Server) -> int:
    return int(lines_of(server, "SELECT COUNT(*) FROM shop_vehicle")[0][0])


@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
def test_one_vehicle_has_one_record(server: Server, visitor: Callable[..., Page], script: bool) -> None:
    page, before = visitor(server, width=360, script=script), records(server)
    start(page, server, "v-4")
    assert page.inner_text("h1").endswith("V4")
    start(page, server, "VA")
    start(page, server, "Vl")
    assert "Did you mean V1 (last seen" in page.inner_text("main")
    assert not script or faults(page, (360, 320)) == []
    answer(page, "Yes, V1")
    assert page.inner_text("h1").endswith("V1")
    start(page, server, "vI")
    answer(page, "No, it is another")
    assert page.inner_text("h1").endswith("vI")
    assert records(server) == before + 2
    chain = lines_of(server, "SELECT seq, digest FROM inventory_entry ORDER BY seq")

    page.locator("h1 a").click()
    page.get_by_role("link", name="It is the same as another record").click()
    page.select_option("[name=kept]", label=page.locator("[name=kept] option").nth(1).inner_text())
    assert not script or faults(page, (360, 320)) == []
    send(page)
    assert page.inner_text("h1") == "V1"
    assert "Joined to it: vI" in page.inner_text("main")
    assert lines_of(server, "SELECT seq, digest FROM inventory_entry ORDER BY seq") == chain
    page.get_by_role("link", name="vI", exact=True).click()
    page.get_by_role("link", name="Part them again").click()
    send(page)
    assert "Joined to it" not in page.inner_text("main")
    assert lines_of(server, "SELECT COUNT(*) FROM inventory_account WHERE joined_to_id IS NOT NULL") == [(0,)]
