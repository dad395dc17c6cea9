"""The recovery proof: what should have come out, what did, what can still be inside, and what arrived at all.

Vocabulary: *expected* is what the label or the book says was inside; *short* is expected less recovered; the *bound*
is the most that vapour and oil can still hold; the *standing pressure* is that of a system at rest, before anything is
connected to a machine. *Evidence classes* of a loss before arrival, best first: A standing pressure read and
photographed, no liquid possible; B circuit visibly open, photographed; C leak found and photographed after recovery;
D the customer’s word, or a reading without a photo; E nothing.

Masses are grams, pressures absolute pascals, temperatures kelvin, volumes cubic metres. A *step* is the resolution of
a display; a thermometer good to +-0.5 K counts as a step of 1 K.

A shortage is arithmetic, not proof: any shortage can be put down to a leak. The witness is the standing pressure.

Errors: ``MeasurementError`` with a sentence; ``NoPropertyData`` and ``OutsideModel`` of inventory.fluids.
"""

from dataclasses import dataclass
from math import hypot, sqrt

from inventory import fluids
from inventory.uncertainty import give_or_take, resolution
from shop.answers import (
    INSTRUCTIONS_FIRST,
    Answer,
    MeasurementError,
    bar,
    celsius,
    figure,
    need_above_zero,
    need_not_below_zero,
    yearly,
)
from shop.leakrate import YEAR_DAYS

STANDARD_ATMOSPHERE_PA = 101_325.0
OIL_SHARE = 0.05
WAIT_S = 300.0
EVIDENCE = {
    "A": "standing pressure read and photographed, no liquid possible",
    "B": "circuit visibly open, photographed",
    "C": "leak found and photographed after recovery",
    "D": "the customer’s word, or a reading without a photo",
    "E": "nothing",
}
WITNESSED = ("A", "B", "C")

SOURCES = (
    "Vapour left behind: volume times density, by CoolProp",
    "Oil allowance: 5 % of the oil's mass (0 to 10 %), an allowance and not property data",
    "Wait 5 minutes after recovery, again if the pressure rises above the atmosphere: U.S. Army TM "
    "5-3810-307-24-1-2 (read second-hand)",
    "Give or take is 2 u: JCGM 100:2008, clause 6.3",
)
CAUTIONS = (
    "Only a reading after the wait, with no cold or frosted spot, bounds what remains.",
    "Recovered mass may hold oil, air and water as well.",
    "Goggles, gloves, a ventilated place, no pit: refrigerant is heavier than air.",
    INSTRUCTIONS_FIRST,
)


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A standing pressure: absolute, with the coldest and warmest part measured and the steps of the instruments."""

    refrigerant: str
    pressure_pa: float
    coldest_k: float
    warmest_k: float | None = None
    pressure_step_pa: float
    temperature_step_k: float = 1.0
    volume_m3: float
    oil_g: float | None = None
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA


@dataclass(frozen=True, kw_only=True)
class StandingAnswer(Answer):
    """Verdicts: `empty` (nothing above the atmosphere), `vapour`, `liquid`, `too-high` (air or something else).

    `at_least_g` holds where liquid may be inside. Where it cannot: `vapour_g` with its standard uncertainty, and
    `at_most_g`, the vapour at half a step of the gauge more (`vapour_max_g`) with the oil allowance.
    `recovery_owed` is false only for `empty`.
    """

    saturation_pa: float
    at_least_g: float | None
    vapour_g: float | None
    u_vapour_g: float | None
    vapour_max_g: float | None
    oil_allowance_g: float | None
    at_most_g: float | None
    recovery_owed: bool


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What speaks for a loss before arrival, each as it was recorded."""

    standing: StandingAnswer | None = None
    standing_photographed: bool = False
    open_photographed: bool = False
    leak_photographed: bool = False
    customer_says_so: bool = False

    @property
    def letter(self) -> str:
        """The best class that these facts reach, A to E; a standing pressure without a photo reaches D at best."""
        shows_no_liquid = self.standing is not None and self.standing.verdict in ("empty", "vapour")
        if shows_no_liquid and self.standing_photographed:
            return "A"
        if self.open_photographed:
            return "B"
        if self.leak_photographed:
            return "C"
        return "D" if self.customer_says_so or shows_no_liquid else "E"


