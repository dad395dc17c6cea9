"""What a page says and keeps while parts of it are exchanged."""

import re
from collections.abc import Callable

from playwright.sync_api import Page, expect

from .conftest import HOME, Server


def test_a_text_area_that_was_drawn_taller_sets_no_style_that_the_policy_blocks(
    server: Server, visitor: Callable[..., Page]
) -> None:
    page = visitor(server, name="technician")
    blocked: list[str] = []
    page.on("console", lambda message: blocked.append(message.text) if "inline style" in message.text else None)
    page.goto(f"{server.address}{HOME}visits/new/")
    page.evaluate("document.querySelector('#id_says').style.height = '200px'")  # as its corner does when it is drawn
    page.get_by_role("button", name="Start the visit", exact=True).click()
    page.locator(".put-right").wait_for()
    page.wait_for_timeout(500)
    assert blocked == []


def test_a_gauge_reading_is_echoed_anew_when_the_barometer_is_typed(
    server: Server, visitor: Callable[..., Page]
) -> None:
    page = visitor(server, name="technician")
    page.goto(f"{server.address}{HOME}visits/1/add/pressure-hold/")
    echo = page.locator(".quantity", has=page.locator("[name=allowed]")).locator(".echo")
    page.fill("[name=allowed]", "10")
    expect(echo).to_have_text(re.compile("11.0"))
    page.fill("[name=barometer]", "840")
    page.press("[name=barometer]", "Tab")
    expect(echo).to_have_text(re.compile("10.8"))
