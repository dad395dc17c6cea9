"""Quantities as people type them: text in, SI and what was read out; and back, for the page.

Nothing is guessed, rounded or clipped. Text with one reading is read and echoed; text with several is
a question that names them; text with none is refused with a sentence that says what to do.

    QuantityError      cannot be read; `sentence` says what was read, what it met, what to do
      Doubtful         can be read in more than one way; each of `choices`, typed, is without doubt

How numbers are read. Point and comma both mark decimals; spaces, apostrophes, or the mark that is not
the decimal one, part thousands. Only one form stays in doubt: one to three digits, a comma, three
digits. A point before three digits is a decimal mark, for that is how scales print. Full-width digits
are read as the digits they are; digits of other scripts, fractions such as 1/2, and exponents are
refused. Names of units are read in capitals or not, except "Mg", which is a question.

How pressures are read. A unit may carry its reference (psig, bar absolute, inHg vacuum). Without one,
inHg is below the atmosphere, as needles show it; micron, torr, mmHg and atm are absolute; the others
follow the field (`default_reference`).

Factors come from pint, which ``inventory.measure.units`` imports when one is first needed.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from math import inf
from typing import Literal, TypeVar

from inventory.measure.atmosphere import Air
from inventory.measure.units import (
    KINDS,
    UNITS,
    UNITS_BY_NAME,
    Reference,
    Unit,
    clean_text,
    find_pressure,
    find_unit,
    in_unit,
    kind_of,
    number_and_rest,
    number_readings,
    temperature_in,
    unit_factor,
    unit_key,
)

T = TypeVar("T")

LONGEST_TEXT = 60  # characters; a number with its unit needs a dozen
MOST_DIGITS = 24  # of one number: more than any instrument shows, fewer than decimal arithmetic keeps
WATER_KG_M3 = 999.0
"""Density of water at 60 F, at which water capacities are stamped (49 CFR 173.304a(a)(2), note 1).
IAPWS-95 gives 999.02 kg/m3 there at one atmosphere."""

MINUS = "\N{MINUS SIGN}"
NARROW_SPACE = "\N{NARROW NO-BREAK SPACE}"


class QuantityError(ValueError):
    """Text that cannot be read as the quantity that was asked for."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class Doubtful(QuantityError):
    """Text with more than one reading; each of `choices` would be read without doubt."""

    def __init__(self, sentence: str, choices: Sequence[str]) -> None:
        super().__init__(sentence)
        self.choices = tuple(choices)


@dataclass(frozen=True)
class Typed:
    """A quantity as it was typed, and as it was read.

    `text` is exactly what was typed, `unit` the word of the unit that was read, `si` the value in SI
    (kg, Pa absolute, K, m3, m, s) and `echo` what was read, in words for the person who typed it.
    """

    text: str
    unit: str
    si: float
    echo: str


@dataclass(frozen=True)
class Mass(Typed):
    """A mass; `mg` is its whole number of milligrams, exact but for pounds and ounces (nearest).

    `exact_mg` is what was typed, unrounded, and `place_mg` what its last digit is worth; neither outlasts the reading.
    """

    mg: int
    exact_mg: Fraction
    place_mg: Fraction


_CUSTOMARY_MASS = ("lb", "oz")
_ABSOLUTE_BY_NATURE = ("micron", "torr", "mmHg", "atm")
_DECIMALS = {"bar": 2, "atm": 3, "psi": 1, "kPa": 1, "inHg": 2, "mbar": 1, "hPa": 1, "kgf/cm2": 2, "MPa": 3}
_CUSTOMARY_PRESSURE = ("psi", "inHg", "micron", "torr", "mmHg", "atm", "kgf/cm2")
_LIKELY_SLIPS = ("psi", "bar", "kPa", "mbar", "micron", "inHg")  # tried where a pressure is not plausible
_SLIPS_FIRST = 1  # of these, before a decimal mark that slipped
_PARTS_OF_NUMBERS = ("/", "-", "+", ":")  # 1/2, 3-4, 1:20: not one number
_EXPONENT = re.compile(r"(?:e ?[+-]?[0-9]|[x*×] ?10)", re.IGNORECASE)


# Masses


def read_mass(text: str, *, default_unit: str | None = None, what: str = "mass") -> Mass:
    """Return the mass that was typed, in kilograms and whole milligrams.

    Reads mg, g, kg, t, lb, oz and "1 lb 4 oz", from nothing to a thousand tonnes. `default_unit` is
    the unit chosen beside the field, used where the text has none; None asks. With "lb oz" chosen, a
    bare "1.4" is asked about: 1.4 lb and 1 lb 4 oz are 68 g apart.

    Metric text finer than a milligram is refused. A pound is 453.59237 g exactly, so pounds and ounces
    go to the nearest milligram (half to even). Raises ``Doubtful`` and ``QuantityError``.
    """
    if default_unit in ("lb oz", "lb and oz"):
        _ask_pounds_or_ounces(text, what)
        default_unit = "lb"
    return _take(text, "mass", default_unit, what, lambda number, unit: _mass(text, number, unit, what))


