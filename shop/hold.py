"""The pressure hold: what a standing pressure of nitrogen can tell about a leak, and what it cannot.

Vocabulary: *compensated* pressure is what a reading would be at the temperature of the first one; *change* is the
trend of it over the hold (below zero: falling); *blind* is what these readings could not have seen. A *step* is the
resolution of a display; a thermometer good to +-0.5 K counts as a step of 1 K.

The gas is dry nitrogen or nitrogen ready-mixed with 5 % of hydrogen by volume, for a hydrogen sensor. Warmed by 10 K at
18 bar the two differ by under 200 Pa, far below any gauge, so both are compensated alike. The mixture's viscosity is an
estimate by Wilke's rule, 0.1 % lower, which moves the grams a year as little; said where it is used.

The usual 15 to 20 minutes at 250 psi sees leaks of kilograms a year only. This module says so each time and never
calls a system tight.

Errors: ``MeasurementError`` for readings that cannot be, with a sentence. What is merely hard to believe comes back
in `questions`.
"""

from dataclasses import dataclass
from math import hypot, sqrt

from inventory import fluids
from inventory.uncertainty import decision_threshold, detection_limit, give_or_take, resolution
from shop import leakrate, trend
from shop.answers import (
    INSTRUCTIONS_FIRST,
    PA_PER_PSI,
    ZERO_CELSIUS_K,
    Answer,
    MeasurementError,
    bar,
    celsius,
    figure,
    need_above_zero,
    need_finite,
    need_not_below_zero,
    span,
    yearly,
)

STANDARD_ATMOSPHERE_PA = 101_325.0
LIMIT_G_PER_YEAR = leakrate.YARDSTICK_G_PER_YEAR[1]
SETTLING_S = 900.0
MOST_BELIEVABLE_GAUGE_PA = {"R-744": 16_000_000.0}
MOST_BELIEVABLE_OTHER_PA = 4_500_000.0
COMPENSATIONS = ("ideal", "real")
NITROGEN, NITROGEN_HYDROGEN = "dry nitrogen", "nitrogen with hydrogen"
GASES = (NITROGEN, NITROGEN_HYDROGEN)
HYDROGEN_FRACTION = 0.05

SOURCES = (
    "Detection limit 3.29 u and decision 1.645 u: ISO 11843-1",
    "Uncertainty of the trend: JCGM 100:2008, clause 5 and H.3",
    "Leak of refrigerant through the same hole: Poiseuille's law for an ideal gas; viscosities by CoolProp",
    leakrate.YARDSTICK_SOURCE,
)
CAUTIONS = (
    "Dry nitrogen, or nitrogen ready-mixed with 5 % of hydrogen, through a regulator and a relief valve; never oxygen, "
    "never air.",
    "Goggles on; stand clear of the hoses; relieve the pressure before anything is opened.",
    "The first 10 to 15 minutes do not count: nitrogen warms, hoses creep, seals relax (from experience).",
    INSTRUCTIONS_FIRST,
)


@dataclass(frozen=True)
class HoldReading:
    """One reading: seconds, absolute pascals, kelvin."""

    time_s: float
    pressure_pa: float
    temperature_k: float


@dataclass(frozen=True, kw_only=True)
class Hold:
    """A pressure hold as it was read; at least two readings at rising times.

    `pressure_step_pa` and `temperature_step_k` are the steps of gauge and thermometer. `waited_s` is the time between
    reaching the pressure and the first reading, None if nobody said. `allowed_pa` is what the plate of the weakest
    side allows (absolute). `compensation` is "ideal" (p/T) or "real" (nitrogen's equation of state, also for
    nitrogen with hydrogen). `gas` is one of `GASES`; the mixture is taken to hold 5 % of hydrogen by volume (common
    practice, no source). `atmosphere_by` says in words where the atmosphere came from.
    """

    readings: tuple[HoldReading, ...]
    volume_m3: float
    refrigerant: str
    pressure_step_pa: float
    temperature_step_k: float
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA
    u_volume_m3: float = 0.0
    waited_s: float | None = None
    allowed_pa: float | None = None
    limit_g_per_year: float = LIMIT_G_PER_YEAR
    compensation: str = "ideal"
    gas: str = NITROGEN
    atmosphere_by: str = ""


