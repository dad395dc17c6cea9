"""The vacuum hold: a rise in a closed, evacuated system told apart as tight, leak, moisture or outgassing.

Vocabulary: a *leak* lets air in at a steady rate; *moisture* raises the pressure towards water's vapour pressure at
the coldest wet part and stops there; *outgassing* is refrigerant coming out of the oil, which levels off anywhere. All
pressures are absolute; a *needle* gauge reads against the atmosphere and is too coarse for any of this.

How they are told apart. u is the standard uncertainty of one reading, step / sqrt 12 (JCGM 100:2008, F.2.2.1), the same
for all; chi-square of a curve is the sum of ((curve - reading) / u)^2.
1. The straight line through the readings rises over the hold by no more than 1.645 u of its slope (ISO 11843-1, 5 % of
   false alarms), or all readings lie within one step of the gauge (a display may flicker by one step): tight, or, if it
   stands at water's own pressure (within the thermometer), moisture. What is then printed is "no leak larger than" the
   greater of 3.29 u and rise + 1.645 u.
2. Otherwise three curves are fitted by least squares (e-Handbook 4.4.3.1): the straight line; p = L - (L - a) exp(-k t)
   with L within water's pressure over the thermometer's step; the same with L free. All chi-squares are divided by that
   of the best curve per degree of freedom where this is above 1 (the residual standard deviation in place of u,
   e-Handbook 4.4.3.1), so that a model that is merely a little wrong does not decide.
3. Line against water. Neither contains the other, so the likelihood ratio is used with a margin: one is preferred if
   its chi-square is lower by c = 1.645^2 = 2.71. For two given curves whose squared distance is d2 in units of u2, and
   normal errors, the difference of their chi-squares is normal with mean -d2 and standard deviation 2 d where the first
   is true; so it exceeds c with probability 1 - Phi((c + d2) / (2 d)), which is greatest at d2 = c: 1 - Phi(sqrt c),
   5 %. Two curves are thus mixed up in at most 5 of 100 cases, whatever the rise; otherwise nobody can tell. (Derived
   here; the fitted ones are checked by simulation.) The line must beat a rise that slows by half as well.
4. The preferred one must fit. The free curve contains both the line (k towards 0) and the one to water, with one
   parameter more, so a preferred curve is refused where its chi-square is above the free one's by the upper 1 % point
   of chi-square with one degree of freedom, 6.63 (test of nested fits; e-Handbook 1.3.6.7.4 for the point).
5. If neither fits, the free curve's level decides: above water's pressure it is outgassing (or a leak that shut);
   below it, nobody can tell: refrigerant from oil, or water in a part colder than the one measured.
6. Everything else, fewer than three readings, and every needle gauge: cannot tell.
Both points are computed, as squares of points of the normal distribution: chi-square with one degree of freedom is
the square of a standard normal variable. e-Handbook: NIST/SEMATECH e-Handbook of Statistical Methods.

Errors: ``MeasurementError`` for readings that cannot be, with a sentence.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, inf, log, sqrt
from statistics import NormalDist

from inventory import fluids
from inventory.uncertainty import decision_threshold, detection_limit, give_or_take, resolution
from shop import leakrate, trend
from shop.answers import (
    INSTRUCTIONS_FIRST,
    PA_PER_INHG,
    Answer,
    MeasurementError,
    celsius,
    figure,
    mbar,
    need_above_zero,
    need_finite,
    span,
    yearly,
)

STANDARD_ATMOSPHERE_PA = 101_325.0
LIMIT_G_PER_YEAR = leakrate.YARDSTICK_G_PER_YEAR[1]
TELLS_APART = NormalDist().inv_cdf(0.95) ** 2
FITS = NormalDist().inv_cdf(1 - 0.01 / 2) ** 2
DEEP_ENOUGH_PA = 270.0
ABSOLUTE, NEEDLE = "absolute", "needle"

SOURCES = (
    "Curves by least squares, the lower chi-square preferred by 2.71 (one side 5 %) and refused from 6.63 above the "
    "free curve (1 %): NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.3.1 and 1.3.6.7.4; margin derived",
    "Decision 1.645 u and smallest leak 3.29 u: ISO 11843-1",
    "Vapour pressure of water: IAPWS-95 by CoolProp",
    "Leak of refrigerant through the same hole: Poiseuille's law for an ideal gas; air's viscosity: "
    "U.S. Standard Atmosphere 1976",
    leakrate.YARDSTICK_SOURCE,
)
CAUTIONS = (
    "At most one atmosphere drives a leak here; a vacuum hold does not replace the pressure hold or the search.",
    "Water is judged at the coldest wet part, which may not be the one measured.",
    INSTRUCTIONS_FIRST,
)


@dataclass(frozen=True)
class VacuumReading:
    """One reading: seconds and absolute pascals."""

    time_s: float
    pressure_pa: float


@dataclass(frozen=True, kw_only=True)
class Vacuum:
    """A vacuum hold as it was read, pump shut off; at least two readings at rising times.

    `temperature_k` is that of the coldest part, good to half of `temperature_step_k`. `gauge_kind` is "absolute" or
    "needle". `refrigerant` is what will be charged. `atmosphere_by` says in words where the atmosphere came from.
    """

    readings: tuple[VacuumReading, ...]
    temperature_k: float
    volume_m3: float
    refrigerant: str
    pressure_step_pa: float
    temperature_step_k: float = 1.0
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA
    gauge_kind: str = ABSOLUTE
    limit_g_per_year: float = LIMIT_G_PER_YEAR
    atmosphere_by: str = ""


@dataclass(frozen=True, kw_only=True)
class VacuumPicture:
    """What the drawing shows: readings and the fitted curves as (seconds, Pa), and water's pressure."""

    points: tuple[tuple[float, float], ...]
    water_pa: float
    curves: tuple[tuple[str, tuple[tuple[float, float], ...]], ...]


