"""A workshop's own units in words: masses, pressures and temperatures as its people say them.

Pure. A pressure counts from the atmosphere as a gauge does, in inches of mercury below it where psi are used, and from
nothing where it is a deep vacuum. What was typed stands as it was typed.
"""

import re
from dataclasses import dataclass

from inventory.measure.displays import bound, small
from inventory.measure.figures import MINUS, show_mass, show_temperature
from inventory.measure.units import find_pressure
from shop.bench.answers import figure

METRIC_MASSES = ("mg", "g", "kg", "t")
PRESSURES_OF = {"psi": ("psi", "inHg", "micron"), "kPa": ("kPa", "Pa", "MPa"), "bar": ("bar", "mbar", "hPa", "micron")}
_OZ_MG = 28_349.523125
_SIZE_AND_DECIMALS = {"psi": (6894.757293168, 1), "kPa": (1000.0, 1), "bar": (100_000.0, 2)}
_DEEP_PA = 10_000.0  # below it a pressure is said from nothing, in a unit that shows something
_DEEP_UNIT = {"psi": ("micron", 0.1333223684), "kPa": ("Pa", 1.0), "bar": ("mbar", 100.0)}
_INHG_PA = 3386.389
FL_OZ_M3 = 29.5735295625e-6  # the US fluid ounce, exactly
_NUMBER = re.compile(rf"[-+{MINUS}]?[0-9][0-9.,'\s]*")


@dataclass(frozen=True)
class Units:
    """The units of a workshop, and its atmosphere (Pa), against which a gauge counts."""

    mass: str = "kg"
    pressure: str = "bar"
    temperature: str = "C"
    atmosphere_pa: float = 101_325.0

    def mass_said(self, mass_mg: float) -> str:
        """Return a mass of a cylinder or of a leg: kilograms, or pounds and ounces."""
        return show_mass(round(mass_mg)) if self.mass != "lb" else self.small_mass_said(mass_mg)

    def small_mass_said(self, mass_mg: float) -> str:
        """Return a mass of a vehicle or a difference: grams, or pounds and ounces to a tenth of an ounce."""
        return small(round(mass_mg), self.mass)

    def small_mass_typed(self, mass_mg: int) -> tuple[str, str]:
        """Return a mass to the very milligram as it would be typed, and its unit: ounces to a tenth, or grams."""
        tenths = round(mass_mg / _OZ_MG, 1)
        if self.mass == "lb" and round(tenths * _OZ_MG) == mass_mg:
            return f"{tenths:g}", "oz"
        return f"{mass_mg / 1000:.10g}", "g"

    def about_typed(self, grams: float) -> tuple[str, str]:
        """Return a reckoned mass as it would be typed, and its unit: grams to a tenth, ounces to a thousandth."""
        if self.mass == "lb":
            return f"{grams * 1000 / _OZ_MG:.3f}", "oz"
        return f"{grams:.1f}", "g"

    def pressure_said(self, pressure_pa: float) -> str:
        """Return an absolute pressure as a gauge of the workshop shows it; a deep vacuum counts from nothing."""
        if pressure_pa < _DEEP_PA:
            word, size = _DEEP_UNIT[self.pressure]
            return f"{_short(pressure_pa / size)} {word} absolute"
        above_pa = pressure_pa - self.atmosphere_pa
        if above_pa < 0 and self.pressure == "psi":
            return f"{_short(-above_pa / _INHG_PA, 1)} inHg of vacuum"
        size, decimals = _SIZE_AND_DECIMALS[self.pressure]
        words = "below the air" if above_pa < 0 else "gauge"
        return f"{_short(abs(above_pa) / size, decimals)} {self.pressure} {words}"

    def change_said(self, change_pa: float) -> str:
        """Return a change of pressure with its sign."""
        size, _ = _SIZE_AND_DECIMALS[self.pressure]
        return f"{_signed(change_pa / size, 3 if self.pressure == 'bar' else 1)} {self.pressure}"

    def oil_said(self, volume_m3: float) -> str:
        """Return a volume of oil: millilitres, or fluid ounces to a tenth where pounds are used."""
        if self.mass == "lb":
            return f"{_short(volume_m3 / FL_OZ_M3, 1)} fl oz"
        return f"{_short(volume_m3 * 1e6, 1)} mL"

    def temperature_said(self, temperature_k: float) -> str:
        """Return a temperature to a tenth of a degree."""
        return show_temperature(temperature_k, "F" if self.temperature == "F" else "C").replace(
            "\N{NARROW NO-BREAK SPACE}", " "
        )


def _short(value: float, decimals: int = 2) -> str:
    text = f"{value:,.{decimals}f}" if abs(value) < 100 else f"{value:,.{min(decimals, 1)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _signed(value: float, decimals: int) -> str:
    text = f"{abs(value):.{decimals}f}"
    if not float(text):
        return text
    return f"{'+' if value > 0 else MINUS}{text}"


