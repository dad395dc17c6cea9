"""On a phone the pages of daily work begin near their head, and a long visit stays short.

The bounds are those of a phone of 360 x 740 px; what is measured is where the first field or figure that can be seen
begins, and on pages that only offer a choice or open a group, where the first of these begins.
"""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from .conftest import HOME, Server

WIDTH, SCREEN = 360, 740
FIELD = "input:not([type=hidden]), select, textarea, dd, td, .reading-big"
CHOICE = "p a, li a, summary"
PAGES = {
    "": FIELD,
    "weigh/": FIELD,
    "cylinders/": FIELD,
    "cylinders/25/": FIELD,
    "cylinders/25/weigh/": FIELD,
    "cylinders/receive/": CHOICE,
    "cylinders/receive/?origin=purchase&kind=refillable": FIELD,
    "send-away/": FIELD,
    "vehicles/": FIELD,
    "visits/": FIELD,
    "visits/new/": FIELD,
    "visits/1/": FIELD,
    "visits/1/charge/": FIELD,
    "visits/1/recover/": FIELD,
    "visits/1/add/pressure-hold/": FIELD,
    "visits/1/add/vacuum-hold/": FIELD,
    "visits/1/watch/pressure-hold/": FIELD,
    "visits/1/hand-over/": FIELD,
    "findings/": CHOICE,
}
BEGINS = """wanted => Math.min(...[...document.getElementById('main').querySelectorAll(wanted)]
  .filter(e => e.checkVisibility({ contentVisibilityAuto: true }) && e.getBoundingClientRect().height > 1)
  .map(e => e.getBoundingClientRect().top + scrollY))"""
LONG = "visits/1/"  # nineteen steps


def test_pages_of_daily_work_begin_within_three_screens(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=WIDTH)
    page.set_viewport_size({"width": WIDTH, "height": SCREEN})
    begins = {}
    for address, wanted in PAGES.items():
        answer = page.goto(server.address + HOME + address)
        assert answer, address
        assert answer.status == 200, address
        begins[address] = page.evaluate(BEGINS, wanted)
    assert {address: top for address, top in begins.items() if not top < 3 * SCREEN} == {}
    assert begins[LONG] < SCREEN  # its next step stands on the first screen


def test_a_long_visit_is_short_on_a_phone_and_open_at_a_desk(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=WIDTH)
    page.set_viewport_size({"width": WIDTH, "height": SCREEN})
    page.goto(server.address + HOME + LONG)
    assert page.evaluate("document.documentElement.scrollHeight") < 5 * SCREEN
    first, last = page.locator(".visit-log > li").first, page.locator("#newest")
    assert not first.is_visible()
    assert last.is_visible()
    page.locator("summary", has_text="Earlier (16)").click()
    assert first.is_visible()
    page.set_viewport_size({"width": 1440, "height": 800})
    page.goto(server.address + HOME + LONG)
    assert page.evaluate("document.querySelector('.visit-log').checkVisibility({ contentVisibilityAuto: true })")
    past, beside = page.locator(".visit-past").bounding_box(), page.locator("#asked").bounding_box()
    assert past
    assert beside
    assert beside["x"] > past["x"] + past["width"]


@pytest.mark.parametrize("script", [True, False])
def test_a_link_to_an_earlier_entry_opens_it(visitor: Callable[..., Page], server: Server, script: bool) -> None:
    page = visitor(server, width=WIDTH, script=script)
    page.goto(server.address + HOME + LONG)
    name = page.locator(".visit-log > li").nth(2).get_attribute("id")
    page.goto(f"{server.address}{HOME}{LONG}#{name}")
    entry = page.locator(f"#{name}")
    entry.wait_for(state="visible")
    box = entry.bounding_box()
    assert box
    assert -1 <= box["y"] < 800