@dataclass(frozen=True, kw_only=True)
class VacuumAnswer(Answer):
    """Verdicts: `tight`, `leak`, `moisture`, `outgassing`, `cannot-tell`. `words` is the state as pages print it.

    The leak is of air inwards, None unless the rise is steady or none; grams a year are what the same hole would lose
    of the refrigerant at 25 C, None where there is no property data. `level_pa` is where a levelling curve ends, None
    where there is none. `smallest_visible` is 3.29 u; `not_larger` is what the words print, only for `tight`.
    """

    words: str
    rise_pa_per_hour: float
    u_rise_pa_per_hour: float
    level_pa: float | None
    water_pa: float
    atmosphere_pa: float
    leak_pa_m3_s: float | None
    u_leak_pa_m3_s: float | None
    leak_g_per_year: float | None
    u_leak_g_per_year: float | None
    smallest_visible_g_per_year: float | None
    not_larger_g_per_year: float | None
    smallest_visible_pa_m3_s: float
    time_to_see_limit_s: float | None
    picture: VacuumPicture


def check_vacuum_pa(pressure_pa: float, atmosphere_pa: float) -> None:
    """Raise ``MeasurementError`` with a sentence where this absolute pressure cannot be that of a vacuum here."""
    need_finite(pressure=pressure_pa, atmospheric_pressure=atmosphere_pa)
    if pressure_pa < 0:
        below = (atmosphere_pa - pressure_pa) / PA_PER_INHG
        raise MeasurementError(
            f"{below:.2f} inHg below the atmosphere cannot be: the local atmosphere is {atmosphere_pa:,.0f} Pa, "
            f"{atmosphere_pa / PA_PER_INHG:.2f} inHg, and no vacuum is deeper."
        )
    if pressure_pa > atmosphere_pa:
        raise MeasurementError(
            f"{mbar(pressure_pa)} is above the local atmosphere of {mbar(atmosphere_pa)}: is the unit right?"
        )


