"""What becomes of the gas: recovered, let go, in stock, bought and sold, and the containers it comes in. Pure."""

from collections.abc import Iterator
from dataclasses import replace

from compliance.rules.facts import Workshop
from compliance.rules.law.containers import passed_on
from compliance.rules.law.gases import FLUORINATED, HFC, contains, may_contain, ozone_depleting
from compliance.rules.law.openings import openings, released
from compliance.rules.rule import Judgement
from compliance.rules.seen import grams, moves, of_consignment, of_cylinder, of_line, of_visit

NOT_REFILLABLE = {"single-trip": "a single-trip cylinder", "can lot": "cans"}
SOLD = ("it goes for destruction or reclaim only.", "Correct the purpose if it is wrong; otherwise explain.")
OTHERWISE = (
    "the book cannot show that it goes for destruction or reclaim.",
    "Say where it goes from there, and accept this with it.",
)
LOST = {"lost-in-our-hands": "was lost in the workshop's hands"}
MISHAP = "an intentional release is banned, a mishap is not one."


def no_release(facts: Workshop) -> Iterator[Judgement]:
    """Judge openings of systems with fluorinated gas, and lines that let such gas go."""
    yield from openings(facts, lambda code: may_contain(code, FLUORINATED) and not ozone_depleting(code))
    yield from released(facts, lambda code: contains(code, FLUORINATED) and not ozone_depleting(code), LOST, MISHAP)


def ozone_recovered(facts: Workshop) -> Iterator[Judgement]:
    """Judge openings of systems with ozone-depleting gas, and lines that let such gas go."""
    yield from openings(facts, ozone_depleting)
    yield from released(facts, ozone_depleting, LOST, MISHAP)


def ozone_stock(facts: Workshop) -> Iterator[Judgement]:
    """Ask where ozone-depleting stock is to go, and judge where it went."""
    for one in facts.cylinders:
        if ozone_depleting(one.refrigerant) and one.held_mg > 0 and one.state != "away":
            words = f"It holds {grams(one.held_mg)} of {one.refrigerant}, which may not go into any vehicle."
            yield of_cylinder(one).open(words, "Send it away for destruction or reclaim.")
    for gone in facts.consignments:
        if ozone_depleting(gone.refrigerant):
            yield passed_on(gone, f"{grams(gone.mass_mg)} of {gone.refrigerant}", SOLD, OTHERWISE)


def ozone_records(facts: Workshop) -> Iterator[Judgement]:
    """Judge recoveries of ozone-depleting gas by whether the record says how much, when and by whom."""
    for visit in facts.visits:
        legs = [(deed, one) for deed, one in moves(visit, "recovery") if ozone_depleting(one.refrigerant)]
        if not legs:
            continue
        deed, one = legs[0]
        mass = sum(each.mass_mg for _, each in legs)
        there, what = of_visit(visit, deed), f"{grams(mass)} of {one.refrigerant} recovered"
        if deed.doer in facts.people:
            yield there.met(f"{what}, with day and person; keep it five years.")
        else:
            yield there.open(f"{what} by somebody who is not among the people here.", "Enter the person.")


def refillable_only(facts: Workshop) -> Iterator[Judgement]:
    """Judge containers of fluorinated gas that came in, by whether they can be filled again."""
    for one in facts.cylinders:
        if one.first_in_on is None or not contains(one.refrigerant, FLUORINATED) or one.kind == "machine tank":
            continue
        there = of_cylinder(one, one.first_in_on)
        if one.kind not in NOT_REFILLABLE:
            yield there.met("It is a container that can be filled again.")
            continue
        came = f"{one.refrigerant} came on {one.first_in_on} in {NOT_REFILLABLE[one.kind]}"
        if contains(one.refrigerant, HFC):
            words = f"{came} that cannot be filled again."
            yield there.breach(words, "Correct the kind if it is wrong; buy refillable with a return.")
        else:
            words = f"{came}; that the ban names this gas is from memory."
            yield there.open(words, "Look it up, and buy refillable with a return.")


def who_may_buy(facts: Workshop) -> Iterator[Judgement]:
    """Ask for an attested person on each day of a purchase, and about the buyer of gas that was sold."""
    for line in facts.lines:
        if line.cause != "purchase" or not contains(line.refrigerant, FLUORINATED):
            continue
        attested = any(one.active and one.certified_on(line.on) for one in facts.people.values())
        bought = f"{grams(line.mass_mg)} of {line.refrigerant} was bought on {line.on}"
        there = replace(of_line(line), person="")
        if attested:
            yield there.met(f"{bought}, and somebody held an attestation.")
        else:
            words = f"{bought}, and nobody here held an attestation on that day, as entered."
            yield there.open(words, "Enter the attestation that the supplier was shown.")
    for one in facts.consignments:
        if one.purpose == "sale" and contains(one.refrigerant, FLUORINATED):
            words = f"{grams(one.mass_mg)} of {one.refrigerant} was sold; the book cannot show the buyer's attestation."
            yield of_consignment(one).open(
                words, "Accept this with the number of the buyer's certificate; keep it five years."
            )