@dataclass(frozen=True, kw_only=True)
class Recovery:
    """A recovery that is done, or a system said to have arrived empty (then `recovered_g` is 0).

    `expected_g` is the label, or the last charge less its known leak. `final_pressure_pa` is the one after the wait.
    `oil_g` is the oil in the system, None if unknown. `days_since_charge` None: nobody knows.
    `leak_excluded_g_per_year` is the smallest leak that a hold or search of this visit, before any repair, says there
    cannot be.
    """

    refrigerant: str
    expected_g: float
    u_expected_g: float
    recovered_g: float
    u_recovered_g: float
    final_pressure_pa: float
    temperature_k: float
    volume_m3: float
    oil_g: float | None = None
    waited_s: float | None = None
    days_since_charge: float | None = None
    leak_excluded_g_per_year: float | None = None
    evidence: Evidence = Evidence()
    said_to_be_empty: bool = False


@dataclass(frozen=True, kw_only=True)
class RecoveryAnswer(Answer):
    """Verdicts: `accounted for`, `short`, `not explained`, `arrived empty`.

    `residual_max_g` is vapour plus oil allowance, None where liquid may remain; `limit_g` is that plus 2 u.
    `leak_needed_g_per_year` is the leak that would bring the shortage down to the limit, None without a date.
    `refused` says why "arrived empty" was not accepted. `would_change` are sentences.
    """

    missing_g: float
    u_missing_g: float
    vapour_max_g: float | None
    oil_allowance_g: float
    residual_max_g: float | None
    limit_g: float | None
    leak_needed_g_per_year: float | None
    evidence_letter: str
    refused: str
    would_change: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Remainder:
    """What is left on a vehicle's account after recovery, split by what it is put down to; grams, u beside it."""

    residue_g: float
    u_residue_g: float
    residue_bound_g: float
    road_g: float
    u_road_g: float
    unexplained_g: float
    u_unexplained_g: float
    evidence_letter: str
    sentence: str


def vapour_g(refrigerant: str, *, pressure_pa: float, temperature_k: float, volume_m3: float) -> float:
    """Return the mass (g) of vapour that fills `volume_m3` at an absolute pressure and temperature.

    Raises ``MeasurementError`` for values not above zero, ``NoPropertyData``, ``OutsideModel`` where there would be
    liquid. Source: density by CoolProp.
    """
    need_above_zero(volume=volume_m3, absolute_temperature=temperature_k)
    need_not_below_zero(absolute_pressure=pressure_pa)
    if pressure_pa == 0:
        return 0.0
    return volume_m3 * fluids.vapour_density_kg_m3(refrigerant, pressure_pa, temperature_k) * 1000


def oil_allowance_g(oil_g: float | None) -> float:
    """Return the refrigerant (g) allowed for in the oil: 5 % of its mass; nothing where the oil is unknown."""
    need_not_below_zero(oil=oil_g)
    return 0.0 if oil_g is None else OIL_SHARE * oil_g


def label_u_g(tolerance_g: float) -> float:
    """Return the standard uncertainty (g) of a label good to +- `tolerance_g`, taken as rectangular."""
    need_not_below_zero(tolerance=tolerance_g)
    return tolerance_g / sqrt(3)


def expected_after_leak(
    *, charged_g: float, u_charged_g: float, leak_g_per_year: float, u_leak_g_per_year: float, days: float
) -> tuple[float, float]:
    """Return (expected mass, its u) in grams: the last charge less a known leak over `days`, never below zero."""
    need_above_zero(charged_mass=charged_g)
    need_not_below_zero(
        uncertainty_of_the_charge=u_charged_g,
        leak=leak_g_per_year,
        uncertainty_of_the_leak=u_leak_g_per_year,
        number_of_days=days,
    )
    years = days / YEAR_DAYS
    return max(0.0, charged_g - leak_g_per_year * years), hypot(u_charged_g, u_leak_g_per_year * years)


