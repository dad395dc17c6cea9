"""Sentences of calculations and rules, in grams, bar, C and ISO days, in the units of who reads them. Pure."""

import re
from datetime import date

from inventory.measure.displays import bound
from inventory.measure.figures import MINUS, NARROW, parted, significant
from inventory.measure.own import Units, cubic_metres, pascals

_FIGURE = rf"[-+{MINUS}]?[0-9]+(?:[,{NARROW}][0-9]{{3}})*(?:\.[0-9]+)?"
_SAID = re.compile(
    rf"(?<![0-9A-Za-z.,+-])(?P<either>\+-)?(?:(?P<first>{_FIGURE}) (?P<way>to|and) )?(?P<number>{_FIGURE})"
    rf"[ {NARROW}](?P<unit>bar|mbar|kg|g|C|K|L|mL)\b(?!/| per |[ {NARROW}]CO2)"
)
_DAY = re.compile(r"(?<![0-9A-Za-z-])([0-9]{4}-[0-9]{2}-[0-9]{2})(?![0-9A-Za-z-])")
_BOUND = re.compile(r"\bat (most|least) $", re.I)
_WITHIN, _RATE = re.compile(r"\bwithin $"), re.compile(r" a minute\b")  # differences, which count from nothing anyhow
_DEEP_MBAR = 100.0  # from here on a vacuum is said as other pressures are
_G_PER_OZ, _LB_PER_KG = 28.349523125, 2.2046226218


def in_own_units(text: str, units: Units) -> str:
    """Return a sentence of a calculation, which is in bar, C, grams and ISO days, in the units of who reads it."""

    def said(match: re.Match[str]) -> str:
        unit = match["unit"]
        if not _is_other(unit, units):
            return match[0].replace(match["number"], _as_shown(match["number"], unit))
        if unit in ("g", "kg") and not match["first"] and (way := _BOUND.search(text, 0, match.start())):
            mass_mg = float(_ungrouped(match["number"])) * (1e6 if unit == "kg" else 1000)
            return bound(mass_mg, units.mass, up=way[1].lower() == "most")
        first = f"{_own(match['first'], unit, units)} {match['way']} " if match["first"] else ""
        level = unit == "mbar" and not (_WITHIN.search(text, 0, match.start()) or _RATE.match(text, match.end()))
        counts = " absolute" if level and units.vacuum == "inHg" else ""  # a needle's inches count the other way
        return (match["either"] or "") + first + _own(match["number"], unit, units) + counts

    return days_in(_SAID.sub(said, text), units)


def days_in(text: str, units: Units) -> str:
    """Return a text with its ISO days in the order of who reads it."""
    if units.days == "ymd":
        return text

    def said(match: re.Match[str]) -> str:
        try:
            return units.day_said(date.fromisoformat(match[1]))
        except ValueError:  # figures that only look like a day
            return match[0]

    return _DAY.sub(said, text)


def _is_other(unit: str, units: Units) -> bool:
    """Whether who reads it says another unit than the sentence."""
    if unit in ("g", "kg"):
        return units.in_pounds
    if unit in ("C", "K"):
        return units.temperature == "F"
    if unit in ("L", "mL"):
        return units.volume != "L"
    return unit != (units.pressure if unit == "bar" else units.vacuum)


def _own(text: str, unit: str, units: Units) -> str:
    """Return one figure of a sentence in the reader's unit, to as many digits as it had, two at least.

    What was read carries more digits than an instrument shows: four are said of it, without zeros at their end.
    """
    sign, plain = ("-", text[1:]) if text[0] in f"-{MINUS}" else ("+" if text[0] == "+" else "", text.lstrip("+"))
    plain = _ungrouped(plain)
    value = float(plain)
    digits = max(2, len(plain.replace(".", "").lstrip("0")))
    if unit == "K":  # sentences say differences in kelvin, never temperatures
        return f"{MINUS if sign == '-' else sign}{value * 1.8:.1f} F"
    if unit == "C":
        warmth = round((-value if sign == "-" else value) * 1.8 + 32, 1)
        return f"{warmth + 0.0:g} F"  # zero has no sign
    sign = MINUS if sign == "-" else sign
    if unit in ("bar", "mbar"):
        deep = unit == "mbar" and (value < _DEEP_MBAR or units.vacuum == "inHg")
        word = units.vacuum if deep else units.pressure
        return f"{sign}{_figure(value * (pascals(unit) / pascals(word)), digits)} {word}"
    if unit in ("L", "mL"):
        own = value * cubic_metres(unit) / cubic_metres(units.volume)
        return f"{sign}{significant(own, max(digits, 3))} {units.volume}"
    grams = value * 1000 if unit == "kg" else value
    if grams < 16 * _G_PER_OZ:
        ounces = grams / _G_PER_OZ
        read = len(plain.partition(".")[2]) > 1  # more digits than anybody would say of grams: those of a scale
        return f"{sign}{_figure(ounces, digits) if read else significant(ounces, digits)} oz"
    if unit == "kg" and units.mass == "lb":
        return f"{sign}{significant(grams / 1000 * _LB_PER_KG, digits)} lb"
    return sign + units.small_mass_said(grams * 1000)


def _as_shown(text: str, unit: str) -> str:
    """Return a figure that stays in its unit; what was read and carries more digits, with those of an instrument."""
    decimals = len(text.partition(".")[2])
    value = float(_ungrouped(text.replace(MINUS, "-")))
    if unit == "bar" and decimals > 3:
        text = f"{value:.2f}"
    elif unit == "mbar" and decimals and abs(value) > 0:
        text = significant(value, 3)
    elif unit == "g" and decimals > 1 and abs(value) >= 10:
        text = parted(value)
    elif unit == "C" and decimals > 1:
        text = f"{value:.1f}"
    return text


def _ungrouped(text: str) -> str:
    """Return a figure without what parts its thousands."""
    return text.replace(",", "").replace(NARROW, "")


def _figure(value: float, digits: int) -> str:
    text = significant(value, min(digits, 4))
    return text.rstrip("0").rstrip(".") if digits >= 3 and "." in text else text
