"""Findings by rule, as their page shows them first: a line for each rule with its count, that opens to its items."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse

from compliance.findings.decisions import GUIDE, Shown, records_words, shown
from compliance.models import Finding
from compliance.pages.forms.findings import duty_of
from compliance.rules.rule import BREACH, OPEN
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from shop.models import Workshop

ORDER = (BREACH, OPEN, GUIDE)  # what was decided comes after them
MOST_ITEMS = 20  # of one group; the table of its rule has them all
INSTRUMENTS = "book-instrument-check"


@dataclass(frozen=True)
class Item:
    """One finding of a group: its day, its record and what the book shows."""

    finding: Finding
    record: str
    words: str
    href: str


@dataclass(frozen=True)
class Group:
    """The findings of one rule in one state, the newest first; `act` settles all of them, where one form does."""

    word: str
    duty: str
    count: int
    items: list[Item]
    all_of_them: str
    act: str = ""


def groups_of(workshop: Workshop, units: Units, findings: Iterable[Finding]) -> list[Group]:
    """Return findings, given newest first, by state and rule: breach, open, guidance, decided; the newest first."""
    by_rule: dict[tuple[str, str], list[Shown]] = defaultdict(list)
    for one in map(shown, findings):
        by_rule[one.word, one.finding.rule].append(one)
    listed = sorted(by_rule.items(), key=lambda group: _rank(group[0][0]))
    abouts = {one.finding.about for _, group in listed for one in group[:MOST_ITEMS]}
    records = records_words(workshop, abouts)
    return [_group(workshop, units, word, rule, group, records) for (word, rule), group in listed]


def _rank(word: str) -> int:
    return ORDER.index(word) if word in ORDER else len(ORDER)


def _group(
    workshop: Workshop, units: Units, word: str, rule: str, group: list[Shown], records: dict[str, str]
) -> Group:
    items = [
        Item(
            one.finding,
            records[one.finding.about],
            in_own_units(one.finding.words, units),
            reverse("finding", args=[workshop.slug, one.finding.pk]),
        )
        for one in group[:MOST_ITEMS]
    ]
    owed = word in (BREACH, OPEN)
    act = reverse("instrument-checks", args=[workshop.slug]) if rule == INSTRUMENTS and owed else ""
    all_of_them = f"{reverse('findings', args=[workshop.slug])}?rule={rule}"
    return Group(word, duty_of(rule), len(group), items, all_of_them, act)
