"""What is owed: the findings that the first page lists, and the check list before a year is closed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from compliance.findings.decisions import MOST_COUNTED, OwedRule, owed_by_rule, owed_findings, records_words
from compliance.findings.judging import look
from compliance.models import Document
from compliance.papers.paper import USAGE
from compliance.rules.rule import BREACH
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.models import Consignment, Weighing
from inventory.shelf import queries
from shop.models import Visit, Workshop
from shop.pages.owed import Owed

OWED_MOST = 12
KIND = "kinds of findings"  # folded where there are many; a breach stands open
# The first page says these itself, with the act that settles them.
SAID_THERE = frozenset({"book-weighings-disagree", "book-instrument-check"})


def owed(workshop: Workshop, today: date, units: Units) -> Sequence[Owed]:
    """Return what the first page lists of the findings: those it does not say itself, one item for each rule."""
    look(workshop)
    groups = owed_by_rule(workshop, leave_out=SAID_THERE)
    words = records_words(workshop, [group.first.about for group in groups[:OWED_MOST]])
    listed = [_owed(workshop, units, group, words[group.first.about]) for group in groups[:OWED_MOST]]
    if more := groups[OWED_MOST:]:
        most, count = _summed([group.count for group in more])
        said = f"{most.capitalize()}{count} more findings are open."
        listed.append(Owed(said, reverse("findings", args=[workshop.slug]), "All findings", kind=KIND))
    return listed


def counted(workshop: Workshop) -> str:
    """Say how many findings are open in all, since the list on the first page counts each rule once."""
    counts = [group.count for group in owed_by_rule(workshop)]
    if not counts:
        return ""
    most, count = _summed(counts)
    findings = "1 finding is" if count == 1 else f"{most}{count} findings are"
    return f"Each rule is listed once, beside what else is to be done; {findings} open in all."


def _summed(counts: Sequence[int]) -> tuple[str, int]:
    """Return how many they are in all, and "more than " before it where one was not counted to its end."""
    most = "more than " if any(one > MOST_COUNTED for one in counts) else ""
    return most, sum(min(one, MOST_COUNTED) for one in counts)


def _owed(workshop: Workshop, units: Units, group: OwedRule, record: str) -> Owed:
    first, word = group.first, group.word.capitalize()
    kind = "" if group.word == BREACH else KIND
    if group.count == 1:
        href = reverse("finding", args=[workshop.slug, first.pk])
        words = in_own_units(first.words, units)
        now = f" {group.rule.now}" if group.rule else ""
        return Owed(f"{word}: {record}. {words}{now}", href, "Look at this finding", kind=kind)
    href = f"{reverse('findings', args=[workshop.slug])}?rule={first.rule}"
    now = group.rule.now if group.rule else first.rule
    return Owed(f"{word} in {group.counted} records, {record} first. {now}", href, "Look at them", kind=kind)


@dataclass(frozen=True)
class Point:
    """One point of the list: what the book shows, whether anything is left to do, and where."""

    words: str
    settled: bool
    href: str
    act: str


def check_list(workshop: Workshop, today: date) -> tuple[Point, ...]:
    """Return what to look at before the year before `today` is closed."""
    look(workshop)
    last = date(today.year - 1, 12, 31)
    return (
        _findings(workshop, last),
        _visits(workshop, last),
        _counted(workshop, last),
        *_papers(workshop, last),
    )


def _address(workshop: Workshop, name: str, *args: object) -> str:
    return reverse(name, args=[workshop.slug, *args])


def _findings(workshop: Workshop, last: date) -> Point:
    owed = owed_findings(workshop).filter(day__lte=last)
    count, breaches = owed.count(), owed.filter(state=BREACH).count()
    words = f"{count} findings of days up to {last} are open, {breaches} of them breaches."
    return Point(words, not count, _address(workshop, "findings"), "Explain, accept or settle them")


def _visits(workshop: Workshop, last: date) -> Point:
    left = Visit.objects.filter(workshop=workshop, opened_at__date__lte=last).exclude(state=Visit.CLOSED).count()
    words = f"{left} visits that began by {last} are not handed over."
    return Point(words, not left, _address(workshop, "visits") + "?state=open", "Finish them")


def _counted(workshop: Workshop, last: date) -> Point:
    here = queries.standing_here(workshop.book)
    weighed = Weighing.objects.standing().filter(account__in=here.values("account"), entry__occurred_at__date__gte=last)
    total, done = here.count(), weighed.values("account").distinct().count()
    words = f"{done} of {total} cylinders on the floor were weighed since {last}."
    return Point(words, done >= total, _address(workshop, "stock-take"), "Count by weighing")


def _papers(workshop: Workshop, last: date) -> tuple[Point, ...]:
    waiting = (
        Consignment.objects.standing()
        .filter(accepted_mg__isnull=True, entry__book=workshop.book, entry__booked_on__lte=last)
        .exclude(purpose="sister workshop")
    )
    words = f"{waiting.count()} consignments up to {last} are without the receiver's mass."
    period = f"period:{last.year}-01-01:{last}"
    issued = Document.objects.filter(workshop=workshop, kind=USAGE, about=period).exists()
    report = f"The usage report of {last.year} {'is' if issued else 'is not yet'} issued; a later one replaces it."
    statement = _address(workshop, "statement", f"{last.year}-01-01", last.isoformat())
    return (
        Point(words, not waiting.exists(), _address(workshop, "partners"), "Look at the partners"),
        Point(report, issued, statement, "Look at the statement"),
    )