def read_standing(standing: Standing) -> StandingAnswer:
    """Return what a standing pressure says of the content, with its bounds.

    Below saturation at the coldest part (by more than 2 u): no liquid, so the vapour is all there is, with the oil's
    share. At saturation: at least V rho of the saturated vapour; nothing can be said about "at most". Above saturation
    at the warmest part: air or another refrigerant, and the same least mass cannot be given. `empty` is a pressure
    not above the atmosphere by more than 2 u. Raises ``MeasurementError``; ``NoPropertyData``, ``OutsideModel``.
    """
    need_above_zero(
        absolute_pressure=standing.pressure_pa,
        absolute_temperature=standing.coldest_k,
        step_of_the_gauge=standing.pressure_step_pa,
        step_of_the_thermometer=standing.temperature_step_k,
        volume=standing.volume_m3,
        atmospheric_pressure=standing.atmosphere_pa,
    )
    warmest_k = standing.coldest_k if standing.warmest_k is None else standing.warmest_k
    if warmest_k < standing.coldest_k:
        raise MeasurementError("The warmest part is colder than the coldest: the two may be swapped.")
    cold_pa = fluids.dew_pressure_pa(standing.refrigerant, standing.coldest_k)
    warm_pa = fluids.bubble_pressure_pa(standing.refrigerant, warmest_k)
    if standing.pressure_pa < cold_pa - _margin_pa(standing, standing.coldest_k):
        return _no_liquid(standing, cold_pa)
    if standing.pressure_pa > warm_pa + _margin_pa(standing, warmest_k):
        return _too_high(standing, warm_pa)
    return _liquid(standing, cold_pa)


def _margin_pa(standing: Standing, temperature_k: float) -> float:
    """Twice the standard uncertainty of a reading against saturation, gauge and thermometer together."""
    # Slope over one kelvin downwards, so that the highest temperature of the model can still be asked about.
    slope = fluids.dew_pressure_pa(standing.refrigerant, temperature_k) - fluids.dew_pressure_pa(
        standing.refrigerant, temperature_k - 1.0
    )
    return give_or_take(hypot(resolution(standing.pressure_step_pa), slope * resolution(standing.temperature_step_k)))


def _no_liquid(standing: Standing, saturation_pa: float) -> StandingAnswer:
    held_g = _standing_vapour_g(standing, standing.pressure_pa)
    top_pa = min(standing.pressure_pa + standing.pressure_step_pa / 2, saturation_pa)
    held = _Held(
        vapour_g=held_g,
        u_vapour_g=held_g
        * hypot(
            resolution(standing.pressure_step_pa) / standing.pressure_pa,
            resolution(standing.temperature_step_k) / standing.coldest_k,
        ),
        vapour_max_g=_standing_vapour_g(standing, top_pa),
        oil_g=oil_allowance_g(standing.oil_g),
    )
    margin_pa = give_or_take(resolution(standing.pressure_step_pa))
    if standing.pressure_pa - standing.atmosphere_pa <= margin_pa:
        return _standing_answer(standing, saturation_pa, "empty", _empty_sentence(standing, held), held=held)
    sentence = (
        f"No liquid, but not empty: {figure(held_g, 3)} g of vapour, give or take "
        f"{figure(give_or_take(held.u_vapour_g), 1)} g, beside what the oil holds; recovery is owed."
    )
    return _standing_answer(standing, saturation_pa, "vapour", sentence, held=held)


@dataclass(frozen=True)
class _Held:
    vapour_g: float
    u_vapour_g: float
    vapour_max_g: float
    oil_g: float


def _standing_vapour_g(standing: Standing, pressure_pa: float) -> float:
    return vapour_g(
        standing.refrigerant,
        pressure_pa=pressure_pa,
        temperature_k=standing.coldest_k,
        volume_m3=standing.volume_m3,
    )


def _empty_sentence(standing: Standing, held: _Held) -> str:
    oil = f"about {figure(held.oil_g, 2)} g in the oil"
    if standing.oil_g is None:
        oil = "what the oil holds (its amount was not entered)"
    return (
        f"Empty: no pressure above the atmosphere, so at most {figure(held.vapour_max_g, 3)} g of vapour and {oil}; "
        "recovery is not owed."
    )


def _liquid(standing: Standing, saturation_pa: float) -> StandingAnswer:
    at_least_g = (
        1000 * standing.volume_m3 * fluids.saturated_vapour_density_kg_m3(standing.refrigerant, standing.coldest_k)
    )
    sentence = (
        f"Liquid may be inside: {standing.refrigerant} at {celsius(standing.coldest_k)} stands at "
        f"{bar(saturation_pa - standing.atmosphere_pa)} gauge, and this system does, so it holds at least "
        f"{figure(at_least_g, 2)} g; how much more, the pressure cannot tell."
    )
    return _standing_answer(standing, saturation_pa, "liquid", sentence, at_least_g=at_least_g)


def _too_high(standing: Standing, saturation_pa: float) -> StandingAnswer:
    sentence = (
        f"Above saturation: {standing.refrigerant} would stand at no more than "
        f"{bar(saturation_pa - standing.atmosphere_pa)} gauge, so there is air in it, or it is something else."
    )
    return _standing_answer(standing, saturation_pa, "too-high", sentence)


