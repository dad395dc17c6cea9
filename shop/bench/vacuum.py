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
7. Without the temperature of the coldest part, L of water may lie anywhere between water's pressures at 0 and 40 C: no
   curve within them is called moisture, and a pressure that stands within them is not called tight.
Levels and rise are said whatever the verdict; only grams a year need an inside volume, and are a range where it is one.
Both points are computed, as squares of points of the normal distribution: chi-square with one degree of freedom is
the square of a standard normal variable. e-Handbook: NIST/SEMATECH e-Handbook of Statistical Methods.

Errors: ``MeasurementError`` for readings that cannot be, with a sentence.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from inventory.gases import testgases
from inventory.measure.uncertainty import decision_threshold, detection_limit, give_or_take, resolution
from shop.bench import leakrate
from shop.bench.answers import (
    INSTRUCTIONS_FIRST,
    PA_PER_INHG,
    Answer,
    MeasurementError,
    celsius,
    celsius_read,
    figure,
    figures_between,
    mbar,
    mbar_read,
    need_above_zero,
    need_finite,
    span,
    yearly,
    yearly_between,
)
from shop.bench.insides import Inside
from shop.bench.vacuumfits import (
    ABSOLUTE,
    COLD_K,
    NEEDLE,
    WARM_K,
    Fits,
    Vacuum,
    fit,
)

TELLS_APART = NormalDist().inv_cdf(0.95) ** 2
FITS = NormalDist().inv_cdf(1 - 0.01 / 2) ** 2
DEEP_ENOUGH_PA = 270.0

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


@dataclass(frozen=True, kw_only=True)
class VacuumPicture:
    """What the drawing shows: readings and fitted curves as (seconds, Pa), and water's pressure where it is known."""

    points: tuple[tuple[float, float], ...]
    water_pa: float | None
    curves: tuple[tuple[str, tuple[tuple[float, float], ...]], ...]


@dataclass(frozen=True, kw_only=True)
class VacuumAnswer(Answer):
    """Verdicts: `tight`, `leak`, `moisture`, `outgassing`, `cannot-tell`. `words` is the state as pages print it.

    First and last level, `rise_pa` between them and `rise_pa_per_minute` are as read, whatever the verdict; the rise
    an hour is that of the line through all readings. `water_pa` is None where no temperature was taken. Fields with
    `low` and `high` stand for the two ends of `inside`, those without an end for the usual volume in between;
    `not_larger_g_per_year` and the time to see the limit are those of the high end, the safe one.

    The leak is of air inwards, None unless the rise is steady or none; grams a year are what the same hole would lose
    of the refrigerant at 25 C, None where there is no property data. `level_pa` is where a levelling curve ends, None
    where there is none. `smallest_visible` is 3.29 u; `not_larger` is what the words print, only for `tight`.
    """

    words: str
    first_pa: float
    last_pa: float
    rise_pa: float
    rise_pa_per_minute: float
    duration_s: float
    inside: Inside
    rise_pa_per_hour: float
    u_rise_pa_per_hour: float
    level_pa: float | None
    water_pa: float | None
    atmosphere_pa: float
    leak_pa_m3_s: float | None
    u_leak_pa_m3_s: float | None
    leak_g_per_year: float | None
    leak_low_g_per_year: float | None
    leak_high_g_per_year: float | None
    u_leak_g_per_year: float | None
    smallest_visible_g_per_year: float | None
    smallest_visible_low_g_per_year: float | None
    smallest_visible_high_g_per_year: float | None
    not_larger_g_per_year: float | None
    smallest_visible_pa_m3_s: float
    time_to_see_limit_s: float | None
    picture: VacuumPicture


def check_vacuum_pa(pressure_pa: float, atmosphere_pa: float, atmosphere_high_pa: float | None = None) -> None:
    """Raise ``MeasurementError`` with a sentence where this absolute pressure cannot be that of a vacuum here.

    `atmosphere_high_pa` is the most that the local atmosphere may be, where it is only known within a range.
    """
    need_finite(pressure=pressure_pa, atmospheric_pressure=atmosphere_pa, highest_atmosphere=atmosphere_high_pa)
    highest_pa = max(atmosphere_pa, atmosphere_high_pa or 0.0)
    if pressure_pa + highest_pa - atmosphere_pa < 0:
        below = (atmosphere_pa - pressure_pa) / PA_PER_INHG
        raise MeasurementError(
            f"{below:.2f} inHg below the atmosphere cannot be: the local atmosphere is {highest_pa:,.0f} Pa, "
            f"{highest_pa / PA_PER_INHG:.2f} inHg, and no vacuum is deeper."
        )
    if pressure_pa > highest_pa:
        raise MeasurementError(
            f"{mbar(pressure_pa)} is above the local atmosphere of {mbar(highest_pa)}: is the unit right?"
        )