def _mass(text: str, number: str, unit_text: str, what: str) -> Mass:
    _refuse_below_zero(text, number, what)
    ounces = _ounces_of_pounds_and_ounces(text, number, unit_text)
    if ounces is not None:
        mg = _nearest_mg(text, ounces, "oz", what)
        pounds, rest = divmod(ounces, 16)
        return _whole_mass(text, "lb oz", f"{plain(pounds)} lb {plain(rest)} oz ({_metric(mg)})", mg, ounces, what)
    unit = _unit(text, unit_text, "mass", what)
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
    return _within_book(Mass(text, word, mg / 1e6, echo, mg, exact_mg, place_mg), "mass", what)


def _too_fine(text: str, what: str) -> QuantityError:
    return QuantityError(
        f"{_quote(text)} is finer than a milligram, which is the smallest mass in the book. "
        f"Write the {what} in whole milligrams or coarser."
    )


def _ask_pounds_or_ounces(text: str, what: str) -> None:
    """Ask about "1.4" where pounds and ounces are chosen and the text names no unit."""
    numbers, unit_text = _split(text, what, "1 lb 4 oz")
    found = re.fullmatch(r"([0-9]+)\.([0-9]{1,2})", numbers[0])
    if unit_text or len(numbers) > 1 or found is None or not 1 <= int(found[2]) <= 15:
        return
    choices = (f"{numbers[0]} lb", f"{found[1]} lb {int(found[2])} oz")
    raise Doubtful(
        f"{_quote(text)} can be read as {choices[0]} or as {choices[1]}. Write the one that is meant.", choices
    )


def _ounces_of_pounds_and_ounces(text: str, number: str, unit_text: str) -> Decimal | None:
    """Return the ounces in "1 lb 4 oz", or None where the text is not of that form."""
    found = re.fullmatch(r"(?:lbs?|pounds?)\.?,? ?(?:and |& ?)?([0-9][0-9.,]*)(.*)", unit_text.casefold(), re.DOTALL)
    if found is None:
        return None
    rest = number_readings(found[1])
    ounce = found[2].strip()
    named = UNITS_BY_NAME["mass"].get(unit_key(ounce)) is UNITS_BY_NAME["mass"]["oz"]
    if len(rest) != 1 or (ounce and not named):
        raise QuantityError(f'{_quote(text)} is not pounds and ounces. Write them such as "1 lb 4 oz".')
    if Decimal(number) % 1 or Decimal(number) < 0 or Decimal(rest[0]) >= 16:
        raise QuantityError(
            f"{_quote(text)} has pounds that are not whole, or 16 ounces and more beside them. "
            "Write whole pounds and less than 16 oz, or one unit alone."
        )
    if not ounce:
        choice = f"{number} lb {rest[0]} oz"
        raise Doubtful(f"{_quote(text)} names no unit for the {rest[0]}: did you mean {choice}?", (choice,))
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
        return f"{_fixed(Decimal(mg) / 1000, 1)} g"
    return f"{_fixed(Decimal(mg) / 10**6, 4)} kg"


def show_mass(
    mg: int,
    *,
    step_mg: int | Fraction | None = None,
    unit: str = "kg",
    sign: bool = False,
) -> str:
    """Return a mass for a column of figures: one count of decimals for a scale, a narrow space, a unit.

    `step_mg` is the scale's step (default 1 g): as many decimals as it takes to show one step, and no
    more; a half rounds away from zero. `sign` puts a plus before what is above zero; the minus, always
    shown, is U+2212.
    """
    exact = Fraction(1000 if step_mg is None else step_mg)
    step = Decimal(exact.numerator) / Decimal(exact.denominator)
    small = UNITS_BY_NAME["mass"]["oz" if unit == "lb oz" else unit]
    unit_mg = unit_factor(small.pint, "milligram")
    decimals = _decimals_for(step / unit_mg)
    shown = _fixed(abs(mg) / unit_mg, decimals)
    mark = "" if not Decimal(shown) else MINUS if mg < 0 else "+" if sign else ""
    if unit != "lb oz":
        return f"{mark}{shown}{NARROW_SPACE}{unit}"
    pounds, ounces = divmod(Decimal(shown), 16)
    return f"{mark}{pounds:.0f}{NARROW_SPACE}lb {_fixed(ounces, decimals)}{NARROW_SPACE}oz"


def _decimals_for(step_in_unit: Decimal) -> int:
    """Decimals that show one step: 3 for 0.005, 2 for 0.01, none for 5."""
    return max(0, int((-step_in_unit.log10()).to_integral_value(ROUND_CEILING)))


