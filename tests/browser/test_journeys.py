"""Journeys of a day, as a person at a desk, with a phone, and with script switched off."""

import io
import json
import re
import time
import unicodedata
from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page
from pypdf import PdfReader

from .conftest import HOME, Server, lines_of, next_page, press, until
from .papers import choose_photo, issue, make_link, small_jpeg

REPORT = "statements/2025-01-01/2025-12-31/"


def send(page: Page) -> None:
    """Press the form's main button, and again on the page that reads the figures back."""
    for _ in range(2):
        with next_page(page):
            page.locator("main form.form button.main").last.click()
        if page.locator("dl.read-back").count() == 0:
            return


def choose(page: Page, name: str, value: str) -> None:
    page.locator(f"[name={name}][value='{value}']").check()


def receive(page: Page, server: Server, serial: str) -> None:
    """Receive a full cylinder: 6.2 kg empty, 18.2 kg on the scale, so 12 kg of gas."""
    page.goto(f"{server.address}{HOME}cylinders/receive/")
    page.get_by_role("link", name="Refillable cylinder").first.click()
    page.fill("[name=serial]", serial)
    page.select_option("[name=refrigerant]", "R-134a")
    page.select_option("[name=partner]", label="Harbour Gas Supply, supplier")
    page.fill("[name=tare]", "6.2")
    page.fill("[name=water_capacity]", "12")
    choose(page, "scale", "1")
    page.fill("[name=gross]", "18.2")
    send(page)


def held_mg(server: Server, serial: str) -> int:
    """Return what the book says that a cylinder holds."""
    rows = lines_of(
        server, "SELECT label, mass_mg FROM inventory_holding JOIN inventory_account a ON a.id = account_id"
    )
    return sum(int(mass) for label, mass in rows if label == serial)


def entries(server: Server) -> int:
    return int(lines_of(server, "SELECT COUNT(*) FROM inventory_entry")[0][0])


@pytest.mark.parametrize(("script", "width"), [(True, 1440), (True, 360), (False, 360)])
def test_a_cylinder_is_received_and_its_line_reversed(
    visitor: Callable[..., Page], server: Server, script: bool, width: int
) -> None:
    page = visitor(server, script=script, width=width)
    before = entries(server)
    receive(page, server, "C-90")
    assert held_mg(server, "C-90") == 12_000_000, page.inner_text("main")
    assert entries(server) == before + 1
    page.goto(f"{server.address}{HOME}lines/{before + 1}/reverse/")
    page.fill("[name=reason]", "the wrong cylinder was put on the scale")
    send(page)
    assert held_mg(server, "C-90") == 0, page.inner_text("main")
    assert entries(server) == before + 2


def settles(server: Server, lines: int) -> None:
    """Wait until the book has so many lines, and see that it has no more."""
    deadline = time.monotonic() + 20
    while entries(server) < lines and time.monotonic() < deadline:
        time.sleep(0.05)
    assert entries(server) == lines


def press_twice(page: Page) -> None:
    """Press the main button as a hasty thumb does, and wait until each sending has its answer."""
    with next_page(page):
        page.locator("main form.form button.main").last.dblclick()
    page.wait_for_load_state("networkidle")


@pytest.mark.parametrize("script", [True, False])
def test_a_line_is_written_once_however_often_the_button_is_pressed(
    visitor: Callable[..., Page], server: Server, script: bool
) -> None:
    page = visitor(server, width=360, script=script)
    before = entries(server)
    page.goto(f"{server.address}{HOME}cylinders/25/weigh/")
    page.fill("[name=gross]", "15.870")  # what it last read
    choose(page, "scale", "2")
    press_twice(page)
    if page.locator("dl.read-back").count():
        press_twice(page)
    settles(server, before + 1)
    page.go_back()
    page.wait_for_load_state("networkidle")
    if page.locator("[name=gross]:visible").count():  # Back, and the same form sent again
        with next_page(page):
            page.locator("main form.form button.main").last.click()
        page.wait_for_load_state("networkidle")
    settles(server, before + 1)


