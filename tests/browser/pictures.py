"""Pictures of the living demonstration: those of the README and, in a folder that is named, each kind of page twice.

``make pictures``, or ``python -m tests.browser.pictures [FOLDER]``.
"""

import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from tests import databases
from tests.browser.conftest import CHROMIUM, HOME, QUIET, Book, Server, lines_of, served, sign_in

FOLDER = Path(__file__).parent / "pictures"
PHONE, DESK = (360, 740), (1280, 900)
WIDTHS = (360, 1440)
NO_PAGE = re.compile(r"\.(csv|xlsx|json|pdf|svg|ics)$|/(csv|xlsx|json|pdf|lines)/?$|export=|format=|sign-out|\?|#")


def invented_year(folder: Path) -> Book:
    folder.mkdir()
    year = Book(databases.beside("year", folder), folder / "media")
    databases.create(year.url)
    for command in ("migrate", "demo_book"):
        year.manage(command, "--verbosity", "0")
    return year


def at(browser: Browser, server: Server, size: tuple[int, int]) -> Page:
    """Return a page of the owner's."""
    page = browser.new_context(viewport={"width": size[0], "height": size[1]}).new_page()
    sign_in(page, server, "owner")
    return page


def of_the_readme(browser: Browser, server: Server) -> None:
    """Make those that the README shows."""
    last = date.today()  # noqa: DTZ011 - the book's days are those of this machine, or nearly so
    period = f"statements/{last - timedelta(days=364)}/{last}/"
    [(code,)] = lines_of(server, "SELECT code FROM compliance_document WHERE number = 1")
    desk, phone = at(browser, server, DESK), at(browser, server, PHONE)
    for name, address in (
        ("logbook", ""),
        ("statement", period),
        ("findings", "findings/"),
        ("document", "documents/1/"),
    ):
        desk.goto(f"{server.address}{HOME}{address}")
        desk.screenshot(path=FOLDER / f"{name}.png")
    _weighs(phone, server)
    phone.screenshot(path=FOLDER / "weigh-phone.png")
    phone.context.clear_cookies()
    phone.goto(f"{server.address}/verify/?code={code}")
    phone.screenshot(path=FOLDER / "verify-phone.png")


def _weighs(page: Page, server: Server) -> None:
    """Type the second reading of the cylinder that stands on the scale."""
    [(number, before_mg)] = lines_of(
        server,
        "SELECT a.number, w.gross_mg FROM inventory_weighing w JOIN inventory_account a ON a.id = w.account_id "
        "ORDER BY w.id DESC LIMIT 1",
    )
    page.goto(f"{server.address}{HOME}cylinders/{number}/weigh/")
    page.locator("[name=gross]").press_sequentially(f"{before_mg / 1e6 - 0.618:.3f}", delay=30)
    page.wait_for_timeout(1500)  # the echo asks the server once the typing rests
    page.locator("h1").evaluate("title => title.scrollIntoView()")


def of_each_page(browser: Browser, server: Server, folder: Path) -> None:
    """Follow links from the first page, and keep a picture of the first page of each kind at both widths."""
    folder.mkdir(parents=True, exist_ok=True)
    pages = {width: at(browser, server, (width, 800)) for width in WIDTHS}
    waiting, seen = [HOME], {_kind(HOME)}
    while waiting:
        address = waiting.pop(0)
        for width, page in pages.items():
            page.goto(f"{server.address}{address}")
            page.screenshot(path=folder / f"{_kind(address)}-{width}.png", full_page=True)
        for link in _links(pages[1440]):
            if (kind := _kind(link)) not in seen:
                seen.add(kind)
                waiting.append(link)


def _links(page: Page) -> Iterator[str]:
    hrefs = page.locator("a[href]").evaluate_all("links => links.map(link => link.getAttribute('href'))")
    return (href for href in hrefs if href.startswith(HOME) and not NO_PAGE.search(href))


def _kind(address: str) -> str:
    """Return what kind of page an address is of, as a file is called."""
    plain = re.sub(r"\d{4}-\d\d-\d\d|(?<=[/:])\d+", "n", address.removeprefix(HOME))
    return re.sub(r"[^a-z-]+", "-", plain).strip("-") or "first"


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        served("book", year := invented_year(Path(folder) / "year"), Path(folder)) as server,
        sync_playwright() as playwright,
    ):
        shutil.copytree(year.media, server.book.media)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
        of_the_readme(browser, server)
        if len(sys.argv) > 1:
            of_each_page(browser, server, Path(sys.argv[1]))
        browser.close()


if __name__ == "__main__":
    main()
