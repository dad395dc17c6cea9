"""Readings that are too good: as the label, at the target, of one last digit, of one mass. Pure."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from math import exp

from compliance.rules.chance import UNUSUAL, odds, unusual
from compliance.rules.facts import Deed, Reading, Visit, Workshop
from compliance.rules.rule import Judgement
from compliance.rules.seen import day_of, grams, last_year, moves, of_person, recovered_mg, worker

FEWEST_RATIOS = 8
NARROW_RATIO = 0.02  # spread of recovered / label: real recoveries scatter between 0.6 and 1.0 (trade notes)
LABEL_SHARE = 0.15  # share of honest recoveries within 2 % of the label (study, tuning seeds)
FEWEST_CHARGES = 15
NEAR_TARGET = 0.45  # share of honest charges within one step of the target; real ones scatter by several steps
FINE_STEP_MG = 2_000  # a scale whose steps are finer than 5 g shows every last digit
FEWEST_DIGITS = 25


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
            yield of_person(person, day).open(
                f"Unusual: {k} of {n} recoveries in a year came to within 2 % of the label; real ones scatter "
                "between 0.6 and 1.0 of it.",
                "Weigh the cylinders again by somebody else, and compare with the readings.",
            )
        else:
            yield of_person(person, day).met(f"{n} recoveries scatter.")


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
            yield of_person(person, day).open(
                f"Unusual: {k} of {n} charges in a year end within one step of their target; real ones scatter by "
                f"several steps. By chance {odds(n, k, NEAR_TARGET)}.",
                "Compare the readings after with the next readings of the same cylinders.",
            )
        else:
            yield of_person(person, day).met(f"{n} charges scatter about their targets.")


def last_digits(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose readings on a fine scale end in 0 or 5 far too often."""
    # A reading before is the one after of the last time, nearly: it adds no digit of its own.
    own = [one for one in facts.readings if one.role != "before" and last_year(facts, one.at.date())]
    fine = [one for one in own if one.step_mg < FINE_STEP_MG]
    by: dict[str, list[Reading]] = defaultdict(list)
    for one in fine:
        by[one.by].append(one)
    for person, readings in by.items():
        n, k = len(readings), sum(one.gross_mg % 5_000 == 0 for one in readings)
        if n < FEWEST_DIGITS:
            continue
        day = readings[-1].at.date()
        if unusual(n, k, 0.2):
            yield of_person(person, day).open(
                f"Unusual: {k} of {n} readings on a scale of 1 g steps end in 0 or 5, where two in ten would; by "
                f"chance {odds(n, k, 0.2)}.",
                "Read the scale to its last digit, and look whether its step was entered rightly.",
            )
        else:
            yield of_person(person, day).met("Last digits are spread.")


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
            words = f"Unusual: {grams(most_mg)} came out of {len(vehicles)} unrelated vehicles, of {n} in a year."
            way_out = "Weigh the cylinders again by somebody else, and compare with the readings."
            yield of_person(person, day).open(words, way_out)
        elif n >= FEWEST_RATIOS:
            yield of_person(person, day).met("Recovered masses differ.")


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