def judge(vacuum: Vacuum) -> VacuumAnswer:
    """Return what a vacuum hold shows, by the criterion at the head of this module, with the leak it could have seen.

    Raises ``MeasurementError`` for fewer than two readings, times that do not rise, pressures that no vacuum has
    here, a step or volume not above zero; ``OutsideModel`` for a temperature beyond water's model.
    """
    _check(vacuum)
    fits = _fit(vacuum)
    verdict = _verdict(vacuum, fits)
    steady = verdict in ("tight", "leak")
    leak = fits.line.slope * vacuum.volume_m3 if steady else None
    u_leak = fits.line.u_slope * vacuum.volume_m3 if steady else None
    smallest = _smallest(vacuum, fits, steady=steady)
    hole = _same_hole(vacuum)
    larger = _not_larger(vacuum, fits)
    return VacuumAnswer(
        verdict=verdict,
        words=_words(verdict, hole.g_per_year(larger), larger),
        sentence=_sentence(verdict, vacuum, fits, hole),
        workings=_workings(vacuum, fits, hole, smallest),
        sources=(*SOURCES, leakrate.WILKE) if hole.note else SOURCES,
        cautions=_cautions(vacuum, verdict),
        rise_pa_per_hour=fits.line.slope * 3600,
        u_rise_pa_per_hour=fits.line.u_slope * 3600,
        level_pa=_level_pa(verdict, fits),
        water_pa=fits.water_pa,
        atmosphere_pa=vacuum.atmosphere_pa,
        leak_pa_m3_s=leak,
        u_leak_pa_m3_s=u_leak,
        leak_g_per_year=None if leak is None else hole.g_per_year(leak),
        u_leak_g_per_year=None if u_leak is None else hole.g_per_year(u_leak),
        smallest_visible_g_per_year=hole.g_per_year(smallest),
        not_larger_g_per_year=hole.g_per_year(larger) if verdict == "tight" else None,
        smallest_visible_pa_m3_s=smallest,
        time_to_see_limit_s=_time_to_see_s(vacuum, hole),
        picture=_picture(vacuum, fits),
    )


@dataclass(frozen=True)
class _Levelling:
    """p = level - (level - start) exp(-k t) and its chi-square."""

    level_pa: float
    start_pa: float
    k_per_s: float
    chi2: float

    def at(self, elapsed_s: float) -> float:
        return self.level_pa - (self.level_pa - self.start_pa) * exp(-self.k_per_s * elapsed_s)


@dataclass(frozen=True)
class _Fits:
    line: trend.Trend
    line_chi2: float
    water: _Levelling
    slowing_chi2: float
    free: _Levelling
    scale: float
    water_pa: float
    water_low_pa: float
    water_high_pa: float


def _check(vacuum: Vacuum) -> None:
    if len(vacuum.readings) < 2:
        raise MeasurementError("A vacuum hold needs at least two readings.")
    need_above_zero(
        atmospheric_pressure=vacuum.atmosphere_pa,
        absolute_temperature=vacuum.temperature_k,
        volume=vacuum.volume_m3,
        step_of_the_gauge=vacuum.pressure_step_pa,
        step_of_the_thermometer=vacuum.temperature_step_k,
        limit=vacuum.limit_g_per_year,
    )
    for reading in vacuum.readings:
        need_finite(time=reading.time_s)
        check_vacuum_pa(reading.pressure_pa, vacuum.atmosphere_pa)
    if any(b.time_s <= a.time_s for a, b in zip(vacuum.readings, vacuum.readings[1:], strict=False)):
        raise MeasurementError("Each reading must be later than the one before it.")
    if min(reading.pressure_pa for reading in vacuum.readings) >= vacuum.atmosphere_pa:
        raise MeasurementError("This is the pressure of the atmosphere: there is no vacuum to hold.")
    if vacuum.gauge_kind not in (ABSOLUTE, NEEDLE):
        raise MeasurementError("The gauge is absolute or needle.")


def _fit(vacuum: Vacuum) -> _Fits:
    u_pa = resolution(vacuum.pressure_step_pa)
    times = tuple(reading.time_s - vacuum.readings[0].time_s for reading in vacuum.readings)
    values = tuple(reading.pressure_pa for reading in vacuum.readings)
    line = trend.fit(times, values, (u_pa,) * len(values))
    half_k = vacuum.temperature_step_k / 2
    water_pa, low_pa, high_pa = (
        fluids.water_vapour_pressure_pa(vacuum.temperature_k + shift) for shift in (0.0, -half_k, half_k)
    )

    def chi2(curve: Callable[[float], float]) -> float:
        return sum(((curve(t) - p) / u_pa) ** 2 for t, p in zip(times, values, strict=True))

    def levelling(level_pa: float | None) -> _Levelling:
        return _best_levelling(times, values, level_pa, chi2)

    line_chi2 = chi2(line.at)
    free = levelling(None)
    water = min(
        (levelling(level) for level in _water_levels(free, low_pa, water_pa, high_pa)), key=lambda fit: fit.chi2
    )
    slowing_pa = line.at(times[-1]) + (line.at(times[-1]) - line.start)
    slowing_chi2 = levelling(slowing_pa).chi2 if line.slope > 0 else inf
    best = min(line_chi2, water.chi2, free.chi2)
    scale = max(1.0, best / (len(values) - 3)) if len(values) > 3 else 1.0
    return _Fits(line, line_chi2, water, slowing_chi2, free, scale, water_pa, low_pa, high_pa)


