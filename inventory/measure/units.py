"""Units by the names people write, numbers by the marks they write, and the factors between units.

The tables and the look-ups behind ``inventory.measure.typed`` and its neighbours, which word questions and refusals;
nothing here raises on any text. pint supplies every factor, from its own definitions, in decimals.
"""

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal, localcontext
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from pint import UnitRegistry

Reference = Literal["gauge", "absolute", "vacuum"]


@dataclass(frozen=True)
class Kind:
    """What is measured, and how a sentence speaks of it."""

    name: str  # "a mass", as a sentence names it
    most: Decimal  # in SI; more than this is a slip, and would not fit the book
    offered: tuple[str, ...]  # units that a question or a refusal names


@dataclass(frozen=True)
class Unit:
    """A unit: the word that echoes use, pint's word, and other names that people write."""

    word: str
    pint: str
    names: tuple[str, ...] = ()


KINDS = {
    "mass": Kind("a mass", Decimal(10**6), ("g", "kg", "lb", "oz")),
    "pressure": Kind("a pressure", Decimal(10**9), ("bar", "psi", "kPa", "inHg", "micron")),
    "temperature": Kind("a temperature", Decimal(10**4), ("C", "F")),
    "volume": Kind("a volume", Decimal(10**6), ("L", "mL", "fl oz")),
    "length": Kind("a length", Decimal(10**7), ("m", "mm", "ft", "in")),
    "duration": Kind("a time", Decimal(10**10), ("min", "h", "d")),
    "leak rate": Kind("a leak rate", Decimal(10**9), ("Pa m3/s", "mbar L/s")),
    "mass a year": Kind("a mass a year", Decimal(10**9), ("g/year", "oz/year")),
}

UNITS = {
    "mass": (
        Unit("mg", "milligram", ("milligram", "milligrams")),
        Unit("g", "gram", ("gm", "gms", "gram", "grams", "gramme", "grammes")),
        Unit("kg", "kilogram", ("kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes")),
        Unit("t", "metric_ton", ("tonne", "tonnes")),
        Unit("lb", "pound", ("lbs", "pound", "pounds")),
        Unit("oz", "ounce", ("ozs", "ounce", "ounces")),
    ),
    "pressure": (
        Unit("psi", "psi", ("p.s.i", "lb/in2", "lbf/in2", "lb/sq in")),
        Unit("bar", "bar", ("bars",)),
        Unit("mbar", "millibar", ("millibar", "millibars")),
        Unit("Pa", "pascal", ("pascal", "pascals")),
        Unit("hPa", "hectopascal"),
        Unit("kPa", "kilopascal"),
        Unit("MPa", "megapascal"),
        Unit("micron", "millitorr", ("microns", "mtorr", "millitorr", "umhg", "um hg")),
        Unit("torr", "torr"),
        Unit("mmHg", "mmHg", ("mm hg",)),
        Unit("inHg", "inHg", ("in hg", "in. hg", "in.hg", "inches hg", "inches of mercury", "in of hg", '"hg', '" hg')),
        Unit("atm", "atm"),
        Unit("kgf/cm2", "kgf/centimeter**2", ("kg/cm2", "kp/cm2", "kg/sq cm", "kgf/sq cm")),
    ),
    "temperature": (
        Unit("C", "degC", ("°c", "° c", "deg c", "degc", "degrees c", "celsius", "degrees celsius")),
        Unit("F", "degF", ("°f", "° f", "deg f", "degf", "degrees f", "fahrenheit", "degrees fahrenheit")),
        Unit("K", "kelvin", ("kelvin", "kelvins")),
    ),
    "volume": (
        Unit("L", "liter", ("ltr", "litre", "litres", "liter", "liters")),
        Unit("mL", "milliliter", ("millilitre", "millilitres", "milliliter", "milliliters")),
        Unit("cc", "centimeter**3", ("cm3", "ccm", "cm^3")),
        Unit("m3", "meter**3", ("m^3", "cubic metre", "cubic metres", "cubic meter", "cubic meters")),
        Unit("in3", "inch**3", ("in^3", "cu in", "cu. in", "cubic inch", "cubic inches")),
        Unit("ft3", "foot**3", ("ft^3", "cu ft", "cubic foot", "cubic feet")),
        Unit("fl oz", "fluid_ounce", ("floz", "fl. oz", "us fl oz", "fluid ounce", "fluid ounces")),
        Unit("gal", "gallon", ("us gal", "gallon", "gallons", "us gallon", "us gallons")),
    ),
    "length": (
        Unit("m", "meter", ("metre", "metres", "meter", "meters")),
        Unit("km", "kilometer", ("kilometre", "kilometres", "kilometer", "kilometers")),
        Unit("cm", "centimeter", ("centimetre", "centimetres", "centimeter", "centimeters")),
        Unit("mm", "millimeter", ("millimetre", "millimetres", "millimeter", "millimeters")),
        Unit("ft", "foot", ("foot", "feet")),
        Unit("in", "inch", ('"', "inch", "inches")),
    ),
    "duration": (
        Unit("week", "week", ("weeks",)),
        Unit("d", "day", ("day", "days")),
        Unit("h", "hour", ("hr", "hrs", "hour", "hours")),
        Unit("min", "minute", ("m", "mins", "minute", "minutes")),
        Unit("s", "second", ("sec", "secs", "second", "seconds")),
    ),
    "leak rate": (
        Unit("Pa m3/s", "pascal*meter**3/second", ("pa.m3/s", "pa m^3/s")),
        Unit("mbar L/s", "millibar*liter/second", ("mbar.l/s",)),
        Unit("atm cc/s", "atm*centimeter**3/second", ("atm cm3/s", "atm.cc/s", "std cc/s")),
    ),
    "mass a year": (
        Unit("g/year", "gram/year", ("g/yr", "g/a", "g a year", "g per year")),
        Unit("kg/year", "kilogram/year", ("kg/yr", "kg/a", "kg a year", "kg per year")),
        Unit("oz/year", "ounce/year", ("oz/yr", "oz/a", "oz a year", "oz per year")),
        Unit("lb/year", "pound/year", ("lb/yr", "lb/a", "lb a year", "lb per year")),
    ),
}

