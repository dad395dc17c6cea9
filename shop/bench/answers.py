"""What every measurement answers with, and how its figures are written in a sentence.

Vocabulary: a *verdict* is one word (or few, joined by hyphens) from the module's closed list; the *sentence* says the
same with its figures and limits; *workings* are rows of (what, formula or value) for a page; *cautions* stand where
the act is. Sentences use point decimals and SI or metric units; a page may show others beside them.
"""

from dataclasses import dataclass
from math import ceil, floor, isfinite, log10

from inventory.measure import figures
from inventory.measure.figures import parted, significant, trimmed

figure, bar, mbar = significant, figures.bar, figures.mbar

ZERO_CELSIUS_K = 273.15
PA_PER_PSI = 6894.757293168
PA_PER_INHG = 3386.389

INSTRUCTIONS_FIRST = "The maker's instructions, local codes and licensed practice come first."


class MeasurementError(ValueError):
    """A reading that cannot be reckoned with; the message is a sentence for the person who typed it."""


@dataclass(frozen=True, kw_only=True)
class Answer:
    """A verdict in words, with what led to it."""

    verdict: str
    sentence: str
    workings: tuple[tuple[str, str], ...]
    sources: tuple[str, ...]
    cautions: tuple[str, ...] = ()


def need_finite(**values: float | None) -> None:
    """Raise ``MeasurementError`` naming the first value that is no number."""
    for name, value in values.items():
        if value is not None and not isfinite(value):
            raise MeasurementError(f"The {name.replace('_', ' ')} is not a number.")


def need_above_zero(**values: float | None) -> None:
    """Raise ``MeasurementError`` naming the first value that is not above zero; None is not asked."""
    need_finite(**values)
    for name, value in values.items():
        if value is not None and value <= 0:
            raise MeasurementError(f"The {name.replace('_', ' ')} must be above zero.")


def need_not_below_zero(**values: float | None) -> None:
    """Raise ``MeasurementError`` naming the first value below zero; None is not asked."""
    need_finite(**values)
    for name, value in values.items():
        if value is not None and value < 0:
            raise MeasurementError(f"The {name.replace('_', ' ')} must not be below zero.")


def mass(mass_g: float, digits: int = 3) -> str:
    """Return a mass in grams, or from 1000 g in kilograms to `digits` significant digits."""
    if abs(mass_g) >= 1000:
        return f"{figure(mass_g / 1000, digits)} kg"
    return f"{figure(mass_g, digits)} g"


def yearly(rate_g_per_year: float) -> str:
    """Return a yearly rate to two digits: such a rate is never known better."""
    rounded = round(rate_g_per_year, 1 - floor(log10(abs(rate_g_per_year)))) if rate_g_per_year else 0.0
    return f"{mass(rounded, 2)} a year"


def yearly_between(low_g_per_year: float, high_g_per_year: float) -> str:
    """Return two yearly rates as a range, such as "3.2 to 11 kg a year"; as one where they read alike."""
    low, high = yearly(low_g_per_year).removesuffix(" a year"), yearly(high_g_per_year)
    if f"{low} a year" == high:
        return high
    unit = low[low.index(" ") :]
    return f"{low.removesuffix(unit) if f'{unit} ' in high else low} to {high}"


def figures_between(low: float, high: float, digits: int = 2) -> str:
    """Return two values as a range to `digits` significant digits, as one where they read alike."""
    first, last = figure(low, digits), figure(high, digits)
    return first if first == last else f"{first} to {last}"


def at_most(mass_g: float) -> str:
    """Return a bound from above in grams, rounded up: to a tenth below 10 g, else to whole grams."""
    return f"{ceil(mass_g * 10) / 10:.1f} g" if mass_g < 10 else f"{parted(ceil(mass_g))} g"


def at_least(mass_g: float) -> str:
    """Return a bound from below in grams, rounded down to two digits."""
    if mass_g <= 0:
        return "0 g"
    unit = 10.0 ** (floor(log10(mass_g)) - 1)
    return f"{figure(floor(round(mass_g / unit, 9)) * unit, 2)} g"


def grams_read(mass_g: float) -> str:
    """Return a mass that was read, in grams with the digits that let another unit say it as the scale did."""
    return f"{trimmed(parted(mass_g, 3), 0)} g"


def celsius(temperature_k: float) -> str:
    """Return a reckoned temperature in degrees Celsius, with digits from which another unit is said exactly."""
    return f"{trimmed(f'{temperature_k - ZERO_CELSIUS_K:.3f}', 1)} C"


def celsius_read(temperature_k: float) -> str:
    """Return a temperature that was read, in degrees Celsius, likewise."""
    return f"{trimmed(f'{temperature_k - ZERO_CELSIUS_K:.2f}', 1)} C"


def span(seconds: float) -> str:
    """Return a length of time as seconds, minutes, hours or days, whichever reads best."""
    if 0 < seconds < 60:
        return f"{figure(seconds)} s"
    if seconds < 2 * 3600:
        return f"{figure(seconds / 60)} min"
    if seconds < 96 * 3600:
        return f"{figure(seconds / 3600)} h"
    return f"{figure(seconds / 86400)} days"
