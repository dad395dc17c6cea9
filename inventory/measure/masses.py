"""Masses as people type them, in whole milligrams: metric, pounds, ounces, and "1 lb 4 oz"."""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction

from inventory.measure.figures import fixed, plain
from inventory.measure.typed import (
    Doubtful,
    QuantityError,
    Typed,
    quote,
    refuse_below_zero,
    split,
    take,
    unit_of,
    within_book,
)
from inventory.measure.units import UNITS_BY_NAME, clean_text, in_unit, number_readings, unit_key


@dataclass(frozen=True)
class Mass(Typed):
    """A mass; `mg` is its whole number of milligrams, exact but for pounds and ounces (nearest).

    `exact_mg` is what was typed, unrounded, and `place_mg` what its last digit is worth; neither outlasts the reading.
    """

    mg: int
    exact_mg: Fraction
    place_mg: Fraction


_CUSTOMARY_MASS = ("lb", "oz")


def read_mass(text: str, *, default_unit: str | None = None, what: str = "mass") -> Mass:
    """Return the mass that was typed, in kilograms and whole milligrams.

    Reads mg, g, kg, t, lb, oz and "1 lb 4 oz", from nothing to a thousand tonnes; after whole pounds the
    word of the ounces may be left out. `default_unit` is the unit chosen beside the field, used where the
    text has none; None asks. With "lb oz" chosen, "1 4" is 1 lb 4 oz and "40" or "40 lb" is 40 lb 0 oz;
    a bare "1.4" is asked about: 1.4 lb and 1 lb 4 oz are 68 g apart.

    Metric text finer than a milligram is refused. A pound is 453.59237 g exactly, so pounds and ounces
    go to the nearest milligram (half to even). Raises ``Doubtful`` and ``QuantityError``.
    """
    if default_unit not in ("lb oz", "lb and oz"):
        return take(text, "mass", default_unit, what, lambda number, unit: _mass(text, number, unit, what))
    if pair := _pounds_then_ounces(text):
        return _mass(text, pair[0], f"lb {pair[1]} oz", what)
    _ask_pounds_or_ounces(text, what)
    return take(text, "mass", "lb", what, lambda number, unit: _mass(text, number, _with_no_ounces(number, unit), what))


def written_out(text: str, unit: str) -> str:
    """Return a text as it would be read without the unit chosen beside it: "36 lb 6.5 oz" for "36 6.5" in "lb oz"."""
    clean = clean_text(text)
    if re.search(r"[^\W\d_]", clean):
        return clean
    if unit != "lb oz":
        return f"{clean} {unit}"
    pair = _pounds_then_ounces(clean)
    return f"{pair[0]} lb {pair[1]} oz" if pair else f"{clean} lb"


def _pounds_then_ounces(text: str) -> tuple[str, str] | None:
    """Return the two numbers of "36 6.5"; three digits after a blank are thousands, as everywhere."""
    found = re.fullmatch(r"([0-9]{1,6}) ([0-9]{1,2}(?:[.,][0-9]+)?)", clean_text(text))
    return (found[1], found[2]) if found else None


def _with_no_ounces(number: str, unit_text: str) -> str:
    """Return the unit of whole pounds on a display that shows ounces beside them: those are 0."""
    pounds = UNITS_BY_NAME["mass"].get(unit_key(unit_text)) is UNITS_BY_NAME["mass"]["lb"]
    return "lb 0 oz" if pounds and Decimal(number) >= 0 and Decimal(number) % 1 == 0 else unit_text


def _mass(text: str, number: str, unit_text: str, what: str) -> Mass:
    refuse_below_zero(text, number, what)
    ounces = ounces_of_both(text, number, unit_text)
    if ounces is not None:
        mg = _nearest_mg(text, ounces, "oz", what)
        pounds, rest = divmod(ounces, 16)
        return _whole_mass(text, "lb oz", f"{plain(pounds)} lb {plain(rest)} oz ({_metric(mg)})", mg, ounces, what)
    unit = unit_of(text, unit_text, "mass", what)
    size = Decimal(number)
    if unit.word in _CUSTOMARY_MASS:
        mg = _nearest_mg(text, size, unit.word, what)
        echo = f"{number} {unit.word}{_in_pounds_and_ounces(number, unit.word)} ({_metric(mg)})"
        return _whole_mass(text, unit.word, echo, mg, size, what)
    exact = in_unit(number, unit.pint, "milligram")
    if exact != exact.to_integral_value():
        raise _too_fine(text, what)
    return _whole_mass(text, unit.word, f"{number} {unit.word}", int(exact), size, what)


