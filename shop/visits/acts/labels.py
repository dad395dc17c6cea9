"""What a label that is read in a visit says of its vehicle: the record takes what it did not have, and keeps the rest.

A label entered anew puts right what the first reading of it had put into the record, and nothing else.
"""

from typing import Any

from shop.models import Step
from shop.visits.kinds import BY_NAME
from shop.visits.steps import Data, applicable, text_of

COLUMNS = ("refrigerant", "nameplate_mg", "nameplate_tolerance_mg", "lubricant")


def note_label(step: Step) -> None:
    """Keep refrigerant, charge, tolerance and lubricant of a label in the vehicle's record where that has none."""
    if step.kind != "label read":
        return
    vehicle, found = step.visit.vehicle, _columns(applicable(BY_NAME[step.kind], step.data))
    before = _columns(applicable(BY_NAME[step.kind], step.replaces.data)) if step.replaces else {}
    changed = [
        name
        for name in COLUMNS
        if getattr(vehicle, name) != found[name]
        and (getattr(vehicle, name) in (None, "") or getattr(vehicle, name) == before.get(name))
    ]
    for name in changed:
        setattr(vehicle, name, found[name])
    if "nameplate_mg" in changed:
        vehicle.typed = {**vehicle.typed, "nameplate": _as_typed(step.data.get("mass"))}
    if changed:
        vehicle.save(update_fields=[*changed, "typed"])


def _columns(data: Data) -> dict[str, Any]:
    def mg(name: str) -> int | None:
        kept = data.get(name)
        return int(kept["mg"]) if kept and kept.get("mg") is not None else None

    return {
        "refrigerant": text_of(data, "refrigerant"),
        "nameplate_mg": mg("mass"),
        "nameplate_tolerance_mg": mg("tolerance"),
        "lubricant": text_of(data, "lubricant")[:80],
    }


def _as_typed(kept: Any) -> str:
    text, unit = str((kept or {}).get("text", "")), str((kept or {}).get("unit", ""))
    return text if not unit or any(char.isalpha() for char in text) else f"{text} {unit}"