# Pressures


def read_pressure(
    text: str,
    *,
    atmosphere_pa: float,
    default_unit: str | None = None,
    default_reference: Reference = "gauge",
    what: str = "pressure",
    plausible_pa: tuple[float, float] | None = None,
    air: Air | None = None,
) -> Typed:
    """Return the pressure that was typed, in pascals absolute.

    `atmosphere_pa` is the local atmosphere, against which gauge readings count. Units without a
    reference take `default_reference`, except inHg (below the atmosphere) and micron, torr, mmHg and
    atm (absolute). Less than nothing is refused. A value outside `plausible_pa` (absolute, both ends
    belong) that would lie inside in another unit or by another reference is asked about; one that no
    unit would save is returned, for a fact is not refused: the caller judges. Once a person has
    insisted, read again without `plausible_pa`. Where the height of the place is not known, `air` says
    what the atmosphere lies between; then a vacuum is refused only against the highest. Raises
    ``Doubtful`` and ``QuantityError``.
    """

    def finish(number: str, unit_text: str) -> Typed:
        read = _pressure(text, number, unit_text, atmosphere_pa, default_reference, what, air)
        if plausible_pa is not None and not plausible_pa[0] <= read.si <= plausible_pa[1]:
            _ask_other_pressures(text, number, unit_text, atmosphere_pa, default_reference, plausible_pa)
        return read

    return _take(text, "pressure", default_unit, what, finish)


def _pressure(
    text: str,
    number: str,
    unit_text: str,
    atmosphere_pa: float,
    default_reference: Reference,
    what: str,
    air: Air | None = None,
) -> Typed:
    found = find_pressure(unit_text)
    if found is None:
        raise _no_such_unit(text, unit_text, "pressure", what)
    unit, mark = found
    reference = _reference(text, unit, mark, default_reference)
    if reference == "vacuum" and number.startswith("-"):
        if mark == "vacuum":
            raise QuantityError(f"{_quote(text)} has a minus and says vacuum as well. Write one of the two.")
        number = number[1:]  # needles print the vacuum side with a minus
    size_pa = float(in_unit(number, unit.pint, "pascal"))
    above_pa = {"absolute": 0.0, "gauge": atmosphere_pa, "vacuum": atmosphere_pa}[reference]
    below_pa = size_pa if reference == "vacuum" else -size_pa
    pa, not_known = above_pa - below_pa, ""
    if air is not None and not air.is_known and reference != "absolute" and below_pa > 0:
        pa, not_known = _below_unknown_air(below_pa, pa, air)
    if pa < 0:
        highest_pa = air.high_pa if not_known and air else atmosphere_pa
        local = _short(highest_pa / float(unit_factor(unit.pint, "pascal")), 4)
        upto = "at most " if not_known else ""
        raise QuantityError(
            f"{_quote(text)} was read as {_said(number)} {unit.word} {_WORDS[reference]}, which is below zero "
            f"absolute: the local atmosphere is {upto}{local} {unit.word} ({highest_pa:.0f} Pa). "
            f"Check the unit and the gauge, or write the {what} as absolute."
        )
    echo = _pressure_echo(number, unit, reference, pa, atmosphere_pa) + not_known
    typed = Typed(text, _marked(unit, reference), pa, echo)
    return _within_book(typed, "pressure", what)


def _below_unknown_air(below_pa: float, pa: float, air: Air) -> tuple[float, str]:
    """Return a vacuum read on a gauge (Pa absolute) where the height is not known, and what is said of that.

    `pa` by the figure that `air` is read by; where that is less than nothing, the middle of what the highest leaves.
    """
    least_pa, most_pa = max(0.0, air.low_pa - below_pa), air.high_pa - below_pa
    found = pa if pa >= 0 else most_pa / 2 if most_pa >= 0 else most_pa
    said = f"{least_pa / 100:.0f} to {max(most_pa, 0.0) / 100:.0f} mbar absolute"
    return found, f". {air.words[:1].upper()}{air.words[1:]}: {said}"


_WORDS: dict[Reference, str] = {
    "gauge": "gauge",
    "absolute": "absolute",
    "vacuum": "below the atmosphere",
}


def _reference(text: str, unit: Unit, mark: Reference | None, default: Reference) -> Reference:
    if unit.word == "micron" and mark not in (None, "absolute"):
        raise QuantityError(f"{_quote(text)}: microns count from zero absolute. Write them without gauge or vacuum.")
    if mark is not None:
        return mark
    if unit.word == "inHg":
        return "vacuum"
    return "absolute" if unit.word in _ABSOLUTE_BY_NATURE else default