def _standing_answer(
    standing: Standing,
    saturation_pa: float,
    verdict: str,
    sentence: str,
    *,
    at_least_g: float | None = None,
    held: _Held | None = None,
) -> StandingAnswer:
    return StandingAnswer(
        verdict=verdict,
        sentence=sentence,
        workings=(
            ("Pressure", f"{bar(standing.pressure_pa - standing.atmosphere_pa)} gauge"),
            (f"Saturation of {standing.refrigerant}", f"{bar(saturation_pa - standing.atmosphere_pa)} gauge"),
            ("Coldest part", celsius(standing.coldest_k)),
            ("Mass of vapour", "volume x density at the coldest part"),
        ),
        sources=SOURCES[:2],
        cautions=(
            "A pressure never replaces an identifier.",
            "Wait until hot and cold parts are alike: 5 K between them is about 1 bar of false difference.",
            *CAUTIONS[2:],
        ),
        saturation_pa=saturation_pa,
        at_least_g=at_least_g,
        vapour_g=held.vapour_g if held else None,
        u_vapour_g=held.u_vapour_g if held else None,
        vapour_max_g=held.vapour_max_g if held else None,
        oil_allowance_g=held.oil_g if held else None,
        at_most_g=held.vapour_max_g + held.oil_g if held else None,
        recovery_owed=verdict != "empty",
    )


def prove(recovery: Recovery) -> RecoveryAnswer:
    """Return whether what came out is what should have, with the numbers and what would change the verdict.

    `accounted for`: short by no more than vapour + oil allowance + 2 u. `arrived empty`: the standing pressure says
    `empty`, and no more came out than it allows. `not explained`: short beyond the limit, and the leak that would
    explain it is larger than this visit excludes, or the charge is a day old at most and no evidence of class A to C
    speaks for a loss. `short`: every other shortage beyond the limit. Where liquid may remain there is no bound; the
    limit is then 2 u alone, `limit_g` is None, and a caution asks for another recovery. Raises ``MeasurementError``,
    ``NoPropertyData``, ``OutsideModel``.
    """
    _check(recovery)
    missing_g = recovery.expected_g - recovery.recovered_g
    u_g = hypot(recovery.u_expected_g, recovery.u_recovered_g)
    vapour = _vapour_bound_g(recovery)
    oil = oil_allowance_g(recovery.oil_g)
    limit_g = None if vapour is None else vapour + oil + give_or_take(u_g)
    beyond_g = missing_g - (give_or_take(u_g) if limit_g is None else limit_g)
    leak_needed = _leak_needed(beyond_g, recovery.days_since_charge)
    verdict = _verdict(recovery, beyond_g, leak_needed)
    facts = _Facts(missing_g, u_g, vapour, oil, limit_g, beyond_g, leak_needed, _refusal(recovery))
    return RecoveryAnswer(
        verdict=verdict,
        sentence=_sentence(verdict, recovery, facts),
        workings=_workings(recovery, facts),
        sources=SOURCES,
        cautions=(*_own_cautions(recovery, facts), *CAUTIONS),
        missing_g=missing_g,
        u_missing_g=u_g,
        vapour_max_g=vapour,
        oil_allowance_g=oil,
        residual_max_g=None if vapour is None else vapour + oil,
        limit_g=limit_g,
        leak_needed_g_per_year=leak_needed,
        evidence_letter=recovery.evidence.letter,
        refused=facts.refused,
        would_change=_would_change(verdict, recovery, facts),
    )


@dataclass(frozen=True)
class _Facts:
    missing_g: float
    u_g: float
    vapour_g: float | None
    oil_g: float
    limit_g: float | None
    beyond_g: float
    leak_needed: float | None
    refused: str


def _check(recovery: Recovery) -> None:
    need_above_zero(
        expected_mass=recovery.expected_g,
        absolute_temperature=recovery.temperature_k,
        volume=recovery.volume_m3,
        excluded_leak=recovery.leak_excluded_g_per_year,
    )
    need_not_below_zero(
        recovered_mass=recovery.recovered_g,
        uncertainty_of_the_expected_mass=recovery.u_expected_g,
        uncertainty_of_the_recovered_mass=recovery.u_recovered_g,
        final_absolute_pressure=recovery.final_pressure_pa,
        oil=recovery.oil_g,
        waiting_time=recovery.waited_s,
        number_of_days=recovery.days_since_charge,
    )


