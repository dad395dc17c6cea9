"""What one step of a visit came to, in one line: "Label: 450 g R-134a, plus or minus 15 g".

Pure: no database. What a step does not hold is named as not entered where it is what the step is for, else left out. A
quantity stands as it was typed, in the unit it was typed in; where that is not the workshop's unit, the workshop's
stands behind it in brackets.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from inventory.measure.displays import POUNDS_AND_OUNCES
from inventory.measure.own import Units
from inventory.measure.spoken import days_in
from inventory.measure.units import find_pressure
from shop.bench import leaksearch
from shop.visits.shown import (
    METRIC_MASSES,
    METRIC_VOLUMES,
    MOST_OIL_M3,
    PRESSURES_OF,
    in_pounds_and_ounces,
    typed_said,
)
from shop.visits.steps import NO, YES, Data, StepKind, said, si_of, text_of

NOT_ENTERED = "not entered"


@dataclass(frozen=True)
class Line:
    """A step as a line is made of it; `was` is what a vehicle held before its conversion, where known."""

    kind: StepKind
    data: Data
    units: Units = Units()
    was: str = ""
    change_pa: float | None = None  # of a pressure hold, corrected for temperature, where it was reckoned

    def text(self, name: str) -> str:
        """Return what was typed or chosen."""
        return text_of(self.data, name).strip()

    def number(self, name: str) -> int:
        """Return a count; nothing entered is none."""
        return int(float(si_of(self.data, name) or 0))

    def has(self, name: str, answer: str = YES) -> bool:
        """Whether a choice was answered so."""
        return self.text(name) == answer

    def quantity(self, name: str) -> str:
        """Return a quantity as typed, the workshop's unit behind where it is another; empty where there is none."""
        kept = self.data.get(name)
        return quantity_said(self.kind.field(name).type, kept, self.units) if kept else ""

    def fact(self, name: str) -> str:
        """Return a field as it was read, the unit of who reads it beside, and what a pressure is from nothing."""
        kept, one = self.data.get(name) or {}, self.kind.field(name)
        kind = one.type
        if kind == "when":
            return days_in(said(self.data, name), self.units)
        if kind in ("readings", "rises") and kept.get("si"):
            rows = _rows(self)
            (first, _), (last, end) = rows[0], rows[-1]
            return f"{len(rows)} readings over {end['time_s'] / 60:g} min: {first}, then {last}"
        if kind not in ("mass", "pressure", "temperature", "volume", "rate") or kept.get("si") is None:
            text = said(self.data, name)
            return f"{text} {one.unit}".strip() if text else ""
        if kind == "rate" and "unit" not in kept:  # from when it was a number of grams a year
            kept = {**kept, "unit": one.unit}
            return quantity_said(kind, kept, self.units)
        absolute = ""
        if kind == "pressure" and not _from_nothing(str(kept.get("unit", ""))):
            absolute = self.units.absolute_said(float(kept["si"]))
        return joined(self.quantity(name), absolute)

    def answered(self, name: str, yes: str, no: str) -> str:
        """Return the words for yes or for no; empty where neither was chosen."""
        return yes if self.has(name) else no if self.has(name, NO) else ""

    def led(self, *parts: str, head: str = "") -> str:
        """Return "head: parts", the kind's own head if no other; the head alone says that nothing else is entered."""
        return f"{head or self.kind.done}: {joined(*parts) or 'nothing else is entered'}"


def quantity_said(kind: str, kept: Mapping[str, Any], units: Units) -> str:
    """Return a quantity that was kept as it was typed, in the unit of who reads it behind where that is another."""
    unit, si, ours = str(kept.get("unit", "")), kept.get("si"), ""
    typed = typed_said(kind, str(kept.get("text", "")), unit)
    if kind == "mass" and units.mass == POUNDS_AND_OUNCES and (same := in_pounds_and_ounces(typed, unit)):
        return same
    if si is not None:
        ours = _in_own_unit(kind, unit, float(si), units)
    return f"{typed} ({ours})" if typed and ours else typed or ours or str(kept.get("echo", ""))


