"""No page has a figure in a unit that is not the reader's, and no paper one that depends on who issues it.

Every page that links lead to in the invented year is read twice: by a person of pounds in a workshop of kilograms, and
by a person of kilograms in a workshop of pounds. `MAY_STAY` names what may stand in another unit, and why; papers and
statements are the workshop's.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from inventory.measure.figures import NARROW
from shop.demo.year import play
from shop.models import Membership, User, Workshop

pytestmark = pytest.mark.any_database
HOME = "/w/port-ellery/"
FIGURE = rf"(?<![\w.,])[-+\N{{MINUS SIGN}}]?\d[\d.]*(?:[,{NARROW} ]\d{{3}})*(?:\.\d+)?"
METRIC = rf"{FIGURE}[ {NARROW}](?:mg|g|kg|t|bar|mbar|hPa|kPa|Pa|K|C|°C|L|mL|m|mm|cm)\b(?![²³])"
CUSTOMARY = rf"{FIGURE}[ {NARROW}](?:lb|oz|psi|psig|inHg|microns?|F|°F|fl oz|ft)\b"
DAY = r"(?<![\d-])\d{4}-\d\d-\d\d(?![\d-])"
US_DAY = r"\b[A-Z][a-z]{2,8} \d{1,2}, \d{4}\b"
REFERENCE = r"(?: gauge| absolute| of vacuum| below the (?:air|atmosphere)| a year)?"
FILES = re.compile(
    r"\.(csv|xlsx|json|pdf|svg)$|/(csv|xlsx|json|pdf|lines)/?$|export|format=|sign-out|/label/qr|/static/"
)


@dataclass(frozen=True)
class Reader:
    """Who reads: own units, those of the workshop, and the figures that are not for this reader."""

    own: dict[str, str]
    workshop: dict[str, str]
    strange: str
    theirs: str  # figures in a unit of this reader


IN_POUNDS = {
    "mass": "lb oz",
    "pressure": "psi",
    "vacuum": "micron",
    "temperature": "F",
    "volume": "fl oz",
    "days": "mdy",
}
IN_KILOGRAMS = {"mass": "kg", "pressure": "bar", "vacuum": "mbar", "temperature": "C", "volume": "L", "days": "dmy"}
READERS = {
    "pounds in a workshop of kilograms": Reader(
        IN_POUNDS, {**IN_KILOGRAMS, "days": "ymd"}, f"{METRIC}|{DAY}", CUSTOMARY
    ),
    "kilograms in a workshop of pounds": Reader(IN_KILOGRAMS, IN_POUNDS, f"{CUSTOMARY}|{DAY}|{US_DAY}", METRIC),
}
PAPERS = r"^(documents|statements|labels|links)/"  # what is or shows a paper: in the workshop's units
MAY_STAY = (
    (r"", r"CO2|CFC-11", "equivalents are stated in kilograms everywhere"),
    (r"", r"Pa m3/s", "the standards' unit of a leak rate"),
    (
        r"",
        r"CFR|Directive|Regulation|EN 1|ISO |P200|CoolProp|common practice|read second-hand",
        "a source as published",
    ),
    (r"^visits/\d+/steps/", r"", "workings stand as they were reckoned, in pascal and C"),
    (r"^checks/convert/", r"Such as", "what is converted may be in any unit"),
    (r"", r"Reading after|steps of|\d (g|lb|oz) steps", "a scale or an instrument as it shows"),
    (r"^settings/(scales|instruments)/", r"", "a scale or an instrument as it shows"),
    (r"^settings/papers/", r"mm", "label stock as it is sold"),
    (
        r"^(settings|units)/",
        r"as the workshop|^\w+ \d, \d{4}$|^\d{4}-\d\d-\d\d$|days as|[Tt]yped as",
        "units to choose from",
    ),
    (r"^(import|partners)/", r"such as .+ or ", "a file may have either unit"),
    (r"replaces=|/inside/|/edit/", r"", "what was typed stands as it was typed"),
    (r"", r"ester, 200 g", "a lubricant as somebody wrote it"),
    (r"^cylinders/\d+/air/", r"inches", "the procedure in the words of its source, with the other unit in brackets"),
)


@pytest.fixture(scope="module")
def told(django_db_setup: None, django_db_blocker: Any) -> Iterator[Workshop]:
    """The workshop of the invented year, told once for this file: each test is rolled back to here."""
    around = transaction.atomic()
    around._from_testcase = True  # type: ignore[attr-defined] # durable blocks may stand in it, as in a test
    with django_db_blocker.unblock(), around:
        yield play()
        transaction.set_rollback(True)


@pytest.fixture
def year(told: Workshop, db: None) -> Workshop:
    return Workshop.objects.select_related("book").get(pk=told.pk)


def speak(workshop: Workshop, reader: Reader) -> Client:
    """Give the workshop and its owner their units; return the owner's client."""
    units = {"days": "day_order"}
    for name, unit in reader.workshop.items():
        setattr(workshop, units.get(name, f"{name}_unit"), unit)
    workshop.save()
    member = Membership.objects.select_related("user").get(workshop=workshop, role="owner")
    member.own_units = reader.own
    member.save()
    client = Client()
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def lines_of(html: str) -> list[str]:
    """Return the main part of a page as its lines of text; what is to be chosen from a list is left out."""
    main = html.partition("<main")[2].partition("</main>")[0]
    text = re.sub(r"<(script|style|select)\b.*?</\1>", " ", main, flags=re.DOTALL)
    block = "p|div|li|dt|dd|h\\d|tr|td|th|label|legend|text|title|output|summary"
    text = re.sub(rf"</?(?:{block})\b[^>]*>", "\n", text)
    plain = unescape(re.sub(r"<[^>]+>", " ", text)).replace(NARROW, " ")
    return [" ".join(line.split()) for line in plain.split("\n") if line.strip()]


