"""Temperatures, volumes, lengths, times and bare numbers as people type them: text in, SI and what was read out.

How a text is read, asked about or refused stands at the head of ``inventory.measure.typed``; masses and pressures have
modules of their own. Factors come from pint, which ``inventory.measure.units`` imports when one is first needed.
"""

import re
from decimal import Decimal
from math import inf

from inventory.measure.figures import fixed, plain, said, short
from inventory.measure.own import WATER_KG_M3
from inventory.measure.typed import (
    Doubtful,
    QuantityError,
    Typed,
    no_such_unit,
    quote,
    refuse_below_zero,
    take,
    unit_of,
    within_book,
)
from inventory.measure.units import (
    UNITS,
    UNITS_BY_NAME,
    Unit,
    clean_text,
    find_unit,
    in_unit,
    number_readings,
    temperature_in,
    unit_key,
)


def read_temperature(text: str, *, default_unit: str | None = "C", what: str = "temperature") -> Typed:
    """Return the temperature that was typed, in kelvin; C, F or K, not below absolute zero."""

    def finish(number: str, unit_text: str) -> Typed:
        unit = unit_of(text, unit_text, "temperature", what)
        kelvin = temperature_in(Decimal(number), unit, "kelvin")
        if kelvin < 0:
            raise QuantityError(
                f"{quote(text)} was read as {said(number)} {unit.word}, which is below absolute zero "
                f"(−273.15 C). Check the unit of the {what}."
            )
        other = "C" if unit.word != "C" else "F"
        shown = said(
            fixed(temperature_in(Decimal(number), unit, UNITS_BY_NAME["temperature"][other.casefold()].pint), 1)
        )
        shown = shown.removesuffix(".0") if other == "F" else shown
        typed = Typed(text, unit.word, float(kelvin), f"{said(number)} {unit.word} ({shown} {other})")
        return within_book(typed, "temperature", what)

    return take(text, "temperature", default_unit, what, finish)


def read_volume(text: str, *, default_unit: str | None = "L", what: str = "volume") -> Typed:
    """Return the volume that was typed, in cubic metres; ounces and gallons are those of the US."""

    def finish(number: str, unit_text: str) -> Typed:
        refuse_below_zero(text, number, what)
        if find_unit(unit_text, "mass") is UNITS_BY_NAME["mass"]["oz"]:
            choice = f"{number} fl oz"
            raise Doubtful(f"{quote(text)} is a mass; for the {what}, did you mean {choice}?", (choice,))
        return _volume(text, number, unit_of(text, unit_text, "volume", what), what)

    return take(text, "volume", default_unit, what, finish)


def _volume(text: str, number: str, unit: Unit, what: str) -> Typed:
    m3 = float(in_unit(number, unit.pint, "meter**3"))
    litres = "" if unit.word in ("L", "mL", "cc") else f" ({short(m3 * 1000, 4)} L)"
    return within_book(Typed(text, unit.word, m3, f"{number} {unit.word}{litres}"), "volume", what)


def read_water_capacity(text: str, *, default_unit: str | None = None, what: str = "water capacity") -> Typed:
    """Return the water capacity on a cylinder's plate, in cubic metres.

    Plates give litres, or the mass of water at 60 F that fills the cylinder ("WC 26.2" is pounds in
    North America). A bare number is asked about, unless `default_unit` says what the field is in.
    Mass goes to volume by ``WATER_KG_M3``. Raises ``Doubtful`` and ``QuantityError``.
    """

    def finish(number: str, unit_text: str) -> Typed:
        refuse_below_zero(text, number, what)
        bare = re.sub(r" ?(?:of )?(?:water|h2o)$", "", unit_key(unit_text))
        unit = UNITS_BY_NAME["mass"].get(bare)
        if unit is None:
            volume = find_unit(bare, "volume")
            if volume is None:
                raise QuantityError(
                    f"{quote(text)} is no water capacity. Write litres, such as 12 L, or the mass of water "
                    "that the plate gives, such as 26.2 lb."
                )
            return _volume(text, number, volume, what)
        m3 = float(in_unit(number, unit.pint, "kilogram")) / WATER_KG_M3
        echo = f"{number} {unit.word} of water ({short(m3 * 1000, 5)} L)"
        return within_book(Typed(text, f"{unit.word} of water", m3, echo), "volume", what)

    plate = re.sub(r"^(?:w\.? ?c\.?|water capacity)[ :=]*(?=[0-9.,+-])", "", clean_text(text), flags=re.IGNORECASE)
    return take(text, "volume", default_unit, what, finish, read=plate, offered=("lb", "L"))


