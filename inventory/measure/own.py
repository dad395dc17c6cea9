"""The units in which a person reads: masses, pressures, temperatures, volumes and days as that person says them.

Pure. A person has one `Units`, a workshop one for its papers: what is shown is said by it, what is typed begins with
it. A pressure counts from the atmosphere as a gauge does, in inches of mercury below it where psi or inHg are used, and
from nothing where it is a deep vacuum. What was typed stands as it was typed.
"""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache

from inventory.measure.displays import POUNDS_AND_OUNCES, in_pounds, moved, small
from inventory.measure.figures import MINUS, NARROW, parted, plain, show_temperature, significant
from inventory.measure.typed import Typed
from inventory.measure.units import UNITS_BY_NAME, find_pressure, unit_factor

MASSES = {"kg": "kg, small ones in g", "lb": "lb, small ones in oz", POUNDS_AND_OUNCES: "lb and oz"}
PRESSURES = {"bar": "bar", "psi": "psi", "kPa": "kPa"}
VACUUMS = {"mbar": "mbar", "micron": "micron", "inHg": "inHg"}
TEMPERATURES = {"C": "°C", "F": "°F"}
VOLUMES = {"L": "L, small ones in mL", "fl oz": "US fl oz"}
DAYS = {"ymd": "2026-03-04", "dmy": "4 Mar 2026", "mdy": "Mar 4, 2026"}
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

WATER_KG_M3 = 999.0
"""Density of water at 60 F, at which water capacities are stamped (49 CFR 173.304a(a)(2), note 1).
IAPWS-95 gives 999.02 kg/m3 there at one atmosphere."""
LB_KG = 0.45359237  # exact

DEEP_PA = 10_000.0  # below it a pressure is said from nothing, in a unit that shows something
PRESSURE_DECIMALS = {"psi": 1, "kPa": 1, "bar": 2}


