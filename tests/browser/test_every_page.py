"""Every page that links lead to: axe-core, widths, spacing, policy, origin, targets, words for states, print.

filled        a server on a copy of the invented year that has documents, readers' links and photos too
papers        the check codes and readers' links of that server
"""

import re
from collections.abc import Callable, Iterator
from html import unescape
from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from .conftest import HOME, Book, Server, press, served, sign_in
from .papers import Papers, make_papers

pytestmark = pytest.mark.any_database
RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "resultTypes": ["violations"],
    "preload": False,  # no rule of these tags reads a style sheet or plays a film
}
AXE = Axe().axe_script
PHONE, DESK = (360, 320), (1440, 768)
FILES = re.compile(r"\.(csv|xlsx|json|pdf|svg)$|/(csv|xlsx|json|pdf|lines)/?$|export=|format=|sign-out|/label/qr")
SMALL = """() => [...document.querySelectorAll(
    'main button, main input:not([type=hidden]), main select, main summary, a.button')]
  .filter(e => e.offsetParent && !e.closest('p.foot-acts') && e.tabIndex >= 0)
  .map(e => [e.closest('label') || e, e]).map(([box, e]) => [box.getBoundingClientRect(), e])
  .filter(([r, e]) => r.height < 43.5 && e.type !== 'radio' && e.type !== 'checkbox' && e.type !== 'file')
  .map(([r, e]) => e.outerHTML.slice(0, 90) + ' ' + r.height)"""
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
# WCAG 1.4.12. A sheet that script adopts is not stopped by the policy, as an inline one would be.
SPACE_TEXT = """() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(`* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important }
    p { margin-block-end: 2em !important }`);
  document.adoptedStyleSheets = [sheet];
}"""
# The reader's own text size at twice the usual one, and a language whose words are longer by two fifths.
LARGER_TEXT = """() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync("html { font-size: 200% !important }");
  document.adoptedStyleSheets = [sheet];
}"""
LONGER_WORDS = """() => {
  const walk = document.createTreeWalker(document.getElementById('page'), NodeFilter.SHOW_TEXT);
  const longer = (word) => word + word.slice(0, Math.ceil(word.length * 0.4)).toLowerCase();
  while (walk.nextNode()) walk.currentNode.data = walk.currentNode.data.replace(/[A-Za-z]{3,}/g, longer);
}"""
NEWER = (f"{HOME}units/", f"{HOME}who-writes/", f"{HOME}visits/new/", "/pin/", "/appearance/", "/net-away/", "/trust/")
# What is cut off, and pieces of text that lie one over the other.
HIDDEN_TEXT = """() => {
  const apart = '.unseen, .skip, .enter, svg, #said, table.book thead, select, input, textarea';
  const shown = (e) => e.checkVisibility() && !e.closest(apart);
  const faults = [...document.querySelectorAll('#page *')]
    .filter((e) => shown(e) && e.scrollWidth > e.clientWidth + 1
      && (e.tagName === 'BUTTON' || ['hidden', 'clip'].includes(getComputedStyle(e).overflowX)))
    .map((e) => 'cut off: ' + e.outerHTML.slice(0, 90));
  const walk = document.createTreeWalker(document.getElementById('page'), NodeFilter.SHOW_TEXT);
  const pieces = [];
  while (walk.nextNode()) {
    const text = walk.currentNode;
    if (!text.data.trim() || !shown(text.parentElement)) continue;
    const range = document.createRange();
    range.selectNodeContents(text);
    for (const box of range.getClientRects()) if (box.width > 1 && box.height > 1) pieces.push([box, text]);
  }
  pieces.forEach(([a, one], n) => pieces.slice(n + 1).forEach(([b, other]) => {
    const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    if (one !== other && wide > 2 && high > 4)
      faults.push(`one over the other: ${one.data.trim().slice(0, 40)} / ${other.data.trim().slice(0, 40)}`);
  }));
  return [...new Set(faults)].slice(0, 5);
}"""


def _shape(address: str) -> str:
    """Return an address without numbers, names and filters: one page of each kind is looked at."""
    path = re.sub(r"\d+(-\d+)*", "N", address.partition("?")[0])
    return re.sub(r"/people/p-[^/]+/", "/people/P/", path)


@pytest.fixture(scope="module")
def filled(invented_year: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with served("filled", invented_year, tmp_path_factory.mktemp("filled")) as server:
        yield server


@pytest.fixture(scope="module")
def papers(filled: Server, browser: Browser) -> Papers:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, filled, "owner")
    made = make_papers(page, filled)
    context.close()
    return made


@pytest.fixture(scope="module")
def addresses(filled: Server, papers: Papers, browser: Browser) -> list[str]:
    """Walk all links from the logbook; return one address of each kind of page."""
    context = browser.new_context()
    page = context.new_page()
    sign_in(page, filled, "owner")
    seen: dict[str, str] = {}
    waiting = [HOME + part for part in ("", *EARLIER)]
    while waiting:
        address = waiting.pop(0)
        if FILES.search(address) or _shape(address) in seen:
            continue
        seen[_shape(address)] = address
        answer = context.request.get(filled.address + address)
        assert answer.status == 200, f"{address} answers {answer.status}"
        if "html" not in answer.headers["content-type"]:
            del seen[_shape(address)]
            continue
        for link in re.findall(r'href="([^"]+)"', answer.text()):
            link = unescape(link).partition("#")[0]
            link = address.partition("?")[0] + link if link.startswith("?") else link
            if link.startswith(HOME):
                waiting.append(link)
    context.close()
    return [address for address in seen.values() if "/label/" not in address or address.endswith("/label/")]


