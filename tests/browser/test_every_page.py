"""Every page that links lead to: axe-core, widths, policy, origin, touch targets, words for states, print."""

import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from .conftest import HOME, Server, sign_in

RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
FILES = re.compile(r"\.(csv|xlsx|json|pdf|svg)$|/(csv|xlsx|json|pdf|lines)/?$|export=|format=|sign-out|/label/qr")
SMALL = """() => [...document.querySelectorAll(
    'main button, main input:not([type=hidden]), main select, main summary, a.button')]
  .filter(e => e.offsetParent && !e.closest('p.foot-acts') && e.tabIndex >= 0)
  .map(e => [e.closest('label') || e, e]).map(([box, e]) => [box.getBoundingClientRect(), e])
  .filter(([r, e]) => r.height < 43.5 && e.type !== 'radio' && e.type !== 'checkbox' && e.type !== 'file')
  .map(([r, e]) => e.outerHTML.slice(0, 90) + ' ' + r.height)"""
EARLIER = ("?day=2025-03-03", "cylinders/25/", "visits/1/", "statements/2025-01-01/2025-12-31/")


def _shape(address: str) -> str:
    """Return an address without numbers, names and filters: one page of each kind is looked at."""
    path = re.sub(r"\d+(-\d+)*", "N", address.partition("?")[0])
    return re.sub(r"/people/p-[^/]+/", "/people/P/", path)


@pytest.fixture(scope="module")
def addresses(server: Server, browser: Any) -> list[str]:
    """Walk all links from the logbook; return one address of each kind of page."""
    context = browser.new_context()
    page = context.new_page()
    sign_in(page, server, "owner")
    seen: dict[str, str] = {}
    waiting = [HOME + part for part in ("", *EARLIER)]
    while waiting:
        address = waiting.pop(0)
        if FILES.search(address) or _shape(address) in seen:
            continue
        seen[_shape(address)] = address
        answer = context.request.get(server.address + address)
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
    found = Axe().run(page, options=RULES).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found]


def test_links_lead_to_every_kind_of_page(addresses: list[str]) -> None:
    kinds = {re.sub(r"\d+.*", "", address.removeprefix(HOME)).split("/")[0].partition("?")[0] for address in addresses}
    wanted = {"", "cylinders", "vehicles", "visits", "people", "partners", "statements", "checks", "settings", "lines"}
    assert wanted <= kinds
    assert len(addresses) > 60


@pytest.mark.parametrize(("widths", "dark"), [((360, 320), False), ((1440, 768), True)])
def test_every_page_is_in_order(
    visitor: Callable[..., Page], server: Server, addresses: list[str], widths: tuple[int, int], dark: bool
) -> None:
    """axe-core finds nothing, nothing scrolls sideways, targets fit a glove, the policy and the origin hold."""
    page = visitor(server, width=widths[0], dark=dark)
    complaints = _watch(page, server)
    wrong = {}
    for address in addresses:
        page.goto(server.address + address)
        faults = _violations(page) + (page.evaluate(SMALL) if widths[0] == 360 else [])
        for width in widths:
            page.set_viewport_size({"width": width, "height": 800})
            if page.evaluate("document.documentElement.scrollWidth") > width:
                faults.append(f"scrolls sideways at {width}")
        page.set_viewport_size({"width": widths[0], "height": 800})
        if faults:
            wrong[address] = faults
    assert wrong == {}
    assert complaints == []


def test_a_page_with_things_to_put_right_is_in_order(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=360)
    page.goto(f"{server.address}{HOME}cylinders/receive/")
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
