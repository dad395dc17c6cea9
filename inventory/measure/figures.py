"""Figures as pages and papers write them: decimals fixed, a true minus sign, thousands parted by a narrow space."""

from decimal import ROUND_HALF_UP, Decimal, localcontext

from inventory.measure.units import UNITS_BY_NAME, unit_factor

MINUS = "\N{MINUS SIGN}"
NARROW = "\N{NARROW NO-BREAK SPACE}"
DECIMALS = {"kg": 3, "g": 0, "lb": 2, "oz": 1}


def figure(value: Decimal | float | int, decimals: int) -> str:
    """Return a number with fixed decimals, thousands parted by a narrow space and a true minus sign."""
    text = f"{value:,.{decimals}f}".replace(",", NARROW)
    zero = not any(char in "123456789" for char in text)
    return text.lstrip("-") if zero else text.replace("-", MINUS)


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