def _vapour_bound_g(recovery: Recovery) -> float | None:
    """The most vapour that can remain, or None where liquid can."""
    if recovery.final_pressure_pa >= fluids.dew_pressure_pa(recovery.refrigerant, recovery.temperature_k):
        return None
    return vapour_g(
        recovery.refrigerant,
        pressure_pa=recovery.final_pressure_pa,
        temperature_k=recovery.temperature_k,
        volume_m3=recovery.volume_m3,
    )


def _leak_needed(beyond_g: float, days: float | None) -> float | None:
    if days is None or days <= 0 or beyond_g <= 0:
        return None
    return beyond_g / days * YEAR_DAYS


def _stands_empty(recovery: Recovery) -> bool:
    standing = recovery.evidence.standing
    return standing is not None and standing.verdict == "empty"


def _more_than_stood(recovery: Recovery) -> bool:
    """Whether more came out than the standing pressure allows to have been inside."""
    standing = recovery.evidence.standing
    if standing is None or standing.at_most_g is None:
        return False
    return recovery.recovered_g > standing.at_most_g + give_or_take(recovery.u_recovered_g)


def _refusal(recovery: Recovery) -> str:
    standing = recovery.evidence.standing
    if not recovery.said_to_be_empty or _stands_empty(recovery):
        return ""
    if standing is None:
        return "Arrived empty is not shown: there is no standing pressure."
    return f"Not empty on arrival. {standing.sentence}"


def _verdict(recovery: Recovery, beyond_g: float, leak_needed: float | None) -> str:
    if _stands_empty(recovery) and not _more_than_stood(recovery):
        return "arrived empty"
    if beyond_g <= 0:
        return "accounted for"
    fresh = recovery.days_since_charge is not None and recovery.days_since_charge <= 1
    if fresh and recovery.evidence.letter not in WITNESSED:
        return "not explained"
    excluded = recovery.leak_excluded_g_per_year
    if leak_needed is not None and excluded is not None and leak_needed > excluded:
        return "not explained"
    return "short"


def _sentence(verdict: str, recovery: Recovery, facts: _Facts) -> str:
    if verdict == "arrived empty":
        standing = recovery.evidence.standing
        at_most = (
            "" if standing is None or standing.at_most_g is None else f" ({figure(standing.at_most_g, 2)} g at most)"
        )
        letter = recovery.evidence.letter
        return f"Arrived empty{at_most}: evidence {letter}, {EVIDENCE[letter]}."
    limit = (
        "no bound on what remains, as liquid may be left" if facts.limit_g is None else f"limit {facts.limit_g:.1f} g"
    )
    amounts = f"{figure(recovery.recovered_g, 3)} g of {figure(recovery.expected_g, 3)} g came out"
    if facts.missing_g < 0:
        lead = f"{amounts}, {figure(-facts.missing_g, 3)} g more than expected"
    else:
        lead = f"{amounts}, {figure(facts.missing_g, 3)} g short ({limit})"
    ends = {
        "accounted for": "accounted for",
        "short": f"short; {_leak_words(recovery, facts)}",
        "not explained": f"not explained; {_contradiction(recovery, facts)}",
    }
    return f"{lead}: {ends[verdict]}."


def _leak_words(recovery: Recovery, facts: _Facts) -> str:
    standing = recovery.evidence.standing
    if standing is not None and standing.verdict == "vapour" and not _more_than_stood(recovery):
        return f"the standing pressure shows that no liquid came in (evidence {recovery.evidence.letter})"
    if facts.leak_needed is None:
        return "when it was last charged is not known, so no leak rate can be given"
    return f"a leak of at least {yearly(facts.leak_needed)} would explain it, which is arithmetic and not proof"


def _contradiction(recovery: Recovery, facts: _Facts) -> str:
    if facts.leak_needed is None or recovery.leak_excluded_g_per_year is None:
        return "it was charged a day ago at most"
    return (
        f"a leak of at least {yearly(facts.leak_needed)} would be needed, and this visit excludes more than "
        f"{yearly(recovery.leak_excluded_g_per_year)}"
    )


def _own_cautions(recovery: Recovery, facts: _Facts) -> tuple[str, ...]:
    own = []
    if facts.refused:
        own.append(facts.refused)
    if _more_than_stood(recovery):
        own.append("More came out than the standing pressure allows: one of the two readings is wrong.")
    if facts.vapour_g is None:
        own.append("The final pressure allows liquid inside: recover again until it stays below saturation.")
    if recovery.waited_s is None or recovery.waited_s < WAIT_S:
        own.append("The pressure was not read 5 minutes after the machine stopped, so it bounds little.")
    if recovery.oil_g is None:
        own.append("The amount of oil was not entered: nothing is allowed for what it holds.")
    if facts.missing_g < -give_or_take(facts.u_g):
        own.append("More came out than was expected: an overfilled system, oil or air, or another label.")
    return tuple(own)


