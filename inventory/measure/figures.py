"""Figures as pages and papers write them: decimals fixed, a true minus sign, thousands parted by a narrow space."""

from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from math import floor, isfinite, log10
from typing import Literal

from inventory.measure.units import UNITS_BY_NAME, find_pressure, temperature_in, unit_factor

MINUS = "\N{MINUS SIGN}"
NARROW = "\N{NARROW NO-BREAK SPACE}"
DECIMALS = {"kg": 3, "g": 0, "lb": 2, "oz": 1}


def figure(value: Decimal | float | int, decimals: int) -> str:
    """Return a number with fixed decimals, thousands parted by a narrow space and a true minus sign."""
    text = parted(value, decimals)
    zero = not any(char in "123456789" for char in text)
    return text.lstrip("-") if zero else text.replace("-", MINUS)


def parted(value: Decimal | float | int, decimals: int = 0, sign: str = "") -> str:
    """Return a number with fixed decimals and its thousands parted by a narrow space: the one way of grouping.

    With "+" for `sign` a number above zero has its plus.
    """
    return f"{value:{sign},.{decimals}f}".replace(",", NARROW)


def significant(value: float, digits: int = 2) -> str:
    """Return `value` to `digits` significant digits, never with fewer whole digits than it has."""
    if value == 0 or not isfinite(value):
        return f"{value:g}"
    places = max(0, digits - 1 - floor(log10(abs(value))))
    return parted(round(value, places), min(places, 12))


def bar(pressure_pa: float) -> str:
    """Return a pressure in bar, without saying whether gauge or absolute, for `inventory.measure.spoken`.

    It has the digits from which another unit is said as it was read or reckoned, and two decimals at least.
    """
    return f"{trimmed(f'{pressure_pa / 1e5:.5f}', 2)} bar"


def mbar(pressure_pa: float) -> str:
    """Return a low absolute pressure in millibar, likewise."""
    digits = significant(pressure_pa / 100, 3)
    return f"{trimmed(significant(pressure_pa / 100, 5), len(digits.partition('.')[2]))} mbar"


def trimmed(text: str, decimals: int) -> str:
    """Return a figure without the zeros at its end, but with at least so many decimals."""
    whole, _, part = text.partition(".")
    part = part[:decimals] + part[decimals:].rstrip("0")
    return f"{whole}.{part}" if part else whole


def mass_number(mass_mg: int, unit: str, decimals: int | None = None) -> Decimal:
    """Return `mass_mg` milligrams as a number of `unit` (kg, g, lb, oz), rounded half up to `decimals`."""
    places = DECIMALS[unit] if decimals is None else decimals
    unit_mg = unit_factor(UNITS_BY_NAME["mass"][unit].pint, "milligram")
    return (Decimal(int(mass_mg)) / unit_mg).quantize(Decimal(1).scaleb(-places), rounding="ROUND_HALF_UP")


def said(number: str) -> str:
    """A number with the minus that is printed."""
    return number.replace("-", MINUS)


def fixed(value: Decimal, decimals: int) -> str:
    """A number with so many decimals, half away from zero; never a minus before nothing."""
    with localcontext(prec=100):
        shown = value.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    return f"{shown if shown else abs(shown):f}"


def short(value: float, digits: int = 3) -> str:
    """A number with up to so many significant digits, without exponent or closing zeros."""
    number = Decimal(repr(float(value)))
    if not number:
        return "0"
    return plain(Decimal(fixed(number, max(0, digits - 1 - number.adjusted()))))


def plain(value: Decimal) -> str:
    """A number without closing zeros or exponent: 4 for 4.00."""
    return f"{value.normalize():f}"


PRESSURE_DECIMALS = {"bar": 2, "atm": 3, "psi": 1, "kPa": 1, "inHg": 2, "mbar": 1, "hPa": 1, "kgf/cm2": 2, "MPa": 3}


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
    shown = fixed(abs(mg) / unit_mg, decimals)
    mark = "" if not Decimal(shown) else MINUS if mg < 0 else "+" if sign else ""
    if unit != "lb oz":
        return f"{mark}{shown}{NARROW}{unit}"
    pounds, ounces = divmod(Decimal(shown), 16)
    return f"{mark}{pounds:.0f}{NARROW}lb {fixed(ounces, decimals)}{NARROW}oz"


def _decimals_for(step_in_unit: Decimal) -> int:
    """Decimals that show one step: 3 for 0.005, 2 for 0.01, none for 5."""
    return max(0, int((-step_in_unit.log10()).to_integral_value(ROUND_CEILING)))


def show_pressure(pa: float, *, atmosphere_pa: float, unit: str = "bar") -> str:
    """Return an absolute pressure as gauge and absolute in a unit of pressure, for the page."""
    found = find_pressure(unit)
    if found is None:
        raise ValueError(f"{unit} is no unit of pressure.")
    known = found[0]
    factor = float(unit_factor(known.pint, "pascal"))
    gauge, absolute = (
        said(fixed(Decimal(value / factor), PRESSURE_DECIMALS.get(known.word, 0))) for value in (pa - atmosphere_pa, pa)
    )
    return f"{gauge}{NARROW}{known.word} gauge, {absolute}{NARROW}{known.word} absolute"


def show_temperature(k: float, unit: Literal["C", "F", "K"] = "C") -> str:
    """Return a temperature in kelvin for the page, to a tenth of a degree."""
    kelvin, target = UNITS_BY_NAME["temperature"]["k"], UNITS_BY_NAME["temperature"][unit.casefold()]
    return f"{said(fixed(temperature_in(Decimal(repr(k)), kelvin, target.pint), 1))}{NARROW}{unit}"


def times_of(mass_mg: int, can_tell_mg: int) -> str:
    """Return how many times what readings can tell a mass is: "2.3 times"; "beyond" where they tell everything."""
    return f"{mass_mg / can_tell_mg:.1f} times" if can_tell_mg else "beyond"