def judge(vacuum: Vacuum) -> VacuumAnswer:
    """Return what a vacuum hold shows, by the criterion at the head of this module, with the leak it could have seen.

    Raises ``MeasurementError`` for fewer than two readings, times that do not rise, pressures that no vacuum has
    here, a step or volume not above zero; ``OutsideModel`` for a temperature beyond water's model.
    """
    _check(vacuum)
    fits = fit(vacuum)
    verdict = _verdict(vacuum, fits)
    steady = verdict in ("tight", "leak")
    hole, space = _same_hole(vacuum), vacuum.space
    leak = fits.line.slope * space.mid_m3 if steady else None
    u_leak = fits.line.u_slope * space.mid_m3 if steady else None
    smallest, larger = _smallest_pa_s(vacuum, fits, steady=steady), _not_larger_pa_s(fits)
    first_pa, last_pa = vacuum.readings[0].pressure_pa, vacuum.readings[-1].pressure_pa
    return VacuumAnswer(
        verdict=verdict,
        words=_words(verdict, _yearly(vacuum, hole, larger)),
        sentence=_sentence(verdict, vacuum, fits, hole),
        workings=_workings(vacuum, fits, hole, smallest),
        sources=(*SOURCES, leakrate.WILKE) if hole.note else SOURCES,
        cautions=_cautions(vacuum, verdict),
        first_pa=first_pa,
        last_pa=last_pa,
        rise_pa=last_pa - first_pa,
        rise_pa_per_minute=(last_pa - first_pa) / vacuum.duration_s * 60,
        duration_s=vacuum.duration_s,
        inside=space,
        rise_pa_per_hour=fits.line.slope * 3600,
        u_rise_pa_per_hour=fits.line.u_slope * 3600,
        level_pa=_level_pa(verdict, fits),
        water_pa=None if vacuum.temperature_k is None else fits.water_pa,
        atmosphere_pa=vacuum.atmosphere_pa,
        leak_pa_m3_s=leak,
        u_leak_pa_m3_s=u_leak,
        leak_g_per_year=None if leak is None else hole.g_per_year(leak),
        leak_low_g_per_year=hole.g_per_year(fits.line.slope * space.low_m3) if steady else None,
        leak_high_g_per_year=hole.g_per_year(fits.line.slope * space.high_m3) if steady else None,
        u_leak_g_per_year=None if u_leak is None else hole.g_per_year(u_leak),
        smallest_visible_g_per_year=hole.g_per_year(smallest * space.mid_m3),
        smallest_visible_high_g_per_year=hole.g_per_year(smallest * space.high_m3),
        smallest_visible_low_g_per_year=hole.g_per_year(smallest * space.low_m3),
        not_larger_g_per_year=hole.g_per_year(larger * space.high_m3) if verdict == "tight" else None,
        smallest_visible_pa_m3_s=smallest * space.mid_m3,
        time_to_see_limit_s=_time_to_see_s(vacuum, hole),
        picture=_picture(vacuum, fits),
    )


def _check(vacuum: Vacuum) -> None:
    if len(vacuum.readings) < 2:
        raise MeasurementError("A vacuum hold needs at least two readings.")
    need_above_zero(
        atmospheric_pressure=vacuum.atmosphere_pa,
        absolute_temperature=vacuum.temperature_k,
        volume=vacuum.space.low_m3,
        step_of_the_gauge=vacuum.pressure_step_pa,
        step_of_the_thermometer=vacuum.temperature_step_k,
        limit=vacuum.limit_g_per_year,
    )
    for reading in vacuum.readings:
        need_finite(time=reading.time_s)
        check_vacuum_pa(reading.pressure_pa, vacuum.atmosphere_pa, vacuum.atmosphere_high_pa)
    if any(b.time_s <= a.time_s for a, b in zip(vacuum.readings, vacuum.readings[1:], strict=False)):
        raise MeasurementError("Each reading must be later than the one before it.")
    if min(reading.pressure_pa for reading in vacuum.readings) >= vacuum.highest_air_pa:
        raise MeasurementError("This is the pressure of the atmosphere: there is no vacuum to hold.")
    if vacuum.gauge_kind not in (ABSOLUTE, NEEDLE):
        raise MeasurementError("The gauge is absolute or needle.")


