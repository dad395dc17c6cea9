"""Containers, and what leaves the workshop in them. Pure."""

from collections.abc import Iterator
from dataclasses import replace

from compliance.rules.facts import Consignment, Workshop
from compliance.rules.rule import Judgement
from compliance.rules.seen import RECOVERIES, grams, of_consignment, of_cylinder


def passed_on(one: Consignment, what: str, sold: tuple[str, str] | None, otherwise: tuple[str, str]) -> Judgement:
    """Judge used gas that went out by its purpose: met for reclaim or destruction, a breach where it was `sold`.

    `sold` and `otherwise` are the end of the sentence and the way out; with None a sale is asked about like the rest.
    """
    what, gone = f"{what} went out, purpose: {one.purpose or 'not entered'}", of_consignment(one)
    if one.purpose in ("reclaim", "destruction"):
        return gone.met(f"{what}.")
    if one.purpose == "sale" and sold:
        return gone.breach(f"{what}; {sold[0]}", sold[1])
    return gone.open(f"{what}; {otherwise[0]}", otherwise[1])


def filled_past_date(facts: Workshop) -> Iterator[Judgement]:
    """Judge refillable and recovery cylinders by the day of their last filling and their test date."""
    for one in facts.cylinders:
        if one.kind not in ("refillable", "recovery") or one.filled_on is None:
            continue
        there = of_cylinder(one, one.filled_on)
        if one.requalify_by is None:
            words = "It was filled, and its test date was never entered."
            yield there.open(words, "Enter the date that is stamped on it.")
        elif one.filled_on > one.requalify_by:
            words = f"It was filled on {one.filled_on}; its test ran out on {one.requalify_by}."
            yield there.breach(words, "Empty it and have it tested, or enter the test if it was done before.")
        else:
            yield there.met(f"It was last filled on {one.filled_on}, within its test date.")


def filled_once(facts: Workshop) -> Iterator[Judgement]:
    """Judge single-trip cylinders by what was filled into them after they were bought."""
    filled = {line.cylinder: line for line in facts.lines if line.cause in RECOVERIES}
    for one in facts.cylinders:
        if one.kind != "single-trip":
            continue
        if one.filled_on is None:
            yield of_cylinder(one, one.first_in_on).met("Nothing was filled into it since it was bought.")
            continue
        line = filled.get(one.number)
        what = f"{grams(line.mass_mg)} of {line.refrigerant} were" if line else "Gas was"
        words = f"{what} filled into a single-trip cylinder on {one.filled_on}; refilled, it may not be transported."
        there = replace(of_cylinder(one, one.filled_on), line=line.line if line else None)
        yield there.breach(words, "Empty it here into a recovery cylinder and scrap it.")