def _marked(unit: Unit, reference: Reference) -> str:
    """Return the unit word with its reference, itself a unit that can be typed: psig, inHg vacuum."""
    if unit.word == "micron":
        return unit.word
    if unit.word in ("psi", "bar") and reference != "vacuum":
        return unit.word + reference[0]
    return f"{unit.word} {reference}"


def _pressure_echo(number: str, unit: Unit, reference: Reference, pa: float, atmosphere_pa: float) -> str:
    """Say what was read and the other reference in the same unit; the metric size of a customary one in brackets."""
    read = f"{_said(number)} {unit.word} {_WORDS[reference]}"
    metric = f" ({_bar(pa)} absolute)" if unit.word in _CUSTOMARY_PRESSURE else ""
    if unit.word in _ABSOLUTE_BY_NATURE:
        return f"{read}{metric}"
    other_pa = pa - atmosphere_pa if reference == "absolute" else pa
    return f"{read}, {_sized(other_pa, unit)} {'gauge' if reference == 'absolute' else 'absolute'}{metric}"


def _sized(pa: float, unit: Unit) -> str:
    """A size of pressure in a unit, with the decimals that its instruments have."""
    if unit.word == "bar":
        return _bar(pa)
    size = Decimal(pa / float(unit_factor(unit.pint, "pascal")))
    return f"{_said(_fixed(size, _DECIMALS.get(unit.word, 0)))} {unit.word}"


def _bar(pa: float) -> str:
    """A pressure in bar, or in mbar where bar would show too little of it."""
    if abs(pa) >= 10_000:
        return f"{_said(_fixed(Decimal(pa) / 10**5, 2))} bar"
    return f"{_said(_fixed(Decimal(pa) / 100, 3 if abs(pa) < 1000 else 1))} mbar"


def _ask_other_pressures(
    text: str,
    number: str,
    unit_text: str,
    atmosphere_pa: float,
    default_reference: Reference,
    plausible_pa: tuple[float, float],
) -> None:
    """Ask whether the decimal mark or the unit slipped, where that would make an unlikely pressure a likely one."""
    found = find_pressure(unit_text)
    if found is None:
        return
    unit, mark = found
    same = [] if mark else [f"{unit.word} gauge", f"{unit.word} absolute"]
    tail = f" {mark}" if mark else ""
    units = [word + tail for word in _LIKELY_SLIPS if word != unit.word]
    slips = [f"{number} {other}" for other in units]
    moved = [f"{Decimal(number).scaleb(places):f} {unit_text}" for places in (-1, 1)]

    def likely(meant: str) -> bool:
        digits, _, other = meant.partition(" ")
        try:
            read = _pressure(text, digits, other, atmosphere_pa, default_reference, "pressure")
        except QuantityError:
            return False
        return plausible_pa[0] <= read.si <= plausible_pa[1]

    by_reference = [one for other in same if likely(one := f"{number} {other}")]
    # psi and bar are taken for each other most; with the reference that was left out, no mark has slipped.
    choices = by_reference + [
        one for one in (*slips[:_SLIPS_FIRST], *(() if by_reference else moved), *slips[_SLIPS_FIRST:]) if likely(one)
    ]
    if not choices:
        return
    low, high = (_sized(pa, unit) for pa in plausible_pa)
    asked = "? Or ".join(choice + _bracket(choice) for choice in choices)
    raise Doubtful(
        f"{_quote(text)} is outside what is likely here ({low} to {high} absolute): did you mean {asked}?", choices
    )


def _bracket(choice: str) -> str:
    """Return " (17.2 bar)" for "250 psi", by the size of the pressure alone."""
    number, unit_text = choice.split(" ", 1)
    found = find_pressure(unit_text)
    if found is None or found[0].word == "bar":
        return ""
    bar = float(in_unit(number, found[0].pint, "bar"))
    return f" ({_short(bar)} bar)" if abs(bar) >= 0.1 else f" ({_short(bar * 1000)} mbar)"


def show_pressure(pa: float, *, atmosphere_pa: float, unit: str = "bar") -> str:
    """Return an absolute pressure as gauge and absolute in a unit of pressure, for the page."""
    found = find_pressure(unit)
    if found is None:
        raise ValueError(f"{unit} is no unit of pressure.")
    known = found[0]
    factor = float(unit_factor(known.pint, "pascal"))
    gauge, absolute = (
        _said(_fixed(Decimal(value / factor), _DECIMALS.get(known.word, 0))) for value in (pa - atmosphere_pa, pa)
    )
    return f"{gauge}{NARROW_SPACE}{known.word} gauge, {absolute}{NARROW_SPACE}{known.word} absolute"


# Temperatures, volumes, lengths, times