def _verdict(vacuum: Vacuum, fits: Fits) -> str:
    if vacuum.gauge_kind == NEEDLE:
        return "cannot-tell"
    if _nothing_shown(vacuum, fits):
        return _without_water(vacuum, "moisture") if _stands_at_water(vacuum, fits) else "tight"
    if fits.line.slope < 0 or len(vacuum.readings) < 3:
        return "cannot-tell"
    return _without_water(vacuum, _curve_verdict(fits))


def _without_water(vacuum: Vacuum, verdict: str) -> str:
    """The verdict, but for water, which nobody can tell without a temperature."""
    return "cannot-tell" if verdict == "moisture" and vacuum.temperature_k is None else verdict


def _nothing_shown(vacuum: Vacuum, fits: Fits) -> bool:
    """Whether no rise or fall is beyond what the gauge can tell, with room for rounding in the last digit."""
    pressures = [reading.pressure_pa for reading in vacuum.readings]
    within_one_step = max(pressures) - min(pressures) <= vacuum.pressure_step_pa * (1 + 1e-6)
    return within_one_step or abs(fits.line.slope) <= decision_threshold(fits.line.u_slope)


def _stands_at_water(vacuum: Vacuum, fits: Fits) -> bool:
    margin_pa = give_or_take(resolution(vacuum.pressure_step_pa))
    # A gauge coarser than water's pressure itself says nothing about water.
    if vacuum.temperature_k is not None and margin_pa > fits.water_pa / 4:
        return False
    return fits.water_low_pa - margin_pa <= vacuum.mean_pa <= fits.water_high_pa + margin_pa


def _curve_verdict(fits: Fits) -> str:
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
    return leakrate.same_hole(
        vacuum.refrigerant,
        gas_viscosity_pa_s=leakrate.air_viscosity_pa_s(leakrate.CONVERSION_K),
        upstream_pa=vacuum.highest_air_pa,
        downstream_pa=vacuum.mean_pa,
        atmosphere_pa=vacuum.atmosphere_pa,
    )


def _smallest_pa_s(vacuum: Vacuum, fits: Fits, *, steady: bool) -> float:
    """The smallest rise seen 19 times in 20; where it bends, by the gauge at both ends alone."""
    by_ends = sqrt(2) * resolution(vacuum.pressure_step_pa) / vacuum.duration_s
    return detection_limit(fits.line.u_slope if steady else by_ends)


def _not_larger_pa_s(fits: Fits) -> float:
    """The rise that a hold called tight still leaves possible, 19 times in 20."""
    u_slope = fits.line.u_slope
    return max(detection_limit(u_slope), fits.line.slope + decision_threshold(u_slope))


def _yearly(vacuum: Vacuum, hole: leakrate.SameHole, rise_pa_s: float, refrigerant: str = "") -> str:
    """A rise as the leak that makes it, over the inside volume."""
    low, high = rise_pa_s * vacuum.space.low_m3, rise_pa_s * vacuum.space.high_m3
    return leakrate.yearly_words(hole, low, high, "air", refrigerant)


def _time_to_see_s(vacuum: Vacuum, hole: leakrate.SameHole) -> float | None:
    u_pa = sqrt(2) * resolution(vacuum.pressure_step_pa)
    smallest_in_a_second = hole.g_per_year(detection_limit(u_pa) * vacuum.space.high_m3)
    return None if smallest_in_a_second is None else smallest_in_a_second / vacuum.limit_g_per_year


def _level_pa(verdict: str, fits: Fits) -> float | None:
    if verdict == "moisture":
        return fits.water.level_pa
    return fits.free.level_pa if verdict == "outgassing" else None


def _words(verdict: str, larger: str) -> str:
    words = {
        "tight": f"no leak larger than {larger}",
        "leak": "rising steadily",
        "moisture": "levelling off (moisture)",
        "outgassing": "levelling off (refrigerant from oil)",
    }
    return words.get(verdict, "cannot tell")