UNITS_BY_NAME = {
    kind: {name.casefold(): unit for unit in units for name in (unit.word, *unit.names)}
    for kind, units in UNITS.items()
}

_MARKS: dict[str, Reference] = {
    "g": "gauge", "ga": "gauge", "gauge": "gauge",
    "a": "absolute", "abs": "absolute", "absolute": "absolute",
    "v": "vacuum", "vac": "vacuum", "vacuum": "vacuum",
    "below": "vacuum", "below atmosphere": "vacuum", "below the atmosphere": "vacuum",
}  # fmt: skip
_MARKED = re.compile(
    r"(?P<base>.+?)[ ,]*\(?(?P<mark>gauge|ga|g|absolute|abs|a|vacuum|vac|v|below(?: (?:the )?atmosphere)?)\.?\)?"
)

# One look for what keyboards and copied text bring: minus signs, apostrophes, signs written as one.
_LOOKALIKES = str.maketrans(
    {
        "\N{MINUS SIGN}": "-",
        "\N{HYPHEN}": "-",
        "\N{NON-BREAKING HYPHEN}": "-",
        "\N{EN DASH}": "-",
        "\N{SMALL HYPHEN-MINUS}": "-",
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
        "\N{DOUBLE PRIME}": '"',
        "\N{DEGREE CELSIUS}": "°C",
        "\N{DEGREE FAHRENHEIT}": "°F",
        "\N{MASCULINE ORDINAL INDICATOR}": "°",
        "\N{MICRO SIGN}": "u",
        "\N{GREEK SMALL LETTER MU}": "u",
        "\N{MIDDLE DOT}": ".",
        "\N{DOT OPERATOR}": ".",
    }
    | {chr(code): chr(code - 0xFEE0) for code in range(0xFF01, 0xFF5F)}  # full-width forms
)
_RAISED = str.maketrans({"\N{SUPERSCRIPT TWO}": "2", "\N{SUPERSCRIPT THREE}": "3"})  # in units only
_SIGN_NUMBER_REST = re.compile(r"([+-]?) ?([0-9.,' ]*)(.*)", re.DOTALL)
_IN_DOUBT = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_PLAIN = re.compile(r"[0-9]+|[0-9]*[.,][0-9]+")
_GROUPED = re.compile(r"[1-9][0-9]{0,2}([ ,.'])[0-9]{3}(?:\1[0-9]{3})*(?:([.,])[0-9]+)?")