def read_temperature(text: str, *, default_unit: str | None = "C", what: str = "temperature") -> Typed:
    """Return the temperature that was typed, in kelvin; C, F or K, not below absolute zero."""

    def finish(number: str, unit_text: str) -> Typed:
        unit = _unit(text, unit_text, "temperature", what)
        kelvin = temperature_in(Decimal(number), unit, "kelvin")
        if kelvin < 0:
            raise QuantityError(
                f"{_quote(text)} was read as {_said(number)} {unit.word}, which is below absolute zero "
                f"(−273.15 C). Check the unit of the {what}."
            )
        other = "C" if unit.word != "C" else "F"
        shown = _said(
            _fixed(temperature_in(Decimal(number), unit, UNITS_BY_NAME["temperature"][other.casefold()].pint), 1)
        )
        typed = Typed(text, unit.word, float(kelvin), f"{_said(number)} {unit.word} ({shown} {other})")
        return _within_book(typed, "temperature", what)

    return _take(text, "temperature", default_unit, what, finish)


def show_temperature(k: float, unit: Literal["C", "F", "K"] = "C") -> str:
    """Return a temperature in kelvin for the page, to a tenth of a degree."""
    kelvin, target = UNITS_BY_NAME["temperature"]["k"], UNITS_BY_NAME["temperature"][unit.casefold()]
    return f"{_said(_fixed(temperature_in(Decimal(repr(k)), kelvin, target.pint), 1))}{NARROW_SPACE}{unit}"


def read_volume(text: str, *, default_unit: str | None = "L", what: str = "volume") -> Typed:
    """Return the volume that was typed, in cubic metres; ounces and gallons are those of the US."""

    def finish(number: str, unit_text: str) -> Typed:
        _refuse_below_zero(text, number, what)
        if find_unit(unit_text, "mass") is UNITS_BY_NAME["mass"]["oz"]:
            choice = f"{number} fl oz"
            raise Doubtful(f"{_quote(text)} is a mass; for the {what}, did you mean {choice}?", (choice,))
        return _volume(text, number, _unit(text, unit_text, "volume", what), what)

    return _take(text, "volume", default_unit, what, finish)


def _volume(text: str, number: str, unit: Unit, what: str) -> Typed:
    m3 = float(in_unit(number, unit.pint, "meter**3"))
    litres = "" if unit.word in ("L", "mL", "cc") else f" ({_short(m3 * 1000, 4)} L)"
    return _within_book(Typed(text, unit.word, m3, f"{number} {unit.word}{litres}"), "volume", what)


def read_water_capacity(text: str, *, default_unit: str | None = None, what: str = "water capacity") -> Typed:
    """Return the water capacity on a cylinder's plate, in cubic metres.

    Plates give litres, or the mass of water at 60 F that fills the cylinder ("WC 26.2" is pounds in
    North America). A bare number is asked about, unless `default_unit` says what the field is in.
    Mass goes to volume by ``WATER_KG_M3``. Raises ``Doubtful`` and ``QuantityError``.
    """

    def finish(number: str, unit_text: str) -> Typed:
        _refuse_below_zero(text, number, what)
        bare = re.sub(r" ?(?:of )?(?:water|h2o)$", "", unit_key(unit_text))
        unit = UNITS_BY_NAME["mass"].get(bare)
        if unit is None:
            volume = find_unit(bare, "volume")
            if volume is None:
                raise QuantityError(
                    f"{_quote(text)} is no water capacity. Write litres, such as 12 L, or the mass of water "
                    "that the plate gives, such as 26.2 lb."
                )
            return _volume(text, number, volume, what)
        m3 = float(in_unit(number, unit.pint, "kilogram")) / WATER_KG_M3
        echo = f"{number} {unit.word} of water ({_short(m3 * 1000, 5)} L)"
        return _within_book(Typed(text, f"{unit.word} of water", m3, echo), "volume", what)

    plate = re.sub(r"^(?:w\.? ?c\.?|water capacity)[ :=]*(?=[0-9.,+-])", "", clean_text(text), flags=re.IGNORECASE)
    return _take(text, "volume", default_unit, what, finish, read=plate, offered=("lb", "L"))


def read_length(text: str, *, default_unit: str | None = "m", what: str = "length", lowest_m: float = 0.0) -> Typed:
    """Return the length that was typed, in metres; a height above the sea may have `lowest_m` below 0."""

    def finish(number: str, unit_text: str) -> Typed:
        unit = _unit(text, unit_text, "length", what)
        metres = float(in_unit(number, unit.pint, "meter"))
        if metres < lowest_m:
            raise QuantityError(
                f"{_quote(text)} was read as {_said(number)} {unit.word}, and the {what} cannot be "
                f"below {_said(_short(lowest_m))} m. Check the sign and the unit."
            )
        other = "" if unit.word in ("m", "cm", "mm", "km") else f" ({_said(_short(metres, 4))} m)"
        return _within_book(Typed(text, unit.word, metres, f"{_said(number)} {unit.word}{other}"), "length", what)

    return _take(text, "length", default_unit, what, finish)


