"""On a phone, in an empty book in pounds: from a leg with no cylinder at all to a recovered and a charged mass."""

import os

import pytest
from playwright.sync_api import Browser, Page

from .conftest import Server, code_of, lines_of, next_page, press
from .looking import faults
from .test_journeys import send as press_through
from .test_set_up import OWNER, go_on

LB_MG = 453_592.37


def send(page: Page) -> None:
    """Press the form through its read-back, and see that nothing is to be put right."""
    press_through(page)
    assert page.locator("main .put-right").count() == 0, page.inner_text("main .put-right")


def follow(page: Page, words: str) -> None:
    with next_page(page):
        page.get_by_role("link", name=words).first.click()


def fill(page: Page, **typed: str) -> None:
    for name, text in typed.items():
        page.fill(f"[name={name}]", text)


@pytest.mark.any_database
@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
def test_from_nothing_to_a_recovered_and_a_charged_mass(browser: Browser, empty_server: Server, script: bool) -> None:
    context = browser.new_context(
        viewport={"width": 360, "height": 740},
        java_script_enabled=script,
        has_touch=True,
        timezone_id="America/Chicago",
    )
    page = context.new_page()
    seen: list[str] = []

    def look(name: str) -> None:
        """See that nothing is wrong with the page at this width; keep a picture where one is wanted."""
        seen.append(page.inner_text("h1"))
        assert not script or faults(page, (360, 320)) == []
        if folder := os.environ.get("PICTURES"):
            page.screenshot(path=f"{folder}/{len(seen):02}-{name}-{'script' if script else 'bare'}.png", full_page=True)

    _set_up(page, empty_server)
    page.goto(f"{empty_server.address}/w/third-street/visits/new/")
    fill(page, registration="ABC 123")
    page.locator("[name=state]").first.check()
    send(page)
    visit = page.url

    page.goto(f"{visit}add/label-read/")
    page.check("[name=label][value='label read']")
    page.select_option("[name=refrigerant]", "R-134a")
    fill(page, mass="1.8 lb")
    send(page)

    page.goto(f"{visit}recover/")
    look("no cylinder")
    follow(page, "Bring in an empty cylinder")
    look("bring in")
    assert page.input_value("[name=refrigerant]") == "R-134a"
    fill(page, serial="R-1", tare="27.0", water_capacity="26.2")
    send(page)
    assert page.inner_text("h1") == "Recover into R-1"
    look("leg out")
    fill(page, before="12.25 kg", after="12.93 kg")
    page.locator("[name=stopped]").first.check()
    send(page)
    assert page.url == visit

    page.goto(f"{visit}charge/")
    look("no gas")
    follow(page, "Receive a cylinder")
    look("what comes")
    follow(page, "Single-trip cylinder")
    fill(page, serial="N-1", gross="16.33 kg")
    press(page, "Enter a supplier")
    look("supplier")
    fill(page, name="Harbour Gas")
    go_on(page)
    assert page.input_value("[name=serial]") == "N-1"
    look("receive")
    fill(page, tare="6.0")
    send(page)
    assert page.inner_text("h1") == "Charge from N-1"
    look("leg in")
    fill(page, before="16.33 kg", after="15.51 kg")
    send(page)
    look("visit")

    moved = dict(
        lines_of(empty_server, "select cause, mass_mg from inventory_movement where cause != 'found-in-vehicle'")
    )
    assert (moved["recovery"], moved["charge"]) == (680_000, 820_000)
    assert moved["purchase"] == 16_330_000 - round(6 * LB_MG)
    context.close()


def _set_up(page: Page, server: Server) -> None:
    page.goto(server.address)
    fill(page, code=code_of(server.book), **OWNER)
    go_on(page)
    fill(page, name="Third Street")
    page.check("[name=jurisdiction][value=us]")
    page.select_option("[name=zone]", "America/Chicago")
    go_on(page)
    go_on(page)
    fill(page, name="S1", step="10")
    page.select_option("[name=step_unit]", "g")
    go_on(page)