def _sentence(verdict: str, vacuum: Vacuum, fits: Fits, hole: leakrate.SameHole) -> str:
    """The verdict with first and last level and the rise, and what was taken where it is not known."""
    said = _verdict_sentence(verdict, vacuum, fits, hole)
    return ". ".join((said, *_taken_words(verdict, vacuum))) + "."


def _verdict_sentence(verdict: str, vacuum: Vacuum, fits: Fits, hole: leakrate.SameHole) -> str:
    rose, water = _rose_words(vacuum), _water_words(vacuum, fits)
    if verdict == "tight":
        limit = _yearly(vacuum, hole, _not_larger_pa_s(fits), vacuum.refrigerant) + _estimate_words(hole)
        return f"No leak larger than {limit}, and no moisture: {rose}, no rise beyond what the gauge can tell"
    if verdict == "leak":
        return f"Leak: the pressure rises steadily, {rose}; {_leak_words(vacuum, fits, hole)}"
    if verdict == "moisture":
        return f"Moisture: the pressure goes {rose} and levels off at {water}; pull again"
    if verdict == "outgassing":
        return (
            f"Not water: the pressure goes {rose} and levels off at {mbar(fits.free.level_pa)}, above {water}; "
            "refrigerant is coming out of the oil, or a leak shut"
        )
    return f"Cannot tell: {_why_not(vacuum, fits, water)}. It went {rose}"


def _rose_words(vacuum: Vacuum) -> str:
    first_pa, last_pa = vacuum.readings[0].pressure_pa, vacuum.readings[-1].pressure_pa
    by_minute = (last_pa - first_pa) / vacuum.duration_s * 60
    per_minute = f"{'+' if by_minute > 0 else ''}{mbar(by_minute)} a minute" if by_minute else ""
    words = f"from {mbar_read(first_pa)} to {mbar_read(last_pa)} in {span(vacuum.duration_s)}"
    return f"{words} ({per_minute})" if per_minute else words


def _water_words(vacuum: Vacuum, fits: Fits) -> str:
    if vacuum.temperature_k is not None:
        return f"water's {mbar(fits.water_pa)} at {celsius_read(vacuum.temperature_k)}"
    return f"water's {mbar(fits.water_low_pa)} to {mbar(fits.water_high_pa)} at {celsius(COLD_K)} to {celsius(WARM_K)}"


def _taken_words(verdict: str, vacuum: Vacuum) -> tuple[str, ...]:
    """What holds in place of what nobody entered, each as a sentence without its stop."""
    found = []
    if vacuum.temperature_k is None and vacuum.gauge_kind == ABSOLUTE and verdict != "tight":
        found.append("The temperature of the coldest part was not taken, so water cannot be told apart by its pressure")
    if vacuum.gauge_kind == NEEDLE and vacuum.air_good_to_pa > 0:
        found.append(
            f"The gauge reads against an air that is only known to within {mbar(vacuum.air_good_to_pa)}, and so are "
            "these levels; the rise is not touched by it"
        )
    if verdict in ("tight", "leak") and not vacuum.space.is_one:
        found.append(f"Inside volume taken: {vacuum.space.words}")
    return tuple(found)


def _leak_words(vacuum: Vacuum, fits: Fits, hole: leakrate.SameHole) -> str:
    low, high = fits.line.slope * vacuum.space.low_m3, fits.line.slope * vacuum.space.high_m3
    low_g, high_g = hole.g_per_year(low), hole.g_per_year(high)
    words = f"{figures_between(low, high)} Pa m3/s of air come in"
    if low_g is None or high_g is None:
        return words
    rate = yearly_between(low_g, high_g)
    return f"{words}, the same hole would lose {rate} of {vacuum.refrigerant}{_estimate_words(hole)}"


def _estimate_words(hole: leakrate.SameHole) -> str:
    return f" ({hole.note}, within a factor of about three)" if hole.note else ""