def read_duration(text: str, *, default_unit: str | None = "min", what: str = "time") -> Typed:
    """Return the time that was typed, in seconds: "20 min", "1 h 20 min", "90 s", "2 d".

    "1:20" is asked about. Parts of a longer text stand in falling order, all but the last whole.
    """
    clock = re.fullmatch(r"([0-9]{1,3}):([0-9]{2})", clean_text(text))
    if clock is not None:
        choices = (f"{int(clock[1])} h {int(clock[2])} min", f"{int(clock[1])} min {int(clock[2])} s")
        raise Doubtful(
            f"{_quote(text)} can be read as {choices[0]} or as {choices[1]}. Write the one that is meant.", choices
        )

    def finish(number: str, unit_text: str) -> Typed:
        _refuse_below_zero(text, number, what)
        parts = [(number, part) for part in [find_unit(unit_text, "duration")] if part]
        parts = parts or _parts_of_time(text, f"{number} {unit_text}", what)
        seconds = float(sum(in_unit(size, unit.pint, "second") for size, unit in parts))
        echo = " ".join(f"{size} {unit.word}" for size, unit in parts)
        if len(parts) > 1 or parts[0][1].word in ("week", "d", "h"):
            echo += f", {_short(seconds / 60, 6)} min"
        return _within_book(Typed(text, parts[-1][1].word, seconds, echo), "duration", what)

    return _take(text, "duration", default_unit, what, finish)


def _parts_of_time(text: str, clean: str, what: str) -> list[tuple[str, Unit]]:
    """Return the parts of "1 h 20 min", or refuse."""
    if re.fullmatch(r"(?:[0-9][0-9.,' ]*[^0-9.,' ]+[ ,]*){2,}", clean) is None:
        raise _no_such_unit(text, clean.split(" ", 1)[1], "duration", what)
    parts = []
    for number, unit_text in re.findall(r"([0-9][0-9.,' ]*)([^0-9.,' ]+)", clean):
        readings = number_readings(number.strip())
        if len(readings) != 1:
            raise QuantityError(f'{_quote(text)} cannot be read as a time. Write it such as "1 h 20 min".')
        parts.append((readings[0], _unit(text, unit_text, "duration", what)))
    order = [UNITS["duration"].index(unit) for _, unit in parts]
    if order != sorted(set(order)) or any(Decimal(number) % 1 for number, _ in parts[:-1]):
        raise QuantityError(
            f"{_quote(text)} has parts out of order, twice, or not whole. "
            'Write the longest part first, such as "1 h 20 min".'
        )
    return parts


# Bare numbers


def read_number(text: str, *, what: str, lowest: float = -inf, highest: float = inf, unit_word: str = "") -> float:
    """Return a number between `lowest` and `highest`, both allowed; `unit_word` may stand after it."""

    def finish(number: str, unit_text: str) -> float:
        if unit_key(unit_text) not in ("", *_key_words(unit_word)):
            wanted = f" or {unit_word}" if unit_word else ""
            raise QuantityError(
                f"{_quote(text)} has {_quote(unit_text)} after the number; for the {what} write a number alone{wanted}."
            )
        value = float(number)
        if not lowest <= value <= highest:
            raise QuantityError(
                f"{_quote(text)} was read as {_said(number)}, and the {what} lies "
                f"{_range_words(lowest, highest)}. Check it and write it again."
            )
        return value

    return _take(text, "number", unit_word, what, finish, offered=("",))


def read_percent(text: str, *, what: str = "share") -> float:
    """Return a number of per cent from 0 to 100; the sign may be left out."""
    return read_number(text, what=what, lowest=0.0, highest=100.0, unit_word="%")


def _key_words(unit_word: str) -> tuple[str, ...]:
    return ("%", "percent", "per cent", "pct") if unit_word == "%" else (unit_key(unit_word),)


def _range_words(lowest: float, highest: float) -> str:
    low, high = (_said(plain(Decimal(repr(end)))) if abs(end) < inf else "" for end in (lowest, highest))
    if low and high:
        return f"between {low} and {high}"
    return f"at or above {low}" if low else f"at or below {high}"


# Conversion


def convert(text: str, to: str, *, atmosphere_pa: float | None = None) -> tuple[float, str]:
    """Return what was typed in the unit `to`, and a line that says both.

    Any kind of quantity of this module, and leak rates and masses a year. From gauge to absolute or
    back, the local `atmosphere_pa` is needed; a pressure whose reference is not written on both sides
    is converted by size alone. Raises ``Doubtful`` and ``QuantityError``.
    """

    def finish(number: str, unit_text: str) -> tuple[float, str]:
        ounces = _ounces_of_pounds_and_ounces(text, number, unit_text)
        size, unit_text = (number, unit_text) if ounces is None else (str(ounces), "oz")
        value, word, target = _converted(text, size, unit_text, to, atmosphere_pa)
        shown = f"{_said(number)} {word}" if ounces is None else " ".join(clean_text(text).split())
        return value, f"{shown} = {_said(_short(value, 6))} {target}"

    return _take(text, "quantity", None, "quantity", finish, offered=())


