"""Sums of a year: recovered against charged, purged, drained, tares, cylinders used once. Pure."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from compliance.rules.facts import Workshop
from compliance.rules.rule import Judgement
from compliance.rules.seen import BOOK, grams, last_year, of_cylinder

PURGE_SHARE = 0.05  # certified machines lose at most 5 % by purging (SAE J2788, catalogue extract)
OIL_SHARE = 0.05  # an allowance of 5 % for oil in what was recovered (trade notes)
LITTLE_MG = 500_000  # less than half a kilogram in a year is not worth a question
RECOVERED_LEAST = 0.3  # recovered against charged, R-134a, over a year (trade notes)
CHARGED_ENOUGH_MG = 10_000_000
TARES_MG = 300_000  # net of a year's tare corrections, beyond what measured tares come to
IDLE = timedelta(days=90)


def recovered_against_charged(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which much R-134a was charged and little was recovered."""
    lines = [line for line in facts.lines if line.refrigerant == "R-134a" and last_year(facts, line.on)]
    charged = sum(line.mass_mg for line in lines if line.cause == "charge")
    recovered = sum(line.mass_mg for line in lines if line.cause in ("recovery", "recovery-through-machine"))
    if charged < CHARGED_ENOUGH_MG:
        return
    if recovered < RECOVERED_LEAST * charged:
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
        yield replace(BOOK, day=part[-1].on, line=part[-1].line).open(
            f"Unusual: {grams(mass_mg)} were {words} in a year ({len(part)} lines), and {grams(recovered)} recovered.",
            way_out,
        )
    elif part:
        yield BOOK.met(f"{grams(mass_mg)} were {words}.")


def tares_one_way(facts: Workshop) -> Iterator[Judgement]:
    """Report a year whose tare corrections together make the cylinders look emptier than they were booked."""
    changes = [one for one in facts.tares if last_year(facts, one.on)]
    net_mg = sum(one.change_mg for one in changes)
    if abs(net_mg) > TARES_MG:
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
            yield of_cylinder(one, one.first_in_on).open(
                f"It came on {one.first_in_on.isoformat()} and appears in no line since.",
                "Weigh it where it stands, or say where it is.",
            )
