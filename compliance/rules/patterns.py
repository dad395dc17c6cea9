"""Patterns in a year's records that honest work rarely makes. Pure.

Each is arithmetic about records: it says "unusual" with its n, never more, and names what to look at. Thresholds are
tuned with the study on one range of seeds and measured on another; why each stands there is beside its name.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import timedelta
from math import exp, sqrt
from typing import TypeVar

from compliance.rules.chance import UNUSUAL, odds, unusual
from compliance.rules.facts import Deed, Difference, Reading, Visit, Workshop
from compliance.rules.rule import MET, OPEN, Judgement
from compliance.rules.seen import (
    about_visit,
    arrived_open,
    day_of,
    grams,
    last_year,
    moves,
    recovered_mg,
    taken_as_empty,
    worker,
)

Key = TypeVar("Key", int, str)

FEWEST_DIFFERENCES = 8  # below it a run of differences says nothing
RUN_U = 2.0  # of one cylinder, as the trade reads it: 180 g against 2 sqrt(60) u = 71 g
WIDE_U = 3.3  # of a whole workshop or person, looked at for all at once: about 1 in 1,000 by chance
FEWEST_VISITS = 12  # of a person in a year, below which a share says nothing
FEWEST_RATIOS = 8
NARROW_RATIO = 0.02  # spread of recovered / label: real recoveries scatter between 0.6 and 1.0 (trade notes)
FEWEST_CHARGES = 15
NEAR_TARGET = 0.45  # share of honest charges within one step of the target; real ones scatter by several steps
FINE_STEP_MG = 2_000  # a scale whose steps are finer than 5 g shows every last digit
FEWEST_DIGITS = 25
PURGE_SHARE = 0.05  # certified machines lose at most 5 % by purging (SAE J2788, catalogue extract)
OIL_SHARE = 0.05  # an allowance of 5 % for oil in what was recovered (trade notes)
LITTLE_MG = 500_000  # less than half a kilogram in a year is not worth a question
RECOVERED_LEAST = 0.3  # recovered against charged, R-134a, over a year (trade notes)
CHARGED_ENOUGH_MG = 10_000_000
TARES_MG = 300_000  # net of a year's tare corrections, beyond what measured tares come to
# Hose off one car, another's cylinder weighed and its hose on: slower than this. In 160 honest years of one person on
# the tuning seeds none came to three such pairs, though one car in five is begun while another stands under vacuum.
SAME_MINUTES = timedelta(minutes=6)
TOGETHER_FEW = 3
IDLE = timedelta(days=90)


# --- running sums ---------------------------------------------------------------------------------------------


def cylinder_runs(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders whose small differences add up one way beyond 2 sqrt(n) u."""
    readings = Counter(one.cylinder for one in facts.readings if one.role in ("before", "check"))
    for cylinder, run in _small(facts.differences, lambda one: one.cylinder).items():
        yield from _run(run, max(readings[cylinder], len(run)), RUN_U, f"cylinder:{cylinder}")


def workshop_run(facts: Workshop) -> Iterator[Judgement]:
    """Report a year whose small differences over all cylinders add up one way."""
    for year, run in _small(facts.differences, lambda one: one.on.year).items():
        readings = sum(1 for one in facts.readings if one.role in ("before", "check") and one.at.year == year)
        yield from _run(run, max(readings, len(run)), WIDE_U, "book", str(year))


