"""A vacuum hold as it was read, and the curves fitted to it: what `shop.bench.vacuum` tells apart.

The criterion and its sources stand at the head of `vacuum`. Where nobody took the temperature of the coldest part,
water may stand anywhere between its pressures at `COLD_K` and `WARM_K`, so that no curve within them is called water.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, inf, log, sqrt
from operator import itemgetter
from statistics import NormalDist

from inventory.gases import testgases
from inventory.measure.uncertainty import decision_threshold, detection_limit, resolution
from shop.bench import leakrate, trend
from shop.bench.answers import span
from shop.bench.insides import Around, Ends

LIMIT_G_PER_YEAR = leakrate.YARDSTICK_G_PER_YEAR[1]
ABSOLUTE, NEEDLE = "absolute", "needle"
TELLS_APART = NormalDist().inv_cdf(0.95) ** 2
FITS = NormalDist().inv_cdf(1 - 0.01 / 2) ** 2
USUAL_S = 900.0  # how long a vacuum hold usually stands: common practice, no source
ALMOST = 0.95  # of the planned length: ended by hand, not by the second
COLD_K, WARM_K = 273.15, 313.15
"""Between what a circuit in a workshop stands at, where nobody took its temperature: common practice, no source."""


@dataclass(frozen=True)
class VacuumReading:
    """One reading: seconds and absolute pascals."""

    time_s: float
    pressure_pa: float


@dataclass(frozen=True, kw_only=True)
class Vacuum(Around):
    """A vacuum hold as it was read, pump shut off; at least two readings at rising times.

    `temperature_k` is that of the coldest part, good to half of `temperature_step_k`; None where it was not taken.
    `refrigerant` is what will be charged, "" where nobody knows. `gauge_kind` is "absolute" or "needle".
    `atmosphere_by` says in words where the atmosphere came from. `planned_s` is how long it was meant to stand; None
    where nobody said so, then what is usual counts.
    """

    readings: tuple[VacuumReading, ...]
    planned_s: float | None = None
    temperature_k: float | None = None
    refrigerant: str = ""
    pressure_step_pa: float
    temperature_step_k: float = 1.0
    gauge_kind: str = ABSOLUTE
    atmosphere_by: str = ""

    @property
    def duration_s(self) -> float:
        """Seconds from the first reading to the last."""
        return self.readings[-1].time_s - self.readings[0].time_s

    @property
    def is_short(self) -> bool:
        """Whether it ended before the length that was planned, or is usual."""
        return self.duration_s < ALMOST * (self.planned_s or USUAL_S)

    @property
    def rise_pa(self) -> float:
        """From the first level to the last, as read."""
        return self.readings[-1].pressure_pa - self.readings[0].pressure_pa

    @property
    def mean_pa(self) -> float:
        """The mean of the readings, absolute."""
        return sum(reading.pressure_pa for reading in self.readings) / len(self.readings)


@dataclass(frozen=True)
class Levelling:
    """A curve that levels off, p = level - (level - start) exp(-k t) and its chi-square."""

    level_pa: float
    start_pa: float
    k_per_s: float
    chi2: float

    def at(self, elapsed_s: float) -> float:
        """Return the curve's pressure `elapsed_s` after the first reading."""
        return self.level_pa - (self.level_pa - self.start_pa) * exp(-self.k_per_s * elapsed_s)


@dataclass(frozen=True)
class Fits:
    """Line, levelling curve to water, free levelling curve, their chi-squares, and water's own pressure."""

    line: trend.Trend
    line_chi2: float
    water: Levelling
    slowing_chi2: float
    free: Levelling
    scale: float
    water_pa: float
    water_low_pa: float
    water_high_pa: float

    @property
    def bends(self) -> bool:
        """Whether the readings show a bend at all: a straight rise has no level, whatever number the fit comes to."""
        return self.line_chi2 - self.free.chi2 > FITS * self.scale


