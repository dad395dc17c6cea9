"""Charges onto what is inside a vehicle by the book, and past its label. Pure."""

from collections.abc import Iterator

from compliance.rules.facts import Deed, Moved, Visit, Workshop
from compliance.rules.rule import Judgement
from compliance.rules.seen import grams, of_visit
from inventory.causes import CAUSES, VEHICLE
from shop.visits.kinds import ONTO
from shop.visits.steps import si_of, text_of
from shop.visits.usual import is_past_label

LEAKED, LESS, MORE = ONTO
INTO, THROUGH = ("charge", "found-in-vehicle", "late-charge"), "recovery-through-machine"


def charged_onto(facts: Workshop) -> Iterator[Judgement]:
    """Judge the last charge of each visit that came onto what the book had inside, and with it past the label."""
    for visit in facts.visits:
        onto = [(deed, inside_mg, mass_mg) for deed, inside_mg, mass_mg in _charges(visit) if inside_mg > 0]
        label_mg = _label_mg(visit)
        past = [one for one in onto if is_past_label(one[1], one[2], label_mg)]
        if past:
            yield _judged(visit, *past[-1], label_mg or 0)
        elif onto:
            yield of_visit(visit, onto[-1][0]).met("What was inside and what was charged are within the label.")


def _judged(visit: Visit, deed: Deed, inside_mg: int, charged_mg: int, label_mg: int) -> Judgement:
    said, there = text_of(deed.data, "onto"), of_visit(visit, deed)
    sums = (
        f"By the book {grams(inside_mg)} was in it, {grams(charged_mg)} was charged onto that: "
        f"{grams(inside_mg + charged_mg)}, and its label says {grams(label_mg)}."
    )
    if said == LEAKED and _searched(visit):
        return there.met(f"{sums} It is entered that part had leaked before, and that a leak was looked for.")
    ways = {
        LEAKED: "Enter the search for the leak, or what the customer declined.",
        LESS: "Enter the recovery that is missing, or settle what was inside with its evidence.",
        MORE: "Recover what is too much, or enter the label anew if it says more.",
    }
    said_of_it = f" It is entered: {said}." if said else " Nothing says how."
    return there.open(f"{sums}{said_of_it}", ways.get(said, "Enter the charge anew, and say how it came onto that."))


def _searched(visit: Visit) -> bool:
    return bool(visit.of("leak search", "after-search", "repair", "declined"))


def _charges(visit: Visit) -> Iterator[tuple[Deed, int, int]]:
    """Yield each charge with what the book had inside before it and what it put in, in milligrams."""
    inside_mg = sum(mass for mass in visit.held_mg.values() if mass > 0)
    for deed in visit.deeds:
        came_mg = sum(_into_vehicle(one) for one in deed.moved)
        if any(one.cause == "charge" for one in deed.moved):
            yield deed, inside_mg, came_mg
        inside_mg += came_mg


def _into_vehicle(one: Moved) -> int:
    """Return what a movement put into the vehicle, below nothing where it came out, in milligrams."""
    if one.cause in INTO:
        return one.mass_mg
    through = one.cause == THROUGH and one.cylinder is not None  # the second of its two lines, from machine to cylinder
    return -one.mass_mg if any(source == VEHICLE for source, _ in CAUSES[one.cause].routes) and not through else 0


def _label_mg(visit: Visit) -> int | None:
    """Return the mass of the label: as read in this visit, else of the record."""
    read = [si_of(deed.data, "mass") for deed in visit.of("label read")]
    return round(float(read[-1]) * 1e6) if read and read[-1] else visit.vehicle.nameplate_mg