@dataclass(frozen=True)
class Units:
    """The units of a person or of a workshop, and the atmosphere (Pa) against which its gauges count.

    Each is a key of the choices above.
    """

    mass: str = "kg"
    pressure: str = "bar"
    vacuum: str = "mbar"
    temperature: str = "C"
    volume: str = "L"
    days: str = "ymd"
    atmosphere_pa: float = 101_325.0

    @property
    def in_pounds(self) -> bool:
        """Whether masses are in pounds, with ounces or without."""
        return in_pounds(self.mass)

    @property
    def axis(self) -> str:
        """The unit of an axis and of a column in a file: kg or lb, with decimals."""
        return "lb" if self.in_pounds else "kg"

    @property
    def column(self) -> str:
        """The unit of a column of masses, whose head says it: kg, lb, or pounds with ounces."""
        return self.mass if self.mass == POUNDS_AND_OUNCES else self.axis

    @property
    def small_mass(self) -> str:
        """The unit in which the charge of a vehicle is typed."""
        return "oz" if self.in_pounds else "g"

    @property
    def oil(self) -> str:
        """The unit in which oil is typed."""
        return "mL" if self.volume == "L" else self.volume

    @property
    def barometer(self) -> str:
        """The unit in which the air's own pressure is typed."""
        return {"psi": "inHg", "kPa": "kPa"}.get(self.pressure, "mbar")

    @property
    def length(self) -> str:
        """The unit in which a height is typed."""
        return "m" if self.volume == "L" else "ft"

    @property
    def road(self) -> str:
        """The unit of an odometer."""
        return "km" if self.volume == "L" else "mi"

    def mass_said(self, mass_mg: float) -> str:
        """Return a mass of a cylinder or of a leg: kilograms, or pounds and ounces."""
        return moved(round(mass_mg), self.mass)

    def small_mass_said(self, mass_mg: float) -> str:
        """Return a mass of a vehicle or a difference: grams, or pounds and ounces to a tenth of an ounce."""
        return small(round(mass_mg), self.mass)

    def small_mass_typed(self, mass_mg: int) -> tuple[str, str]:
        """Return a mass to the very milligram as it would be typed, and its unit: ounces to a tenth, or grams."""
        ounce_mg = _size("mass", "oz", "milligram")
        tenths = round(mass_mg / ounce_mg, 1)
        if self.in_pounds and round(tenths * ounce_mg) == mass_mg:
            return f"{tenths:g}", "oz"
        return f"{mass_mg / 1000:.10g}", "g"

    def about_typed(self, grams: float) -> tuple[str, str]:
        """Return a reckoned mass as it would be typed, and its unit: grams to a tenth, ounces to a thousandth."""
        if self.in_pounds:
            return f"{grams * 1000 / _size('mass', 'oz', 'milligram'):.3f}", "oz"
        return f"{grams:.1f}", "g"

    def volume_typed(self, volume_m3: float) -> Typed:
        """Return a volume as it would be typed, to four digits or so; what it is exactly goes along."""
        return _typed(volume_m3, self.volume, volume_m3 / cubic_metres(self.volume), 1 if self.volume != "L" else 10)

    def length_typed(self, length_m: float) -> Typed:
        """Return a height as it would be typed; what it is exactly goes along."""
        return _typed(length_m, self.length, length_m / 0.3048 if self.length == "ft" else length_m, 1)

    def yearly_said(self, grams: float) -> str:
        """Return a mass a year, as leak detectors are sold by: grams, or ounces to two digits."""
        if not self.in_pounds:
            return f"{short(grams)} g a year"
        return f"{significant(grams / 28.349523125)} oz a year"

    def pressure_said(self, pressure_pa: float) -> str:
        """Return an absolute pressure as a gauge of this person shows it; a deep vacuum counts from nothing."""
        above_pa = pressure_pa - self.atmosphere_pa
        if pressure_pa < DEEP_PA and self.vacuum != "inHg":
            return f"{short(pressure_pa / pascals(self.vacuum))} {self.vacuum} absolute"
        if above_pa < 0 and "inHg" in (self.vacuum, self.barometer):
            return f"{short(-above_pa / pascals('inHg'), 3 if pressure_pa < DEEP_PA else 1)} inHg of vacuum"
        words = "below the air" if above_pa < 0 else "gauge"
        own = short(abs(above_pa) / pascals(self.pressure), PRESSURE_DECIMALS[self.pressure])
        return f"{own} {self.pressure} {words}"

    def absolute_said(self, pressure_pa: float) -> str:
        """Return an absolute pressure in the unit of this person's gauges, counted from nothing."""
        decimals = PRESSURE_DECIMALS[self.pressure]
        return f"{short(pressure_pa / pascals(self.pressure), decimals)} {self.pressure} absolute"

    def change_said(self, change_pa: float) -> str:
        """Return a change of pressure with its sign."""
        value = signed(change_pa / pascals(self.pressure), 3 if self.pressure == "bar" else 1)
        return f"{value} {self.pressure}"

    def oil_said(self, volume_m3: float) -> str:
        """Return a small volume, of oil: millilitres, or fluid ounces to a tenth."""
        return f"{short(volume_m3 / cubic_metres(self.oil), 1)} {self.oil}"

    def volume_said(self, volume_m3: float) -> str:
        """Return a volume of a circuit or a cylinder: litres to a hundredth, or fluid ounces to a tenth."""
        return f"{short(volume_m3 / cubic_metres(self.volume), 2 if self.volume == 'L' else 1)} {self.volume}"

    def water_said(self, volume_m3: float) -> str:
        """Return a cylinder's water capacity as its plate has it: litres, or pounds of water."""
        if not self.in_pounds:
            return f"{short(volume_m3 * 1000)} L"
        return f"{short(volume_m3 * WATER_KG_M3 / LB_KG, 1)} lb of water"

    def water_typed(self, volume_m3: float) -> Typed:
        """Return a water capacity as it would be typed; what it is exactly goes along."""
        if not self.in_pounds:
            return _typed(volume_m3, "L", volume_m3 * 1000, 7)
        return _typed(volume_m3, "lb", volume_m3 * WATER_KG_M3 / LB_KG, 2)

    def temperature_said(self, temperature_k: float) -> str:
        """Return a temperature to a tenth of a degree; whole degrees Fahrenheit as thermometers show them."""
        said = show_temperature(temperature_k, "F" if self.temperature == "F" else "C").replace(NARROW, " ")
        return said.replace(".0 F", " F")

    def day_said(self, day: date) -> str:
        """Return a day as in tables: 2026-03-04, 4 Mar 2026 or Mar 4, 2026; the month in letters is never mistaken."""
        if self.days == "ymd":
            return day.isoformat()
        month = MONTHS[day.month - 1]
        return f"{day.day} {month} {day.year:04}" if self.days == "dmy" else f"{month} {day.day}, {day.year:04}"

    def clock_said(self, moment: datetime, *, seconds: bool = False) -> str:
        """Return a time of day as its zone has it: 14:05, or 2:05 PM where the month is said first."""
        text = f"{moment:%H:%M:%S}" if seconds else f"{moment:%H:%M}"
        if not self.has_noon:
            return text
        return f"{(moment.hour - 1) % 12 + 1}{text[2:]}{NARROW}{'AM' if moment.hour < 12 else 'PM'}"

    def when_said(self, moment: datetime) -> str:
        """Return a moment as its zone has it: 2026-03-04 14:05, 4 Mar 2026 14:05 or Mar 4, 2026 2:05 PM."""
        return f"{self.day_said(moment.date())} {self.clock_said(moment)}"

    @property
    def has_noon(self) -> bool:
        """Whether hours are counted twice to twelve, as where the month is said first."""
        return self.days == "mdy"


METRIC = Units()


def _typed(si: float, unit: str, value: float, decimals: int) -> Typed:
    text = plain(Decimal(f"{value:.{decimals}f}"))
    return Typed(text, unit, si, f"{text} {unit}")


@lru_cache(maxsize=16)
def pascals(unit: str) -> float:
    """Return one unit of pressure in pascals."""
    found = find_pressure(unit)
    if found is None:
        raise ValueError(f"{unit} is no unit of pressure.")
    return float(unit_factor(found[0].pint, "pascal"))


def cubic_metres(unit: str) -> float:
    """Return one unit of volume in cubic metres."""
    return _size("volume", unit, "meter**3")


@lru_cache(maxsize=16)
def _size(kind: str, unit: str, to: str) -> float:
    return float(unit_factor(UNITS_BY_NAME[kind][unit.casefold()].pint, to))


def short(value: float, decimals: int = 2) -> str:
    """Return a figure with so many decimals at most, one of a large figure, without zeros at its end."""
    text = parted(value, decimals if abs(value) < 100 else min(decimals, 1))
    return text.rstrip("0").rstrip(".") if "." in text else text


def signed(value: float, decimals: int) -> str:
    """Return a figure with its sign, nothing with none."""
    text = f"{abs(value):.{decimals}f}"
    if not float(text):
        return text
    return f"{'+' if value > 0 else MINUS}{text}"