def _why_not(vacuum: Vacuum, fits: Fits, water: str) -> str:
    if vacuum.gauge_kind == NEEDLE:
        step = f"{vacuum.pressure_step_pa / PA_PER_INHG:.2g} inHg"
        return f"a needle gauge with steps of {step} is too coarse; use an absolute gauge"
    if vacuum.temperature_k is None and _nothing_shown(vacuum, fits):
        return (
            f"no rise beyond what the gauge can tell, but it stands where water would {_at_water_words(vacuum.mean_pa)}"
        )
    if fits.line.slope < 0:
        return "the pressure falls; the pump may still be connected, or the gauge is settling"
    if len(vacuum.readings) < 3:
        return "the pressure rises, but two readings do not show whether it is a leak or moisture; read it further"
    if vacuum.temperature_k is None and _bends(fits) and fits.free.level_pa <= fits.water_high_pa:
        level_pa = fits.free.level_pa
        return f"the pressure levels off at {mbar(level_pa)}, where water would {_at_water_words(level_pa)}"
    if _bends(fits) and fits.free.level_pa < fits.water_low_pa:
        return (
            f"the pressure levels off at {mbar(fits.free.level_pa)}, below {water}; refrigerant from the oil, or "
            "water in a part colder than the one measured"
        )
    return "the pressure rises, but a leak and moisture both fit, or both at once; let it stand longer"


def _at_water_words(pressure_pa: float) -> str:
    """At what temperature water stands at this pressure, by bisection; ends of the range are said as such."""
    low_k, high_k = COLD_K, WARM_K
    if pressure_pa <= testgases.water_vapour_pressure_pa(low_k):
        return f"at {celsius(low_k)} or below; measure the coldest part"
    while high_k - low_k > 0.05:
        middle_k = (low_k + high_k) / 2
        low_k, high_k = (
            (middle_k, high_k) if testgases.water_vapour_pressure_pa(middle_k) < pressure_pa else (low_k, middle_k)
        )
    return f"at {celsius(low_k)}; measure the coldest part"


def _bends(fits: Fits) -> bool:
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
            f"The lowest reading is {mbar_read(lowest_pa)}; stationary systems are pulled below 2.70 mbar "
            "(Spain, RD 552/2019)."
        )
    if vacuum.gauge_kind == NEEDLE:
        own.append("A needle gauge cannot tell leak, moisture and outgassing apart.")
    return (*own, leakrate.WITHIN_THREE, *CAUTIONS)


def _workings(vacuum: Vacuum, fits: Fits, hole: leakrate.SameHole, smallest: float) -> tuple[tuple[str, str], ...]:
    time_s = _time_to_see_s(vacuum, hole)
    by = f", {vacuum.atmosphere_by}" if vacuum.atmosphere_by else ""
    level = f", level {mbar(fits.free.level_pa)}" if _bends(fits) else ", and there is no bend towards one"
    rows = [
        ("Local atmosphere", f"{vacuum.atmosphere_pa:,.0f} Pa{by}"),
        ("Gauge, one reading", f"step / sqrt 12 = {figure(resolution(vacuum.pressure_step_pa))} Pa"),
        ("Rise", f"{fits.line.slope * 3600:.1f} Pa an hour, u {fits.line.u_slope * 3600:.1f}"),
        ("Vapour pressure of water", _water_words(vacuum, fits).removeprefix("water's ")),
        ("Chi-square, straight line (leak)", f"{fits.line_chi2:.1f}"),
        ("Chi-square, towards water (moisture)", f"{fits.water.chi2:.1f}"),
        ("Chi-square, towards any level", f"{fits.free.chi2:.1f}{level}"),
        ("Told apart from a difference of", f"{TELLS_APART * fits.scale:.1f}"),
        ("Inside volume", vacuum.space.words),
        ("Smallest leak seen, 3.29 u", _yearly(vacuum, hole, smallest)),
    ]
    if time_s is None:
        return (*rows, ("As refrigerant", hole.why_not))
    return (*rows, (f"Time to see {yearly(vacuum.limit_g_per_year)}", span(time_s)))


def _picture(vacuum: Vacuum, fits: Fits) -> VacuumPicture:
    first_s = vacuum.readings[0].time_s
    end_s = vacuum.readings[-1].time_s - first_s
    marks = tuple(end_s * i / 40 for i in range(41))

    def drawn(curve: Callable[[float], float]) -> tuple[tuple[float, float], ...]:
        return tuple((mark, curve(mark)) for mark in marks)

    return VacuumPicture(
        points=tuple((reading.time_s - first_s, reading.pressure_pa) for reading in vacuum.readings),
        water_pa=None if vacuum.temperature_k is None else fits.water_pa,
        curves=(
            ("steady", drawn(fits.line.at)),
            ("to water", drawn(fits.water.at)),
            ("to any level", drawn(fits.free.at)),
        ),
    )
