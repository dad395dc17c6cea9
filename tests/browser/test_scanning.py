"""A label before the camera: Chromium's own fake camera, with a detector where this machine's browser has none.

What the detector sees is what the test holds before it (`window.held`); that the video runs is asked of the browser.
"""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from shop.demo.typed import label
from shop.demo.year import ROOT

from .conftest import CHROMIUM, HOME, QUIET, Server, known_as, next_page, until
from .looking import faults

pytestmark = pytest.mark.any_database
DETECTOR = """
window.BarcodeDetector = class {
  static getSupportedFormats() { return Promise.resolve(["qr_code", "code_128"]); }
  detect(video) { return Promise.resolve(video.videoWidth && window.held ? [{ rawValue: window.held }] : []); }
};
"""
ADDRESS = f"HTTPS://BOOK.LAN/C/{label('C-44', ROOT)}"


@pytest.fixture
def camera(browser: Browser, server: Server) -> Iterator[Callable[..., Page]]:
    """Return camera(allowed=True): a signed-in phone whose camera is Chromium's fake one."""
    opened = []

    def phone(*, allowed: bool = True, detector: bool = True) -> Page:
        words = ["--use-fake-device-for-media-stream", *(["--use-fake-ui-for-media-stream"] if allowed else [])]
        chromium = browser.browser_type.launch(executable_path=CHROMIUM, args=[*QUIET, *words])
        opened.append(chromium)
        context = chromium.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
        page = known_as("technician", context, server)
        if detector:
            page.add_init_script(DETECTOR)
        return page

    yield phone
    for chromium in opened:
        chromium.close()


def scan(page: Page, held: str, within: str = "main") -> None:
    """Open the camera and hold something before it."""
    page.evaluate("window.held = ''")
    page.locator(within).get_by_role("button", name="Scan a label").click()
    until(page, "document.querySelector('dialog[open] video').videoWidth > 0")
    page.evaluate("held => { window.held = held }", held)


def said(page: Page) -> str:
    return page.inner_text("dialog [role=status]")


def test_a_label_leads_on_from_wherever_a_cylinder_is_chosen(camera: Callable[..., Page], server: Server) -> None:
    page = camera()
    at = f"{server.address}{HOME}"
    page.goto(f"{at}search/")
    with next_page(page):
        scan(page, ADDRESS)
    assert page.inner_text("h1") == "C-44"
    page.goto(f"{at}weigh/")
    with next_page(page):
        scan(page, ADDRESS)
    assert "C-44" in page.inner_text("main")
    assert page.url.endswith("/weigh/")
    page.goto(f"{at}send-away/")
    scan(page, label("C-44", ROOT).lower())
    until(page, "!document.querySelector('dialog')")
    assert "C-44" in page.locator("#id_cylinder option:checked").inner_text()
    page.goto(f"{at}stock-take/")
    page.fill("[name=note]", "typed before")
    scan(page, ADDRESS)
    until(page, "!document.querySelector('dialog')")
    until(page, "document.activeElement.name.startsWith('gross_')")
    assert page.locator(":focus").locator("xpath=ancestor::*[contains(@class,'field')][1]").inner_text().count("C-44")
    assert page.input_value("[name=note]") == "typed before"


def test_what_is_foreign_is_said_and_escape_puts_the_camera_out(camera: Callable[..., Page], server: Server) -> None:
    page = camera()
    page.goto(f"{server.address}{HOME}weigh/")
    scan(page, "https://elsewhere.invalid/offer")
    until(page, "document.querySelector('dialog [role=status]').textContent.includes('elsewhere.invalid')")
    assert "is an address and no label" in said(page)
    assert faults(page, (360, 320)) == []
    page.evaluate("window.track = document.querySelector('dialog video').srcObject.getTracks()[0]")
    page.keyboard.press("Escape")
    until(page, "!document.querySelector('dialog') && window.track.readyState === 'ended'")
    page.goto(f"{server.address}{HOME}cylinders/receive/?origin=empty&kind=recovery")
    scan(page, "NEW-7001")
    until(page, "!document.querySelector('dialog')")
    assert page.input_value("[name=serial]") == "NEW-7001"
    scan(page, ADDRESS)
    until(page, "document.querySelector('dialog [role=status]').textContent.includes('already')")
    assert page.get_by_role("link", name="Open C-44").is_visible()


def test_a_refused_camera_is_a_sentence(camera: Callable[..., Page], server: Server) -> None:
    page = camera(allowed=False)
    page.goto(f"{server.address}{HOME}weigh/")
    page.locator("main").get_by_role("button", name="Scan a label").click()
    until(page, "/refused|No camera/.test(document.querySelector('dialog [role=status]').textContent)")
    assert "type the code" in said(page).lower()


def test_without_a_detector_there_is_no_button_and_a_line_says_why(camera: Callable[..., Any], server: Server) -> None:
    page = camera(detector=False)
    page.goto(f"{server.address}{HOME}search/")
    until(page, "document.querySelector('[data-scan-why]').textContent.includes('no detector')")
    assert page.get_by_role("button", name="Scan a label").count() == 0
    page.focus("#q")
    page.keyboard.type(ADDRESS.lower())  # a scanner that types
    with next_page(page):
        page.keyboard.press("Enter")
    assert page.inner_text("h1") == "C-44"
