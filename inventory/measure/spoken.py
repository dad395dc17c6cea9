"""Sentences of calculations and rules, in grams, bar, C and ISO days, in the units of who reads them. Pure."""

import re
from datetime import date, datetime
from math import ceil, floor

from inventory.measure.displays import bound
from inventory.measure.figures import MINUS, NARROW, parted, significant
from inventory.measure.own import PRESSURE_DECIMALS, Units, cubic_metres, pascals, short

_FIGURE = rf"[-+{MINUS}]?[0-9]+(?:[,{NARROW}][0-9]{{3}})*(?:\.[0-9]+)?"
_SAID = re.compile(
    rf"(?<![0-9A-Za-z.,+-])(?P<either>\+-)?(?:(?P<first>{_FIGURE}) (?P<way>to|and) )?(?P<number>{_FIGURE})"
    rf"[ {NARROW}](?P<unit>bar|mbar|hPa|kg|g|C|K|L|mL)\b(?!/| per |[ {NARROW}]CO2)"
)
_DAY = re.compile(r"(?<![0-9A-Za-z-])([0-9]{4}-[0-9]{2}-[0-9]{2})(?![0-9A-Za-z-])")
_CLOCK = re.compile(r"(?<![0-9A-Za-z\"“:.,+-])(?:[01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?(?![0-9A-Za-z:]| [AP]M)")
_BOUND = re.compile(r"\bat (most|least) $", re.I)
_ONE_UNIT = re.compile(rf"([^A-Za-z]+)[ {NARROW}]([A-Za-z ]+)")
_YEARLY = re.compile(r" a year\b")
_WITHIN, _RATE = re.compile(r"\bwithin $"), re.compile(r" a minute\b")  # differences, which count from nothing anyhow
_DEEP_MBAR = 100.0  # from here on a vacuum is said as other pressures are
_G_PER_OZ, _LB_PER_KG = 28.349523125, 2.2046226218
_GUSTS_HPA = 200.0  # the air's own pressure is above it, what weather moves it by below
_WHOLE = 99.5  # from here on a deep vacuum is said without decimals
_LEAST_OZ = 0.05  # below it a mass is said with two digits


def in_own_units(text: str, units: Units) -> str:
    """Return a sentence of a calculation, which is in bar, C, grams and ISO days, in the units of who reads it."""

    def said(match: re.Match[str]) -> str:
        unit = match["unit"]
        way = _BOUND.search(text, 0, match.start())
        if unit == "C" and way and "." in match["number"]:
            return _warmth_bound(float(match["number"].replace(MINUS, "-")), units, up=way[1].lower() == "least")
        if not _is_other(unit, units):
            return match[0].replace(match["number"], _as_shown(match["number"], unit))
        if unit in ("g", "kg") and not match["first"] and way:
            mass_mg = float(_ungrouped(match["number"])) * (1e6 if unit == "kg" else 1000)
            return bound(mass_mg, units.mass, up=way[1].lower() == "most")
        a_year = _YEARLY.match(text, match.end()) is not None
        number = _own(match["number"], unit, units, a_year=a_year)
        if match["first"]:
            number = _range(_own(match["first"], unit, units, a_year=a_year), match["way"], number)
        level = unit == "mbar" and not (_WITHIN.search(text, 0, match.start()) or _RATE.match(text, match.end()))
        level = level and units.vacuum == "inHg" and not text.startswith(" absolute", match.end())
        counts = " absolute" if level else ""  # a needle's inches count the other way
        return (match["either"] or "") + number + counts

    return days_in(_SAID.sub(said, text), units)


def _range(first: str, way: str, last: str) -> str:
    """Return two figures as a range, with one unit where both have the same: "40.6 to 135 fl oz"."""
    parts, others = _ONE_UNIT.fullmatch(first), _ONE_UNIT.fullmatch(last)
    return f"{parts[1] if parts and others and parts[2] == others[2] else first} {way} {last}"