def _converted(text: str, number: str, unit_text: str, to: str, atmosphere_pa: float | None) -> tuple[float, str, str]:
    """Return value, word of the unit given and word of the unit asked for."""
    if (pressure := find_pressure(unit_text)) and (wanted := find_pressure(to)):
        return _converted_pressure(text, number, pressure, wanted, atmosphere_pa)
    for kind in KINDS:
        unit, target = find_unit(unit_text, kind), find_unit(to, kind)
        if unit and target and kind == "temperature":
            return float(temperature_in(Decimal(number), unit, target.pint)), unit.word, target.word
        if unit and target:
            return float(in_unit(number, unit.pint, target.pint)), unit.word, target.word
    kind_given, kind_asked = kind_of(unit_text), kind_of(to)
    if kind_given and kind_asked:
        raise QuantityError(
            f"{_quote(text)} is {KINDS[kind_given].name} and {_quote(to)} a unit of "
            f"{_bare_name(kind_asked)}: one does not turn into the other. Choose another unit."
        )
    unknown = to if kind_given else unit_text
    raise QuantityError(f"{_quote(unknown)} is no unit that is known here. Write one such as kg, psi, C, L or m.")


def _converted_pressure(
    text: str,
    number: str,
    given: tuple[Unit, Reference | None],
    wanted: tuple[Unit, Reference | None],
    atmosphere_pa: float | None,
) -> tuple[float, str, str]:
    (unit, mark), (target, target_mark) = given, wanted
    words = tuple(_marked(one, ref) if ref else one.word for one, ref in (given, wanted))
    if target_mark or mark:
        mark = mark or ("absolute" if unit.word == "micron" else None)
        target_mark = target_mark or ("absolute" if target.word == "micron" else None)
    if mark == target_mark:
        return float(in_unit(number, unit.pint, target.pint)), words[0], words[1]
    if mark is None or target_mark is None:
        raise QuantityError(
            f"{_quote(text)} to {words[1]}: one side says gauge, absolute or vacuum and the other does not. "
            "Write it on both, such as psig and bara."
        )
    if atmosphere_pa is None:
        raise QuantityError(f"{_quote(text)} to {words[1]} needs the local atmosphere. Give the height above the sea.")
    size_pa = float(in_unit(number, unit.pint, "pascal"))
    pa = {"absolute": size_pa, "gauge": atmosphere_pa + size_pa, "vacuum": atmosphere_pa - size_pa}[mark]
    if pa < 0:
        raise QuantityError(
            f"{_quote(text)} is below zero absolute: the local atmosphere is {atmosphere_pa:.0f} Pa. "
            "Check the unit and the gauge."
        )
    out_pa = {"absolute": pa, "gauge": pa - atmosphere_pa, "vacuum": atmosphere_pa - pa}[target_mark]
    return out_pa / float(unit_factor(target.pint, "pascal")), words[0], words[1]


# Text to numbers and units


def _take(
    text: str,
    kind: str,
    default_unit: str | None,
    what: str,
    finish: Callable[[str, str], T],
    *,
    read: str | None = None,
    offered: tuple[str, ...] | None = None,
) -> T:
    """Read number and unit and hand them to `finish`; ask where there is more than one reading of them.

    `read` is what stands for the text where a label was cut off before it; `offered` are the units
    asked about where the text has none and the field neither.
    """
    if len(text) > LONGEST_TEXT:
        raise _too_long(text, what)
    offered = KINDS[kind].offered if offered is None else offered
    numbers, unit_text = _split(text if read is None else read, what, f"12.5 {offered[0] if offered else 'kg'}".strip())
    units = _units_meant(unit_text, kind, default_unit, offered)
    if not units:
        raise QuantityError(f"{_quote(text)} has no unit. Write it with one, such as 12.5 kg.")
    if len(numbers) == len(units) == 1:
        return finish(numbers[0], units[0])
    choices = [f"{number} {unit}".strip() for number in numbers for unit in units if _can_be_read(finish, number, unit)]
    if not choices:
        return finish(numbers[0], units[0])
    if len(choices) == 1:
        raise Doubtful(f"{_quote(text)} is in doubt: did you mean {choices[0]}?", choices)
    lead = "can" if unit_text or default_unit is not None else "has no unit: it can"
    raise Doubtful(f"{_quote(text)} {lead} be read as {_listed(choices)}. Write the {what} that is meant.", choices)


def _can_be_read(finish: Callable[[str, str], object], number: str, unit: str) -> bool:
    try:
        finish(number, unit)
    except QuantityError:
        return False
    return True


