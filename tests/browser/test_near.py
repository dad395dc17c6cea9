"""On a phone the pages of daily work begin near their head, and long visits, lists and statements stay short.

The bounds are those of a phone of 360 x 740 px; what is measured is where the first field or figure that can be seen
begins, and on pages that only offer a choice or open a group, where the first of these begins.
"""

import re
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests import databases

from .conftest import HOME, Book, Server, lines_of, next_page

pytestmark = pytest.mark.any_database
WIDTH, SCREEN = 360, 740
FIELD = "input:not([type=hidden]), select, textarea, dd, td, .reading-big"
CHOICE = "p a, li a, summary"
PAGES = {
    "": FIELD,
    "weigh/": FIELD,
    "cylinders/": FIELD,
    "cylinders/25/": FIELD,
    "cylinders/25/weigh/": FIELD,
    "cylinders/receive/": CHOICE,
    "cylinders/receive/?origin=purchase&kind=refillable": FIELD,
    "send-away/": FIELD,
    "vehicles/": FIELD,
    "visits/": FIELD,
    "visits/new/": FIELD,
    "visits/1/": FIELD,
    "visits/1/charge/": FIELD,
    "visits/1/recover/": FIELD,
    "visits/1/add/pressure-hold/": FIELD,
    "visits/1/add/vacuum-hold/": FIELD,
    "visits/1/watch/pressure-hold/": FIELD,
    "visits/1/hand-over/": FIELD,
    "findings/": CHOICE,
}
BEGINS = """wanted => Math.min(...[...document.getElementById('main').querySelectorAll(wanted)]
  .filter(e => e.checkVisibility({ contentVisibilityAuto: true }) && e.getBoundingClientRect().height > 1)
  .map(e => e.getBoundingClientRect().top + scrollY))"""
LONG = "visits/1/"  # nineteen steps


def test_pages_of_daily_work_begin_within_three_screens(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=WIDTH)
    page.set_viewport_size({"width": WIDTH, "height": SCREEN})
    begins = {}
    for address, wanted in PAGES.items():
        answer = page.goto(server.address + HOME + address)
        assert answer, address
        assert answer.status == 200, address
        begins[address] = page.evaluate(BEGINS, wanted)
    assert {address: top for address, top in begins.items() if not top < 3 * SCREEN} == {}
    assert begins[LONG] < SCREEN  # its next step stands on the first screen


def test_a_long_visit_is_short_on_a_phone_and_open_at_a_desk(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=WIDTH)
    page.set_viewport_size({"width": WIDTH, "height": SCREEN})
    page.goto(server.address + HOME + LONG)
    assert page.evaluate("document.documentElement.scrollHeight") < 5 * SCREEN
    first, last = page.locator(".visit-log > li").first, page.locator("#newest")
    assert not first.is_visible()
    assert last.is_visible()
    page.locator("summary", has_text="Earlier (16)").click()
    assert first.is_visible()
    page.set_viewport_size({"width": 1440, "height": 800})
    page.goto(server.address + HOME + LONG)
    assert page.evaluate("document.querySelector('.visit-log').checkVisibility({ contentVisibilityAuto: true })")
    past, beside = page.locator(".visit-past").bounding_box(), page.locator("#asked").bounding_box()
    assert past
    assert beside
    assert beside["x"] > past["x"] + past["width"]


@pytest.mark.parametrize("script", [True, False])
def test_a_link_to_an_earlier_entry_opens_it(visitor: Callable[..., Page], server: Server, script: bool) -> None:
    page = visitor(server, width=WIDTH, script=script)
    page.goto(server.address + HOME + LONG)
    name = page.locator(".visit-log > li").nth(2).get_attribute("id")
    page.goto(f"{server.address}{HOME}{LONG}#{name}")
    entry = page.locator(f"#{name}")
    entry.wait_for(state="visible")
    box = entry.bounding_box()
    assert box
    assert -1 <= box["y"] < 800


FORTY = """
from datetime import date, timedelta
from django.utils import timezone
from compliance.findings.judging import refresh
from compliance.models import Finding
from compliance.rules.all import RULES
from shop.models import Workshop
workshop = Workshop.objects.get()
refresh(workshop)  # so that what is made here stands
Finding.objects.all().delete()
rules = [one for one in RULES if not one.guide and not one.jurisdictions]
for number in range(40):
    rule, day = rules[number % len(rules)], date(2025, 3, 1) + timedelta(days=number)
    Finding.objects.create(
        workshop=workshop, rule=rule.id, about=f"visit:{number % 9 + 1}", part=f"made-{number}", day=day, law_of=day,
        state="breach" if number < 3 else "open", words="The circuit was opened with no recovery before.",
        judged_at=timezone.now(),
    )
"""


@pytest.fixture
def forty(server: Server, invented_year: Book, of_the_run: Path) -> Server:
    """The server on a year with forty findings, made once for all processes of a run."""

    def make(url: str) -> None:
        databases.copy(invented_year.url, url)
        Book(url, invented_year.media).manage("shell", "--no-imports", "-c", FORTY)

    server.opens(Book(databases.filled_once("forty", of_the_run, make), invented_year.media))
    return server


def test_all_groups_of_forty_findings_are_seen_within_three_screens(
    visitor: Callable[..., Page], forty: Server
) -> None:
    page = visitor(forty, width=WIDTH)
    page.set_viewport_size({"width": WIDTH, "height": SCREEN})
    page.goto(f"{forty.address}{HOME}findings/")
    counts = re.findall(r"\((\d+)\)", " ".join(page.locator("main h3").all_inner_texts()))
    assert sum(map(int, counts)) == 40
    assert page.locator("main section .ticks li:visible").count() == 3, "a breach is never folded"
    ends = page.locator("main .groups").evaluate_all("all => all.map(e => e.getBoundingClientRect().bottom + scrollY)")
    assert max(ends) < 3 * SCREEN


@pytest.mark.parametrize("script", [True, False])
def test_findings_are_decided_from_the_list(visitor: Callable[..., Page], forty: Server, script: bool) -> None:
    page = visitor(forty, width=WIDTH, script=script)
    page.goto(f"{forty.address}{HOME}findings/")
    group = page.locator("main details", has=page.get_by_role("heading", name="Say what happened"))
    group.locator("summary").first.click()
    ticks = group.locator(".ticks input")
    many = ticks.count()
    for place in range(many):
        ticks.nth(place).check()
    group.locator("summary", has_text="Decide what is ticked").click()
    with next_page(page) if script else nullcontext():
        group.get_by_role("button", name="Write the decision").click()
    assert "Choose: what it is." in page.locator(".put-right").inner_text()
    assert ticks.first.is_checked(), "what was ticked stays"
    group.get_by_label("explained: what happened is known").check()
    group.locator("[name=reason]").fill("Asked and written down.")
    with next_page(page) if script else nullcontext():
        group.get_by_role("button", name="Write the decision").click()
    page.get_by_text(f"Written of {many} findings: explained.").first.wait_for()
    assert lines_of(forty, "select count(*), count(distinct request_key) from compliance_decision") == [(many, many)]


def test_a_years_statement_is_short_on_a_phone(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=WIDTH)
    page.set_viewport_size({"width": WIDTH, "height": SCREEN})
    page.goto(f"{server.address}{HOME}statements/2025-01-01/2025-12-31/")
    assert page.evaluate("document.documentElement.scrollHeight") < 5 * SCREEN
    page.locator("summary", has_text="R-134a").click()
    page.get_by_text("R-134a by grade, kg").wait_for()