@dataclass(frozen=True)
class Seen(leakrate.Leaks):
    """What a vacuum hold could see (Pa m3/s of air inwards): `smallest` is 3.29 u, `not_larger` what a tight one says.

    `rise` is that of the line; it is a `leak` only where it is steady or none, with its `u_leak`. Grams a year are what
    the same hole would lose of the refrigerant at 25 C. `time_to_see_s` is that of the high end, the safe one.
    """

    hole: leakrate.SameHole
    rise: Ends
    leak: Ends | None
    u_leak: Ends | None
    smallest: Ends
    not_larger: Ends
    time_to_see_s: float | None


def fit(vacuum: Vacuum) -> Fits:
    """Return the curves fitted to readings that were checked."""
    u_pa = resolution(vacuum.pressure_step_pa)
    times = tuple(reading.time_s - vacuum.readings[0].time_s for reading in vacuum.readings)
    values = tuple(reading.pressure_pa for reading in vacuum.readings)
    line = trend.fit(times, values, (u_pa,) * len(values))
    water_pa, low_pa, high_pa = _water_pa(vacuum)

    def chi2(curve: Callable[[float], float]) -> float:
        return sum(((curve(t) - p) / u_pa) ** 2 for t, p in zip(times, values, strict=True))

    def levelling(level_pa: float | None) -> Levelling:
        return _best_levelling(times, values, level_pa, u_pa)

    line_chi2 = chi2(line.at)
    free = levelling(None)
    water = min(
        (levelling(level) for level in _water_levels(free, low_pa, water_pa, high_pa)), key=lambda fit: fit.chi2
    )
    slowing_pa = line.at(times[-1]) + (line.at(times[-1]) - line.start)
    slowing_chi2 = levelling(slowing_pa).chi2 if line.slope > 0 else inf
    best = min(line_chi2, water.chi2, free.chi2)
    scale = max(1.0, best / (len(values) - 3)) if len(values) > 3 else 1.0
    return Fits(line, line_chi2, water, slowing_chi2, free, scale, water_pa, low_pa, high_pa)


def _water_pa(vacuum: Vacuum) -> tuple[float, float, float]:
    """Water's own pressure: the likeliest, the least and the most."""
    if vacuum.temperature_k is None:
        low_k, high_k = COLD_K, WARM_K
    else:
        half_k = vacuum.temperature_step_k / 2
        low_k, high_k = vacuum.temperature_k - half_k, vacuum.temperature_k + half_k
    middle_k = (low_k + high_k) / 2 if vacuum.temperature_k is None else vacuum.temperature_k
    low_pa, middle_pa, high_pa = (testgases.water_vapour_pressure_pa(kelvin) for kelvin in (low_k, middle_k, high_k))
    return middle_pa, low_pa, high_pa


def _water_levels(free: Levelling, low_pa: float, water_pa: float, high_pa: float) -> tuple[float, ...]:
    """The levels tried for water: both ends, the middle, and the free level where it lies between."""
    inside = (free.level_pa,) if low_pa <= free.level_pa <= high_pa else ()
    return (low_pa, water_pa, high_pa, *inside)


def _best_levelling(
    times: tuple[float, ...],
    values: tuple[float, ...],
    level_pa: float | None,
    u_pa: float,
) -> Levelling:
    """Search the rate k over the time scales that the readings can show, coarse and then fine."""
    slowest, fastest = log(1e-4 / times[-1]), log(50 / times[-1])

    def at(log_k: float) -> tuple[float, float, float, float]:
        """Level, start, rate and chi-square of the best curve of this rate; tried some hundred times, so kept bare."""
        k = exp(log_k)
        shapes = [exp(-k * t) for t in times]
        level, start = _levelling_free(shapes, values) if level_pa is None else _levelling_to(shapes, values, level_pa)
        fall = level - start
        return level, start, k, sum(((level - fall * e - p) / u_pa) ** 2 for e, p in zip(shapes, values, strict=True))

    centre, reach = (slowest + fastest) / 2, (fastest - slowest) / 2
    best = at(centre)
    for _turn in range(6):
        tries = [at(centre + reach * (i - 12) / 12) for i in range(25)]
        best = min(best, *tries, key=itemgetter(3))
        centre, reach = log(best[2]), reach / 6
    return Levelling(*best)


