"""What is kept of a step as it was typed, and what of it stands in its form again.

What is kept of a step is ``{"field": {"text": as typed, "si": value, "echo": as read}}``; a quantity keeps its unit
and an instrument its resolution beside, so that a verdict can be worked out from the step alone.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils import timezone

from inventory.measure.masses import Mass
from inventory.measure.own import Units
from inventory.measure.typed import Typed
from inventory.measure.units import find_pressure
from inventory.models import Gauge
from inventory.pages.fields.sent import Sent
from shop.models import Step, User, Vehicle
from shop.visits.steps import StepKind


def kept(value: Any) -> dict[str, Any] | None:
    """Return what a step keeps of a cleaned value; None where nothing was entered."""
    if value in (None, "", (), []):
        return None
    if isinstance(value, Mass):
        return {"text": value.text, "unit": value.unit, "si": value.si, "mg": value.mg, "echo": value.echo}
    if isinstance(value, Typed):
        return {"text": value.text, "unit": value.unit, "si": value.si, "echo": value.echo}
    if isinstance(value, Gauge):
        facts = {"id": value.pk, "step": value.step, "accuracy": value.accuracy, "absolute": value.absolute}
        return {"text": value.name, "si": None, "echo": value.name, "instrument": facts}
    if isinstance(value, User):
        return {"text": value.handle, "si": None, "echo": ""}
    if isinstance(value, datetime):
        moment = timezone.localtime(value)
        return {
            "text": moment.isoformat(timespec="minutes"),
            "si": value.timestamp(),
            "echo": f"{moment:%Y-%m-%d %H:%M}",
        }
    if isinstance(value, tuple) and len(value) == 2 and isinstance(value[0], str):
        return {"text": value[0], "si": value[1], "echo": value[0]}
    if isinstance(value, tuple):
        return _kept_readings(value)
    return {"text": str(value), "si": None, "echo": str(value)}


def _kept_readings(readings: Sequence[Any]) -> dict[str, Any]:
    """Keep each reading with time in seconds, pascal absolute and kelvin."""
    rows = [
        {
            "time_s": reading.time_s,
            "pressure_pa": reading.pressure.si,
            "temperature_k": reading.temperature.si if reading.temperature else None,
        }
        for reading in readings
    ]
    typed = [
        {
            "time": reading.typed[0],
            "pressure": reading.typed[1],
            "temperature": reading.typed[2],
            "pressure_unit": reading.pressure.unit,
            "temperature_unit": reading.temperature.unit if reading.temperature else "",
        }
        for reading in readings
    ]
    minutes = readings[-1].time_s / 60
    first, last = readings[0].pressure.echo, readings[-1].pressure.echo
    return {"text": typed, "si": rows, "echo": f"{len(rows)} readings over {minutes:g} min: {first}, then {last}"}


def initial_of(step: Step, kind: StepKind) -> dict[str, Any]:
    """Return what stands in the form where a step is entered again: what was typed, as it was typed."""
    initial: dict[str, Any] = {"doer": step.doer.handle, "note": step.note, "occurred_at": step.occurred_at}
    initial["answers"] = step.answers.handle if step.answers else ""
    for one in kind.fields:
        entry = step.data.get(one.name)
        if not entry:
            continue
        if "unit" in entry:
            initial[one.name] = Sent(text=entry["text"], unit=chosen(entry["unit"]))
        elif "instrument" in entry:
            initial[one.name] = str(entry["instrument"]["id"])
        elif one.type == "when":
            initial[one.name] = datetime.fromisoformat(entry["text"])
        elif one.type in ("readings", "rises"):
            initial[one.name] = [{**row, "pressure_unit": chosen(row["pressure_unit"])} for row in entry["text"]]
        else:
            initial[one.name] = entry["text"]
    return initial


def chosen(unit: str) -> str:
    """Return the unit that was chosen beside a text, of the one it was read in: "psi" of "psig", "inHg" of a vacuum."""
    found = find_pressure(unit)
    return found[0].word if found else unit


def nameplate_of(vehicle: Vehicle, units: Units) -> dict[str, Any]:
    """Return target and tolerance of a charge from the vehicle's record, to the very milligram."""
    kept = {"target": vehicle.nameplate_mg, "tolerance": vehicle.nameplate_tolerance_mg}
    return {name: Sent(*units.small_mass_typed(int(mass_mg))) for name, mass_mg in kept.items() if mass_mg}