def days_in(text: str, units: Units) -> str:
    """Return a text with its ISO days in the order of who reads it, and its times of day by that person's clock."""
    if units.days == "ymd":
        return text

    def clock(match: re.Match[str]) -> str:
        return units.clock_said(datetime.fromisoformat(f"2000-01-01T{match[0]}"), seconds=bool(match[1]))

    def said(match: re.Match[str]) -> str:
        try:
            return units.day_said(date.fromisoformat(match[1]))
        except ValueError:  # figures that only look like a day
            return match[0]

    return _DAY.sub(said, _CLOCK.sub(clock, text) if units.has_noon else text)


def _is_other(unit: str, units: Units) -> bool:
    """Whether who reads it says another unit than the sentence."""
    if unit in ("g", "kg"):
        return units.in_pounds
    if unit in ("C", "K"):
        return units.temperature == "F"
    if unit in ("L", "mL"):
        return units.volume != "L"
    if unit == "hPa":
        return units.barometer != "mbar"
    return unit != (units.pressure if unit == "bar" else units.vacuum)


def _own(text: str, unit: str, units: Units, *, a_year: bool = False) -> str:
    """Return one figure of a sentence in the reader's unit, as that person's instruments and papers show such."""
    sign, plain = ("-", text[1:]) if text[0] in f"-{MINUS}" else ("+" if text[0] == "+" else "", text.lstrip("+"))
    plain = _ungrouped(plain)
    value = float(plain)
    digits = max(2, len(plain.replace(".", "").lstrip("0")))
    if unit == "K":  # sentences say differences in kelvin, never temperatures
        return f"{MINUS if sign == '-' else sign}{f'{value * 1.8:.1f}'.removesuffix('.0')} F"
    if unit == "C":
        warmth = round((-value if sign == "-" else value) * 1.8 + 32, 1)
        return f"{warmth + 0.0:g} F"  # zero has no sign
    sign = MINUS if sign == "-" else sign
    if unit in ("bar", "mbar"):
        return f"{sign}{_pressure(value, unit, plain, units)}"
    if unit == "hPa":
        own, places = value * 100 / pascals(units.barometer), 4 if value > _GUSTS_HPA else 2
        return f"{sign}{significant(own, places)} {units.barometer}"
    if unit in ("L", "mL"):
        own = value * cubic_metres(unit) / cubic_metres(units.volume)
        return f"{sign}{significant(own, max(digits, 3))} {units.volume}"
    grams = value * 1000 if unit == "kg" else value
    if a_year:
        pounds = grams / 1000 * _LB_PER_KG
        return f"{significant(pounds)} lb" if pounds >= 1 else f"{significant(pounds * 16)} oz"
    if grams < _LEAST_OZ * _G_PER_OZ:
        return f"{sign}{significant(grams / _G_PER_OZ, 2)} oz"
    if unit == "kg" and units.mass == "lb":
        return f"{sign}{significant(grams / 1000 * _LB_PER_KG, digits)} lb"
    return sign + units.small_mass_said(grams * 1000)


def _warmth_bound(celsius: float, units: Units, *, up: bool) -> str:
    """Return a limit of temperature in whole degrees of the reader, inside the limit."""
    warmth = round(celsius * 1.8 + 32 if units.temperature == "F" else celsius, 6)
    whole = ceil(warmth) if up else floor(warmth)
    return f"{MINUS if whole < 0 else ''}{abs(whole)} {units.temperature}"


def _pressure(value: float, unit: str, text: str, units: Units) -> str:
    """Return a pressure in the reader's unit, with the digits that an instrument in it has; of a change, with two."""
    deep = unit == "mbar" and (value < _DEEP_MBAR or units.vacuum == "inHg")
    word = units.vacuum if deep else units.pressure
    own = value * (pascals(unit) / pascals(word))
    is_change = unit == "bar" and len(text.partition(".")[2]) == 3
    if deep and own >= _WHOLE:
        return f"{parted(own)} {word}"
    if deep or own < 1 or (is_change and own < 10):
        return f"{significant(own, 3 if deep and own >= 1 else 2)} {word}"
    return f"{short(own, PRESSURE_DECIMALS[word])} {word}"


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
    elif unit == "g" and decimals > 2:
        text = significant(value)
    elif unit == "C" and decimals > 1:
        text = f"{value:.1f}"
    return text


def _ungrouped(text: str) -> str:
    """Return a figure without what parts its thousands."""
    return text.replace(",", "").replace(NARROW, "")