def typed_said(kind: str, text: str, unit: str) -> str:
    """Return what was typed with its unit; of a pressure also what it counts from."""
    text = " ".join(text.split())
    if not unit or not text:
        return ""
    if kind != "pressure":
        return text if re.search(r"[A-Za-z]", text) else f"{text} {unit}"
    found = _NUMBER.match(text)
    known = find_pressure(unit)
    if found is None or known is None:
        return text
    number, word, counts = found[0].strip(" ,"), known[0].word, known[1]
    if counts == "vacuum":
        return f"{number.lstrip('-' + MINUS)} {word} of vacuum"
    return f"{number} {word}{f' {counts}' if counts and word != 'micron' else ''}"


_FIGURE = rf"[-+{MINUS}]?[0-9][0-9,]*(?:\.[0-9]+)?"
_SAID = re.compile(
    rf"(?<![0-9A-Za-z.,+-])(?P<either>\+-)?(?:(?P<first>{_FIGURE}) (?P<way>to|and) )?(?P<number>{_FIGURE})"
    r"[ \N{NARROW NO-BREAK SPACE}](?P<unit>bar|mbar|kg|g|C|K)\b(?!/| per |[ \N{NARROW NO-BREAK SPACE}]CO2)"
)
_BOUND = re.compile(r"\bat (most|least) $", re.I)
_PSI_PER_BAR, _MICRON_PER_MBAR, _LB_PER_KG = 14.503773773, 750.0616827, 2.2046226218


def in_own_units(text: str, units: Units) -> str:
    """Return a sentence of a calculation, which is in bar, C and grams, in the units of a workshop."""
    wanted = {"bar": units.pressure != "bar", "mbar": units.pressure == "psi", "C": units.temperature == "F"}
    wanted["K"] = wanted["C"]
    wanted |= dict.fromkeys(("g", "kg"), units.mass == "lb")

    def said(match: re.Match[str]) -> str:
        if not wanted[match["unit"]]:
            return match[0].replace(match["number"], _as_shown(match["number"], match["unit"]))
        grams = match["unit"] in ("g", "kg") and not match["first"]
        if grams and (way := _BOUND.search(text, 0, match.start())):
            grams_mg = float(match["number"].replace(",", "")) * (1e6 if match["unit"] == "kg" else 1000)
            return bound(grams_mg, units.mass, up=way[1].lower() == "most")
        first = f"{_own(match['first'], match['unit'], units)} {match['way']} " if match["first"] else ""
        return (match["either"] or "") + first + _own(match["number"], match["unit"], units)

    return _SAID.sub(said, text)


def _own(text: str, unit: str, units: Units) -> str:
    """Return one figure of a sentence in the workshop's unit, to as many digits as it had, two at least.

    What was read carries more digits than an instrument shows: four are said of it, without zeros at their end.
    """
    sign, plain = ("-", text[1:]) if text[0] in f"-{MINUS}" else ("+" if text[0] == "+" else "", text.lstrip("+"))
    value = float(plain.replace(",", ""))
    digits = max(2, len(plain.replace(",", "").replace(".", "").lstrip("0")))
    if unit == "K":  # sentences say differences in kelvin, never temperatures
        return f"{MINUS if sign == '-' else sign}{value * 1.8:.1f} F"
    if unit == "C":
        warmth = round((-value if sign == "-" else value) * 1.8 + 32, 1)
        return f"{warmth + 0.0:g} F"  # zero has no sign
    sign = MINUS if sign == "-" else sign
    if unit == "bar":
        factor = _PSI_PER_BAR if units.pressure == "psi" else 100.0
        return f"{sign}{_figure(value * factor, digits)} {units.pressure}"
    if unit == "mbar":
        deep = value < 100
        own = value * _MICRON_PER_MBAR if deep else value / 1000 * _PSI_PER_BAR
        return f"{sign}{_figure(own, digits)} {'micron' if deep else 'psi'}"
    grams = value * 1000 if unit == "kg" else value
    if grams < 16 * _OZ_MG / 1000:
        ounces = grams / 28.349523125
        read = len(plain.partition(".")[2]) > 1  # more digits than anybody would say of grams: those of a scale
        return f"{sign}{_figure(ounces, digits) if read else figure(ounces, digits)} oz"
    if unit == "kg":
        return f"{sign}{figure(grams / 1000 * _LB_PER_KG, digits)} lb"
    return sign + units.small_mass_said(grams * 1000)


def _as_shown(text: str, unit: str) -> str:
    """Return a figure that stays in its unit; what was read and carries more digits, with those of an instrument."""
    decimals = len(text.partition(".")[2])
    value = float(text.replace(MINUS, "-").replace(",", ""))
    if unit == "bar" and decimals > 3:
        text = f"{value:.2f}"
    elif unit == "mbar" and decimals and abs(value) > 0:
        text = figure(value, 3)
    elif unit == "g" and decimals > 1 and abs(value) >= 10:
        text = f"{value:,.0f}"
    elif unit == "C" and decimals > 1:
        text = f"{value:.1f}"
    return text


def _figure(value: float, digits: int) -> str:
    text = figure(value, min(digits, 4))
    return text.rstrip("0").rstrip(".") if digits >= 3 and "." in text else text