def _levelling_to(shapes: list[float], values: tuple[float, ...], level_pa: float) -> tuple[float, float]:
    """Least squares for the start alone; a pressure above the level does not come down to it."""
    amplitude = sum((level_pa - p) * e for p, e in zip(values, shapes, strict=True)) / sum(e * e for e in shapes)
    return level_pa, level_pa - max(0.0, amplitude)


def _levelling_free(shapes: list[float], values: tuple[float, ...]) -> tuple[float, float]:
    """Least squares for level and start: a straight line in the shapes exp(-k t)."""
    mean_e, mean_p = sum(shapes) / len(shapes), sum(values) / len(values)
    spread = sum((e - mean_e) ** 2 for e in shapes)
    slope = sum((e - mean_e) * (p - mean_p) for e, p in zip(shapes, values, strict=True)) / spread
    level_pa = mean_p - slope * mean_e
    return level_pa, level_pa + slope


def nothing_shown(vacuum: Vacuum, fits: Fits) -> bool:
    """Return whether no rise or fall is beyond what the gauge can tell, with room for rounding in the last digit."""
    pressures = [reading.pressure_pa for reading in vacuum.readings]
    within_one_step = max(pressures) - min(pressures) <= vacuum.pressure_step_pa * (1 + 1e-6)
    return within_one_step or abs(fits.line.slope) <= decision_threshold(fits.line.u_slope)


def see(vacuum: Vacuum, fits: Fits, *, steady: bool) -> Seen:
    """Return what a hold could see; where it bends (not `steady`), by the gauge at both ends alone."""
    line, space, u_pa = fits.line, vacuum.space, resolution(vacuum.pressure_step_pa)
    hole = leakrate.same_hole(
        vacuum.refrigerant,
        gas_viscosity_pa_s=leakrate.air_viscosity_pa_s(leakrate.CONVERSION_K),
        upstream_pa=vacuum.highest_air_pa,
        downstream_pa=vacuum.mean_pa,
        atmosphere_pa=vacuum.atmosphere_pa,
    )
    smallest_pa_s = detection_limit(line.u_slope if steady else sqrt(2) * u_pa / vacuum.duration_s)
    # The rise that a hold called tight still leaves possible, 19 times in 20.
    not_larger_pa_s = max(detection_limit(line.u_slope), line.slope + decision_threshold(line.u_slope))
    return Seen(
        hole=hole,
        rise=space.times(line.slope),
        leak=space.times(line.slope) if steady else None,
        u_leak=space.times(line.u_slope) if steady else None,
        smallest=space.times(smallest_pa_s),
        not_larger=space.times(not_larger_pa_s),
        time_to_see_s=hole.time_to_see_s(u_pa, space.high_m3, LIMIT_G_PER_YEAR),
    )


def short_words(vacuum: Vacuum, seen: Seen) -> tuple[str, ...]:
    """Say of a hold that ended early by how much, and what one of its length can show at all."""
    if not vacuum.is_short:
        return ()
    planned = f"{span(vacuum.planned_s)} that were planned" if vacuum.planned_s else f"{span(USUAL_S)} that are usual"
    source = "" if vacuum.planned_s else " (common practice, no source; the maker's time comes first)"
    least = leakrate.yearly_words(seen.hole, seen.smallest, "air", vacuum.refrigerant) + seen.hole.note_words
    return (
        f"It stood {span(vacuum.duration_s)}, short of the {planned}{source}: so short a hold shows only a leak of "
        f"{least} or more, and may end before moisture shows",
    )
