"""Make the pictures of the README from the invented year: python -m tests.browser.pictures."""

import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tests import databases
from tests.browser.conftest import CHROMIUM, HOME, QUIET, Book, Server, served, sign_in
from tests.browser.papers import issue

FOLDER = Path(__file__).parent / "pictures"


def invented_year(folder: Path) -> Book:
    year = Book(databases.beside("year", folder), folder / "media")
    databases.create(year.url)
    for command in ("migrate", "demo_book"):
        year.manage(command, "--verbosity", "0")
    return year


def picture(browser: Browser, server: Server, name: str, address: str, width: int, height: int) -> None:
    page = browser.new_context(viewport={"width": width, "height": height}).new_page()
    sign_in(page, server, "owner")
    page.goto(f"{server.address}{HOME}{address}")
    if name == "weigh-phone":
        page.check("[name=scale][value='2']")
        page.locator("[name=gross]").press_sequentially("15.870", delay=30)
        page.wait_for_timeout(1500)  # the echo asks the server once the typing rests
    page.screenshot(path=FOLDER / f"{name}.png")


def pictures_of_a_document(browser: Browser, server: Server) -> None:
    """A document's page with its code, at a desk, and what the open page says of that code, on a phone."""
    desk = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
    sign_in(desk, server, "owner")
    code = issue(desk, server, "visit-record/visit:1")
    desk.goto(desk.url)  # without the word that it was issued just now
    desk.screenshot(path=FOLDER / "document.png")
    phone = browser.new_context(viewport={"width": 360, "height": 740}).new_page()
    phone.goto(f"{server.address}/verify/?code={code}")
    phone.screenshot(path=FOLDER / "verify-phone.png")


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        served("book", invented_year(Path(folder)), Path(folder)) as server,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
        picture(browser, server, "logbook", "?day=2025-07-10", 1280, 800)
        picture(browser, server, "weigh-phone", "cylinders/25/weigh/", 360, 740)
        picture(browser, server, "statement", "statements/2025-01-01/2025-12-31/", 1280, 900)
        picture(browser, server, "findings", "findings/", 1280, 900)
        pictures_of_a_document(browser, server)
        browser.close()


if __name__ == "__main__":
    main()
