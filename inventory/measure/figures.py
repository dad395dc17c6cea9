"""Figures as tables, drawings and papers write them: decimals fixed, thousands parted, a true minus sign."""

from decimal import Decimal

MINUS = "\N{MINUS SIGN}"
NARROW = "\N{NARROW NO-BREAK SPACE}"

# Milligrams in one unit: the avoirdupois pound is 453.59237 g by definition (1959), sixteen ounces in it.
MG_IN = {"kg": Decimal(1_000_000), "g": Decimal(1000), "lb": Decimal("453592.37"), "oz": Decimal("28349.523125")}
DECIMALS = {"kg": 3, "g": 0, "lb": 2, "oz": 1}


def figure(value: Decimal | float | int, decimals: int) -> str:
    """Return a number with fixed decimals, thousands parted by a narrow space and a true minus sign."""
    text = f"{value:,.{decimals}f}".replace(",", NARROW)
    zero = not any(char in "123456789" for char in text)
    return text.lstrip("-") if zero else text.replace("-", MINUS)


def mass_number(mass_mg: int, unit: str, decimals: int | None = None) -> Decimal:
    """Return `mass_mg` milligrams as a number of `unit` (kg, g, lb, oz), rounded half up to `decimals`."""
    places = DECIMALS[unit] if decimals is None else decimals
    return (Decimal(int(mass_mg)) / MG_IN[unit]).quantize(Decimal(1).scaleb(-places), rounding="ROUND_HALF_UP")