@dataclass(frozen=True, kw_only=True)
class HoldPicture:
    """What the drawing shows: seconds after the first reading and absolute pascals.

    `points` carry (time, compensated pressure, standard uncertainty); `trend`, `blind` and `limit` are each the
    (time, pressure) of two ends: the fitted line, the smallest leak that would have been seen, the limit's leak
    (None where there is no conversion).
    """

    points: tuple[tuple[float, float, float], ...]
    trend: tuple[tuple[float, float], tuple[float, float]]
    blind: tuple[tuple[float, float], tuple[float, float]]
    limit: tuple[tuple[float, float], tuple[float, float]] | None


@dataclass(frozen=True, kw_only=True)
class HoldAnswer(Answer):
    """Verdicts: `no-leak-larger`, `falling`, `cannot-tell`. `words` is the state as pages print it.

    Grams a year are of the refrigerant to be charged, at 25 C, None where there is no property data (`why_not`).
    Leaks are positive when pressure falls and are not clipped: within the uncertainty they may come out below zero.
    """

    words: str
    compensated_change_pa: float
    u_change_pa: float
    decision_pa: float
    smallest_visible_pa: float
    leak_pa_m3_s: float
    u_leak_pa_m3_s: float
    leak_mbar_l_s: float
    smallest_visible_pa_m3_s: float
    leak_g_per_year: float | None
    u_leak_g_per_year: float | None
    smallest_visible_g_per_year: float | None
    smallest_at_perfect_temperature_g_per_year: float | None
    time_to_see_limit_s: float | None
    why_not: str
    above_allowed: bool | None
    questions: tuple[str, ...]
    picture: HoldPicture


def judge(hold: Hold) -> HoldAnswer:
    """Return what a pressure hold shows: change, leak, the smallest leak it could have seen, each with its limit.

    q = -V d(p T0 / T) / dt, all absolute. Decision at 1.645 u, smallest leak seen 19 times in 20 at 3.29 u.
    Raises ``MeasurementError`` for fewer than two readings, times that do not rise, a pressure, temperature, volume
    or step not above zero; ``OutsideModel`` for a temperature outside nitrogen's model when "real" is asked.
    """
    _check(hold)
    compensated = compensated_pa(hold.readings, hold.compensation)
    each_u = (_u_of_one_pa(hold),) * len(hold.readings)
    line = trend.fit([reading.time_s for reading in hold.readings], compensated, each_u)
    numbers = _reckon(hold, compensated, line)
    verdict = _verdict(numbers)
    return HoldAnswer(
        verdict=verdict,
        words=_words(verdict, hold, numbers),
        sentence=_sentence(verdict, hold, numbers),
        workings=_workings(hold, numbers, line),
        sources=_sources(hold, numbers),
        cautions=_cautions(hold, line, numbers),
        compensated_change_pa=numbers.change_pa,
        u_change_pa=numbers.u_change_pa,
        decision_pa=decision_threshold(numbers.u_change_pa),
        smallest_visible_pa=detection_limit(numbers.u_change_pa),
        leak_pa_m3_s=numbers.leak,
        u_leak_pa_m3_s=numbers.u_leak,
        leak_mbar_l_s=numbers.leak * leakrate.MBAR_L_S_PER_PA_M3_S,
        smallest_visible_pa_m3_s=numbers.smallest,
        leak_g_per_year=numbers.hole.g_per_year(numbers.leak),
        u_leak_g_per_year=numbers.hole.g_per_year(numbers.u_leak),
        smallest_visible_g_per_year=numbers.hole.g_per_year(numbers.smallest),
        smallest_at_perfect_temperature_g_per_year=numbers.hole.g_per_year(numbers.smallest_by_gauge),
        time_to_see_limit_s=numbers.time_to_see_s,
        why_not=numbers.hole.why_not,
        above_allowed=_above_allowed(hold),
        questions=questions(hold),
        picture=_picture(hold, compensated, each_u, line, numbers),
    )