def _in_own_unit(kind: str, unit: str, si: float, units: Units) -> str:
    if kind == "mass" and (not unit or (unit in METRIC_MASSES) == units.in_pounds):
        return units.small_mass_said(si * 1e6)
    if kind == "pressure" and not unit.startswith(PRESSURES_OF[units.pressure]):
        return units.pressure_said(si)
    if kind == "temperature" and unit != units.temperature:
        return units.temperature_said(si)
    if kind == "volume" and (unit in METRIC_VOLUMES) != (units.volume in METRIC_VOLUMES):
        return (units.oil_said if si < MOST_OIL_M3 else units.volume_said)(si)
    if kind == "rate" and unit.startswith(("g", "kg")) == units.in_pounds:
        return units.yearly_said(si)
    return ""


def _from_nothing(unit: str) -> bool:
    """Whether a pressure in this unit was read from nothing, not from the air."""
    found = find_pressure(unit)
    return found is not None and (found[1] == "absolute" or found[0].word == "micron")


def joined(*parts: str) -> str:
    """Return what there is of the parts, with commas between."""
    return ", ".join(part for part in parts if part)


def beside(words: str, what: str) -> str:
    """Return "words what" where there is something to be said, else nothing."""
    return f"{words} {what}" if what else ""


def line_of(step: Line) -> str:
    """Return the line of a step: what it came to. Masses that moved in the book are said by whoever knows the book."""
    make = LINES.get(step.kind.name)
    return make(step) if make else step.kind.done


def _label(step: Line) -> str:
    if step.has("label", "no label"):
        return "Label: none on the vehicle"
    if step.has("label", "cannot be read"):
        return "Label: there, and cannot be read"
    mass, tolerance = step.quantity("mass"), step.quantity("tolerance")
    gas = step.text("refrigerant") or f"refrigerant {NOT_ENTERED}"
    lead = f"{mass} {gas}" if mass and step.text("refrigerant") else joined(gas, mass or f"mass {NOT_ENTERED}")
    oil, where = step.text("lubricant"), step.text("where")
    return step.led(lead, beside("plus or minus", tolerance), beside("oil", oil), beside("read:", where))


def _ports(step: Line) -> str:
    high, low = step.text("high"), step.text("low")
    ends = f"{high} on both sides" if high == low else f"high side {high}, low side {low}"
    signs, stop = step.text("conversion_signs"), step.text("leak_stop")
    adapters = step.answered("adapters", "adapters on them", "no adapters")
    return step.led(ends, adapters, beside("signs of a conversion:", signs), beside("leak-stop:", stop))


def _standing(step: Line) -> str:
    coldest, air = step.quantity("coldest"), step.quantity("air")
    at = beside("coldest part", coldest) or beside("air", air) or f"temperature {NOT_ENTERED}"
    empty = "said to have arrived empty" if step.has("empty") else ""
    stood = beside("stood", step.quantity("since_running"))
    return step.led(step.quantity("pressure"), at, stood, empty)


def _identified(step: Line) -> str:
    if not step.has("result", "used"):
        return "No identifier used"
    shares = si_of(step.data, "shares") or {}
    parts = ", ".join(f"{code} {float(share) * 100:.4g} %" for code, share in shares.items())
    return step.led(parts or step.text("shares") or f"what it showed is {NOT_ENTERED}")


def after_recovery(step: Line) -> str:
    """Return how a leg of a recovery ended: "4 inHg of vacuum after 5 min"; empty where nothing was entered."""
    after, waited = step.quantity("pressure_after_wait"), step.quantity("waited")
    end = joined(after, f"{waited} after it stopped" if waited else "") if after else step.quantity("final_pressure")
    stopped = step.text("stopped")
    return joined(end, f"stopped: {stopped}" if stopped not in ("", "done") else "")


def _opened(step: Line) -> str:
    relieved = step.answered("relieved", "pressure relieved before", "pressure not relieved before")
    return step.led(step.text("what"), relieved)


def _closed(step: Line) -> str:
    capped = step.answered("capped", "ends were capped", "ends were not capped")
    return step.led(step.text("what"), capped)


def _part_in(step: Line) -> str:
    number, seal = step.text("number"), step.text("seal")
    part = joined(step.text("part"), step.text("condition"), beside("no.", number), beside("seal", seal))
    return step.led(part, _oil(step, "oil_in", "oil put in"))


def _oil(step: Line, name: str, words: str) -> str:
    amount = step.quantity(name)
    return f"{words} {amount}{f' of {kind}' if (kind := step.text('oil_type')) else ''}" if amount else ""