def read_length(text: str, *, default_unit: str | None = "m", what: str = "length", lowest_m: float = 0.0) -> Typed:
    """Return the length that was typed, in metres; a height above the sea may have `lowest_m` below 0."""

    def finish(number: str, unit_text: str) -> Typed:
        unit = unit_of(text, unit_text, "length", what)
        metres = float(in_unit(number, unit.pint, "meter"))
        if metres < lowest_m:
            raise QuantityError(
                f"{quote(text)} was read as {said(number)} {unit.word}, and the {what} cannot be "
                f"below {said(short(lowest_m))} m. Check the sign and the unit."
            )
        other = "" if unit.word in ("m", "cm", "mm", "km") else f" ({said(short(metres, 4))} m)"
        return within_book(Typed(text, unit.word, metres, f"{said(number)} {unit.word}{other}"), "length", what)

    return take(text, "length", default_unit, what, finish)


def read_duration(text: str, *, default_unit: str | None = "min", what: str = "time") -> Typed:
    """Return the time that was typed, in seconds: "20 min", "1 h 20 min", "90 s", "2 d".

    "1:20" is asked about. Parts of a longer text stand in falling order, all but the last whole.
    """
    clock = re.fullmatch(r"([0-9]{1,3}):([0-9]{2})", clean_text(text))
    if clock is not None:
        choices = (f"{int(clock[1])} h {int(clock[2])} min", f"{int(clock[1])} min {int(clock[2])} s")
        raise Doubtful(
            f"{quote(text)} can be read as {choices[0]} or as {choices[1]}. Write the one that is meant.", choices
        )

    def finish(number: str, unit_text: str) -> Typed:
        refuse_below_zero(text, number, what)
        parts = [(number, part) for part in [find_unit(unit_text, "duration")] if part]
        parts = parts or _parts_of_time(text, f"{number} {unit_text}", what)
        seconds = float(sum(in_unit(size, unit.pint, "second") for size, unit in parts))
        echo = " ".join(f"{size} {unit.word}" for size, unit in parts)
        if len(parts) > 1 or parts[0][1].word in ("week", "d", "h"):
            echo += f", {short(seconds / 60, 6)} min"
        return within_book(Typed(text, parts[-1][1].word, seconds, echo), "duration", what)

    return take(text, "duration", default_unit, what, finish)


def _parts_of_time(text: str, clean: str, what: str) -> list[tuple[str, Unit]]:
    """Return the parts of "1 h 20 min", or refuse."""
    if re.fullmatch(r"(?:[0-9][0-9.,' ]*[^0-9.,' ]+[ ,]*){2,}", clean) is None:
        raise no_such_unit(text, clean.split(" ", 1)[1], "duration", what)
    parts = []
    for number, unit_text in re.findall(r"([0-9][0-9.,' ]*)([^0-9.,' ]+)", clean):
        readings = number_readings(number.strip())
        if len(readings) != 1:
            raise QuantityError(f'{quote(text)} cannot be read as a time. Write it such as "1 h 20 min".')
        parts.append((readings[0], unit_of(text, unit_text, "duration", what)))
    order = [UNITS["duration"].index(unit) for _, unit in parts]
    if order != sorted(set(order)) or any(Decimal(number) % 1 for number, _ in parts[:-1]):
        raise QuantityError(
            f"{quote(text)} has parts out of order, twice, or not whole. "
            'Write the longest part first, such as "1 h 20 min".'
        )
    return parts


def read_number(text: str, *, what: str, lowest: float = -inf, highest: float = inf, unit_word: str = "") -> float:
    """Return a number between `lowest` and `highest`, both allowed; `unit_word` may stand after it."""

    def finish(number: str, unit_text: str) -> float:
        if unit_key(unit_text) not in ("", *_key_words(unit_word)):
            wanted = f" or {unit_word}" if unit_word else ""
            raise QuantityError(
                f"{quote(text)} has {quote(unit_text)} after the number; for the {what} write a number alone{wanted}."
            )
        value = float(number)
        if not lowest <= value <= highest:
            raise QuantityError(
                f"{quote(text)} was read as {said(number)}, and the {what} lies "
                f"{_range_words(lowest, highest)}. Check it and write it again."
            )
        return value

    return take(text, "number", unit_word, what, finish, offered=("",))


def read_percent(text: str, *, what: str = "share") -> float:
    """Return a number of per cent from 0 to 100; the sign may be left out."""
    return read_number(text, what=what, lowest=0.0, highest=100.0, unit_word="%")


def _key_words(unit_word: str) -> tuple[str, ...]:
    return ("%", "percent", "per cent", "pct") if unit_word == "%" else (unit_key(unit_word),)


def _range_words(lowest: float, highest: float) -> str:
    low, high = (said(plain(Decimal(repr(end)))) if abs(end) < inf else "" for end in (lowest, highest))
    if low and high:
        return f"between {low} and {high}"
    return f"at or above {low}" if low else f"at or below {high}"
