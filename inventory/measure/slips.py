"""Slips of the hand: what was probably meant, where a quantity as typed cannot be or is unlikely.

A caller that refuses a value, or asks about it, says what can be (`possible`) and what would be usual (`likely`), and
gets texts that would each be read as such a value::

    proposals("83.55", "kg", "mass", possible=within(7.2, 19.9), likely=within(8.0, 8.4))
    -> (Proposal("8.355 kg", "decimal"),)

Each proposal differs from what was typed by one slip: the decimal mark moved by one to three places, two digits that
stand side by side exchanged, another unit chosen, or the sign or reference left out. It is written with its unit, in
the unit that was typed where that is not the slip itself, so that a button can send it as it stands.

Nothing is corrected here, only proposed: whether to refuse or to ask is the caller's. Pure; texts go through the
readers of `inventory.measure`, so what is proposed can be read without doubt.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal

from inventory.measure import masses, pressures, quantities
from inventory.measure.typed import QuantityError, Typed
from inventory.measure.units import clean_text, number_and_rest, number_readings

Slip = Literal["decimal", "digits", "unit", "sign"]
Check = Callable[[Any], bool]
"""Says of a value that a reader returned (`Typed`, or `Mass` with its ``.mg``) whether it can be, or is usual."""

MOST = 3
FARTHEST = 3  # places by which a decimal mark is taken to slip: from kg to g

# What is taken for what: units that stand side by side on a display, a plate or a form.
_OTHER_UNITS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "mass": {
        "kg": ("lb", "g", "oz"),
        "g": ("oz", "kg", "lb"),
        "lb": ("kg", "oz", "g"),
        "oz": ("g", "lb", "kg"),
    },
    "pressure": {
        "psi": ("bar", "kPa", "inHg", "mbar", "micron"),
        "bar": ("psi", "kPa", "mbar", "inHg"),
        "kPa": ("bar", "psi", "mbar", "inHg"),
        "mbar": ("bar", "kPa", "micron", "psi", "inHg"),
        "micron": ("mbar", "torr", "psi", "bar"),
        "inHg": ("psi", "mbar", "kPa", "bar", "micron"),
    },
    "temperature": {"C": ("F",), "F": ("C",), "K": ("C",)},
    "volume": {
        "L": ("mL", "fl oz", "gal"),
        "mL": ("L", "fl oz"),
        "cc": ("L", "fl oz"),
        "fl oz": ("mL", "L"),
        "gal": ("L",),
    },
    "water capacity": {"L": ("lb",), "lb": ("L", "kg"), "kg": ("lb",), "gal": ("L", "lb")},
    "length": {"m": ("ft", "cm", "mm"), "ft": ("m", "in"), "in": ("mm", "cm", "ft"), "mm": ("in", "cm", "m")},
    "duration": {"min": ("h", "s"), "h": ("min", "d"), "s": ("min",), "d": ("h",)},
}
_REFERENCES = ("gauge", "absolute")
_POUNDS_AND_OUNCES = re.compile(
    r"([0-9]+) ?(?:lbs?|pounds?)\.?,? ?(?:and |& ?)?([0-9][0-9.,]*) ?(?:oz|ounces?)\.?", re.I
)


@dataclass(frozen=True)
class Proposal:
    """What may have been meant: a text with its unit that is read without doubt, and the slip that it undoes."""

    text: str
    slip: Slip

    @property
    def words(self) -> str:
        """What a button says: the text as a question."""
        return f"{self.text}?"


def within(low: float, high: float) -> Check:
    """Return the check that a value lies between two in SI (kg, Pa absolute, K, m3, m, s), both belonging to it."""
    return lambda value: low <= value.si <= high


def proposals(
    typed: str,
    unit: str,
    kind: str,
    possible: Check,
    *,
    likely: Check | None = None,
    known: Mapping[str, Any] | None = None,
) -> tuple[Proposal, ...]:
    """Return what was probably meant by `typed`, the likeliest slip first; none where no slip would explain it.

    `typed` is the text as it stands in the field; `unit` the unit chosen beside it, used where the text has none;
    `kind` a key of `_OTHER_UNITS` (mass, pressure, temperature, volume, water capacity, length, duration).
    Only values that are `possible` are proposed; where any of them is `likely`, those alone. `known` goes to the
    reader, such as ``atmosphere_pa`` for a pressure. What reads as the same value is proposed once.
    """
    read = _reader(kind, dict(known or {}))
    as_it_stands = _value(read, _with_unit(typed, unit))
    found: dict[float, Proposal] = {}
    usual: set[float] = set()
    for text, slip in _candidates(typed, unit, kind):
        value = _value(read, text)
        if value is None or value.si in found or (as_it_stands is not None and value.si == as_it_stands.si):
            continue
        if possible(value):
            found[value.si] = Proposal(text, slip)
            if likely is not None and likely(value):
                usual.add(value.si)
    return tuple(one for si, one in found.items() if si in usual or not usual)[:MOST]


def _reader(kind: str, known: dict[str, Any]) -> Callable[[str], Typed]:
    """Return the reader of a kind, for texts that name their unit."""
    if kind == "pressure":
        known.setdefault("atmosphere_pa", 101_325.0)
        known.pop("plausible_pa", None)
        return lambda text: pressures.read_pressure(text, **known)
    readers: dict[str, Callable[..., Typed]] = {
        "mass": masses.read_mass,
        "temperature": quantities.read_temperature,
        "volume": quantities.read_volume,
        "water capacity": quantities.read_water_capacity,
        "length": quantities.read_length,
        "duration": quantities.read_duration,
    }
    reader = readers[kind]
    return lambda text: reader(text, **known)


def _value(read: Callable[[str], Typed], text: str) -> Typed | None:
    try:
        return read(text)
    except QuantityError:
        return None


def _with_unit(typed: str, unit: str) -> str:
    """Return the text with the unit chosen beside it, where it names none."""
    clean = clean_text(typed)
    return clean if number_and_rest(clean)[2] else masses.written_out(clean, unit)


def _candidates(typed: str, unit: str, kind: str) -> Iterator[tuple[str, Slip]]:
    """Yield each text that is one slip away, the likeliest first: a place, the unit, two digits, more places."""
    text = _with_unit(typed, unit)
    if kind == "mass" and (pair := _POUNDS_AND_OUNCES.fullmatch(text)) is not None:
        yield from _beside_pounds_and_ounces(pair[1], pair[2].replace(",", "."))
        return
    sign, digits, unit_text = number_and_rest(text)
    readings = number_readings(digits) if digits else ()
    if len(readings) != 1:
        return
    sign = "-" if sign == "-" else ""
    number = readings[0]
    for moved in _moved(number, 1):
        yield f"{sign}{moved} {unit_text}", "decimal"
    if kind == "temperature":
        yield f"{'' if sign else '-'}{number} {unit_text}", "sign"
    for other in _other_units(unit_text, kind):
        yield f"{sign}{number} {other}", "unit"
    if kind == "mass" and unit_text in ("lb", "kg") and (parts := re.fullmatch(r"([0-9]+)\.([0-9]{1,2})", number)):
        yield f"{parts[1]} lb {int(parts[2])} oz", "unit"
    for swapped in _swapped(number):
        yield f"{sign}{swapped} {unit_text}", "digits"
    for places in range(2, FARTHEST + 1):
        for moved in _moved(number, places):
            yield f"{sign}{moved} {unit_text}", "decimal"


def _beside_pounds_and_ounces(pounds: str, ounces: str) -> Iterator[tuple[str, Slip]]:
    """Yield what is one slip away from "1 lb 4.5 oz": either number alone may have slipped."""
    for moved in _moved(ounces, 1):
        yield f"{pounds} lb {moved} oz", "decimal"
    for moved in _moved(pounds, 1):
        if "." not in moved:
            yield f"{moved} lb {ounces} oz", "decimal"
    yield f"{pounds}.{ounces} lb" if "." not in ounces else f"{pounds} kg {ounces} g", "unit"
    for swapped in _swapped(pounds):
        yield f"{swapped} lb {ounces} oz", "digits"
    for swapped in _swapped(ounces):
        yield f"{pounds} lb {swapped} oz", "digits"


def _other_units(unit_text: str, kind: str) -> Iterator[str]:
    """Yield the units that are taken for this one; for a pressure also the other reference of the same unit."""
    base, _, mark = unit_text.partition(" ")
    others = _OTHER_UNITS[kind]
    if kind == "pressure":
        short = {"psig": ("psi", "gauge"), "psia": ("psi", "absolute"), "barg": ("bar", "gauge")}
        short |= {"bara": ("bar", "absolute")}
        base, mark = short.get(unit_text, (base, mark))
        if base in others and base != "micron":
            yield from (f"{base} {other}" for other in _REFERENCES if other != (mark or "gauge"))
        yield from others.get(base, ())
        return
    yield from others.get(unit_text, ())


def _moved(number: str, places: int) -> Iterator[str]:
    """Yield a number with its decimal mark moved to the left, and to the right."""
    for exponent in (-places, places):
        yield f"{Decimal(number).scaleb(exponent):f}"


def _swapped(number: str) -> Iterator[str]:
    """Yield a number with two neighbouring digits exchanged, the decimal mark staying where it is."""
    places = [place for place, char in enumerate(number) if char.isdigit()]
    for left, right in zip(places, places[1:], strict=False):
        if number[left] != number[right]:
            chars = list(number)
            chars[left], chars[right] = chars[right], chars[left]
            yield "".join(chars)