def _water_levels(free: _Levelling, low_pa: float, water_pa: float, high_pa: float) -> tuple[float, ...]:
    """The levels tried for water: both ends, the middle, and the free level where it lies between."""
    inside = (free.level_pa,) if low_pa <= free.level_pa <= high_pa else ()
    return (low_pa, water_pa, high_pa, *inside)


def _best_levelling(
    times: tuple[float, ...],
    values: tuple[float, ...],
    level_pa: float | None,
    chi2: Callable[[Callable[[float], float]], float],
) -> _Levelling:
    """Search the rate k over the time scales that the readings can show, coarse and then fine."""
    slowest, fastest = log(1e-4 / times[-1]), log(50 / times[-1])

    def at(log_k: float) -> _Levelling:
        k = exp(log_k)
        fit = _levelling_free(times, values, k) if level_pa is None else _levelling_to(times, values, level_pa, k)
        return _Levelling(fit[0], fit[1], k, chi2(_Levelling(fit[0], fit[1], k, 0.0).at))

    centre, reach = (slowest + fastest) / 2, (fastest - slowest) / 2
    best = at(centre)
    for _turn in range(6):
        tries = [at(centre + reach * (i - 12) / 12) for i in range(25)]
        best = min(best, *tries, key=lambda fit: fit.chi2)
        centre, reach = log(best.k_per_s), reach / 6
    return best


def _levelling_to(
    times: tuple[float, ...], values: tuple[float, ...], level_pa: float, k_per_s: float
) -> tuple[float, float]:
    """Least squares for the start alone; a pressure above the level does not come down to it."""
    shapes = [exp(-k_per_s * t) for t in times]
    amplitude = sum((level_pa - p) * e for p, e in zip(values, shapes, strict=True)) / sum(e * e for e in shapes)
    return level_pa, level_pa - max(0.0, amplitude)


def _levelling_free(times: tuple[float, ...], values: tuple[float, ...], k_per_s: float) -> tuple[float, float]:
    """Least squares for level and start: a straight line in exp(-k t)."""
    shapes = [exp(-k_per_s * t) for t in times]
    mean_e, mean_p = sum(shapes) / len(shapes), sum(values) / len(values)
    spread = sum((e - mean_e) ** 2 for e in shapes)
    slope = sum((e - mean_e) * (p - mean_p) for e, p in zip(shapes, values, strict=True)) / spread
    level_pa = mean_p - slope * mean_e
    return level_pa, level_pa + slope


def _verdict(vacuum: Vacuum, fits: _Fits) -> str:
    if vacuum.gauge_kind == NEEDLE:
        return "cannot-tell"
    if _nothing_shown(vacuum, fits):
        return "moisture" if _stands_at_water(vacuum, fits) else "tight"
    if fits.line.slope < 0 or len(vacuum.readings) < 3:
        return "cannot-tell"
    return _curve_verdict(fits)


def _nothing_shown(vacuum: Vacuum, fits: _Fits) -> bool:
    """Whether no rise or fall is beyond what the gauge can tell, with room for rounding in the last digit."""
    pressures = [reading.pressure_pa for reading in vacuum.readings]
    within_one_step = max(pressures) - min(pressures) <= vacuum.pressure_step_pa * (1 + 1e-6)
    return within_one_step or abs(fits.line.slope) <= decision_threshold(fits.line.u_slope)


def _duration_s(vacuum: Vacuum) -> float:
    return vacuum.readings[-1].time_s - vacuum.readings[0].time_s


def _stands_at_water(vacuum: Vacuum, fits: _Fits) -> bool:
    mean_pa = sum(reading.pressure_pa for reading in vacuum.readings) / len(vacuum.readings)
    margin_pa = give_or_take(resolution(vacuum.pressure_step_pa))
    # A gauge coarser than water's pressure itself says nothing about water.
    if margin_pa > fits.water_pa / 4:
        return False
    return fits.water_low_pa - margin_pa <= mean_pa <= fits.water_high_pa + margin_pa


def _curve_verdict(fits: _Fits) -> str:
    tells, fit_limit = TELLS_APART * fits.scale, FITS * fits.scale
    line_fits = not _bends(fits)
    water_fits = fits.water.chi2 - fits.free.chi2 <= fit_limit
    if line_fits and min(fits.water.chi2, fits.slowing_chi2) - fits.line_chi2 > tells:
        return "leak"
    if water_fits and fits.line_chi2 - fits.water.chi2 > tells:
        return "moisture"
    if not line_fits and not water_fits and fits.free.level_pa > fits.water_high_pa:
        return "outgassing"
    return "cannot-tell"


