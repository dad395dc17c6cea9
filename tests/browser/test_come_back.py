"""On a phone: a scale is entered in the middle of a weighing, and what was typed is still there."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from .conftest import HOME, Server, next_page, press
from .looking import faults
from .test_journeys import entries


@pytest.mark.any_database
@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
def test_a_scale_is_entered_in_the_middle_of_a_weighing(
    visitor: Callable[..., Page], server: Server, script: bool
) -> None:
    page = visitor(server, width=360, script=script)
    before = entries(server)
    weighing = f"{server.address}{HOME}cylinders/25/weigh/"
    page.goto(weighing)
    page.fill("[name=gross]", "15.87")
    page.locator("summary", has_text="When, note").click()
    page.fill("[name=note]", "by the door")
    press(page, "Enter a scale")
    assert page.inner_text("h1") == "Enter a scale"
    assert not script or faults(page, (360, 320)) == []
    page.fill("[name=name]", "S 44")
    page.fill("[name=step]", "10")
    with next_page(page):
        page.locator("main form.form button.main").click()
    assert page.url.startswith(f"{weighing}?kept=")
    assert page.input_value("[name=gross]") == "15.87"
    assert page.input_value("[name=note]") == "by the door"
    assert page.locator("label", has=page.locator("[name=scale]:checked")).inner_text().startswith("S 44")
    assert entries(server) == before
    page.go_back()
    page.get_by_role("heading", name="Enter a scale").wait_for()
    page.wait_for_load_state("networkidle")
    page.goto(weighing + "?kept=" + page.url.partition("back=")[2])  # forward, or the quiet link
    assert page.input_value("[name=gross]") == "15.87"
    with next_page(page):
        page.locator("main form.form button.main").click()
    if page.locator(".read-back").count():
        press(page, "Write the reading before")
    page.get_by_text("Before written as line").first.wait_for()
    assert entries(server) == before + 1
