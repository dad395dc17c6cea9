"""What the log of a visit already holds of the oil: what came out and went in, for the balance to begin with."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.measure.units import unit_factor
from shop.models import Step, Visit
from shop.visits.gas import living
from shop.visits.kinds import BY_NAME
from shop.visits.steps import si_of, text_of

OUT = (("recovery", "oil_out"), ("part out", "oil_found"))
IN = (("part in", "oil_in"),)
OUNCE, MILLILITRE = "fl oz", "mL"
PINT = {OUNCE: "fluid_ounce", MILLILITRE: "milliliter"}


@dataclass(frozen=True)
class Taken:
    """A volume of oil as a form begins with it, its unit, and in words which steps it was taken from."""

    text: str
    unit: str
    words: str


def taken(visit: Visit) -> dict[str, Taken]:
    """Return the oil out and the oil in, by field of the oil balance; without one of which the log says nothing."""
    found = {"out": _sum(visit, OUT), "in": _sum(visit, IN)}
    return {name: one for name, one in found.items() if one is not None}


def _sum(visit: Visit, places: Iterable[tuple[str, str]]) -> Taken | None:
    rows = [
        (step, field) for kind, field in places for step in living(visit, kind) if si_of(step.data, field) is not None
    ]
    if not rows:
        return None
    unit = OUNCE if all(step.data[field].get("unit") == OUNCE for step, field in rows) else MILLILITRE
    total_m3 = sum(float(si_of(step.data, field)) for step, field in rows)
    text = f"{total_m3 / float(unit_factor(PINT[unit], 'meter ** 3')):.4g}"
    return Taken(
        text, unit, f"Taken from the log: {', '.join(_named(*row) for row in rows)}. Change it where it differs."
    )


def _named(step: Step, field: str) -> str:
    """Return "part out (compressor) 20 mL"."""
    text, unit = text_of(step.data, field), str(step.data[field].get("unit", ""))
    part = text_of(step.data, "part")
    named = f"{BY_NAME[step.kind].done.lower()} ({part})" if part else "recovery"
    return f"{named} {text if any(letter.isalpha() for letter in text) else f'{text} {unit}'.strip()}"
