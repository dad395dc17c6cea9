"""Small differences that all go one way. Pure."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from math import sqrt
from typing import TypeVar

from compliance.rules.facts import Difference, Workshop
from compliance.rules.rule import Judgement, Record
from compliance.rules.seen import BOOK, grams, of_person

Key = TypeVar("Key", int, str)
FEWEST_DIFFERENCES = 8  # below it a run of differences says nothing
RUN_U = 2.0  # of one cylinder, as the trade reads it: 180 g against 2 sqrt(60) u = 71 g
WIDE_U = 3.3  # of a whole workshop or person, looked at for all at once: about 1 in 1,000 by chance


def cylinder_runs(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders whose small differences add up one way beyond 2 sqrt(n) u."""
    readings = Counter(one.cylinder for one in facts.readings if one.role in ("before", "check"))
    for cylinder, run in _small(facts.differences, lambda one: one.cylinder).items():
        yield from _run(run, max(readings[cylinder], len(run)), RUN_U, Record(f"cylinder:{cylinder}"))


def workshop_run(facts: Workshop) -> Iterator[Judgement]:
    """Report a year whose small differences over all cylinders add up one way."""
    for year, run in _small(facts.differences, lambda one: one.on.year).items():
        readings = sum(1 for one in facts.readings if one.role in ("before", "check") and one.at.year == year)
        yield from _run(run, max(readings, len(run)), WIDE_U, replace(BOOK, part=str(year)))


def person_runs(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose readings, of whatever cylinder, find small differences all one way."""
    for by, run in _small(facts.differences, lambda one: one.by).items():
        yield from _run(run, len(run), WIDE_U, of_person(by))


def _small(differences: Iterable[Difference], key: Callable[[Difference], Key]) -> dict[Key, list[Difference]]:
    """Group the differences that their readings cannot tell from nothing."""
    found: dict[Key, list[Difference]] = defaultdict(list)
    for one in differences:
        if abs(one.mass_mg) <= one.can_tell_mg:
            found[key(one)].append(one)
    return found


def _run(run: Sequence[Difference], n: int, times: float, of: Record) -> Iterator[Judgement]:
    if len(run) < FEWEST_DIFFERENCES:
        return
    sum_mg = sum(one.mass_mg for one in run)
    u_mg = sqrt(sum(one.u_mg**2 for one in run) / len(run))
    limit_mg = times * sqrt(n) * u_mg
    there = replace(of, day=run[-1].on)
    if abs(sum_mg) <= limit_mg:
        yield there.met("Its small differences go both ways.")
        return
    way = "losses" if sum_mg > 0 else "gains"
    yield replace(there, line=run[-1].line).open(
        f"Small {way} all one way: {grams(abs(sum_mg))} in {n} readings, where chance alone leaves {grams(limit_mg)}.",
        "Look for a valve that weeps, a hose left full, a scale that drifts; weigh with a check weight.",
    )