def strays(path: str, line: str, reader: Reader) -> list[str]:
    """Return the figures of a line that are not in the reader's units and have no reason to be there."""
    if re.search(PAPERS, path) or any(re.search(at, path) and re.search(what, line) for at, what, _ in MAY_STAY):
        return []
    line = re.sub(rf"\(typed [^)]*\)|(?:{reader.strange}) gross", "", line)  # as typed, and as a scale shows it
    beside = rf"(?:{reader.strange}){REFERENCE} \((?:{reader.theirs})[^)]*\)"  # as typed, the reader's own behind it
    behind = rf"((?:{reader.theirs}){REFERENCE}(?:,[^(,]*)?) \((?:{reader.strange}){REFERENCE}\)"
    line = re.sub(behind, r"\1", re.sub(beside, "", line))
    return [found[0] for found in re.finditer(reader.strange, line)]


def shape(address: str) -> str:
    path = re.sub(r"\d+(-\d+)*", "N", address.partition("?")[0])
    return re.sub(r"/people/p-[^/]+/", "/people/P/", path)


def pages_of(client: Client, start: list[str], each: int) -> Iterator[tuple[str, str]]:
    """Yield the pages that links lead to, `each` of a kind: the path inside the workshop, and the page."""
    waiting, met = [HOME + part for part in start], dict[str, int]()
    seen = set[str]()
    while waiting:
        address = waiting.pop(0)
        kind = shape(address)
        if address in seen or FILES.search(address) or met.get(kind, 0) >= each:
            continue
        seen.add(address)
        met[kind] = met.get(kind, 0) + 1
        answer = client.get(address)
        if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
            continue
        html = answer.content.decode()
        yield address.removeprefix(HOME), html
        for link in re.findall(r'href="([^"#]+)', html):
            link = unescape(link)
            link = address.partition("?")[0] + link if link.startswith("?") else link
            if link.startswith(HOME):
                waiting.append(link)


START = ["", "?day=2025-03-03", "units/", "cylinders/", "visits/1/", "visits/9/", "visits/10/", "vehicles/8/"]


@pytest.mark.parametrize("reader", READERS.values(), ids=list(READERS))
def test_no_page_has_a_figure_in_a_unit_that_is_not_the_readers(year: Workshop, reader: Reader) -> None:
    client, found, count = speak(year, reader), [], 0
    for path, html in pages_of(client, START, each=1):
        count += 1
        found += [f"{path}: {line[:160]} {wrong}" for line in lines_of(html) if (wrong := strays(path, line, reader))]
    assert count > 90
    assert found == [], "\n".join(found)


@pytest.mark.parametrize(
    ("line", "reader", "wrong"),
    [
        ("It holds 5.000 kg.", "pounds in a workshop of kilograms", ["5.000 kg"]),
        ("It holds 1 234 g.", "pounds in a workshop of kilograms", ["1 234 g"]),
        ("target 765 g (1 lb 11.0 oz)", "pounds in a workshop of kilograms", []),
        ("It ran out on 2026-03-04.", "pounds in a workshop of kilograms", ["2026-03-04"]),
        ("11 lb 0.4 oz on Mar 4, 2026", "kilograms in a workshop of pounds", ["11 lb", "0.4 oz", "Mar 4, 2026"]),
        ("4 inHg of vacuum (0.14 bar below the air)", "kilograms in a workshop of pounds", []),
    ],
)
def test_the_walk_finds_a_figure_in_a_strange_unit(line: str, reader: str, wrong: list[str]) -> None:
    assert strays("cylinders/1/", line, READERS[reader]) == wrong


PAPERS_OF_THE_YEAR = (  # the conversion label waits for facts that the story lacks
    "visit-record/visit:1",
    "recovery-certificate/visit:1",
    "cylinder-labels/cylinders:24,25",
    "cylinder-log/cylinder:25",
    "consignment-note/line:22",
    "certificate-register/people:2026-01-02",
    "usage-report/period:2025-01-01:2025-12-31",
)


@pytest.mark.parametrize("paper", PAPERS_OF_THE_YEAR)
def test_every_paper_is_the_same_whoever_opens_it(year: Workshop, settings: Any, paper: str) -> None:
    settings.ADDRESS = "https://book.example"
    mine = speak(year, READERS["pounds in a workshop of kilograms"])
    theirs = Client()
    theirs.force_login(User.objects.get(username="technician"), backend="django.contrib.auth.backends.ModelBackend")
    ours, others = (client.get(f"{HOME}documents/issue/{paper}/").context["paper"] for client in (mine, theirs))
    assert ours.blocks == others.blocks
    if "visit:" not in paper:  # in which stands what was typed
        assert re.findall(CUSTOMARY, str(ours.blocks).replace("\\u202f", " ")) == []
