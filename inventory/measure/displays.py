"""What a scale can show: its step exactly, each display as a count of steps, and which display a reading is.

A step is a number and a unit as the scale has them: 5 g, 0.02 lb, 0.5 oz, or pounds with ounces in steps of 0.5 oz. In
milligrams a step of pounds or ounces is no whole number (1 oz is 28,349.523125 mg), so a display is an exact count of
steps and its milligrams are that count rounded once, half to even, as everywhere in the book.

A reading in the unit of the display must be one of its displays exactly. One that was turned into another unit by head
or by machine was rounded there: it is the display nearest to it, if that lies within half of its last place.

Pure. Sizes in milligrams are exact fractions unless they are whole milligrams of the book.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, lru_cache
from math import ceil, floor

from inventory.measure.figures import MINUS, NARROW, figure, mass_number, plain, show_mass
from inventory.measure.masses import Mass, read_mass
from inventory.measure.typed import QuantityError
from inventory.measure.units import UNITS_BY_NAME, unit_factor

POUNDS_AND_OUNCES = "lb oz"
UNITS = ("g", "kg", "oz", "lb", POUNDS_AND_OUNCES)
_METRIC = ("mg", "g", "kg", "t")
_OUNCES = ("oz", POUNDS_AND_OUNCES)
TONNE_MG, READS_AS_A_TONNE_MG = 10**9, 999_950_000
COLUMN_DECIMALS = 3  # of kilograms and of pounds: one gram, or half of one
_KEPT_IN = {"mg": "g", "t": "kg"}  # a step typed so is kept in the unit that displays have


@dataclass(frozen=True)
class Step:
    """A scale's step: `number` of `unit`; of ounces where the display shows pounds and ounces ("lb oz")."""

    number: Decimal
    unit: str

    @cached_property
    def mg(self) -> Fraction:
        """One step in milligrams, exact."""
        return Fraction(self.number) * unit_mg(self.unit)

    @property
    def is_metric(self) -> bool:
        """Whether the scale shows kilograms or grams."""
        return self.unit in _METRIC

    @property
    def reading_unit(self) -> str:
        """The unit in which pages write a reading: that of the display, kilograms for any metric one."""
        return "kg" if self.is_metric else self.unit

    @property
    def words(self) -> str:
        """The step as a page says it: "5 g", "0.02 lb", "0.5 oz"."""
        return f"{plain(self.number)}{NARROW}{_word(self.unit)}"

    def count(self, mg: Fraction | int) -> int:
        """Return the number of the display nearest to a mass."""
        return round(Fraction(mg) / self.mg)

    def mg_of(self, count: int) -> int:
        """Return a display in whole milligrams, as the book keeps it."""
        return round(count * self.mg)

    def shows(self, mg: int) -> bool:
        """Whether a mass of the book is that of a display."""
        return self.mg_of(self.count(mg)) == mg

    def read(self, mass: Mass) -> int | None:
        """Return the milligrams of the display that was read as `mass`; None where there is none, or several."""
        count = self.count(mass.exact_mg)
        gap = abs(count * self.mg - mass.exact_mg)
        if self.is_own(mass.unit) or (not self.is_metric and _in_whole_pounds(mass)):
            return None if gap else self.mg_of(count)
        return self.mg_of(count) if mass.place_mg <= self.mg and gap <= mass.place_mg / 2 else None

    def is_own(self, unit: str) -> bool:
        """Whether a reading in this unit says exactly what the display says."""
        if self.is_metric:
            return unit in _METRIC
        return unit in _OUNCES if self.unit in _OUNCES else unit == self.unit

    def beside(self, mass: Mass) -> tuple[str, ...]:
        """Return the texts of the one or two displays next to a reading that is none, in the unit it was read in."""
        below = int(mass.exact_mg // self.mg)
        unit = mass.unit if self.is_own(mass.unit) and mass.unit in UNITS else self.reading_unit
        return tuple(self.text(count, unit) for count in (below, below + 1))

    def text(self, count: int, unit: str = "") -> str:
        """Return a display as it would be typed: "8.355 kg", "27.22 lb", "27 lb 3.5 oz"; exact in its own units."""
        unit = unit or self.reading_unit
        if unit == POUNDS_AND_OUNCES:
            pounds, ounces = divmod(self.number * count, 16)
            return f"{pounds:f} lb {ounces:f} oz"
        value = count * self.mg / unit_mg(unit)
        return f"{_decimals(value, self.mg / unit_mg(unit))} {unit}"

    def show(self, mg: int) -> str:
        """Return a reading for a page, in the unit of the display and exactly as it stood there.

        What is no display of this scale (insisted on, or read before its step was changed) is shown to a gram or its
        like.
        """
        if self.shows(mg):
            return self.text(self.count(mg)).replace(" ", NARROW)
        return show_mass(mg, unit=self.reading_unit)


def in_book(mg: int, unit: str, step: Step | None = None) -> str:
    """Return a mass in kilograms, pounds or pounds and ounces: to a gram or its like, or as a scale shows."""
    fine = None if step is None or step.mg >= 1000 else step.mg
    if unit == POUNDS_AND_OUNCES:
        return show_mass(mg, unit=unit, step_mg=fine or _fine(mg))
    return show_mass(mg, unit="lb" if unit in ("lb", "oz") else "kg", step_mg=fine)


def small(mg: int, unit: str) -> str:
    """Return a small mass (a difference, what readings can tell) in grams; in a book of pounds, ounces and pounds."""
    if not in_pounds(unit):
        return show_mass(mg, unit="g")
    return show_mass(mg, unit="oz" if abs(mg) < 16 * unit_mg("oz") else POUNDS_AND_OUNCES, step_mg=_fine(mg))


def columned(mg: int, unit: str, *, signed: bool = False) -> str:
    """Return a mass for a column whose head says the unit: 3 decimals of kg or lb; of "lb oz" to a tenth of an ounce.

    `signed` puts a plus before what is above zero.
    """
    if unit == POUNDS_AND_OUNCES:
        return show_mass(mg, unit=unit, step_mg=unit_mg("oz") / 10, sign=signed)
    text = figure(mass_number(mg, unit, COLUMN_DECIMALS), COLUMN_DECIMALS)
    return f"+{text}" if signed and mg > 0 and not text.startswith(MINUS) else text


def column_said(mg: int, unit: str, *, signed: bool = False) -> str:
    """Return a mass as in such a column, with its unit."""
    said = columned(mg, unit, signed=signed)
    return said if unit == POUNDS_AND_OUNCES else f"{said}{NARROW}{unit}"


def co2e_said(co2e_mg: int, unit: str) -> str:
    """Return a CO2 equivalent in kilograms, from a tonne on in tonnes: metric tons, where masses are in pounds."""
    if abs(co2e_mg) < READS_AS_A_TONNE_MG:
        return f"{figure(mass_number(co2e_mg, 'kg', 1), 1)}{NARROW}kg CO2e"
    tonnes = "metric tons" if in_pounds(unit) else "t"
    return f"{figure(Decimal(co2e_mg) / TONNE_MG, 2)}{NARROW}{tonnes} CO2e"


def in_words(unit: str) -> str:
    """Return a unit as the head of a column says it: "kg", "lb", "lb and oz"."""
    return "lb and oz" if unit == POUNDS_AND_OUNCES else unit


def bound(mg: float, unit: str, *, up: bool) -> str:
    """Return a small mass that something is `at most` (`up`) or at least, rounded so that it stays true."""
    ounce = unit_mg("oz")
    fine = ounce / (10 if abs(mg) >= ounce / 2 else 100) if in_pounds(unit) else Fraction(1000)
    count = round(mg / float(fine), 6)
    return small(round((ceil(count) if up else floor(count)) * fine), unit)


def _fine(mg: float) -> Fraction:
    """Return a tenth of an ounce; a hundredth for less than half an ounce that is no such tenth."""
    ounce = unit_mg("oz")
    hundredths = round(abs(mg) * 100 / float(ounce))
    return ounce / 10 if hundredths >= 50 or hundredths % 10 == 0 else ounce / 100


def moved(mg: int, unit: str) -> str:
    """Return a mass that passed between a cylinder and a vehicle: kilograms, or pounds with ounces."""
    return small(mg, unit) if in_pounds(unit) else in_book(mg, unit)


def in_pounds(unit: str) -> bool:
    """Whether masses in `unit` are in pounds, with ounces or without."""
    return unit in ("lb", POUNDS_AND_OUNCES)


def step_of(mass: Mass) -> Step:
    """Return the step that was typed as `mass`; one in "lb oz" is of a display of pounds with ounces."""
    unit = _KEPT_IN.get(mass.unit, mass.unit)
    number = mass.exact_mg / unit_mg(unit)
    return Step(Decimal(number.numerator) / Decimal(number.denominator), unit)


def text_of(mg: int, unit: str) -> str:
    """Return a mass of the book as a text with the fewest decimals that is read as the very same; else in grams."""
    for decimals in range(7):
        text = f"{round(Decimal(mg) / Decimal(unit_factor(_small(unit), 'milligram')), decimals):f} {_word(unit)}"
        try:
            if read_mass(text).mg == mg:
                return text
        except QuantityError:  # a kilogram with six decimals is always read: others may be finer than a milligram
            break
    return f"{plain(Decimal(mg) / 1000)} g"


@lru_cache(maxsize=16)
def unit_mg(unit: str) -> Fraction:
    """Return one unit of a display in milligrams, exact; for "lb oz" one ounce."""
    return Fraction(unit_factor(_small(unit), "milligram"))


def _in_whole_pounds(mass: Mass) -> bool:
    """Whether a mass was written in pounds alone, or with no ounces: a display in either says just that."""
    return in_pounds(mass.unit) and mass.exact_mg % unit_mg("lb") == 0


def _word(unit: str) -> str:
    return "oz" if unit == POUNDS_AND_OUNCES else unit


def _small(unit: str) -> str:
    return UNITS_BY_NAME["mass"][_word(unit)].pint


def _decimals(value: Fraction, step: Fraction) -> str:
    """Write a multiple of a step with as many decimals as the step has."""
    places = 0
    while (step * 10**places).denominator != 1 and places < 9:
        places += 1
    return f"{Decimal(value.numerator) / Decimal(value.denominator):.{places}f}"