def _whole_mass(text: str, word: str, echo: str, mg: int, size: Decimal, what: str) -> Mass:
    """Return the mass of `size` units (ounces for "lb oz"), within what the book holds."""
    unit = UNITS_BY_NAME["mass"]["oz" if word == "lb oz" else word].pint
    place = str(Decimal(1).scaleb(min(0, int(size.as_tuple().exponent))))
    exact_mg, place_mg = (Fraction(in_unit(one, unit, "milligram")) for one in (str(size), place))
    return within_book(Mass(text, word, mg / 1e6, echo, mg, exact_mg, place_mg), "mass", what)


def _too_fine(text: str, what: str) -> QuantityError:
    return QuantityError(
        f"{quote(text)} is finer than a milligram, which is the smallest mass in the book. "
        f"Write the {what} in whole milligrams or coarser."
    )


def _ask_pounds_or_ounces(text: str, what: str) -> None:
    """Ask about "1.4" where pounds and ounces are chosen and the text names no unit."""
    numbers, unit_text = split(text, what, "1 lb 4 oz")
    found = re.fullmatch(r"([0-9]+)\.([0-9]{1,2})", numbers[0])
    if unit_text or len(numbers) > 1 or found is None or not 1 <= int(found[2]) <= 15:
        return
    choices = (f"{numbers[0]} lb", f"{found[1]} lb {int(found[2])} oz")
    raise Doubtful(
        f"{quote(text)} can be read as {choices[0]} or as {choices[1]}. Write the one that is meant.", choices
    )


def ounces_of_both(text: str, number: str, unit_text: str) -> Decimal | None:
    """Return the ounces in "1 lb 4 oz", or None where the text is not of that form."""
    found = re.fullmatch(r"(?:lbs?|pounds?)\.?,? ?(?:and |& ?)?([0-9][0-9.,]*)(.*)", unit_text.casefold(), re.DOTALL)
    if found is None:
        return None
    rest = number_readings(found[1])
    ounce = found[2].strip()
    named = UNITS_BY_NAME["mass"].get(unit_key(ounce)) is UNITS_BY_NAME["mass"]["oz"]
    if len(rest) != 1 or (ounce and not named):
        raise QuantityError(f'{quote(text)} is not pounds and ounces. Write them such as "1 lb 4 oz".')
    if Decimal(number) % 1 or Decimal(number) < 0 or Decimal(rest[0]) >= 16:
        raise QuantityError(
            f"{quote(text)} has pounds that are not whole, or 16 ounces and more beside them. "
            "Write whole pounds and less than 16 oz, or one unit alone."
        )
    with localcontext(prec=100):
        return Decimal(number) * 16 + Decimal(rest[0])


def _nearest_mg(text: str, number: Decimal, word: str, what: str) -> int:
    """Return a mass in pounds or ounces as the nearest whole milligram; what would vanish is refused."""
    mg = int(in_unit(str(number), UNITS_BY_NAME["mass"][word].pint, "milligram").to_integral_value(ROUND_HALF_EVEN))
    if number and not mg:
        raise _too_fine(text, what)
    return mg


def _in_pounds_and_ounces(number: str, word: str) -> str:
    """Return ", 1 lb 6.4 oz" for 1.4 lb, since it is so often taken for 1 lb 4 oz."""
    pounds, part = divmod(Decimal(number), 1)
    if word != "lb" or not pounds or not part:
        return ""
    return f", {plain(pounds)} lb {plain(round(part * 16, 2))} oz"


def _metric(mg: int) -> str:
    """A mass read in pounds or ounces, in metric words for the echo; the value itself is not rounded."""
    if mg < 1000:
        return f"{mg} mg"
    if mg < 10**6:
        return f"{fixed(Decimal(mg) / 1000, 1)} g"
    return f"{fixed(Decimal(mg) / 10**6, 4)} kg"
