"""What the first page lists of the findings: those that it does not say itself, one item for each rule."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from django.urls import reverse

from compliance.findings.decisions import Shown, owed_findings
from compliance.findings.judging import refresh
from compliance.findings.words import records_words
from shop.models import Workshop
from shop.pages.owed import Owed
from shop.visits.log import units_of
from shop.visits.shown import in_own_units

OWED_MOST = 12
# The first page says these itself, with the act that settles them.
SAID_THERE = frozenset({"book-weighings-disagree", "book-losses-one-way", "book-instrument-check"})


def owed(workshop: Workshop, today: date) -> Sequence[Owed]:
    """Return what the first page lists of the findings: those it does not say itself, one item for each rule."""
    refresh(workshop)
    by_rule: dict[tuple[str, str], list[Shown]] = defaultdict(list)
    for one in owed_findings(workshop):
        if one.finding.rule not in SAID_THERE:
            by_rule[one.word, one.finding.rule].append(one)
    groups = list(by_rule.values())
    words = records_words(workshop, [group[0].finding.about for group in groups[:OWED_MOST]])
    listed = [_owed(workshop, group, words[group[0].finding.about]) for group in groups[:OWED_MOST]]
    if more := groups[OWED_MOST:]:
        said = f"{sum(map(len, more))} more findings are open."
        listed.append(Owed(said, reverse("findings", args=[workshop.slug]), "All findings"))
    return listed


def _owed(workshop: Workshop, group: Sequence[Shown], record: str) -> Owed:
    first = group[0]
    if len(group) == 1:
        href = reverse("finding", args=[workshop.slug, first.finding.pk])
        words = in_own_units(first.finding.words, units_of(workshop))
        return Owed(f"{first.word.capitalize()}: {record}. {words}", href, "Look at this finding")
    href = f"{reverse('findings', args=[workshop.slug])}?rule={first.finding.rule}"
    duty = first.rule.duty if first.rule else first.finding.rule
    return Owed(f"{first.word.capitalize()} in {len(group)} records, {record} first. {duty}", href, "Look at them")