def compensated_pa(readings: tuple[HoldReading, ...], compensation: str = "ideal") -> tuple[float, ...]:
    """Return each reading as the pressure (Pa absolute) it would show at the first reading's temperature.

    "ideal": p T0 / T. "real": the pressure at T0 of nitrogen at the density it had, from CoolProp.
    """
    first_k = readings[0].temperature_k
    if compensation == "ideal":
        return tuple(reading.pressure_pa * first_k / reading.temperature_k for reading in readings)
    return tuple(_at_same_density_pa(reading, first_k) for reading in readings)


def _at_same_density_pa(reading: HoldReading, temperature_k: float) -> float:
    density = fluids.nitrogen_density_kg_m3(reading.pressure_pa, reading.temperature_k)
    pressure_pa = reading.pressure_pa * temperature_k / reading.temperature_k
    # Density is nearly proportional to pressure, so each turn leaves well under a tenth of the error.
    for _turn in range(12):
        pressure_pa *= density / fluids.nitrogen_density_kg_m3(pressure_pa, temperature_k)
    return pressure_pa


def questions(hold: Hold) -> tuple[str, ...]:
    """Return what is hard to believe, each as a question that names the reading in the other unit."""
    asked = []
    highest_pa = max(reading.pressure_pa for reading in hold.readings) - hold.atmosphere_pa
    most_pa = MOST_BELIEVABLE_GAUGE_PA.get(hold.refrigerant, MOST_BELIEVABLE_OTHER_PA)
    if highest_pa > most_pa:
        number = highest_pa / 1e5
        asked.append(
            f"{figure(number, 3)} bar is more than any such system is tested at. "
            f"Did you mean {figure(number, 3)} psi ({figure(number * PA_PER_PSI / 1e5, 3)} bar)?"
        )
    elif highest_pa < 1e5:
        number = highest_pa / PA_PER_PSI
        asked.append(
            f"{figure(highest_pa / 1e5)} bar gauge is little for a hold. "
            f"Did you mean {figure(number, 3)} bar and not psi, or is this absolute pressure?"
        )
    for reading in hold.readings:
        if not 233.15 <= reading.temperature_k <= 353.15:
            asked.append(f"{celsius(reading.temperature_k)} is no temperature of a workshop. Is the unit right?")
            break
    return tuple(asked)


@dataclass(frozen=True)
class _Numbers:
    duration_s: float
    change_pa: float
    u_change_pa: float
    leak: float
    u_leak: float
    smallest: float
    smallest_by_gauge: float
    hole: leakrate.SameHole
    time_to_see_s: float | None


def _check(hold: Hold) -> None:
    if len(hold.readings) < 2:
        raise MeasurementError("A hold needs at least two readings.")
    for reading in hold.readings:
        need_finite(time=reading.time_s)
        need_above_zero(absolute_pressure=reading.pressure_pa, absolute_temperature=reading.temperature_k)
    if any(b.time_s <= a.time_s for a, b in zip(hold.readings, hold.readings[1:], strict=False)):
        raise MeasurementError("Each reading must be later than the one before it.")
    need_above_zero(
        volume=hold.volume_m3,
        step_of_the_gauge=hold.pressure_step_pa,
        step_of_the_thermometer=hold.temperature_step_k,
        atmospheric_pressure=hold.atmosphere_pa,
        limit=hold.limit_g_per_year,
        allowed_pressure=hold.allowed_pa,
    )
    need_not_below_zero(uncertainty_of_the_volume=hold.u_volume_m3, waiting_time=hold.waited_s)
    if hold.compensation not in COMPENSATIONS:
        raise MeasurementError(f"The compensation is one of: {', '.join(COMPENSATIONS)}.")
    if hold.gas not in GASES:
        raise MeasurementError(f"The gas is one of: {', '.join(GASES)}.")
    if _mean_pa(hold) <= hold.atmosphere_pa:
        raise MeasurementError("The pressure is not above the atmosphere, so nothing could leak out.")