def _units_meant(unit_text: str, kind: str, default_unit: str | None, offered: tuple[str, ...]) -> tuple[str, ...]:
    """Return the units that a text may mean: its own, else that of the field, else all that are offered."""
    if kind == "mass" and unit_text == "Mg":
        return ("mg", "t")
    if unit_text:
        return (unit_text,)
    return offered if default_unit is None else (default_unit,)


def _split(text: str, what: str, example: str) -> tuple[tuple[str, ...], str]:
    """Return the readings of the number at the head of a text, and the rest, which names the unit."""
    if len(text) > LONGEST_TEXT:
        raise _too_long(text, what)
    clean = clean_text(text)
    if not clean:
        raise QuantityError(f'Nothing is entered for the {what}. Write a number and its unit, such as "{example}".')
    sign, number, unit_text = number_and_rest(clean)
    if not number:
        raise QuantityError(f'{_quote(text)} has no number for the {what}. Write one first, such as "{example}".')
    if _EXPONENT.match(unit_text):
        raise QuantityError(f"{_quote(text)} has an exponent. Write the number out in full.")
    if sum(char.isdigit() for char in number) > MOST_DIGITS:
        raise QuantityError(
            f"{_quote(text)} has more than {MOST_DIGITS} digits. Check the number and write it shorter."
        )
    readings = number_readings(number)
    if not readings or unit_text[:1] in _PARTS_OF_NUMBERS or unit_text[:1].isnumeric():
        raise QuantityError(
            f"{_quote(text)} is not one number. Write it with one decimal mark, such as "
            f'"{example}", and nothing else between the digits.'
        )
    return tuple(_signed(sign, reading) for reading in readings), unit_text


def _unit(text: str, unit_text: str, kind: str, what: str) -> Unit:
    unit = find_unit(unit_text, kind)
    if unit is None:
        raise _no_such_unit(text, unit_text, kind, what)
    return unit


def _signed(sign: str, number: str) -> str:
    return f"-{number}" if sign == "-" and Decimal(number) else number


def _no_such_unit(text: str, unit_text: str, kind: str, what: str) -> QuantityError:
    wanted = _listed(KINDS[kind].offered)
    other = kind_of(unit_text)
    if other is not None and other != kind:
        return QuantityError(
            f"{_quote(text)} is {KINDS[other].name}; for the {what} write {KINDS[kind].name} in {wanted}."
        )
    return QuantityError(
        f"{_quote(unit_text)} is no unit of {_bare_name(kind)} that is known here. Write the {what} in {wanted}."
    )


def _bare_name(kind: str) -> str:
    return KINDS[kind].name.removeprefix("a ")


# Refusals


def _too_long(text: str, what: str) -> QuantityError:
    return QuantityError(
        f"The {what} has {len(text)} characters, which is more than {LONGEST_TEXT}. Write a number and its unit only."
    )


def _refuse_below_zero(text: str, number: str, what: str) -> None:
    if number.startswith("-"):
        raise QuantityError(f"{_quote(text)} is below zero, and the {what} cannot be. Write it without the minus.")


Q = TypeVar("Q", bound=Typed)


def _within_book(typed: Q, kind: str, what: str) -> Q:
    """Refuse what no workshop has and no column of the book holds."""
    most = KINDS[kind].most
    if typed.si > most:
        raise QuantityError(
            f"{_quote(typed.text)} is more than any {what} can be here ({most:f} {_SI_WORDS[kind]}). "
            "Check the number and the unit."
        )
    return typed


_SI_WORDS = {"mass": "kg", "pressure": "Pa", "temperature": "K", "volume": "m3", "length": "m", "duration": "s"}


# Words and figures


def _quote(text: str) -> str:
    seen = "".join(char if char.isprintable() else "\N{REPLACEMENT CHARACTER}" for char in " ".join(text.split()))
    return f"\N{LEFT DOUBLE QUOTATION MARK}{seen}\N{RIGHT DOUBLE QUOTATION MARK}"


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _said(number: str) -> str:
    """A number with the minus that is printed."""
    return number.replace("-", MINUS)


def _fixed(value: Decimal, decimals: int) -> str:
    """A number with so many decimals, half away from zero; never a minus before nothing."""
    with localcontext(prec=100):
        shown = value.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    return f"{shown if shown else abs(shown):f}"


def _short(value: float, digits: int = 3) -> str:
    """A number with up to so many significant digits, without exponent or closing zeros."""
    number = Decimal(repr(float(value)))
    if not number:
        return "0"
    return plain(Decimal(_fixed(number, max(0, digits - 1 - number.adjusted()))))


def plain(value: Decimal) -> str:
    """A number without closing zeros or exponent: 4 for 4.00."""
    return f"{value.normalize():f}"