def _flushed(step: Line) -> str:
    parts, driven = step.text("parts"), step.text("driven")
    with_what = joined(f"with {step.text('agent')}", beside("by", driven), beside("dried", step.text("dried")))
    return step.led(parts, with_what, beside("waste:", step.text("waste")))


def _oil_balance(step: Line) -> str:
    out, into = si_of(step.data, "out"), si_of(step.data, "in")
    amounts = f"{step.quantity('out') or NOT_ENTERED} out, {step.quantity('in') or NOT_ENTERED} in"
    gap = ""
    if out is not None and into is not None and out != into:
        gap = f"{step.units.oil_said(abs(into - out))} {'more' if into > out else 'less'} in than out"
    return step.led(amounts, joined(step.text("type"), step.text("grade")), joined(gap, step.text("why")))


def _isolated(step: Line) -> str:
    dead = step.answered("dead", "measured to be dead", "not measured to be dead")
    return step.led(step.text("method"), dead)


def _rows(step: Line) -> Sequence[tuple[str, dict[str, Any]]]:
    """Return the readings of a hold: the pressure of each as typed, and its SI values."""
    rows, typed = si_of(step.data, "readings") or (), (step.data.get("readings") or {}).get("text")
    texts = typed if isinstance(typed, list) and len(typed) == len(rows) else [{}] * len(rows)
    return [(_reading(text, row, step.units), row) for text, row in zip(texts, rows, strict=True)]


def _reading(typed: Any, row: dict[str, Any], units: Units) -> str:
    unit = str(typed.get("pressure_unit", "")) if isinstance(typed, dict) else ""
    said = typed_said("pressure", str(typed.get("pressure", "")), unit) if unit else ""
    ours = "" if unit.startswith(PRESSURES_OF[units.pressure]) and unit else units.pressure_said(row["pressure_pa"])
    return f"{said} ({ours})" if said and ours else said or ours


def _warm(step: Line) -> list[str]:
    """Return the temperature of each reading, as it was typed where that is in the unit of who reads it."""
    rows, typed = si_of(step.data, "readings") or (), (step.data.get("readings") or {}).get("text")
    texts = typed if isinstance(typed, list) and len(typed) == len(rows) else [{}] * len(rows)
    return [_temperature(text, row.get("temperature_k"), step.units) for text, row in zip(texts, rows, strict=True)]


def _temperature(typed: Any, kelvin: float | None, units: Units) -> str:
    if kelvin is None:
        return ""
    same = isinstance(typed, dict) and typed.get("temperature_unit") == units.temperature
    said = typed_said("temperature", str(typed.get("temperature", "")), units.temperature) if same else ""
    return said or units.temperature_said(kelvin)


def _first_to_last(step: Line) -> str:
    rows = _rows(step)
    if not rows:
        return f"readings {NOT_ENTERED}"
    (first, one), (last, other) = rows[0], rows[-1]
    if len(rows) == 1:
        return f"{first} alone, no second reading"
    minutes = (other["time_s"] - one["time_s"]) / 60
    warm = _warm(step)
    ends = [f"{said} at {at}" if at else said for said, at in ((first, warm[0]), (last, warm[-1]))]
    return f"{ends[0]} to {ends[1]} in {minutes:.4g} min"


def _pressure_hold(step: Line) -> str:
    change = ""
    if step.change_pa is not None:
        change = f"{step.units.change_said(step.change_pa)} once corrected for temperature"
    return step.led(_first_to_last(step), change, head=beside("Pressure hold with", step.text("gas")))


def _joints_said(step: Line) -> str:
    count, leaking, where = step.number("joints"), step.number("leaking"), step.text("where")
    looked = f"{count} joint{'' if count == 1 else 's'} looked at"
    if not leaking and (blind := _blind(step)):
        return f"{looked}, but {blind}: it cannot tell"
    if not leaking:
        return f"{looked}, none found leaking"
    return f"{looked}, {leaking} leaking{f' ({where})' if where else ''}"


_METHODS = {"electronic": "electronic detector"}
METHOD_OF = {"hydrogen detector": "hydrogen", "by eye": "eye"}
GAS_OF = {"dry nitrogen": leaksearch.NITROGEN, "nitrogen with hydrogen": leaksearch.NITROGEN_HYDROGEN}