def _mean_pa(hold: Hold) -> float:
    return sum(reading.pressure_pa for reading in hold.readings) / len(hold.readings)


def _u_of_one_pa(hold: Hold) -> float:
    """Gauge and thermometer together: u2 = u_p2 + (p/T u_T)2 at the first reading.

    One value for all readings: the same two instruments read them, and T0/T differs from 1 by a per cent or two.
    """
    first = hold.readings[0]
    by_thermometer = first.pressure_pa / first.temperature_k * resolution(hold.temperature_step_k)
    return hypot(resolution(hold.pressure_step_pa), by_thermometer)


def _reckon(hold: Hold, compensated: tuple[float, ...], line: trend.Trend) -> _Numbers:
    first, last = hold.readings[0], hold.readings[-1]
    duration_s = last.time_s - first.time_s
    mean_pa = sum(compensated) / len(compensated)
    hole = leakrate.same_hole(
        hold.refrigerant,
        gas_viscosity_pa_s=_gas_viscosity_pa_s(hold.gas, mean_pa),
        upstream_pa=mean_pa,
        downstream_pa=hold.atmosphere_pa,
        atmosphere_pa=hold.atmosphere_pa,
    )
    smallest = detection_limit(line.u_slope) * hold.volume_m3
    by_gauge = detection_limit(sqrt(2) * resolution(hold.pressure_step_pa)) * hold.volume_m3 / duration_s
    return _Numbers(
        duration_s=duration_s,
        change_pa=line.slope * duration_s,
        u_change_pa=line.u_slope * duration_s,
        leak=0.0 - line.slope * hold.volume_m3,  # from zero: no fall is 0, not -0
        u_leak=hypot(line.u_slope * hold.volume_m3, line.slope * hold.u_volume_m3),
        smallest=smallest,
        smallest_by_gauge=by_gauge,
        hole=hole,
        time_to_see_s=_time_to_see_s(hold, hole),
    )


def _gas_viscosity_pa_s(gas: str, pressure_pa: float) -> float:
    if gas == NITROGEN:
        return fluids.nitrogen_viscosity_pa_s(leakrate.CONVERSION_K, pressure_pa)
    return fluids.nitrogen_hydrogen_viscosity_pa_s(leakrate.CONVERSION_K, pressure_pa, HYDROGEN_FRACTION)


def _gas_words(hold: Hold) -> str:
    return "nitrogen" if hold.gas == NITROGEN else hold.gas


def _sources(hold: Hold, numbers: _Numbers) -> tuple[str, ...]:
    estimated = numbers.hole.note or hold.gas == NITROGEN_HYDROGEN
    return (*SOURCES, leakrate.WILKE) if estimated else SOURCES


def _time_to_see_s(hold: Hold, hole: leakrate.SameHole) -> float | None:
    """Seconds after which first and last reading alone would see the limit, 19 times in 20."""
    u_pa = sqrt(2) * _u_of_one_pa(hold)
    smallest_in_a_second = hole.g_per_year(detection_limit(u_pa) * hold.volume_m3)
    return None if smallest_in_a_second is None else smallest_in_a_second / hold.limit_g_per_year


def _verdict(numbers: _Numbers) -> str:
    if abs(numbers.change_pa) <= decision_threshold(numbers.u_change_pa):
        return "no-leak-larger"
    return "falling" if numbers.change_pa < 0 else "cannot-tell"


def _words(verdict: str, hold: Hold, numbers: _Numbers) -> str:
    if verdict == "no-leak-larger":
        return f"no leak larger than {_limit_words(hold, numbers)}"
    return verdict.replace("-", " ")


def _limit_words(hold: Hold, numbers: _Numbers) -> str:
    in_grams = numbers.hole.g_per_year(numbers.smallest)
    return f"{figure(numbers.smallest)} Pa m3/s of {_gas_words(hold)}" if in_grams is None else yearly(in_grams)


