"""What the invented year does not have yet: issued documents, readers' links and photos, made through the pages."""

import io
import re
from dataclasses import dataclass, field

from PIL import Image
from playwright.sync_api import Page

from .conftest import HOME, Server, lines_of, press

ISSUED = (
    "visit-record/visit:1",
    "recovery-certificate/visit:1",
    "conversion-label/visit:1",
    "cylinder-labels/cylinders:24,25",
    "cylinder-log/cylinder:25",
    "consignment-note/line:22",
    "usage-report/period:2025-01-01:2025-12-31",
    "visit-record/visit:1",  # the second replaces the first
)
PHOTOGRAPHED = ("cylinders/25/photo/", "vehicles/{vehicle}/photo/", "visits/1/steps/1/photo/", "lines/22/photo/")


def issue(page: Page, server: Server, what: str) -> str:
    """Issue a document and return its check code as its page shows it."""
    page.goto(f"{server.address}{HOME}documents/issue/{what}/")
    if what.startswith("conversion-label") and page.inner_text("h1") == "What the label lacks":
        page.fill("[name=trade_name]", "R-134a")
        page.fill("[name=lubricant_maker]", "Harbour Oils")
        press(page, "Enter it and show the label")
    press(page, "Issue it")
    if what.startswith("cylinder-labels"):  # a label always bears an address, and this server's is loopback
        assert page.inner_text("h1") == "No phone reaches this address"
        press(page, "Issue it with this address")
    assert re.search(r"/documents/\d+/$", page.url), page.inner_text("main")
    return page.locator("dt", has_text=re.compile("^Check code$")).locator("xpath=following-sibling::dd").inner_text()


def make_link(page: Page, server: Server, shows: str, for_whom: str, **chosen: str) -> str:
    """Make a reader's link and return the address that is shown once."""
    page.goto(f"{server.address}{HOME}links/new/")
    page.check(f"[name=kind][value='{shows}']")
    page.fill("[name=for_whom]", for_whom)
    for name, value in chosen.items():
        if name == "documents":
            page.check(f"[name=documents][value='{value}']")
        else:
            page.select_option(f"[name={name}]", value)
    press(page, "Make the link")
    return page.locator("section.note .digest").inner_text()


def small_jpeg(grey: int = 128) -> bytes:
    """Return a picture of one tone as a JPEG."""
    written = io.BytesIO()
    Image.new("RGB", (640, 480), (grey, grey, grey)).save(written, "JPEG")
    return written.getvalue()


def choose_photo(page: Page, picture: bytes) -> None:
    """Choose a picture as a person does who took it before."""
    with page.expect_file_chooser() as chooser:
        page.locator("[name=file]").click()
    chooser.value.set_files({"name": "joint.jpg", "mimeType": "image/jpeg", "buffer": picture})


@dataclass
class Papers:
    """Check codes in the order of `ISSUED`, and the addresses of links by what they show."""

    codes: list[str] = field(default_factory=list)
    links: dict[str, str] = field(default_factory=dict)


def make_papers(page: Page, server: Server) -> Papers:
    """Fill a served book with documents, links and photos, signed in as the owner."""
    made = Papers()
    for number, path in enumerate(PHOTOGRAPHED):
        page.goto(f"{server.address}{HOME}{path.format(vehicle=_vehicle(server))}")
        choose_photo(page, small_jpeg(100 + number))
        press(page, page.locator("main form.form button.main").inner_text())
        assert page.locator("[aria-invalid=true]").count() == 0, page.inner_text("main")
    made.codes = [issue(page, server, what) for what in ISSUED]
    for shows, chosen in (
        ("statement", {}),
        ("vehicle", {"vehicle": _vehicle(server)}),
        ("documents", {"documents": "1"}),
    ):
        made.links[shows] = make_link(page, server, shows, f"the reader of one {shows}", **chosen)
    page.goto(f"{server.address}{HOME}visits/1/owner/")
    press(page, "Make the link")
    made.links["visit"] = page.locator("p.digest").inner_text()
    made.links["ended"] = make_link(page, server, "statement", "a reader of the past")
    press(page, "Revoke the link for a reader of the past")
    return made


def _vehicle(server: Server) -> str:
    """Return the number of the vehicle of the first visit."""
    rows = lines_of(server, "SELECT number FROM inventory_account WHERE kind = 'vehicle' AND label = 'V1'")
    return str(rows[0][0])
