"""The inside volume of an air-conditioning circuit as an interval: what nobody in the bay knows, bounded;
`Around` has it with the air outside.

Vocabulary: a *class* is one of four kinds of circuit with a usual range of volumes; the ranges are estimates of the
trade without a source, built from the usual sizes of the parts, and a workshop may set its own. They bound, and are
never shown as measured. A figure that somebody entered, or a measurement, takes the place of the class.

What is left in a circuit is bounded by the high end of the interval; what is at least inside, and the smallest leak
that could have been seen at best, by the low end.

Errors: ``MeasurementError`` with a sentence for a volume or a range that cannot be.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

from inventory.gases import fluids
from inventory.measure.atmosphere import SEA_LEVEL_PA
from shop.bench.answers import MeasurementError, figure, need_above_zero, need_finite

CLASSES = ("car", "van", "machine", "bus")
RANGES_M3: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"car": (0.0012, 0.004), "van": (0.0025, 0.007), "machine": (0.0015, 0.008), "bus": (0.010, 0.080)}
)
"""Common practice, no source. A car: condenser 0.4 to 1.2 L, evaporator 0.3 to 0.7, hoses and pipes 0.3 to 0.8, drier
0.2 to 0.6, compressor 0.1 to 0.4. A van: a second evaporator and long pipes more. A farm or building machine: long
hoses. A bus: a unit on the roof, long pipes, a receiver.
"""
USUAL_M3: Mapping[str, float] = MappingProxyType({"car": 0.002, "van": 0.004, "machine": 0.0035, "bus": 0.03})
"""Where in its range a circuit of a class usually lies: common practice, no source. It bounds nothing."""
CLASS_OF: Mapping[str, str] = MappingProxyType(
    {
        "car": "car",
        "van": "van",
        "bus": "bus",
        "truck": "machine",
        "off-road": "machine",
        "refrigerated body": "machine",
        "other": "machine",
    }
)
"""The class of volume that a class of vehicle is taken to have; where it has none of its own, the widest of the small.
"""
AS_THEY_HAVE = {
    "car": "as cars have",
    "van": "as vans with a second evaporator have",
    "machine": "as farm and building machines have",
    "bus": "as buses have",
}
ESTIMATE = "an estimate of the trade, no source"
OIL_HIGH_G: Mapping[str, float] = MappingProxyType({"car": 250.0, "van": 400.0, "machine": 400.0, "bus": 2000.0})
"""The most oil that a circuit of a class usually has, where its amount is not known: common practice, no source."""
HOT_K = 333.15
FULLEST_SHARE = 0.5
"""The largest share of the inside that liquid fills at 60 C when the charge is right: common practice, no source."""
NARROW = 1.25
HIGHEST_M3 = 1.0
CLASS, LABEL, ENTERED, MEASURED = "class", "label", "entered", "measured"


@dataclass(frozen=True)
class Inside:
    """An inside volume from `low_m3` to `high_m3`; the two are equal where one figure was entered.

    `words` say it with its unit and where it is from; `basis` is "class", "label" (a class narrowed by the label),
    "entered" or "measured". `usual_m3` is where in it such a circuit usually lies, None where nobody can say.
    """

    low_m3: float
    high_m3: float
    words: str
    basis: str
    usual_m3: float | None = None

    @property
    def is_one(self) -> bool:
        """Return whether this is one figure, so that what is reckoned with it is one figure too."""
        return self.low_m3 == self.high_m3

    @property
    def is_known(self) -> bool:
        """Return whether the interval is narrow enough to be shown as known: its ends within a quarter."""
        return self.high_m3 <= NARROW * self.low_m3

    @property
    def is_estimate(self) -> bool:
        """Return whether nobody entered or measured it, so that a page offers to."""
        return self.basis in (CLASS, LABEL)

    @property
    def mid_m3(self) -> float:
        """Return the usual volume within the interval, else its middle: for a figure that stands beside both ends."""
        if self.usual_m3 is None:
            return (self.low_m3 + self.high_m3) / 2
        return min(max(self.usual_m3, self.low_m3), self.high_m3)

    def times(self, rate: float) -> "Ends":
        """Return a rate for a unit of volume as what it comes to in this one."""
        return Ends(self.low_m3 * rate, self.high_m3 * rate, self.mid_m3 * rate)


@dataclass(frozen=True)
class Ends:
    """What goes with the inside volume: were it the least, the greatest (`high`), or the usual one in between."""

    low: float
    high: float
    usual: float


def of_class(name: str, ranges: Mapping[str, tuple[float, float]] = RANGES_M3) -> Inside:
    """Return the interval of a class of volume (one of `CLASSES`), by a workshop's own `ranges` where given.

    Raises ``MeasurementError`` for another name, or a range that cannot be.
    """
    if name not in CLASSES:
        raise MeasurementError(f"{name!r} is no class of inside volume. There are: {', '.join(CLASSES)}.")
    low_m3, high_m3 = ranges.get(name, RANGES_M3[name])
    check_range(low_m3, high_m3)
    own = name in ranges and ranges[name] != RANGES_M3[name]
    source = "the range of this workshop’s settings, an estimate" if own else ESTIMATE
    return Inside(
        low_m3, high_m3, f"{range_words(low_m3, high_m3)}, {AS_THEY_HAVE[name]} ({source})", CLASS, USUAL_M3[name]
    )


def taken(inside: Inside | None, volume_m3: float | None) -> Inside:
    """Return the interval that holds: `inside` where given, else the one figure, else that of a car, and say so."""
    if inside is not None:
        return inside
    if volume_m3 is not None:
        return entered(volume_m3)
    car = of_class("car")
    words = f"{range_words(car.low_m3, car.high_m3)}, as cars have, which is assumed here ({ESTIMATE})"
    return replace(car, words=words)


def entered(volume_m3: float, how: str = "", off_m3: float = 0.0) -> Inside:
    """Return the figure that somebody entered, give or take `off_m3`, and `how` it was found.

    Raises ``MeasurementError`` for one figure that cannot be.
    """
    if off_m3:
        low_m3, high_m3 = volume_m3 - off_m3, volume_m3 + off_m3
        return Inside(low_m3, high_m3, f"{range_words(low_m3, high_m3)}, {how or 'entered'}", MEASURED)
    check_range(volume_m3, volume_m3)
    return Inside(volume_m3, volume_m3, f"{litres(volume_m3)} L, entered{f', {how}' if how else ''}", ENTERED)


def narrowed_by_label(inside: Inside, *, refrigerant: str, mass_kg: float) -> Inside:
    """Return an estimated interval with what the label's charge says of it; another one as it is.

    A system that holds its charge at 60 C without being full of liquid has at least label mass / liquid density inside.
    Where that is more than half of the high end, the class is too small for this system: the high end becomes twice
    the least (`FULLEST_SHARE`). Unchanged where the refrigerant is not known or has no liquid at 60 C.
    Source: densities by CoolProp.
    """
    need_finite(mass_of_the_label=mass_kg)
    if not inside.is_estimate or mass_kg <= 0:
        return inside
    try:
        least_m3 = mass_kg / fluids.liquid_density_kg_m3(refrigerant, HOT_K)
    except (fluids.FluidError, LookupError):
        return inside
    low_m3, high_m3 = max(inside.low_m3, least_m3), max(inside.high_m3, least_m3 / FULLEST_SHARE)
    if (low_m3, high_m3) == (inside.low_m3, inside.high_m3):
        return inside
    words = (
        f"{range_words(low_m3, high_m3)}, as {mass_kg:.3g} kg of {refrigerant} by the label need at least "
        f"{litres(least_m3)} L ({ESTIMATE})"
    )
    return replace(inside, low_m3=low_m3, high_m3=high_m3, words=words, basis=LABEL)


def check_range(low_m3: float, high_m3: float) -> None:
    """Raise ``MeasurementError`` where two ends are no range of an inside volume."""
    need_above_zero(volume=low_m3)
    need_above_zero(volume=high_m3)
    if high_m3 < low_m3:
        raise MeasurementError("The low end of the inside volume is above the high end.")
    if high_m3 > HIGHEST_M3:
        raise MeasurementError(f"{litres(high_m3)} L is more than any vehicle’s circuit holds. Is the unit right?")


def range_words(low_m3: float, high_m3: float) -> str:
    """Return an interval in litres, such as "1.2 to 4 L", or one figure."""
    if low_m3 == high_m3:
        return f"{litres(low_m3)} L"
    return f"{litres(low_m3)} to {litres(high_m3)} L"


def litres(volume_m3: float) -> str:
    """Return a volume as litres to two or three digits, without zeros at the end."""
    text = figure(volume_m3 * 1000, 3)
    return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True, kw_only=True)
class Around:
    """The facts that every measurement at a circuit shares.

    `inside` is the inside volume as an interval; where it is None, the one figure `volume_m3` holds, and with neither a
    car is assumed. Gauges are read against `atmosphere_pa`; `atmosphere_low_pa` and `atmosphere_high_pa` are its range
    where the height is not known.
    """

    volume_m3: float | None = None
    inside: Inside | None = None
    atmosphere_pa: float = SEA_LEVEL_PA
    atmosphere_low_pa: float | None = None
    atmosphere_high_pa: float | None = None

    @cached_property
    def space(self) -> Inside:
        """The inside volume that holds; raises ``MeasurementError`` for a figure that cannot be."""
        return taken(self.inside, self.volume_m3)

    @property
    def lowest_air_pa(self) -> float:
        """The lowest that the local atmosphere may be."""
        return min(self.atmosphere_pa, self.atmosphere_low_pa or self.atmosphere_pa)

    @property
    def highest_air_pa(self) -> float:
        """The highest that the local atmosphere may be."""
        return max(self.atmosphere_pa, self.atmosphere_high_pa or 0.0)

    @property
    def air_good_to_pa(self) -> float:
        """By how much the local atmosphere may differ from the one reckoned with; 0 where it is known."""
        return max(self.highest_air_pa - self.atmosphere_pa, self.atmosphere_pa - self.lowest_air_pa)