def _blind(step: Line) -> str:
    """Say why a search could not notice what was inside; empty where it could, or either is not entered."""
    method, gas = step.text("method"), step.text("gas")
    return leaksearch.unnoticed(METHOD_OF.get(method, method), GAS_OF.get(gas, leaksearch.REFRIGERANT)) if gas else ""


def _leak_search(step: Line) -> str:
    how = _METHODS.get(step.text("method"), step.text("method"))
    return step.led(_joints_said(step), head=beside("Leak search,", how))


def _pulled(step: Line) -> str:
    start, end = si_of(step.data, "start"), si_of(step.data, "end")
    took = f" in {(end - start) / 60:.4g} min" if start is not None and end is not None and end > start else ""
    level = step.quantity("lowest") or f"a level {NOT_ENTERED}"
    return joined(f"Vacuum pulled to {level}{took}", beside("with", step.text("pump")))


def aimed_at(step: Line) -> str:
    """Return the target of a leg of a charge: "target 765 g, plus or minus 25 g"; empty where there is none."""
    target, tolerance = step.quantity("target"), step.quantity("tolerance")
    return joined(f"target {target}", beside("plus or minus", tolerance)) if target else ""


def _running(step: Line) -> str:
    low, high = step.quantity("low"), step.quantity("high")
    pressures = joined(beside("low side", low), beside("high side", high)) or f"pressures {NOT_ENTERED}"
    vent = f"vent {step.quantity('vent') or NOT_ENTERED} with air at {step.quantity('air') or NOT_ENTERED}"
    return step.led(vent, pressures)


def _after_search(step: Line) -> str:
    caps = step.answered("caps", "caps fitted", "caps not fitted")
    return step.led(_joints_said(step), caps)


def _converted(step: Line) -> str:
    to = step.text("to") or f"a refrigerant {NOT_ENTERED}"
    what = f"from {step.was} to {to}" if step.was and step.was != to else f"to {to}"
    return f"Converted {what}" + (f", oil {oil}" if (oil := step.text("lubricant")) else "")


def _declined(step: Line) -> str:
    signed = step.answered("signed", "signed by the customer", "not signed by the customer")
    advised = step.text("advised")
    return step.led(step.text("declined"), beside("advised was", advised), signed)


def _interrupted(step: Line) -> str:
    begun, ended = _moment(step, "from"), _moment(step, "to")
    times = f"from {begun} until {ended or 'a time ' + NOT_ENTERED}" if begun else ""
    return step.led(step.text("why"), times, beside("left as", step.text("left")))


def _moment(step: Line, name: str) -> str:
    return days_in(said(step.data, name), step.units)


def _handed_over(step: Line) -> str:
    documents = step.text("documents") or f"documents {NOT_ENTERED}"
    signed = step.answered("signed", "signed by the customer", "not signed by the customer")
    return step.led(documents, beside("look again", step.text("next_look")), signed)


LINES: dict[str, Callable[[Line], str]] = {
    "received": lambda step: step.led(step.text("state"), beside("odometer", step.text("odometer"))),
    "label read": _label,
    "ports seen": _ports,
    "standing pressure": _standing,
    "identified": _identified,
    "recovery": lambda step: step.led(after_recovery(step) or step.text("stopped")),
    "remainder settled": lambda step: step.led(
        beside("evidence", step.text("evidence")), head="What was left is settled"
    ),
    "circuit opened": _opened,
    "circuit closed": _closed,
    "part out": lambda step: step.led(step.text("part"), _oil(step, "oil_found", "oil in it")),
    "part in": _part_in,
    "flush": _flushed,
    "oil balance": _oil_balance,
    "high voltage isolated": _isolated,
    "pressure hold": _pressure_hold,
    "leak search": _leak_search,
    "repair": lambda step: step.led(step.text("joint"), step.text("what")),
    "pulling vacuum": _pulled,
    "vacuum hold": lambda step: step.led(_first_to_last(step), beside("coldest part", step.quantity("coldest"))),
    "charge": lambda step: step.led(aimed_at(step), beside("drawn as", step.text("phase")), step.text("onto")),
    "running test": _running,
    "after-search": _after_search,
    "conversion done": _converted,
    "declined": _declined,
    "interrupted": _interrupted,
    "paper sheet": lambda step: step.led(f"sheet {step.text('number')}", step.text("reason")),
    "hand-over": _handed_over,
    "spot check": lambda step: step.led(
        step.text("found"), step.text("gap"), beside("looked at:", step.text("looked"))
    ),
}
