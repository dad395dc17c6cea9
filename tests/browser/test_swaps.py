"""What a page says and keeps while parts of it are exchanged."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from .conftest import HOME, Server, press

pytestmark = pytest.mark.any_database


def test_a_text_area_that_was_drawn_taller_sets_no_style_that_the_policy_blocks(
    server: Server, visitor: Callable[..., Page]
) -> None:
    page = visitor(server, name="technician")
    blocked: list[str] = []
    page.on("console", lambda message: blocked.append(message.text) if "inline style" in message.text else None)
    page.goto(f"{server.address}{HOME}visits/new/")
    page.evaluate("document.querySelector('#id_says').style.height = '200px'")  # as its corner does when it is drawn
    press(page, "Start the visit")
    page.locator(".put-right").wait_for()
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


def test_photos_chosen_before_a_reading_became_a_check_are_asked_for_again(
    server: Server, visitor: Callable[..., Page], tmp_path: Path
) -> None:
    taken = tmp_path / "scale.jpg"
    Image.new("RGB", (60, 40)).save(taken)
    page = visitor(server, width=360, name="technician")
    page.goto(f"{server.address}{HOME}cylinders/25/weigh/")
    page.fill("[name=gross]", "15.870")
    page.get_by_text("When, note, photos").click()
    page.locator("input[name=photos]").set_input_files([taken])
    page.get_by_role("button", name="Only a check weighing").click()
    page.get_by_role("heading", name="Check weighing").wait_for()
    expect(page.locator("[name=gross]")).to_have_value("15.870")
    expect(page.get_by_text("Take or choose the photos again")).to_be_visible()