def _same_hole(vacuum: Vacuum) -> leakrate.SameHole:
    mean_pa = sum(reading.pressure_pa for reading in vacuum.readings) / len(vacuum.readings)
    return leakrate.same_hole(
        vacuum.refrigerant,
        gas_viscosity_pa_s=leakrate.air_viscosity_pa_s(leakrate.CONVERSION_K),
        upstream_pa=vacuum.atmosphere_pa,
        downstream_pa=mean_pa,
        atmosphere_pa=vacuum.atmosphere_pa,
    )


def _smallest(vacuum: Vacuum, fits: _Fits, *, steady: bool) -> float:
    """The smallest leak seen 19 times in 20; where the rise bends, by the gauge at both ends alone."""
    by_ends = sqrt(2) * resolution(vacuum.pressure_step_pa) / _duration_s(vacuum)
    return detection_limit(fits.line.u_slope if steady else by_ends) * vacuum.volume_m3


def _not_larger(vacuum: Vacuum, fits: _Fits) -> float:
    """The leak (Pa m3/s) that a hold called tight still leaves possible, 19 times in 20."""
    u_slope = fits.line.u_slope
    return max(detection_limit(u_slope), fits.line.slope + decision_threshold(u_slope)) * vacuum.volume_m3


def _time_to_see_s(vacuum: Vacuum, hole: leakrate.SameHole) -> float | None:
    u_pa = sqrt(2) * resolution(vacuum.pressure_step_pa)
    smallest_in_a_second = hole.g_per_year(detection_limit(u_pa) * vacuum.volume_m3)
    return None if smallest_in_a_second is None else smallest_in_a_second / vacuum.limit_g_per_year


def _level_pa(verdict: str, fits: _Fits) -> float | None:
    if verdict == "moisture":
        return fits.water.level_pa
    return fits.free.level_pa if verdict == "outgassing" else None


def _words(verdict: str, larger_g: float | None, larger: float) -> str:
    if verdict == "tight":
        return f"no leak larger than {leakrate.yearly_words(larger_g, larger, 'air')}"
    words = {
        "leak": "rising steadily",
        "moisture": "levelling off (moisture)",
        "outgassing": "levelling off (refrigerant from oil)",
    }
    return words.get(verdict, "cannot tell")


def _sentence(verdict: str, vacuum: Vacuum, fits: _Fits, hole: leakrate.SameHole) -> str:
    first, last = vacuum.readings[0], vacuum.readings[-1]
    took = span(_duration_s(vacuum))
    rose = f"from {mbar(first.pressure_pa)} to {mbar(last.pressure_pa)} in {took}"
    water = f"water's {mbar(fits.water_pa)} at {celsius(vacuum.temperature_k)}"
    if verdict == "tight":
        larger = _not_larger(vacuum, fits)
        limit = leakrate.yearly_words(hole.g_per_year(larger), larger, "air", vacuum.refrigerant)
        limit += _estimate_words(hole)
        return f"No leak larger than {limit}, and no moisture: {rose}, no rise beyond what the gauge can tell."
    if verdict == "leak":
        return f"Leak: the pressure rises steadily, {rose}; {_leak_words(vacuum, fits, hole)}."
    if verdict == "moisture":
        return f"Moisture: the pressure goes {rose} and levels off at {water}; pull again."
    if verdict == "outgassing":
        return (
            f"Not water: the pressure goes {rose} and levels off at {mbar(fits.free.level_pa)}, above {water}; "
            "refrigerant is coming out of the oil, or a leak shut."
        )
    return f"Cannot tell: {_why_not(vacuum, fits, water)}."


def _leak_words(vacuum: Vacuum, fits: _Fits, hole: leakrate.SameHole) -> str:
    leak = fits.line.slope * vacuum.volume_m3
    in_grams = hole.g_per_year(leak)
    words = f"{figure(leak)} Pa m3/s of air come in"
    if in_grams is None:
        return words
    return f"{words}, the same hole would lose {yearly(in_grams)} of {vacuum.refrigerant}{_estimate_words(hole)}"


def _estimate_words(hole: leakrate.SameHole) -> str:
    return f" ({hole.note}, within a factor of about three)" if hole.note else ""