def _would_change(verdict: str, recovery: Recovery, facts: _Facts) -> tuple[str, ...]:
    if verdict == "arrived empty":
        better = "A photograph of the gauge would make it evidence A." if recovery.evidence.letter != "A" else ""
        return ("A standing pressure above the atmosphere would owe a recovery.", *((better,) if better else ()))
    if verdict == "accounted for":
        turn_g = recovery.expected_g - (give_or_take(facts.u_g) if facts.limit_g is None else facts.limit_g)
        return (f"Less than {figure(max(0.0, turn_g), 3)} g recovered would be short.",)
    changes = [f"Another {figure(facts.beyond_g, 2)} g recovered would account for it."]
    if recovery.days_since_charge is None:
        changes.append("The date of the last charge would give the leak that explains it.")
    if recovery.oil_g is None:
        changes.append("The amount of oil would allow for what it holds.")
    if recovery.evidence.letter not in ("A", "B"):
        changes.append("A photographed standing pressure on arrival would be the better witness.")
    if verdict == "not explained":
        changes.append("A leak found and photographed would make it short.")
    return tuple(changes)


def _workings(recovery: Recovery, facts: _Facts) -> tuple[tuple[str, str], ...]:
    vapour = "liquid may remain" if facts.vapour_g is None else f"{facts.vapour_g:.1f} g"
    at = f"{bar(recovery.final_pressure_pa)} absolute, {celsius(recovery.temperature_k)}"
    return (
        ("Expected", f"{figure(recovery.expected_g, 3)} g, u {recovery.u_expected_g:.2f} g"),
        ("Recovered", f"{figure(recovery.recovered_g, 3)} g, u {recovery.u_recovered_g:.2f} g"),
        ("Short = expected - recovered", f"{facts.missing_g:.0f} g"),
        (f"Vapour that can remain, V rho at {at}", vapour),
        ("Oil allowance, 5 % of the oil", f"{facts.oil_g:.1f} g"),
        ("Label and readings, 2 u", f"{give_or_take(facts.u_g):.1f} g"),
        ("Limit", "none" if facts.limit_g is None else f"{facts.limit_g:.1f} g"),
        ("Evidence of a loss before arrival", f"{recovery.evidence.letter}: {EVIDENCE[recovery.evidence.letter]}"),
    )


def split_remainder(*, left_g: float, u_left_g: float, residue_bound_g: float, evidence_letter: str) -> Remainder:
    """Return what is left on the vehicle split into residue (ours), road (before arrival) and unexplained.

    The residue is half its bound with u = bound / sqrt 12, but never more than what is left. The rest is the road's
    with evidence A to D, otherwise unexplained. Raises ``MeasurementError`` for values below zero or another letter.
    Source: JCGM 100:2008, 4.3.7, for a value known only to lie between nothing and its bound.
    """
    need_not_below_zero(mass_left=left_g, uncertainty=u_left_g, bound=residue_bound_g)
    if evidence_letter not in EVIDENCE:
        raise MeasurementError(f"The evidence class is one of: {', '.join(EVIDENCE)}.")
    bound_g = min(residue_bound_g, left_g)
    residue_g, u_residue_g = bound_g / 2, bound_g / sqrt(12)
    rest_g, u_rest_g = left_g - residue_g, hypot(u_left_g, u_residue_g)
    proved = evidence_letter != "E"
    whose = "lost before it came here" if proved else "unexplained"
    return Remainder(
        residue_g=residue_g,
        u_residue_g=u_residue_g,
        residue_bound_g=bound_g,
        road_g=rest_g if proved else 0.0,
        u_road_g=u_rest_g if proved else 0.0,
        unexplained_g=0.0 if proved else rest_g,
        u_unexplained_g=0.0 if proved else u_rest_g,
        evidence_letter=evidence_letter,
        sentence=(
            f"Of {figure(left_g, 3)} g left, {residue_g:.1f} g stay as residue (bound {bound_g:.1f} g) and "
            f"{rest_g:.1f} g are {whose} (evidence {evidence_letter}: {EVIDENCE[evidence_letter]})."
        ),
    )