def _limit_of_what(hold: Hold, numbers: _Numbers) -> str:
    """The limit as the sentence says it: grams a year mean nothing without their refrigerant."""
    words = _limit_words(hold, numbers)
    if numbers.hole.g_per_year_per_pa_m3_s is None:
        return words
    return f"{words} of {hold.refrigerant}{_estimate_words(numbers)}"


def _estimate_words(numbers: _Numbers) -> str:
    return f" ({numbers.hole.note}, within a factor of about three)" if numbers.hole.note else ""


def _sentence(verdict: str, hold: Hold, numbers: _Numbers) -> str:
    took = span(numbers.duration_s)
    change = f"{numbers.change_pa / 1e5:+.3f} bar, give or take {give_or_take(numbers.u_change_pa) / 1e5:.3f}"
    if verdict == "cannot-tell":
        return f"Cannot tell: the compensated pressure rose by {change} in {took}, which no leak does; read it again."
    if verdict == "falling":
        return f"Falling: {change} in {took}, compensated for temperature; {_leak_words(hold, numbers)}."
    return (
        f"No leak larger than {_limit_of_what(hold, numbers)}: the pressure held in {took} within what these readings "
        f"can tell ({change}){_time_words(hold, numbers)}."
    )


def _leak_words(hold: Hold, numbers: _Numbers) -> str:
    in_grams = numbers.hole.g_per_year(numbers.leak)
    if in_grams is None:
        return f"a leak of {figure(numbers.leak)} Pa m3/s of {_gas_words(hold)}"
    u_grams = numbers.hole.g_per_year(numbers.u_leak) or 0.0
    about = f"as {hold.refrigerant} about {yearly(in_grams)}, give or take {yearly(give_or_take(u_grams))}"
    return f"{about}{_estimate_words(numbers)}"


def _time_words(hold: Hold, numbers: _Numbers) -> str:
    if numbers.time_to_see_s is None or numbers.time_to_see_s <= numbers.duration_s:
        return ""
    return f"; to see {yearly(hold.limit_g_per_year)} it would have to stand {span(numbers.time_to_see_s)}"


def _real_gas_moves_pa(hold: Hold) -> float:
    """How far real nitrogen would move the change (Pa) from the first to the last reading; 0 where not to be known."""
    if hold.compensation != "ideal":
        return 0.0
    try:
        return compensated_pa(hold.readings, "real")[-1] - compensated_pa(hold.readings)[-1]
    except fluids.OutsideModel:
        return 0.0


def _cautions(hold: Hold, line: trend.Trend, numbers: _Numbers) -> tuple[str, ...]:
    """The standing cautions, and before them what these readings themselves give reason to say."""
    own = []
    if _above_allowed(hold) and hold.allowed_pa is not None:
        highest_pa = max(reading.pressure_pa for reading in hold.readings)
        over = f"{bar(highest_pa)} absolute is more than the {bar(hold.allowed_pa)} that the weakest side allows."
        own.append(f"{over} Relieve it through the regulator.")
    if hold.allowed_pa is None:
        own.append("The allowed pressure of the weakest side was not entered; old evaporators may stand less.")
    if hold.waited_s is not None and hold.waited_s < SETTLING_S:
        own.append(f"The first reading came {span(hold.waited_s)} after filling: it may still be settling.")
    if line.scatter > 2:
        own.append("The readings scatter more than gauge and thermometer explain: the temperature may not be settled.")
    moved_pa = _real_gas_moves_pa(hold)
    if abs(moved_pa) > numbers.u_change_pa / 2:
        own.append(
            f"Real nitrogen follows temperature a little more than the ideal law: it would move the change by "
            f"{moved_pa:+,.0f} Pa, which counts with such fine readings. Compensate as a real gas."
        )
    own.append("A hold is a coarse check: bubbles and an electronic search find the small leaks.")
    return (*own, leakrate.WITHIN_THREE, *CAUTIONS)