def _watch(page: Page, server: Server) -> list[str]:
    """Keep what the browser complains of, and every request to another origin."""
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "request",
        lambda request: None if request.url.startswith((server.address, "data:")) else complaints.append(request.url),
    )
    return complaints


def _violations(page: Page) -> list[str]:
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    found = page.evaluate("rules => axe.run(rules)", RULES)["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found]


def test_links_lead_to_every_kind_of_page(addresses: list[str]) -> None:
    kinds = {re.sub(r"\d+.*", "", address.removeprefix(HOME)).split("/")[0].partition("?")[0] for address in addresses}
    wanted = {"", "cylinders", "vehicles", "visits", "people", "partners", "statements", "checks", "settings", "lines"}
    assert wanted <= kinds
    assert len(addresses) > 60


def _faults(page: Page, widths: tuple[int, int]) -> list[str]:
    """Return what is wrong with the page at the first width, and with its layout at both and with text spaced out."""
    faults = _violations(page) + (page.evaluate(SMALL) if widths[0] == 360 else [])
    for width in widths:
        page.set_viewport_size({"width": width, "height": 800})
        faults += [f"{fault} at {width}" for fault in _layout(page, width)]
    page.evaluate(SPACE_TEXT)  # the last width is the narrow one: 1280 px at a zoom of 400 % leave 320
    faults += [f"{fault} at {widths[1]}, text spaced out" for fault in _layout(page, widths[1])]
    page.evaluate("document.adoptedStyleSheets = []")
    page.set_viewport_size({"width": widths[0], "height": 800})
    return faults


def _faults_everywhere(page: Page) -> list[str]:
    """Return what is wrong with the page on a phone in the light and at a desk in the dark, loaded once for both."""
    faults = []
    looks: tuple[tuple[tuple[int, int], Literal["light", "dark"]], ...] = ((PHONE, "light"), (DESK, "dark"))
    for widths, scheme in looks:
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": widths[0], "height": 800})
        faults += [f"{fault} ({scheme}, {widths[0]})" for fault in _faults(page, widths)]
    return faults


def _layout(page: Page, width: int) -> list[str]:
    sideways = page.evaluate("document.documentElement.scrollWidth") > width
    return [*page.evaluate(HIDDEN_TEXT), *(["scrolls sideways"] if sideways else [])]


def test_every_page_is_in_order(visitor: Callable[..., Page], filled: Server, addresses: list[str]) -> None:
    """axe-core finds nothing, nothing scrolls sideways, targets fit a glove, the policy and the origin hold."""
    page = visitor(filled)
    complaints = _watch(page, filled)
    wrong = {}
    label = f"cylinders/25/label/?address={filled.address}"  # without it the page asks first
    for address in [*addresses, *(HOME + further for further in (*FURTHER, label))]:
        answer = page.goto(filled.address + address)
        assert answer, address
        assert answer.status == 200, address
        if faults := _faults_everywhere(page):
            wrong[address] = faults
    assert wrong == {}
    assert complaints == []


def test_every_page_that_needs_no_sign_in_is_in_order(browser: Browser, filled: Server, papers: Papers) -> None:
    context = browser.new_context()
    page = context.new_page()
    complaints = _watch(page, filled)
    replaced, standing = papers.codes[0], papers.codes[-1]
    mistyped = standing[:-1] + ("7" if standing[-1] != "7" else "8")
    codes = [f"/verify/?code={code}" for code in (replaced, standing, mistyped, "0000-0000-0000")]
    links = [address.removeprefix(filled.address) for address in papers.links.values()]
    wrong = {}
    for address in ("/verify/", *codes, *links):
        page.goto(filled.address + address)
        if faults := _faults_everywhere(page):
            wrong[address] = faults
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
    assert _faults(page, PHONE) == []


def test_a_page_with_things_to_put_right_is_in_order(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=360)
    page.goto(f"{server.address}{HOME}cylinders/receive/?origin=purchase&kind=refillable")
    page.get_by_role("button", name="Receive it", exact=True).click()
    page.wait_for_selector("[aria-invalid=true]")
    assert page.title().startswith("To put right:")
    assert page.evaluate("document.activeElement.tabIndex") == -1  # the summary has the focus
    assert _violations(page) == []


def test_pages_outside_a_workshop_are_in_order(browser: Any, server: Server) -> None:
    page = browser.new_context(viewport={"width": 360, "height": 800}).new_page()
    for address in ("/sign-in/", "/nowhere/"):
        page.goto(server.address + address)
        assert _violations(page) == []


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
        faults = _faults_everywhere(page)
        page.set_viewport_size({"width": 360, "height": 800})
        for what, change in (("text twice as large", LARGER_TEXT), ("longer words", LONGER_WORDS)):
            page.evaluate(change)
            faults += [f"{fault}, {what}" for fault in _layout(page, 360)]
            page.evaluate("document.adoptedStyleSheets = []")
        if faults:
            wrong[address] = faults
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
