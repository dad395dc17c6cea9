"""The field of a scale's reading: what it says as one types, and the unit that follows the scale that is chosen."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from .conftest import HOME, PATIENCE_S, Server, lines_of, next_page
from .test_journeys import choose, send

pytestmark = pytest.mark.any_database
WEIGH = f"{HOME}cylinders/25/weigh/"  # 6.2 kg empty, last read at 15.870 kg on S2, which carries 50 kg
SAYS = {
    "15.870": "As last time: agrees.",
    "15.2": "less than last time: unexplained",
    "17": "more than last time: unexplained",
    "25": "full of R-134a, liquid at",
    "5": "less than the empty mass of C-44",
    "158.7": "is more than S2 carries",
    "letters": "",
}


def test_the_field_says_as_one_types_what_a_reading_would_mean(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=360, name="technician")
    page.goto(server.address + WEIGH)
    choose(page, "scale", "2")
    echo = page.locator(".quantity", has=page.locator("[name=gross]")).locator(".echo")
    for typed, says in SAYS.items():
        page.fill("[name=gross]", typed)
        patience = PATIENCE_S * 1000  # the first figure waits for the library of gases
        expect(echo).to_have_text(re.compile(re.escape(says) if says else r"^\s*$"), timeout=patience)


def test_the_unit_follows_the_scale_until_a_figure_is_typed_or_a_unit_chosen(
    visitor: Callable[..., Page], server: Server
) -> None:
    page = visitor(server, width=360)
    page.goto(f"{server.address}{HOME}settings/scales/new/")
    page.fill("[name=name]", "S9")
    page.fill("[name=step]", "0.5")
    page.select_option("[name=step_unit]", "lb oz")
    send(page)
    page.goto(server.address + WEIGH)
    unit = page.locator("[name=gross_unit]")
    for scale, shown in (("2", "kg"), ("3", "lb oz"), ("2", "kg")):
        choose(page, "scale", scale)
        expect(unit).to_have_value(shown)
    page.fill("[name=gross]", "15.870")
    choose(page, "scale", "3")
    expect(unit).to_have_value("kg")
    page.fill("[name=gross]", "")
    choose(page, "scale", "2")
    choose(page, "scale", "3")
    expect(unit).to_have_value("lb oz")
    page.select_option("[name=gross_unit]", "oz")
    choose(page, "scale", "2")
    expect(unit).to_have_value("oz")


def test_a_press_before_it_was_said_what_was_read_says_it_and_the_next_one_writes(
    visitor: Callable[..., Page], server: Server
) -> None:
    page = visitor(server, width=360, name="technician")
    page.goto(server.address + WEIGH)
    choose(page, "scale", "2")
    lines = lines_of(server, "select count(*) from inventory_entry")
    said, button = page.locator(".press-again"), page.get_by_role("button", name="Write the reading before")
    page.fill("[name=gross]", "15.870")
    button.click()
    expect(said).to_contain_text("15.870 kg gross", timeout=PATIENCE_S * 1000)
    expect(said).to_contain_text("agrees. Press again if that is right.")
    assert page.url == server.address + WEIGH
    assert lines_of(server, "select count(*) from inventory_entry") == lines
    with next_page(page):
        button.click()
    assert lines_of(server, "select count(*) from inventory_entry") == [(lines[0][0] + 1,)]


def test_a_figure_that_cannot_be_read_is_refused_however_soon_the_button_is_pressed(
    visitor: Callable[..., Page], server: Server
) -> None:
    page = visitor(server, width=360, name="technician")
    page.goto(server.address + WEIGH)
    choose(page, "scale", "2")
    page.fill("[name=gross]", "1,234")
    page.get_by_role("button", name="Write the reading before").click()
    expect(page.locator("#put-right")).to_be_visible(timeout=PATIENCE_S * 1000)
    assert page.locator(".press-again").count() == 0
