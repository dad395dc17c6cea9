"""Sums of a year, and small differences that all go one way. Pure."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from math import sqrt
from typing import TypeVar

from compliance.rules.facts import Difference, Workshop
from compliance.rules.rule import Judgement, Record
from compliance.rules.seen import BOOK, grams, last_year, of_cylinder, of_person

# Of what was recovered. Certified machines lose at most 5 % by purging (SAE J2788, catalogue extract), and trade notes
# allow 5 % for oil: the most, not the usual. Asked from 2 %, which invented honest years never come near (study).
ASKED_SHARE, MOST_SHARE = 0.02, 0.05
LITTLE_MG = 500_000  # less than half a kilogram in a year, or than one vehicle gives, is not worth a question
RECOVERED_LEAST = 0.3  # recovered against charged, R-134a, over a year (trade notes)
CHARGED_ENOUGH = 40  # charges; of fewer, what came out of a handful of vehicles decides
# Net of a year's tare corrections, beyond what measured ones come to: at least so much, and a share of what one holds.
TARES_MG, TARES_SHARE = 300_000, 0.03
IDLE = timedelta(days=90)
Key = TypeVar("Key", int, str)
FEWEST_DIFFERENCES = 8  # below it a run of differences says nothing
RUN_U = 2.0  # of one cylinder, as the trade reads it: 180 g against 2 sqrt(60) u = 71 g
WIDE_U = 3.3  # of a whole workshop or person, looked at for all at once: about 1 in 1,000 by chance


def recovered_against_charged(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which much R-134a was charged and little was recovered."""
    lines = [line for line in facts.lines if line.refrigerant == "R-134a" and last_year(facts, line.on)]
    charges = [line.mass_mg for line in lines if line.cause == "charge"]
    charged = sum(charges)
    recoveries = [line.mass_mg for line in lines if line.cause in ("recovery", "recovery-through-machine")]
    recovered, scatter = sum(recoveries), 2 * sqrt(sum(one**2 for one in recoveries))
    if len(charges) < CHARGED_ENOUGH:
        return
    # Who arrives empty is chance as well: two standard deviations of what so many recoveries bring are not asked about.
    if recovered + scatter < RECOVERED_LEAST * charged:
        yield BOOK.open(
            f"Unusual: in a year {grams(charged)} of R-134a were charged and {grams(recovered)} recovered, "
            f"{100 * recovered / charged:.0f} % of it.",
            "Look at the vehicles that arrived empty, and at what was bought.",
        )
    else:
        yield BOOK.met(f"Recovered was {100 * recovered / charged:.0f} % of charged.")


def purged(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which more was purged than air explains."""
    yield from _part_of_recovered(
        facts, "purge", "purged off cylinders", "Measure the air in a cylinder before it is bled."
    )


def drained_as_oil(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which more was drained as oil than oil explains."""
    yield from _part_of_recovered(
        facts,
        "was-oil",
        "taken out of the book as oil",
        "Weigh the oil, and keep the paper of where it went.",
    )


def _part_of_recovered(facts: Workshop, cause: str, words: str, way_out: str) -> Iterator[Judgement]:
    lines = [line for line in facts.lines if last_year(facts, line.on)]
    part = [line for line in lines if line.cause == cause]
    mass_mg = sum(line.mass_mg for line in part)
    recoveries = [line.mass_mg for line in lines if line.cause in ("recovery", "recovery-through-machine")]
    recovered = sum(recoveries)
    little_mg = max(LITTLE_MG, recovered / max(1, len(recoveries)))
    if mass_mg > max(ASKED_SHARE * recovered, little_mg):
        most = "more than" if mass_mg > MOST_SHARE * recovered else "less than"
        yield replace(BOOK, day=part[-1].on, line=part[-1].line).open(
            f"Unusual: {grams(mass_mg)} were {words} in a year ({len(part)} lines), and {grams(recovered)} recovered: "
            f"{most} the {100 * MOST_SHARE:.0f} % that are allowed at most, and more than the "
            f"{100 * ASKED_SHARE:.0f} % from which it is asked.",
            way_out,
        )
    elif part:
        yield BOOK.met(f"{grams(mass_mg)} were {words}.")


def tares_one_way(facts: Workshop) -> Iterator[Judgement]:
    """Report a year whose tare corrections together make the cylinders look emptier than they were booked."""
    changes = [one for one in facts.tares if last_year(facts, one.on)]
    net_mg = sum(one.change_mg for one in changes)
    corrected = {one.cylinder for one in changes}
    largest_mg = max((one.limit_mg or 0 for one in facts.cylinders if one.number in corrected), default=0)
    if abs(net_mg) > max(TARES_MG, TARES_SHARE * largest_mg):
        yield replace(BOOK, day=changes[-1].on).open(
            f"Unusual: {len(changes)} corrections of empty masses in a year come to {grams(abs(net_mg))} "
            f"{'more' if net_mg > 0 else 'less'} together.",
            "Have the cylinders weighed evacuated by somebody else.",
        )
    elif changes:
        yield BOOK.met("Corrections of empty masses nearly cancel.")


def used_once(facts: Workshop) -> Iterator[Judgement]:
    """Report bought cylinders that appear once and are never weighed, used or sent back."""
    for one in facts.cylinders:
        bought = one.first_in_on is not None and one.kind in ("single-trip", "refillable", "can lot")
        if not bought or one.first_in_on is None or facts.today - one.first_in_on < IDLE:
            continue
        touched = [day for day in (one.last_out_on, one.last_weighed_on) if day is not None and day > one.first_in_on]
        if touched or one.state == "put aside":
            yield of_cylinder(one).met("It was used or weighed since it came.")
        else:
            words = f"It came on {one.first_in_on.isoformat()} and appears in no line since."
            yield of_cylinder(one, one.first_in_on).open(words, "Weigh it where it stands, or say where it is.")


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
