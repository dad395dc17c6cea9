"""The set-up on a phone, from an empty database: left half way, the server killed in between, and gone on with."""

import pytest
from playwright.sync_api import Browser, Page

from .conftest import Server, code_of, lines_of, next_page, press
from .looking import faults

OWNER = {"username": "maren", "display_name": "Maren Holt", "password": "four unrelated words"}


def go_on(page: Page) -> None:
    with next_page(page):
        page.locator("main form.form button.main").click()


@pytest.mark.any_database
@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
def test_goes_on_where_it_was_left(browser: Browser, empty_server: Server, script: bool) -> None:
    def phone() -> Page:
        """Open a browser that knows nothing of before."""
        facts = {"java_script_enabled": script, "has_touch": True, "timezone_id": "America/Chicago"}
        return browser.new_context(viewport={"width": 360, "height": 740}, **facts).new_page()  # type: ignore[arg-type]

    def at(page: Page, title: str) -> None:
        """See which step the page is, and that nothing is wrong with it."""
        assert page.inner_text("h1") == title
        assert not script or faults(page, (360, 320)) == []

    def return_to(*, killed: bool = False) -> Page:
        """Sign in on another phone, the server killed and started again in between where that is asked."""
        if killed:
            empty_server.kill()
            empty_server.start()
        page = phone()
        page.goto(f"{empty_server.address}/")
        page.fill("[name=username]", OWNER["username"])
        page.fill("[name=password]", OWNER["password"])
        go_on(page)
        return page

    page = phone()
    page.goto(empty_server.address)
    for name, text in {"code": code_of(empty_server.book), **OWNER}.items():
        page.fill(f"[name={name}]", text)
    go_on(page)
    at(page, "The workshop")

    page = return_to(killed=script)
    at(page, "The workshop")
    page.fill("[name=name]", "Third Street")
    page.check("[name=jurisdiction][value=us]")
    if script:
        assert page.input_value("[name=zone]") == "America/Chicago"
    page.select_option("[name=zone]", "America/Chicago")
    go_on(page)
    at(page, "Units")
    assert page.is_checked("[name=mass_unit][value='lb oz']")
    assert page.is_checked("[name=pressure_unit][value=psi]")

    page = return_to()
    at(page, "Units")
    go_on(page)
    at(page, "Scales")
    page.go_back()
    at(page, "Units")
    page.go_forward()
    at(page, "Scales")
    page.fill("[name=name]", "S1")
    page.fill("[name=step]", "2")
    page.select_option("[name=step_unit]", "g")
    go_on(page)
    assert "S1" in page.inner_text("main")

    page = return_to()
    at(page, "Gauges")
    page.fill("[name=name]", "G1")
    page.fill("[name=step]", "1")
    go_on(page)
    assert "G1, pressure gauge, steps of 1 psi" in page.inner_text("main")

    page = return_to()
    at(page, "From a phone")
    assert "A phone cannot reach it" in page.inner_text("main")
    press(page, "Use this machine alone")
    at(page, "Cylinders")
    press(page, "Later")
    at(page, "Recovery or charging machine")
    press(page, "Later")
    at(page, "Your certificate")
    press(page, "I hold none")
    at(page, "People")
    press(page, "Nobody else works here")
    at(page, "Logbook")

    page = return_to()
    at(page, "Logbook")
    with next_page(page):
        page.get_by_role("link", name="Enter the first cylinder").click()
    at(page, "Cylinders")
    assert lines_of(empty_server, "select name from inventory_scale") == [("S1",)]
    assert lines_of(empty_server, "select name, mass_unit from shop_workshop") == [("Third Street", "lb oz")]
    assert lines_of(empty_server, "select count(*) from shop_user") == [(1,)]
    for context in browser.contexts:
        context.close()
