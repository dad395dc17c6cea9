"""What stands at the head of a visit, each as a whole phrase: what the system is for, its label, what is in it now.

The book's own masses come first; where it has none, what the standing pressure bounds; what nobody knows is said.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from inventory.gases.catalogue import MIXED
from inventory.measure.atmosphere import air_at
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from shop.bench.answers import at_least, at_most
from shop.bench.residue import EMPTIED
from shop.bench.standing import StandingAnswer
from shop.models import Step, Visit
from shop.visits import endings
from shop.visits.gas import built_for, held_in, label_of, living
from shop.visits.steps import READ_AGAINST
from shop.visits.verdicts import Told

CONTENT = {
    "at least": "At least this is inside: it was charged here, and what was in it before is not known.",
    "evacuated": "Evacuated: nothing is inside but what the pump left.",
    "open": "It stands open to the air.",
}


@dataclass(frozen=True)
class Head:
    """The head of a visit, in words."""

    system: str
    held: tuple[tuple[str, str], ...]
    content: str


def head_of_visit(visit: Visit, told: Mapping[int, Told], units: Units) -> Head:
    """Return the head of a visit whose log was fetched; `told` are the verdicts of its steps, by key."""
    held = {code: mass for code, mass in held_in(visit.vehicle).items() if mass > 0}
    return Head(
        system=_system(visit, units),
        held=tuple((code, units.mass_said(mass)) for code, mass in held.items()),
        content=_content(visit, told, bool(held), units),
    )


def air_said(log: Iterable[Step]) -> str:
    """Return what steps were reckoned with while no height was entered, once for all; empty where there is none."""
    if not any(READ_AGAINST in step.data for step in log):
        return ""
    return f"Read while no height of the workshop was entered: {air_at(None).said} is reckoned with."


def _system(visit: Visit, units: Units) -> str:
    """Return "R-134a, 0.550 kg on the label", or what of it nobody has entered."""
    code, (label_code, label_mg) = built_for(visit), label_of(visit)
    labelled = units.mass_said(label_mg) if label_mg else ""
    if not code and not labelled:
        return "refrigerant and charge not known: neither a label nor the record says"
    gas = code or "refrigerant not known"
    if not labelled:
        return f"{gas}, charge not known"
    if label_code and label_code != code:
        return f"{gas}, old label {labelled} {label_code}"
    return f"{gas}, {labelled} on the label"


def _content(visit: Visit, told: Mapping[int, Told], holds: bool, units: Units) -> str:
    content = visit.vehicle.content
    if content == "known":
        return "All of it was charged here into an evacuated system." if holds else "Nothing is inside."
    if content == "part recovered":
        return _after_recovery(visit, units)
    return CONTENT.get(content) or _by_standing(visit, told, units)


def _after_recovery(visit: Visit, units: Units) -> str:
    rest = endings.rest_of(visit, visit.workshop.air.pressure_pa)
    if rest is None or rest.at_most_g is None:
        return "Part recovered: how much is left inside is not bounded."
    most = in_own_units(f"at most {at_most(rest.at_most_g)}", units)
    if rest.state == EMPTIED:
        return f"Emptied: {most} left inside."
    return f"Part recovered: {most} left inside."


def _by_standing(visit: Visit, told: Mapping[int, Told], units: Units) -> str:
    stood = living(visit, "standing pressure")
    verdict = told.get(stood[-1].pk) if stood else None
    answer = verdict.answer if verdict else None
    if not isinstance(answer, StandingAnswer):
        return "What is inside is not known."
    if answer.at_least_g is not None:
        return f"{in_own_units(f'At least {at_least(answer.at_least_g)}', units)} inside, by the standing pressure."
    if answer.verdict == "empty" and answer.at_most_g is not None:
        most = in_own_units(f"at most {at_most(answer.at_most_g)}", units)
        return f"Arrived empty: {most} inside, by the standing pressure."
    if answer.at_most_g is not None:
        return f"{in_own_units(f'At most {at_most(answer.at_most_g)}', units)} inside, by the standing pressure."
    return f"What is inside is not known: the pressure is not that of {built_for(visit) or MIXED} alone."