@pytest.mark.parametrize("script", [True, False])
def test_a_visit_recovers_and_charges(visitor: Callable[..., Page], server: Server, script: bool) -> None:
    page = visitor(server, width=360, script=script)
    before = entries(server)
    page.goto(f"{server.address}{HOME}visits/new/")
    page.fill("[name=registration]", "V9")
    choose(page, "state", "runs")
    send(page)
    visit = re.search(r"/visits/(\d+)/", page.url)
    assert visit, page.inner_text("main")
    address = f"{server.address}{HOME}visits/{visit[1]}/"
    for leg, first, second, scale, chosen in (
        ("recover/?target=24", "17.925", "18.560", "1", ("stopped", "done")),
        ("charge/?source=25", "15.870", "15.220", "2", ("phase", "liquid")),
    ):
        page.goto(address + leg)
        page.fill("[name=before]", first)
        page.fill("[name=after]", second)
        if (folded := page.locator("#leg > details:not([open]) > summary")).count():
            folded.click()
        choose(page, "scale", scale)
        choose(page, *chosen)
        send(page)
        assert page.url == address, page.inner_text("main")
    assert entries(server) == before + 2
    assert held_mg(server, "C-42") == 4_325_000 + 635_000
    assert held_mg(server, "V9") == 650_000 - 635_000 + 650_000
    assert "0.635" in page.inner_text("main")
    assert "0.650" in page.inner_text("main")


def test_a_check_weighing_needs_no_mouse(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server)
    before = entries(server)
    page.goto(f"{server.address}{HOME}cylinders/25/weigh/")
    page.focus("[name=gross]")
    page.keyboard.type("15.870 kg")
    for _ in range(4):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == "scale":
            break
    page.keyboard.press("ArrowDown")
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"
    with next_page(page):
        page.keyboard.press("Enter")
    if page.locator("dl.read-back").count():
        page.locator("main form.form button.main").last.focus()
        with next_page(page):
            page.keyboard.press("Enter")
    settles(server, before + 1)


def test_the_statement_on_paper_has_the_figures_of_its_data(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server)
    data = json.loads(page.request.get(f"{server.address}{HOME}{REPORT}json/").text())
    paper = PdfReader(io.BytesIO(page.request.get(f"{server.address}{HOME}{REPORT}pdf/").body()))
    text = re.sub(r"\s", "", "".join(sheet.extract_text() for sheet in paper.pages))
    rows = data["refrigerants"]
    assert {row["refrigerant"] for row in rows} >= {"R-12", "R-134a", "R-1234yf"}
    for row in rows:
        assert row["refrigerant"] in text
        for name in ("acquired_mg", "charged_mg", "closing_mg"):
            if row[name]:
                assert f"{row[name] / 1e6:.3f}" in text, f"{row['refrigerant']} {name}"