def _above_allowed(hold: Hold) -> bool | None:
    if hold.allowed_pa is None:
        return None
    return max(reading.pressure_pa for reading in hold.readings) > hold.allowed_pa


def _workings(hold: Hold, numbers: _Numbers, line: trend.Trend) -> tuple[tuple[str, str], ...]:
    first_c = hold.readings[0].temperature_k - ZERO_CELSIUS_K
    psi = numbers.change_pa / PA_PER_PSI
    rows = [
        ("Compensated pressure", f"p T0 / T ({hold.compensation} gas), T0 = {first_c:.1f} C, absolute"),
        ("Gauge, one reading", f"step / sqrt 12 = {resolution(hold.pressure_step_pa):,.0f} Pa"),
        ("Thermometer, one reading", f"step / sqrt 12 = {resolution(hold.temperature_step_k):.2f} K"),
        ("Change over the hold", f"{numbers.change_pa:+,.0f} Pa ({psi:+.2f} psi)"),
        ("Standard uncertainty u of the change", f"{numbers.u_change_pa:,.0f} Pa"),
        ("Called falling from 1.645 u", f"{decision_threshold(numbers.u_change_pa):,.0f} Pa"),
        ("Would be seen 19 times in 20 from 3.29 u", f"{detection_limit(numbers.u_change_pa):,.0f} Pa"),
        ("Leak q = -V dp/dt", f"{figure(numbers.leak)} Pa m3/s, u {figure(numbers.u_leak)}"),
        ("Smallest leak seen", f"{figure(numbers.smallest, 3)} Pa m3/s of {_gas_words(hold)}"),
    ]
    if hold.atmosphere_by:
        rows.insert(0, ("Atmosphere", f"{hold.atmosphere_pa:,.0f} Pa, {hold.atmosphere_by}"))
    if hold.gas == NITROGEN_HYDROGEN:
        rows.append(("Gas", f"nitrogen with {HYDROGEN_FRACTION * 100:g} % of hydrogen; its viscosity is an estimate"))
    if len(hold.readings) > 2:
        rows.append(("Scatter about the trend, in u", f"{line.scatter:.2f}"))
    return (*rows, *_conversion_rows(hold, numbers))


def _conversion_rows(hold: Hold, numbers: _Numbers) -> tuple[tuple[str, str], ...]:
    smallest = numbers.hole.g_per_year(numbers.smallest)
    by_gauge = numbers.hole.g_per_year(numbers.smallest_by_gauge)
    if smallest is None or by_gauge is None or numbers.time_to_see_s is None:
        return (("As refrigerant", numbers.hole.why_not),)
    note = f"; {numbers.hole.note}" if numbers.hole.note else ""
    return (
        (
            f"As {hold.refrigerant} at 25 C",
            f"q (pR2 - pa2) / (pN2 - pa2) x eta N / eta R, then M / (R T){note}",
        ),
        ("Smallest leak seen", yearly(smallest)),
        ("The same, were the temperature perfect", yearly(by_gauge)),
        (f"Time to see {yearly(hold.limit_g_per_year)}", span(numbers.time_to_see_s)),
    )


def _picture(
    hold: Hold, compensated: tuple[float, ...], each_u: tuple[float, ...], line: trend.Trend, numbers: _Numbers
) -> HoldPicture:
    first_s, end_s = hold.readings[0].time_s, numbers.duration_s
    elapsed = (reading.time_s - first_s for reading in hold.readings)

    def falling_by(drop_pa: float) -> tuple[tuple[float, float], tuple[float, float]]:
        return (0.0, line.start), (end_s, line.start - drop_pa)

    limit = None
    one = numbers.hole.g_per_year(1.0)
    if one is not None:
        limit = falling_by(hold.limit_g_per_year / one / hold.volume_m3 * end_s)
    return HoldPicture(
        points=tuple(zip(elapsed, compensated, each_u, strict=True)),
        trend=((0.0, line.start), (end_s, line.at(end_s))),
        blind=falling_by(detection_limit(numbers.u_change_pa)),
        limit=limit,
    )
