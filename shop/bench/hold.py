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

from inventory.gases import fluids
from inventory.measure.figures import parted
from inventory.measure.uncertainty import decision_threshold, detection_limit, give_or_take, resolution
from shop.bench import leakrate, trend
from shop.bench.answers import (
    INSTRUCTIONS_FIRST,
    PA_PER_PSI,
    Answer,
    bar,
    celsius_read,
    figure,
    figures_between,
    span,
    yearly,
    yearly_between,
)
from shop.bench.holdfacts import (
    HYDROGEN_FRACTION,
    LIMIT_G_PER_YEAR,
    NITROGEN,
    NITROGEN_HYDROGEN,
    UNTAKEN_K,
    USUAL_K,
    Hold,
    Numbers,
    atmosphere_moves_pa,
    check,
    compensated_pa,
    reckon,
    u_of_one_pa,
)

MOST_BELIEVABLE_GAUGE_PA = {"R-744": 16_000_000.0}
MOST_BELIEVABLE_OTHER_PA = 4_500_000.0

SOURCES = (
    "Detection limit 3.29 and decision 1.645 standard uncertainties: ISO 11843-1",
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

    What was read stands in `hold`, what it comes to in `numbers`; only a leak needs the inside volume.
    """

    words: str
    hold: Hold
    numbers: Numbers
    questions: tuple[str, ...]
    picture: HoldPicture


def judge(hold: Hold) -> HoldAnswer:
    """Return what a pressure hold shows: change, leak, the smallest leak it could have seen, each with its limit.

    q = -V d(p T0 / T) / dt, all absolute. Decision at 1.645 u, smallest leak seen 19 times in 20 at 3.29 u. The
    verdict needs neither volume nor refrigerant, and stands without a temperature as far as it goes.
    Raises ``MeasurementError`` for fewer than two readings, times that do not rise, a pressure, temperature, volume
    or step not above zero; ``OutsideModel`` for a temperature outside nitrogen's model when "real" is asked.
    """
    check(hold)
    compensated = compensated_pa(hold.used, hold.compensation)
    each_u = (u_of_one_pa(hold),) * len(hold.used)
    line = trend.fit([reading.time_s for reading in hold.used], compensated, each_u)
    numbers = reckon(hold, compensated, line)
    verdict = _verdict(numbers)
    return HoldAnswer(
        verdict=verdict,
        words=_words(verdict, hold, numbers),
        sentence=_sentence(verdict, hold, numbers),
        workings=_workings(hold, numbers, line),
        sources=_sources(hold, numbers),
        cautions=_cautions(hold, line, numbers),
        hold=hold,
        numbers=numbers,
        questions=questions(hold),
        picture=_picture(hold, compensated, each_u, line, numbers),
    )


def questions(hold: Hold) -> tuple[str, ...]:
    """Return what is hard to believe, each as a question that names the reading in the other unit."""
    asked = []
    highest_pa = hold.highest_pa - hold.atmosphere_pa
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
        kelvin = reading.temperature_k
        if kelvin is not None and not 233.15 <= kelvin <= 353.15:
            asked.append(f"{celsius_read(kelvin)} is no temperature of a workshop. Is the unit right?")
            break
    return tuple(asked)


def _gas_words(hold: Hold) -> str:
    return "nitrogen" if hold.gas == NITROGEN else hold.gas


def _sources(hold: Hold, numbers: Numbers) -> tuple[str, ...]:
    estimated = numbers.hole.note or hold.gas == NITROGEN_HYDROGEN
    return (*SOURCES, leakrate.WILKE) if estimated else SOURCES


def _verdict(numbers: Numbers) -> str:
    if abs(numbers.change_pa) <= decision_threshold(numbers.u_change_pa):
        return "no-leak-larger"
    return "falling" if numbers.change_pa < 0 else "cannot-tell"


def _words(verdict: str, hold: Hold, numbers: Numbers) -> str:
    if verdict == "no-leak-larger":
        return f"no leak larger than {_limit_words(hold, numbers)}"
    return verdict.replace("-", " ")


def _limit_words(hold: Hold, numbers: Numbers) -> str:
    grams = numbers.smallest_g
    if grams is None:
        return f"{figures_between(numbers.smallest.low, numbers.smallest.high)} Pa m3/s of {_gas_words(hold)}"
    return yearly_between(grams.low, grams.high)


def _limit_of_what(hold: Hold, numbers: Numbers) -> str:
    """The limit as the sentence says it: grams a year mean nothing without their refrigerant."""
    words = _limit_words(hold, numbers)
    if numbers.hole.g_per_year_per_pa_m3_s is None:
        return words
    return f"{words} of {hold.refrigerant}{numbers.hole.note_words}"


def _sentence(verdict: str, hold: Hold, numbers: Numbers) -> str:
    """The verdict with its figures, and always what was read; then what was taken where it is not known."""
    took = span(numbers.duration_s)
    change = f"{numbers.change_pa / 1e5:+.3f} bar, give or take {give_or_take(numbers.u_change_pa) / 1e5:.3f} bar"
    if verdict == "cannot-tell":
        corrected = "compensated " if hold.is_corrected else ""
        said = f"Cannot tell: the {corrected}pressure rose by {change} in {took}, which no leak does; read it again"
    elif verdict == "falling":
        corrected = "compensated for temperature" if hold.is_corrected else "as read, not compensated for temperature"
        said = f"Falling: {change} in {took}, {corrected}; {_leak_words(hold, numbers)}"
    else:
        said = (
            f"No leak larger than {_limit_of_what(hold, numbers)}: the pressure held in {took} within what these "
            f"readings can tell ({change}){_time_words(hold, numbers)}"
        )
    return ". ".join((said, *_read_words(hold), *_taken_words(hold))) + "."


def _read_words(hold: Hold) -> tuple[str, ...]:
    first, last = hold.readings[0], hold.readings[-1]
    first_pa, last_pa = first.pressure_pa - hold.atmosphere_pa, last.pressure_pa - hold.atmosphere_pa
    took = span(last.time_s - first.time_s)
    return (f"It stood at {bar(first_pa)} gauge at first and at {bar(last_pa)} gauge {took} later",)


def _taken_words(hold: Hold) -> tuple[str, ...]:
    """What holds in place of what nobody entered, each as a sentence without its stop."""
    found = []
    if not hold.is_corrected:
        moves_pa = hold.used[0].pressure_pa / USUAL_K
        found.append(
            f"The temperature was not taken: 1 K moves this pressure by {moves_pa / 1e5:.3f} bar, and {UNTAKEN_K:g} K "
            "either way are allowed for (common practice, no source)"
        )
    if not hold.space.is_one:
        found.append(f"Inside volume taken: {hold.space.words}")
    return tuple(found)


def _leak_words(hold: Hold, numbers: Numbers) -> str:
    """The leak: about so much, give or take, for one figure of volume; between two ends for an interval."""
    grams, u_grams = numbers.hole.g_per_year(numbers.leak.high), numbers.hole.g_per_year(numbers.u_leak.high)
    if grams is None or u_grams is None:
        return f"a leak of {figures_between(numbers.leak.low, numbers.leak.high)} Pa m3/s of {_gas_words(hold)}"
    if hold.space.is_one:
        about = f"about {yearly(grams)}, give or take {yearly(give_or_take(u_grams))}"
    else:
        least, most = numbers.hole.g_per_year(numbers.least) or 0.0, numbers.hole.g_per_year(numbers.most) or 0.0
        about = f"{yearly_between(least, most)}, by the inside volume and give or take"
    return f"as {hold.refrigerant} {about}{numbers.hole.note_words}"


def _time_words(hold: Hold, numbers: Numbers) -> str:
    if numbers.time_to_see_s is None or numbers.time_to_see_s <= numbers.duration_s:
        return ""
    return f"; to see {yearly(LIMIT_G_PER_YEAR)} it would have to stand {span(numbers.time_to_see_s)}"


def _real_gas_moves_pa(hold: Hold) -> float:
    """How far real nitrogen would move the change (Pa) from the first to the last reading; 0 where not to be known."""
    if hold.compensation != "ideal":
        return 0.0
    try:
        return compensated_pa(hold.used, "real")[-1] - compensated_pa(hold.used)[-1]
    except fluids.OutsideModel:
        return 0.0


def _cautions(hold: Hold, line: trend.Trend, numbers: Numbers) -> tuple[str, ...]:
    """The standing cautions, and before them what these readings themselves give reason to say."""
    own = []
    if hold.above_allowed and hold.allowed_pa is not None:
        over = f"{bar(hold.highest_pa)} absolute is more than the {bar(hold.allowed_pa)} that the weakest side allows."
        own.append(f"{over} Relieve it through the regulator.")
    if hold.allowed_pa is None:
        own.append("The allowed pressure of the weakest side was not entered; old evaporators may stand less.")
    if line.scatter > 2:
        own.append("The readings scatter more than gauge and thermometer explain: the temperature may not be settled.")
    moved_pa = _real_gas_moves_pa(hold)
    if abs(moved_pa) > numbers.u_change_pa / 2:
        own.append(
            f"Real nitrogen follows temperature a little more than the ideal law: it would move the change by "
            f"{parted(moved_pa, sign='+')} Pa, which counts with such fine readings. Compensate as a real gas."
        )
    own.append("A hold is a coarse check: bubbles and an electronic search find the small leaks.")
    return (*own, leakrate.WITHIN_THREE, *CAUTIONS)


def _workings(hold: Hold, numbers: Numbers, line: trend.Trend) -> tuple[tuple[str, str], ...]:
    psi = numbers.change_pa / PA_PER_PSI
    rows = [
        ("Compensated pressure", _compensation_words(hold)),
        ("Gauge, one reading", f"step / sqrt 12 = {parted(resolution(hold.pressure_step_pa))} Pa"),
        ("Thermometer, one reading", _thermometer_words(hold)),
        ("Change over the hold", f"{parted(numbers.change_pa, sign='+')} Pa ({psi:+.2f} psi)"),
        ("Give or take of the change", f"{parted(give_or_take(numbers.u_change_pa))} Pa"),
        ("Called falling from", f"{parted(decision_threshold(numbers.u_change_pa))} Pa"),
        ("Would be seen 19 times in 20 from", f"{parted(detection_limit(numbers.u_change_pa))} Pa"),
        ("Inside volume", hold.space.words),
        ("Leak, inside volume x fall by time", _leak_and_u_words(numbers)),
        (
            "Smallest leak seen",
            f"{figures_between(numbers.smallest.low, numbers.smallest.high, 3)} Pa m3/s of {_gas_words(hold)}",
        ),
    ]
    if hold.atmosphere_by:
        rows.insert(0, ("Atmosphere", f"{parted(hold.atmosphere_pa)} Pa, {hold.atmosphere_by}"))
    if (moves_pa := atmosphere_moves_pa(hold)) > 0:
        rows.append(("The atmosphere not being known moves the change", f"by {parted(moves_pa)} Pa at most"))
    if hold.gas == NITROGEN_HYDROGEN:
        rows.append(("Gas", f"nitrogen with {HYDROGEN_FRACTION * 100:g} % of hydrogen; its viscosity is an estimate"))
    if len(hold.used) > 2:
        rows.append(("Scatter about the trend, of what is expected", f"{line.scatter:.2f}"))
    return (*rows, *_conversion_rows(hold, numbers))


def _compensation_words(hold: Hold) -> str:
    first_k = hold.used[0].temperature_k
    if not hold.is_corrected or first_k is None:
        return "as read: no temperature was taken"
    return f"as if it had stayed at {celsius_read(first_k)} ({hold.compensation} gas)"


def _thermometer_words(hold: Hold) -> str:
    if not hold.is_corrected:
        return f"none; {UNTAKEN_K:g} K either way over the hold, rectangular"
    return f"step / sqrt 12 = {resolution(hold.temperature_step_k):.2f} K"


def _leak_and_u_words(numbers: Numbers) -> str:
    leak, u = numbers.leak, numbers.u_leak
    within = figures_between(give_or_take(u.low), give_or_take(u.high))
    return f"{figures_between(leak.low, leak.high)} Pa m3/s, give or take {within}"


def _conversion_rows(hold: Hold, numbers: Numbers) -> tuple[tuple[str, str], ...]:
    grams, by_gauge = numbers.smallest_g, numbers.hole.g_per_year(numbers.smallest_by_gauge)
    if grams is None or by_gauge is None or numbers.time_to_see_s is None:
        return (("As refrigerant", numbers.hole.why_not),)
    note = f"; {numbers.hole.note}" if numbers.hole.note else ""
    return (
        (
            f"As {hold.refrigerant} at 25 C",
            f"q (pR2 - pa2) / (pN2 - pa2) x eta N / eta R, then M / (R T){note}",
        ),
        ("Smallest leak seen", yearly_between(grams.low, grams.high)),
        ("The same, were the temperature perfect", yearly(by_gauge)),
        (f"Time to see {yearly(LIMIT_G_PER_YEAR)}", span(numbers.time_to_see_s)),
    )


def _picture(
    hold: Hold, compensated: tuple[float, ...], each_u: tuple[float, ...], line: trend.Trend, numbers: Numbers
) -> HoldPicture:
    first_s, end_s = hold.used[0].time_s, numbers.duration_s
    elapsed = (reading.time_s - first_s for reading in hold.used)

    def falling_by(drop_pa: float) -> tuple[tuple[float, float], tuple[float, float]]:
        return (0.0, line.start), (end_s, line.start - drop_pa)

    limit = None
    one = numbers.hole.g_per_year(1.0)
    if one is not None:
        limit = falling_by(LIMIT_G_PER_YEAR / one / hold.space.high_m3 * end_s)
    return HoldPicture(
        points=tuple(zip(elapsed, compensated, each_u, strict=True)),
        trend=((0.0, line.start), (end_s, line.at(end_s))),
        blind=falling_by(detection_limit(numbers.u_change_pa)),
        limit=limit,
    )