def test_one_more_reading_changes_what_a_hold_says(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=360)
    page.goto(f"{server.address}{HOME}checks/hold/")
    page.get_by_text("What may be added", exact=True).click()
    page.fill("[name=volume]", "1.8 L")
    page.fill("[name=refrigerant]", "R-134a")
    page.select_option("[name=readings_pressure_unit]", "bar")
    said: list[str] = []
    for number, pressure in enumerate(("10", "9.98", "9.1")):
        if page.locator(f"[name=readings_{number}_time]").count() == 0:
            press(page, "One more reading")
        page.fill(f"[name=readings_{number}_time]", str(number * 30))
        page.fill(f"[name=readings_{number}_pressure]", pressure)
        page.fill(f"[name=readings_{number}_temperature]", "20")
        if number:
            press(page, "Work it out")
            said.append(page.inner_text("main"))
    assert page.locator("[aria-invalid=true]").count() == 0, said[-1]
    assert page.locator("svg.drawing").count() == 1
    assert "No leak larger than" in said[0]
    assert "Falling" in said[1]
    sentence = page.locator("#answer strong").first.inner_text()
    printed = "".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(page.pdf(format="A4"))).pages)
    said_plainly, printed_plainly = (
        re.sub(r"\s", "", unicodedata.normalize("NFKC", text))  # a printer joins f and i
        for text in (sentence, printed)
    )
    assert said_plainly in printed_plainly


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until the focus is on what the selector names, and see that the focus shows."""
    for _ in range(150):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", selector):
            assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
            return
    raise AssertionError(f"Tab does not lead to {selector}.")


@pytest.mark.parametrize("script", [True, False])
def test_a_finding_is_explained_without_a_mouse_and_is_owed_no_more(
    visitor: Callable[..., Page], server: Server, script: bool
) -> None:
    page = visitor(server, script=script)
    home = server.address + HOME
    page.goto(home)
    found = page.locator("aside a[href*='/findings/']:not([href*='?'])").first.get_attribute("href")
    assert found, page.inner_text("aside")
    if page.locator("aside details", has=page.locator(f"a[href='{found}']")).count():
        tab_to(page, f"details:has(a[href='{found}']) > summary")
        page.keyboard.press("Enter")
    tab_to(page, f"a[href='{found}']")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{server.address}{found}")
    tab_to(page, "[name=kind]")
    page.keyboard.press("Space")
    tab_to(page, "[name=reason]")
    reason = "The paper of that day lies in the folder of the gate."
    page.keyboard.type(reason)
    tab_to(page, "main form.form button.main")
    with page.expect_response(lambda response: response.request.method == "POST"):
        page.keyboard.press("Enter")
    page.get_by_text("The reason stays with the finding.").first.wait_for()
    page.goto(home)
    assert page.locator(f"a[href='{found}']").count() == 0
    page.goto(server.address + found)
    assert page.inner_text("main h1").startswith("Explained")
    assert f"Explained by Maren Ostrava: {reason}" in page.inner_text("main")


@pytest.mark.parametrize("script", [True, False])
def test_whoever_holds_a_visit_record_checks_its_code_without_signing_in(
    visitor: Callable[..., Page], server: Server, script: bool
) -> None:
    page = visitor(server, width=360, name="technician", script=script)
    code = issue(page, server, "visit-record/visit:1")
    with next_page(page):
        page.locator("footer a", has_text="Sign out").click()
    press(page, "Sign out")
    page.goto(f"{server.address}/verify/")
    page.fill("[name=code]", code.lower().replace("-", " "))
    press(page, "Check it")
    page.locator("#answer").wait_for()
    said = page.inner_text("main")
    assert "Issued as no. 1, visit record" in said
    assert "0.868" in said  # what came out of the vehicle
    assert not re.search(r"(?<![A-Z0-9-])V1(?![A-Z0-9-])", said)  # and not its plate; a code may hold these letters
    page.fill("[name=code]", code[:-1] + ("7" if code[-1] != "7" else "8"))
    press(page, "Check it")
    assert "0.868" not in page.inner_text("main")


@pytest.mark.parametrize("script", [True, False])
def test_a_readers_link_opens_what_it_shows_until_it_is_revoked(
    browser: Browser, visitor: Callable[..., Page], server: Server, script: bool
) -> None:
    page = visitor(server, script=script)
    address = make_link(page, server, "vehicle", "Fleet office", vehicle="8")
    context = browser.new_context(viewport={"width": 360, "height": 800})
    reader = context.new_page()
    assert (answer := reader.goto(address)) is not None
    assert answer.status == 200
    assert "Recovered 0.868" in reader.inner_text("main")
    assert reader.locator("main form, main a[href*='/w/']").count() == 0  # it reads, and leads nowhere else
    page.goto(f"{server.address}{HOME}links/")
    assert "the first page" in page.inner_text("main")
    assert address not in page.content()  # it was shown once
    press(page, "Revoke the link for Fleet office")
    assert (answer := reader.goto(address)) is not None
    assert answer.status == 404
    assert "This link leads nowhere" in reader.inner_text("main")
    assert "0.868" not in reader.inner_text("main")
    context.close()


@pytest.mark.parametrize("script", [True, False])
def test_a_photo_of_a_step_is_one_line_and_stands_on_the_visit(
    visitor: Callable[..., Page], server: Server, script: bool
) -> None:
    page = visitor(server, width=360, name="technician", script=script)
    before = entries(server)
    page.goto(f"{server.address}{HOME}visits/1/")
    page.locator("main summary", has_text="Earlier (").click()
    page.locator("main summary", has_text="More of it").first.click()
    page.locator("main a[href$='/photo/']:visible").first.click()
    choose_photo(page, small_jpeg())
    press_twice(page)
    page.wait_for_url(f"{server.address}{HOME}visits/1/")
    settles(server, before + 1)
    page.goto(f"{server.address}{HOME}visits/1/")
    page.locator("main summary", has_text="Earlier (").click()
    page.locator("main summary", has_text="More of it").first.click()
    picture = page.locator("main .photos img").first
    picture.scroll_into_view_if_needed()
    until(page, "document.querySelector('main .photos img').complete")
    assert picture.evaluate("image => image.naturalWidth") > 0