def person_runs(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose readings, of whatever cylinder, find small differences all one way."""
    for by, run in _small(facts.differences, lambda one: one.by).items():
        yield from _run(run, len(run), WIDE_U, f"person:{by}", person=by)


def _small(differences: Iterable[Difference], key: Callable[[Difference], Key]) -> dict[Key, list[Difference]]:
    """Group the differences that their readings cannot tell from nothing."""
    found: dict[Key, list[Difference]] = defaultdict(list)
    for one in differences:
        if abs(one.mass_mg) <= one.can_tell_mg:
            found[key(one)].append(one)
    return found


def _run(
    run: Sequence[Difference], n: int, times: float, about: str, part: str = "", person: str = ""
) -> Iterator[Judgement]:
    if len(run) < FEWEST_DIFFERENCES:
        return
    sum_mg = sum(one.mass_mg for one in run)
    u_mg = sqrt(sum(one.u_mg**2 for one in run) / len(run))
    limit_mg = times * sqrt(n) * u_mg
    day = run[-1].on
    if abs(sum_mg) <= limit_mg:
        yield Judgement(MET, about, "Its small differences go both ways.", day=day, person=person, part=part)
        return
    way = "losses" if sum_mg > 0 else "gains"
    yield Judgement(
        OPEN,
        about,
        f"Small {way} all one way: {grams(abs(sum_mg))} in {n} readings, where chance alone leaves {grams(limit_mg)}.",
        "Look for a valve that weeps, a hose left full, a scale that drifts; weigh with a check weight.",
        day,
        run[-1].line,
        person,
        part,
    )


# --- what people's visits have in common ----------------------------------------------------------------------


def empties_by_person(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose vehicles arrive empty, by the record, far more often than the others'."""
    yield from _share(
        facts,
        taken_as_empty,
        "vehicles arrived empty",
        "Look at their readings and photos on arrival, and at the leaks found.",
    )


def no_pressure_by_person(facts: Workshop) -> Iterator[Judgement]:
    """Report people who leave out the standing pressure far more often than the others."""
    yield from _share(
        facts,
        lambda visit: not visit.of("standing pressure") and not arrived_open(visit),
        "visits have no standing pressure",
        "Read it before the hoses go on; it is the best witness of what was inside.",
    )


def _share(facts: Workshop, counts: Callable[[Visit], bool], words: str, way_out: str) -> Iterator[Judgement]:
    visits = [one for one in facts.visits if last_year(facts, day_of(one)) and one.of("charge", "recovery")]
    by: dict[str, list[Visit]] = defaultdict(list)
    for visit in visits:
        by[worker(visit)].append(visit)
    hits = {person: sum(map(counts, theirs)) for person, theirs in by.items()}
    for person, theirs in by.items():
        n, k = len(theirs), hits[person]
        others_n, others_k = len(visits) - n, sum(hits.values()) - k
        if n < FEWEST_VISITS or not person:
            continue
        # Where nobody else works, the trade's own share has to serve; one more of each keeps a zero from deciding.
        p = (others_k + 1) / (others_n + 2) if others_n >= FEWEST_VISITS else FEW_EMPTY
        about = f"person:{person}"
        if unusual(n, k, p):
            yield Judgement(
                OPEN,
                about,
                f"Unusual: of {n} visits in a year {k} {words}; at the share of the others this comes by chance "
                f"{odds(n, k, p)}.",
                way_out,
                theirs[-1].opened_at.date(),
                person=person,
            )
        else:
            yield Judgement(MET, about, f"Of {n} visits {k} {words}.", day=day_of(theirs[-1]), person=person)


FEW_EMPTY = 0.25  # share of vehicles that arrive empty at a workshop (from experience, no source)


# --- readings that are too good -------------------------------------------------------------------------------


def recovered_as_label(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose recoveries all come to the same share of the label: real ones scatter."""
    ratios: dict[str, list[tuple[Visit, float]]] = defaultdict(list)
    for visit in facts.visits:
        label_mg, out_mg = visit.vehicle.nameplate_mg, recovered_mg(visit)
        if label_mg and out_mg and last_year(facts, day_of(visit)):
            ratios[worker(visit)].append((visit, out_mg / label_mg))
    for person, found in ratios.items():
        near = [(visit, ratio) for visit, ratio in found if abs(ratio - 1) <= NARROW_RATIO]
        n, k, day = len(found), len(near), day_of(found[-1][0])
        if n < FEWEST_RATIOS:
            continue
        if k >= FEWEST_RATIOS // 2 and unusual(n, k, LABEL_SHARE):
            yield Judgement(
                OPEN,
                f"person:{person}",
                f"Unusual: {k} of {n} recoveries in a year came to within 2 % of the label; real ones scatter "
                "between 0.6 and 1.0 of it.",
                "Weigh the cylinders again by somebody else, and compare with the readings.",
                day,
                person=person,
            )
        else:
            yield Judgement(MET, f"person:{person}", f"{n} recoveries scatter.", day=day, person=person)


LABEL_SHARE = 0.15  # share of honest recoveries within 2 % of the label (study, tuning seeds)


def charged_at_target(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose charges nearly all end within one step of the target: real ones scatter by several."""
    steps = {(one.line, one.cylinder): one.step_mg for one in facts.readings}
    found: dict[str, list[tuple[Deed, bool]]] = defaultdict(list)
    for visit in facts.visits:
        for deed, one in moves(visit, "charge"):
            target_mg = _mass_mg(deed, "target")
            step_mg = steps.get((one.line, one.cylinder or 0), 5_000)
            if target_mg and last_year(facts, deed.day):
                found[deed.doer].append((deed, abs(one.mass_mg - target_mg) <= step_mg))
    for person, charges in found.items():
        n, k, day = len(charges), sum(near for _, near in charges), charges[-1][0].day
        if n < FEWEST_CHARGES:
            continue
        if unusual(n, k, NEAR_TARGET):
            yield Judgement(
                OPEN,
                f"person:{person}",
                f"Unusual: {k} of {n} charges in a year end within one step of their target; real ones scatter by "
                f"several steps. By chance {odds(n, k, NEAR_TARGET)}.",
                "Compare the readings after with the next readings of the same cylinders.",
                day,
                person=person,
            )
        else:
            yield Judgement(
                MET, f"person:{person}", f"{n} charges scatter about their targets.", day=day, person=person
            )


def last_digits(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose readings on a fine scale end in 0 or 5 far too often."""
    fine = [one for one in facts.readings if one.step_mg < FINE_STEP_MG and last_year(facts, one.at.date())]
    by: dict[str, list[Reading]] = defaultdict(list)
    for one in fine:
        by[one.by].append(one)
    for person, readings in by.items():
        n, k = len(readings), sum(one.gross_mg % 5_000 == 0 for one in readings)
        if n < FEWEST_DIGITS:
            continue
        day = readings[-1].at.date()
        if unusual(n, k, 0.2):
            yield Judgement(
                OPEN,
                f"person:{person}",
                f"Unusual: {k} of {n} readings on a scale of 1 g steps end in 0 or 5, where two in ten would; by "
                f"chance {odds(n, k, 0.2)}.",
                "Read the scale to its last digit, and look whether its step was entered rightly.",
                day,
                person=person,
            )
        else:
            yield Judgement(MET, f"person:{person}", "Last digits are spread.", day=day, person=person)


def identical_masses(facts: Workshop) -> Iterator[Judgement]:
    """Report people who recovered one and the same mass from unrelated vehicles far too often."""
    by: dict[str, list[Visit]] = defaultdict(list)
    for visit in facts.visits:
        if recovered_mg(visit) and last_year(facts, day_of(visit)):
            by[worker(visit)].append(visit)
    for person, visits in by.items():
        masses: dict[int, set[int]] = defaultdict(set)
        for visit in visits:
            masses[recovered_mg(visit)].add(visit.vehicle.number)
        n, day = len(visits), day_of(visits[-1])
        most_mg, vehicles = max(masses.items(), key=lambda item: len(item[1]))
        # Expected of each mass: n spread over the two hundred steps that car systems of up to a kilogram have.
        if n >= FEWEST_RATIOS and _poisson_tail(len(vehicles), max(n / 60, 0.2)) < UNUSUAL / 200:
            yield Judgement(
                OPEN,
                f"person:{person}",
                f"Unusual: {grams(most_mg)} came out of {len(vehicles)} unrelated vehicles, of {n} in a year.",
                "Weigh the cylinders again by somebody else, and compare with the readings.",
                day,
                person=person,
            )
        elif n >= FEWEST_RATIOS:
            yield Judgement(MET, f"person:{person}", "Recovered masses differ.", day=day, person=person)


def _poisson_tail(k: int, mean: float) -> float:
    """Return the probability of `k` or more where `mean` are expected."""
    below, term = 0.0, exp(-mean)
    for i in range(k):
        below += term
        term *= mean / (i + 1)
    return max(0.0, 1.0 - below)


def _mass_mg(deed: Deed, name: str) -> int:
    entry: Mapping[str, object] = deed.data.get(name) or {}
    mass = entry.get("mg")
    return int(str(mass)) if mass is not None else 0


# --- sums of a year -------------------------------------------------------------------------------------------


def recovered_against_charged(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which much R-134a was charged and little was recovered."""
    lines = [line for line in facts.lines if line.refrigerant == "R-134a" and last_year(facts, line.on)]
    charged = sum(line.mass_mg for line in lines if line.cause == "charge")
    recovered = sum(line.mass_mg for line in lines if line.cause in ("recovery", "recovery-through-machine"))
    if charged < CHARGED_ENOUGH_MG:
        return
    if recovered < RECOVERED_LEAST * charged:
        yield Judgement(
            OPEN,
            "book",
            f"Unusual: in a year {grams(charged)} of R-134a were charged and {grams(recovered)} recovered, "
            f"{100 * recovered / charged:.0f} % of it.",
            "Look at the vehicles that arrived empty, and at what was bought.",
        )
    else:
        yield Judgement(MET, "book", f"Recovered was {100 * recovered / charged:.0f} % of charged.")


def purged(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which more was purged than air explains."""
    yield from _part_of_recovered(
        facts, "purge", PURGE_SHARE, "purged off cylinders", "Measure the air in a cylinder before it is bled."
    )


def drained_as_oil(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which more was drained as oil than oil explains."""
    yield from _part_of_recovered(
        facts,
        "was-oil",
        OIL_SHARE,
        "taken out of the book as oil",
        "Weigh the oil, and keep the paper of where it went.",
    )


def _part_of_recovered(facts: Workshop, cause: str, share: float, words: str, way_out: str) -> Iterator[Judgement]:
    lines = [line for line in facts.lines if last_year(facts, line.on)]
    part = [line for line in lines if line.cause == cause]
    mass_mg = sum(line.mass_mg for line in part)
    recovered = sum(line.mass_mg for line in lines if line.cause in ("recovery", "recovery-through-machine"))
    if mass_mg > share * recovered and mass_mg > LITTLE_MG:
        yield Judgement(
            OPEN,
            "book",
            f"Unusual: {grams(mass_mg)} were {words} in a year ({len(part)} lines), and {grams(recovered)} recovered.",
            way_out,
            part[-1].on,
            part[-1].line,
        )
    elif part:
        yield Judgement(MET, "book", f"{grams(mass_mg)} were {words}.")


def tares_one_way(facts: Workshop) -> Iterator[Judgement]:
    """Report a year whose tare corrections together make the cylinders look emptier than they were booked."""
    changes = [one for one in facts.tares if last_year(facts, one.on)]
    net_mg = sum(one.change_mg for one in changes)
    if abs(net_mg) > TARES_MG:
        yield Judgement(
            OPEN,
            "book",
            f"Unusual: {len(changes)} corrections of empty masses in a year come to {grams(abs(net_mg))} "
            f"{'more' if net_mg > 0 else 'less'} together.",
            "Have the cylinders weighed evacuated by somebody else.",
            changes[-1].on,
        )
    elif changes:
        yield Judgement(MET, "book", "Corrections of empty masses nearly cancel.")


def used_once(facts: Workshop) -> Iterator[Judgement]:
    """Report bought cylinders that appear once and are never weighed, used or sent back."""
    for one in facts.cylinders:
        bought = one.first_in_on is not None and one.kind in ("single-trip", "refillable", "can lot")
        if not bought or one.first_in_on is None or facts.today - one.first_in_on < IDLE:
            continue
        touched = [day for day in (one.last_out_on, one.last_weighed_on) if day is not None and day > one.first_in_on]
        about = f"cylinder:{one.number}"
        if touched or one.state == "put aside":
            yield Judgement(MET, about, "It was used or weighed since it came.")
        else:
            yield Judgement(
                OPEN,
                about,
                f"It came on {one.first_in_on.isoformat()} and appears in no line since.",
                "Weigh it where it stands, or say where it is.",
                one.first_in_on,
            )


def two_at_once(facts: Workshop) -> Iterator[Judgement]:
    """Report people for whom weighings of two vehicles lie minutes apart again and again: one name, several hands."""
    moments: dict[str, list[tuple[Deed, int]]] = defaultdict(list)
    for visit in facts.visits:
        for deed in visit.of("recovery", "charge"):
            if deed.moved and last_year(facts, deed.day):
                moments[deed.doer].append((deed, visit.number))
    for person, deeds in moments.items():
        deeds.sort(key=lambda one: one[0].at)
        pairs = [
            (one, other)
            for one, other in zip(deeds, deeds[1:], strict=False)
            if one[1] != other[1] and other[0].at - one[0].at <= SAME_MINUTES
        ]
        about, day = f"person:{person}", deeds[-1][0].day
        if len(pairs) >= TOGETHER_FEW:
            visits = ", ".join(f"{one[1]} and {other[1]}" for one, other in pairs[:3])
            yield Judgement(
                OPEN,
                about,
                f"Unusual: {len(pairs)} times in a year gas of two vehicles was weighed within "
                f"{SAME_MINUTES // timedelta(minutes=1)} minutes under one name, such as in visits {visits}.",
                "Let each person write under their own name.",
                day,
                person=person,
            )
        else:
            yield Judgement(MET, about, "One vehicle at a time.", day=day, person=person)


def leaks_never_found(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which many vehicles arrived empty and a leak was named in few of them."""
    visits = [one for one in facts.visits if last_year(facts, day_of(one)) and taken_as_empty(one)]
    silent = [one for one in visits if not one.of("repair", "part in", "leak search", "after-search")]
    if len(visits) < FEWEST_RATIOS:
        return
    if unusual(len(visits), len(silent), 0.25):
        yield Judgement(
            OPEN,
            "book",
            f"Unusual: of {len(visits)} vehicles that arrived empty in a year, {len(silent)} have no search, no repair "
            f"and no part, such as {about_visit(silent[-1]).replace(':', ' ')}.",
            "Say where the gas went: enter the searches and repairs that were done.",
            day_of(silent[-1]),
        )
    else:
        yield Judgement(MET, "book", "Leaks were looked for where vehicles arrived empty.", day=day_of(visits[-1]))
