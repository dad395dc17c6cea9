"""The verdict of every step of a visit, by its kind."""

from collections.abc import Callable
from dataclasses import replace

from inventory.measure.atmosphere import air_at
from inventory.measure.units import find_pressure
from shop.models import Step, Visit
from shop.visits import endings, proofs
from shop.visits.inputs import (
    CANNOT,
)
from shop.visits.steps import READ_AGAINST, air_pa
from shop.visits.verdicts import charged, recovered, tight
from shop.visits.verdicts.told import Around, Told

_JUDGES: dict[str, Callable[[Step, Around], Told | None]] = {
    "pressure hold": tight.of_hold,
    "vacuum hold": tight.of_vacuum,
    "standing pressure": recovered.of_standing,
    "leak search": tight.of_search,
    "after-search": tight.of_after_search,
    "recovery": recovered.of_recovery,
    "remainder settled": recovered.of_settled,
    "circuit opened": recovered.of_opened,
    "charge": charged.of_charge,
    "running test": charged.of_running,
}


def around(visit: Visit, atmosphere_pa: float) -> Around:
    """Return what the steps of a visit share, the recovery's proof worked out once."""
    rest = endings.rest_of(visit, atmosphere_pa)
    try:
        return Around(visit, atmosphere_pa, proofs.proof_of(visit, atmosphere_pa), rest=rest)
    except CANNOT as error:
        return Around(visit, atmosphere_pa, None, str(error), rest)


def told_of(shared: Around) -> dict[int, Told]:
    """Return the verdicts of the steps of a visit whose log was fetched, by the key of the step, in their order."""
    found = {}
    for step in shared.visit.steps.all():
        step.visit = shared.visit
        if (said := told(step, shared)) is not None:
            found[step.pk] = said
    return found


def told(step: Step, shared: Around) -> Told | None:
    """Return the verdict of a step, or why none can be given, or None where there is nothing to be judged."""
    judge = _JUDGES.get(step.kind)
    if judge is None:
        return None
    try:
        said = judge(step, shared)
    except CANNOT as error:
        said = Told(f"Cannot tell: {error}")
    words = _by_height(step, shared) if said is not None and READ_AGAINST in step.data else ""
    return replace(said, more=(*said.more, words)) if said is not None and words else said


def _by_height(step: Step, shared: Around) -> str:
    """Say what was reckoned with where nobody had entered the height and that decides what a pressure says; else ""."""
    air = air_at(None)
    marked = find_pressure(str((step.data.get("pressure") or {}).get("unit", "")))
    if step.kind != "standing pressure" or marked is None or marked[1] not in ("gauge", "vacuum"):
        return ""
    found = {_standing_verdict(step, shared, around_pa) for around_pa in (air.low_pa, air.pressure_pa, air.high_pa)}
    words = f"{air.words[:1].upper()}{air.words[1:]}. What this pressure says depends on it."
    return "" if len(found) == 1 else words


def _standing_verdict(step: Step, shared: Around, around_pa: float) -> str:
    """Return what a standing pressure, as its gauge showed it, would say in other air."""
    apart_pa = around_pa - air_pa(step.data, around_pa)
    pressure = step.data["pressure"]
    there = {
        "pressure": {**pressure, "si": pressure["si"] + apart_pa},
        "barometer": {"si": around_pa},
    }  # one air, no range
    other = Step(visit=step.visit, kind=step.kind, data={**step.data, **there})
    try:
        return proofs.standing_read(other, around_pa).verdict
    except CANNOT:
        return ""
