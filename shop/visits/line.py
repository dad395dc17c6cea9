"""What a line of the log is made of: a step and the units of its workshop; and how its parts are put together. Pure.

A quantity stands as it was typed, in the unit it was typed in; where that is not the workshop's unit, the workshop's
stands behind it in brackets.
"""

from dataclasses import dataclass

from shop.visits.shown import METRIC_MASSES, PRESSURES_OF, Units, typed_said
from shop.visits.steps import NO, YES, Data, StepKind, si_of, text_of

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
        if not kept:
            return ""
        kind = self.kind.field(name).type
        said = typed_said(kind, str(kept.get("text", "")), str(kept.get("unit", "")))
        si, ours = kept.get("si"), ""
        if si is not None:
            ours = self._in_our_unit(kind, str(kept.get("unit", "")), float(si))
        return f"{said} ({ours})" if said and ours else said or ours or str(kept.get("echo", ""))

    def _in_our_unit(self, kind: str, unit: str, si: float) -> str:
        units = self.units
        if kind == "mass" and (not unit or (unit in METRIC_MASSES) == (units.mass == "lb")):
            return units.small_mass_said(si * 1e6)
        if kind == "pressure" and not unit.startswith(PRESSURES_OF[units.pressure]):
            return units.pressure_said(si)
        if kind == "temperature" and unit != units.temperature:
            return units.temperature_said(si)
        return ""

    def answered(self, name: str, yes: str, no: str) -> str:
        """Return the words for yes or for no; empty where neither was chosen."""
        return yes if self.has(name) else no if self.has(name, NO) else ""

    def led(self, *parts: str, head: str = "") -> str:
        """Return "head: parts", the kind's own head if no other; the head alone says that nothing else is entered."""
        return f"{head or self.kind.done}: {joined(*parts) or 'nothing else is entered'}"


def joined(*parts: str) -> str:
    """Return what there is of the parts, with commas between."""
    return ", ".join(part for part in parts if part)


def beside(words: str, what: str) -> str:
    """Return "words what" where there is something to be said, else nothing."""
    return f"{words} {what}" if what else ""
