"""Every page that links lead to: axe-core, widths, spacing, policy, origin, targets, words for states, print.

filled        a server on a copy of the invented year that has documents, readers' links and photos too
papers        the check codes and readers' links of that server
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from html import unescape
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Error, Page

from .conftest import HOME, Book, Server, known_as, press, served
from .looking import PHONE, faults, faults_everywhere, layout, violations, with_axe
from .papers import Papers, make_papers

pytestmark = pytest.mark.any_database
FILES = re.compile(r"\.(csv|xlsx|json|pdf|svg)$|/(csv|xlsx|json|pdf|lines)/?$|export=|format=|sign-out|/label/qr")
EARLIER = ("?day=2025-03-03", "cylinders/25/", "visits/1/", "statements/2025-01-01/2025-12-31/")
# Pages of a kind that links lead to as well, but with other things on them.
FURTHER = (
    "findings/?state=breach",
    "findings/?text=nothing+has+these+words",
    "documents/1/mail/",
    "documents/1/sign/",
    "documents/2/",
    "documents/3/",
    "documents/4/",
    "documents/5/",
    "documents/6/",
    "documents/7/",
    "documents/8/",
    "documents/?text=nothing+has+these+words",
    "documents/issue/visit-record/visit:1/",
    "documents/issue/recovery-certificate/visit:1/",
    "documents/issue/conversion-label/visit:1/",
    "documents/issue/cylinder-labels/cylinders:24,25/",
    "documents/issue/cylinder-log/cylinder:25/",
    "documents/issue/consignment-note/line:22/",
    "documents/issue/usage-report/period:2025-01-01:2025-12-31/",
    "links/new/?kind=vehicle&vehicle=8",
    "lines/22/",
    "vehicles/8/",
)
NOTHING_ENTERED = ("findings/?state=open&sort=-day", "links/new/", "labels/", "cylinders/25/photo/", "close/")
# The reader's own text size at twice the usual one, and a language whose words are longer by two fifths.
LARGER_TEXT = "html { font-size: 200% !important }"
LONGER_WORDS = """() => {
  const walk = document.createTreeWalker(document.getElementById('page'), NodeFilter.SHOW_TEXT);
  const longer = (word) => word + word.slice(0, Math.ceil(word.length * 0.4)).toLowerCase();
  while (walk.nextNode()) walk.currentNode.data = walk.currentNode.data.replace(/[A-Za-z]{3,}/g, longer);
}"""
NEWER = (f"{HOME}units/", f"{HOME}who-writes/", f"{HOME}visits/new/", "/pin/", "/appearance/", "/net-away/", "/trust/")


def _shape(address: str) -> str:
    """Return an address without numbers, names and filters: one page of each kind is looked at."""
    path = re.sub(r"\d+(-\d+)*", "N", address.partition("?")[0])
    return re.sub(r"/people/p-[^/]+/", "/people/P/", path)


def _template(address: str) -> str:
    """Return an address without numbers and what a step, a check or a paper is called: their fields alone differ."""
    return re.sub(r"(/add|/checks|/issue)/[a-z].*", r"\1/K/", re.sub(r"\d+", "N", address))


@pytest.fixture(scope="module")
def filled(invented_year: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with served("filled", invented_year, tmp_path_factory.mktemp("filled")) as server:
        yield server


@pytest.fixture(scope="module")
def papers(filled: Server, browser: Browser) -> Papers:
    context = browser.new_context(java_script_enabled=False)
    made = make_papers(known_as("owner", context, filled), filled)
    context.close()
    return made


@dataclass
class Walk:
    """One address of each kind of page that was come to, what is wrong with which, what the browser complained of."""

    addresses: list[str] = field(default_factory=list)
    wrong: dict[str, list[str]] = field(default_factory=dict)
    complaints: list[str] = field(default_factory=list)
    templates: set[str] = field(default_factory=set)

    def look(self, page: Page, address: str) -> None:
        """Look at a page on a phone, and at a desk where none of its template was looked at there."""
        self.addresses.append(address)
        template = _template(address)
        if found := faults_everywhere(page, desk=template not in self.templates):
            self.wrong[address] = found
        self.templates.add(template)


@pytest.fixture(scope="module")
def walk(filled: Server, papers: Papers, browser: Browser) -> Walk:
    """Walk all links from the logbook and look at one page of each kind, then at some more of a kind."""
    context = browser.new_context(service_workers="block")
    page = with_axe(known_as("owner", context, filled))
    made, seen = Walk(), set()
    made.complaints = _watch(page, filled)
    waiting = [HOME + part for part in ("", *EARLIER)]
    while waiting:
        address = waiting.pop(0)
        if FILES.search(address) or _shape(address) in seen:
            continue
        seen.add(_shape(address))
        text = _opened(page, filled, address)
        for link in re.findall(r'href="([^"]+)"', text):
            link = unescape(link).partition("#")[0]
            link = address.partition("?")[0] + link if link.startswith("?") else link
            if link.startswith(HOME):
                waiting.append(link)
        if text and ("/label/" not in address or address.endswith("/label/")):
            made.look(page, address)
    label = f"cylinders/25/label/?address={filled.address}"  # without it the page asks first
    for address in (HOME + further for further in (*FURTHER, label)):
        assert _opened(page, filled, address), address
        made.look(page, address)
    context.close()
    return made


def _opened(page: Page, server: Server, address: str) -> str:
    """Open an address and return the page as it was sent; empty where a file comes down."""
    try:
        answer = page.goto(server.address + address)
    except Error:
        file = page.request.get(server.address + address)
        assert (file.status, "html" in file.headers["content-type"]) == (200, False), address
        return ""
    assert answer, address
    assert answer.status == 200, f"{address} answers {answer.status}"
    return answer.text() if "html" in answer.headers["content-type"] else ""


def _watch(page: Page, server: Server) -> list[str]:
    """Keep what the browser complains of, and every request to another origin."""
    complaints: list[str] = []

    def heard(message: ConsoleMessage) -> None:
        # A picture opened by itself is shown in a page of the browser's own, whose inline style our policy refuses.
        if message.type == "error" and not re.search(r"/(photos|page)/\d+/$", page.url):
            complaints.append(f"{page.url}: {message.text}")

    page.on("console", heard)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "request",
        lambda request: None if request.url.startswith((server.address, "data:")) else complaints.append(request.url),
    )
    return complaints


def test_links_lead_to_every_kind_of_page(walk: Walk) -> None:
    kinds = {re.sub(r"\d+.*", "", one.removeprefix(HOME)).split("/")[0].partition("?")[0] for one in walk.addresses}
    wanted = {"", "cylinders", "vehicles", "visits", "people", "partners", "statements", "checks", "settings", "lines"}
    assert wanted <= kinds
    assert len(walk.addresses) > 60 + len(FURTHER)


def test_every_page_is_in_order(walk: Walk) -> None:
    """axe-core finds nothing, nothing scrolls sideways, targets fit a glove, the policy and the origin hold."""
    assert walk.wrong == {}
    assert walk.complaints == []


def test_every_page_that_needs_no_sign_in_is_in_order(browser: Browser, filled: Server, papers: Papers) -> None:
    context = browser.new_context(service_workers="block")
    page = with_axe(context.new_page())
    complaints = _watch(page, filled)
    replaced, standing = papers.codes[0], papers.codes[-1]
    mistyped = standing[:-1] + ("7" if standing[-1] != "7" else "8")
    codes = [f"/verify/?code={code}" for code in (replaced, standing, mistyped, "0000-0000-0000")]
    links = [address.removeprefix(filled.address) for address in papers.links.values()]
    wrong = {}
    for address in ("/verify/", *codes, *links):
        page.goto(filled.address + address)
        if found := faults_everywhere(page):
            wrong[address] = found
    context.close()
    assert wrong == {}
    # The mistyped code and the link that has ended are refused by their status, which the browser writes down.
    assert [one for one in complaints if "Failed to load resource" not in one] == []


@pytest.mark.parametrize("address", [*NOTHING_ENTERED, "/verify/"])
def test_a_form_sent_with_nothing_entered_is_in_order(
    visitor: Callable[..., Page], filled: Server, papers: Papers, address: str
) -> None:
    page = visitor(filled, width=360)
    page.goto(filled.address + (address if address.startswith("/") else HOME + address))
    if address.startswith("findings"):
        page.locator("main tbody a[href*='/findings/']").first.click()
        page.get_by_role("heading", name="Decide").wait_for()
    page.locator("main form.form button.main").click()
    page.wait_for_selector("main .put-right")
    assert page.title().startswith("To put right:")
    assert page.evaluate("document.activeElement.matches('.put-right')")
    assert faults(page, PHONE) == []


def test_a_page_with_things_to_put_right_is_in_order(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=360)
    page.goto(f"{server.address}{HOME}cylinders/receive/?origin=purchase&kind=refillable")
    page.get_by_role("button", name="Receive it", exact=True).click()
    page.wait_for_selector("[aria-invalid=true]")
    assert page.title().startswith("To put right:")
    assert page.evaluate("document.activeElement.tabIndex") == -1  # the summary has the focus
    assert violations(page) == []


def test_pages_outside_a_workshop_are_in_order(browser: Any, server: Server) -> None:
    page = browser.new_context(viewport={"width": 360, "height": 800}).new_page()
    for address in ("/sign-in/", "/nowhere/"):
        page.goto(server.address + address)
        assert violations(page) == []


def test_newer_pages_are_in_order_with_large_text_and_long_words(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server)
    page.goto(f"{server.address}{HOME}visits/new/")
    page.fill("[name=registration]", "LONG 1")
    page.locator("[name=state][value=runs]").check()
    press(page, "Start the visit")
    sheet = page.url.removeprefix(server.address) + "sheet/"
    wrong = {}
    for address in (*NEWER, sheet, f"{HOME}cylinders/25/weigh/"):
        page.goto(server.address + address)
        page.evaluate("for (const one of document.querySelectorAll('main details')) one.open = true")
        found = faults_everywhere(page)
        page.set_viewport_size({"width": 360, "height": 800})
        found += [f"{fault}, text twice as large" for fault in layout(page, 360, LARGER_TEXT)]
        page.evaluate(LONGER_WORDS)
        found += [f"{fault}, longer words" for fault in layout(page, 360)]
        if found:
            wrong[address] = found
    assert wrong == {}


def test_states_are_words_in_forced_colours(browser: Any, server: Server, visitor: Callable[..., Page]) -> None:
    page = visitor(server)
    page.emulate_media(forced_colors="active")
    page.goto(f"{server.address}{HOME}cylinders/?state=away")
    assert "away" in page.inner_text("main table")


def test_a_printed_page_says_where_it_is_from(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server)
    page.goto(f"{server.address}{HOME}cylinders/25/")
    page.emulate_media(media="print")
    assert f"{HOME}cylinders/25/, printed" in page.inner_text(".printed")
    assert not page.locator("nav.pages-wide").is_visible()
