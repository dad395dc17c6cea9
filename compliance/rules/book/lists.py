"""Partners' own lists against the book: what one of them lacks, masses apart, a list that never came. Pure.

Their papers are the one witness from outside. What differs is asked about and never called a breach: a list has slips
too, and a delivery may stand under another name or in the next quarter.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta

from compliance.matching.pairs import DAYS_APART, DELIVERED, Matched, Theirs, match
from compliance.rules.facts import Listed, Workshop
from compliance.rules.rule import Judgement, Record
from compliance.rules.seen import kilos

LIST_DUE = timedelta(days=45)  # after a quarter's end: so long an office may take (from experience)
SETTLED = timedelta(days=DAYS_APART)  # between a delivery and the line that received it
WAY = {DELIVERED: "delivered", "taken back": "taken back"}


def only_theirs(facts: Workshop) -> Iterator[Judgement]:
    """Report what stands on a partner's list alone."""
    for one in facts.listed:
        found = _matched(one)
        lacking = [row for row in found.only_theirs if facts.today - row.on > SETTLED]
        for row in lacking:
            paper = f", paper {row.paper}" if row.paper else ""
            yield replace(_of(one, row.on), part=_part(row)).open(
                f"On their list and not in the book: {kilos(row.mass_mg)} of {row.refrigerant}, "
                f"{WAY[row.direction]} on {row.on}{paper}. It can also be a slip of theirs, or another’s.",
                "Enter what came or went if it did; otherwise ask them for the paper, and say what it was.",
            )
        if found.pairs and not lacking:
            yield _of(one, max(pair.ours.on for pair in found.pairs)).met("All of their list stands in the book.")


def only_in_book(facts: Workshop) -> Iterator[Judgement]:
    """Report lines of the book that a partner's list of that day is without."""
    for one in facts.listed:
        found = _matched(one)
        for line in found.only_ours:
            if not _well_within(line.on, one.covered):
                continue
            paper = f", paper {line.paper}" if line.paper else ""
            yield Record(f"line:{line.line}", line.on, line.line, part="only in the book").open(
                f"In the book and not on their list: {kilos(line.mass_mg)} of {line.refrigerant}, "
                f"{WAY[line.direction]} on {line.on}{paper}. It can also stand there under another name or month.",
                "Ask them for it, and keep what they answer; reverse the line if it never happened.",
            )
        for pair in found.pairs:
            there = Record(f"line:{pair.ours.line}", pair.ours.on, pair.ours.line, part="only in the book")
            yield there.met("It stands on their list too.")


def masses_apart(facts: Workshop) -> Iterator[Judgement]:
    """Report deliveries of which a partner's list says another mass than the book, beyond what two scales tell."""
    for one in facts.listed:
        for pair in _matched(one).pairs:
            there = Record(f"line:{pair.ours.line}", pair.ours.on, pair.ours.line, part="mass")
            if pair.beyond_two_scales:
                way = "more" if pair.gap_mg > 0 else "less"
                yield there.open(
                    f"Their list says {kilos(pair.theirs.mass_mg)} and the book {kilos(pair.ours.mass_mg)} of "
                    f"{pair.ours.refrigerant}: {kilos(abs(pair.gap_mg))} {way}, beyond what two scales tell. It can "
                    "also be a gross for a net mass, or a heel or oil that one side counts.",
                    "Look at both papers and the weighing; ask them how it was weighed.",
                )
            else:
                yield there.met("Both say the same mass, as far as two scales tell.")


def list_missing(facts: Workshop) -> Iterator[Judgement]:
    """Ask for the list of each quarter in which gas passed to or from a partner whose lists are asked for."""
    for one in facts.listed:
        if one.asked_from is None:
            continue
        for first, last in quarters(one.asked_from, facts.today - LIST_DUE):
            moved = [line for line in one.lines if first <= line.on <= last]
            there = replace(_of(one, last), part=f"{first:%Y}-{first.month // 3 + 1}")
            if not moved:
                continue
            if all(_is_covered(day, one.covered) for day in {line.on for line in moved}):
                yield there.met(f"Their list of {_quarter(first)} is kept.")
            else:
                yield there.open(
                    f"No list of theirs covers {_quarter(first)}, in which {len(moved)} "
                    f"line{'' if len(moved) == 1 else 's'} moved gas to or from them.",
                    "Ask them for it, and match it on their page.",
                )


def quarters(asked_from: date, until: date) -> Iterator[tuple[date, date]]:
    """Yield first and last day of each quarter that ended by a day, from the one in which lists were first asked."""
    year, month = asked_from.year, (asked_from.month - 1) // 3 * 3 + 1
    while True:
        first = date(year, month, 1)
        year, month = (year, month + 3) if month < 10 else (year + 1, 1)
        last = date(year, month, 1) - timedelta(days=1)
        if last > until:
            return
        yield first, last


def _quarter(first: date) -> str:
    months = {1: "January to March", 4: "April to June", 7: "July to September", 10: "October to December"}
    return f"{months[first.month]} {first.year}"


def _matched(one: Listed) -> Matched:
    return match(one.rows, one.lines)


def _of(one: Listed, day: date) -> Record:
    return Record(f"partner:{one.partner}", day)


def _part(row: Theirs) -> str:
    return f"{row.on} {row.refrigerant} {row.direction} {row.mass_mg} {row.paper}"[:60]


def _is_covered(day: date, covered: Sequence[tuple[date, date]]) -> bool:
    return any(first <= day <= last for first, last in covered)


def _well_within(day: date, covered: Sequence[tuple[date, date]]) -> bool:
    """Whether lists cover a day and those around it, on which a partner's paper of it may be dated."""
    return all(_is_covered(day + step, covered) for step in (-SETTLED, timedelta(), SETTLED))