def find_pressure(unit_text: str) -> tuple[Unit, Reference | None] | None:
    """Find a pressure unit and its reference, None where the text carries none."""
    key = unit_key(unit_text)
    if (unit := UNITS_BY_NAME["pressure"].get(key)) is not None:
        return unit, None
    found = _MARKED.fullmatch(key)
    if found is None or (unit := UNITS_BY_NAME["pressure"].get(found["base"].strip().rstrip("."))) is None:
        return None
    return unit, _MARKS[found["mark"]]


def clean_text(text: str) -> str:
    """Bring spaces, minus signs and full-width forms to one look, and drop what cannot be seen."""
    if text.isascii():
        return " ".join(text.split())
    seen = "".join(char for char in text if unicodedata.category(char) != "Cf")
    return " ".join(seen.translate(_LOOKALIKES).split())


@lru_cache(maxsize=1024)
def unit_key(unit_text: str) -> str:
    """Return a unit's name as it is looked up: no capitals, one look, no closing full stop."""
    return clean_text(unit_text).translate(_RAISED).casefold().removesuffix(".").strip()


def find_unit(unit_text: str, kind: str) -> Unit | None:
    """Find a unit of one kind by its name, pressures without their reference."""
    return UNITS_BY_NAME[kind].get(unit_key(unit_text))


def kind_of(unit_text: str) -> str | None:
    """Return the kind of quantity that a unit measures; the first of KINDS where a name has two."""
    if find_pressure(unit_text) is not None:
        return "pressure"
    return next((kind for kind in KINDS if find_unit(unit_text, kind)), None)


def number_and_rest(clean: str) -> tuple[str, str, str]:
    """Part a cleaned text into sign, digits with their marks, and what follows."""
    found = _SIGN_NUMBER_REST.fullmatch(clean)
    if found is None:
        return "", "", clean
    return found[1], found[2].strip(), found[3].strip()


def number_readings(number: str) -> tuple[str, ...]:
    """Return each way to read digits with their marks, as plain decimals; none where there is no way."""
    grouped = _GROUPED.fullmatch(number)
    if _IN_DOUBT.fullmatch(number):
        return number.replace(",", "."), number.replace(",", "")
    if _PLAIN.fullmatch(number):
        return (_tidy(number.replace(",", ".")),)
    if grouped is None or grouped[1] == grouped[2]:
        return ()
    return (_tidy(number.replace(grouped[1], "").replace(",", ".")),)


def _tidy(number: str) -> str:
    """Write 0.5 for .5 and 7 for 007; decimals stay as typed."""
    whole, mark, part = number.partition(".")
    return (whole.lstrip("0") or "0") + mark + part


def in_unit(number: str, unit: str, to: str) -> Decimal:
    """Return a number in another unit, with all its digits."""
    with localcontext(prec=100):
        return Decimal(number) * unit_factor(unit, to)


def temperature_in(number: Decimal, unit: Unit, to: str) -> Decimal:
    """Return a temperature on another scale, zero points included."""
    converted = _registry().Quantity(number, unit.pint).to(to)
    return Decimal(converted.magnitude)


@lru_cache(maxsize=256)
def unit_factor(unit: str, to: str) -> Decimal:
    """Return what one `unit` is in `to`, both in pint's words; exact for pounds, ounces and metric units."""
    return Decimal(_registry().Quantity(Decimal(1), unit).to(to).magnitude)


@lru_cache(maxsize=1)
def _registry() -> "UnitRegistry[Decimal]":
    from pint import UnitRegistry  # half a second: paid by the first who reads a quantity, not by every start

    return UnitRegistry(non_int_type=Decimal)