def _why_not(vacuum: Vacuum, fits: _Fits, water: str) -> str:
    if vacuum.gauge_kind == NEEDLE:
        step = f"{vacuum.pressure_step_pa / PA_PER_INHG:.2g} inHg"
        return f"a needle gauge with steps of {step} is too coarse; use an absolute gauge"
    if fits.line.slope < 0:
        return "the pressure falls; the pump may still be connected, or the gauge is settling"
    if len(vacuum.readings) < 3:
        return "the pressure rises, but two readings do not show whether it is a leak or moisture; read it further"
    if _bends(fits) and fits.free.level_pa < fits.water_low_pa:
        return (
            f"the pressure levels off at {mbar(fits.free.level_pa)}, below {water}; refrigerant from the oil, or "
            "water in a part colder than the one measured"
        )
    return "the pressure rises, but a leak and moisture both fit, or both at once; let it stand longer"


def _bends(fits: _Fits) -> bool:
    """Whether the readings show a bend at all: a straight rise has no level, whatever number the fit comes to."""
    return fits.line_chi2 - fits.free.chi2 > FITS * fits.scale


def _cautions(vacuum: Vacuum, verdict: str) -> tuple[str, ...]:
    own = []
    if verdict == "leak":
        own.append(
            "Refrigerant coming out of the oil rises as steadily long before it levels off: let it stand longer."
        )
    lowest_pa = min(reading.pressure_pa for reading in vacuum.readings)
    if lowest_pa > DEEP_ENOUGH_PA and vacuum.gauge_kind == ABSOLUTE:
        own.append(
            f"The lowest reading is {mbar(lowest_pa)}; stationary systems are pulled below 2.70 mbar "
            "(Spain, RD 552/2019)."
        )
    if vacuum.gauge_kind == NEEDLE:
        own.append("A needle gauge cannot tell leak, moisture and outgassing apart.")
    return (*own, leakrate.WITHIN_THREE, *CAUTIONS)


def _workings(vacuum: Vacuum, fits: _Fits, hole: leakrate.SameHole, smallest: float) -> tuple[tuple[str, str], ...]:
    time_s = _time_to_see_s(vacuum, hole)
    by = f", {vacuum.atmosphere_by}" if vacuum.atmosphere_by else ""
    level = f", level {mbar(fits.free.level_pa)}" if _bends(fits) else ", and there is no bend towards one"
    rows = [
        ("Local atmosphere", f"{vacuum.atmosphere_pa:,.0f} Pa{by}"),
        ("Gauge, one reading", f"step / sqrt 12 = {figure(resolution(vacuum.pressure_step_pa))} Pa"),
        ("Rise", f"{fits.line.slope * 3600:.1f} Pa an hour, u {fits.line.u_slope * 3600:.1f}"),
        ("Vapour pressure of water", f"{mbar(fits.water_pa)} at {celsius(vacuum.temperature_k)}"),
        ("Chi-square, straight line (leak)", f"{fits.line_chi2:.1f}"),
        ("Chi-square, towards water (moisture)", f"{fits.water.chi2:.1f}"),
        ("Chi-square, towards any level", f"{fits.free.chi2:.1f}{level}"),
        ("Told apart from a difference of", f"{TELLS_APART * fits.scale:.1f}"),
        ("Smallest leak seen, 3.29 u", leakrate.yearly_words(hole.g_per_year(smallest), smallest, "air")),
    ]
    if time_s is None:
        return (*rows, ("As refrigerant", hole.why_not))
    return (*rows, (f"Time to see {yearly(vacuum.limit_g_per_year)}", span(time_s)))


def _picture(vacuum: Vacuum, fits: _Fits) -> VacuumPicture:
    first_s = vacuum.readings[0].time_s
    end_s = vacuum.readings[-1].time_s - first_s
    marks = tuple(end_s * i / 40 for i in range(41))

    def drawn(curve: Callable[[float], float]) -> tuple[tuple[float, float], ...]:
        return tuple((mark, curve(mark)) for mark in marks)

    return VacuumPicture(
        points=tuple((reading.time_s - first_s, reading.pressure_pa) for reading in vacuum.readings),
        water_pa=fits.water_pa,
        curves=(
            ("steady", drawn(fits.line.at)),
            ("to water", drawn(fits.water.at)),
            ("to any level", drawn(fits.free.at)),
        ),
    )
