"""Leak rates: through a hole now, between two visits, and by the formulas of law for stationary appliances.

Vocabulary: *throughput* is a leak as pressure times volume in a second (Pa m3/s; 1 Pa m3/s = 10 mbar l/s); the
*yardstick* is what a new car may lose by its type approval; *known* content is what the book itself charged.

Errors: ``MeasurementError`` for a value that cannot be, with a sentence.
"""

from dataclasses import dataclass
from math import hypot, sqrt

from inventory.gases import catalogue, fluids, testgases
from inventory.measure.uncertainty import detection_limit, give_or_take
from shop.bench.answers import (
    Answer,
    MeasurementError,
    figure,
    figures_between,
    mass,
    need_above_zero,
    need_finite,
    need_not_below_zero,
    yearly_between,
)
from shop.bench.insides import Ends

GAS_CONSTANT_J_MOL_K = 8.314462618
YEAR_DAYS = 365.25
YEAR_S = YEAR_DAYS * 86_400
MBAR_L_S_PER_PA_M3_S = 10.0
CONVERSION_K = 298.15
SHORTEST_DAYS_FOR_A_RATE = 90.0

YARDSTICK_G_PER_YEAR = {1: 40.0, 2: 60.0}
YARDSTICK_SOURCE = "Directive 2006/40/EC, article 5: 40 g a year, 60 with two evaporators (read second-hand)"
WITHIN_THREE = "Estimate, within a factor of about three: laminar flow of vapour through one hole."
BY_COMPONENTS = "viscosity estimated from the components"
WILKE = "Viscosity of a gas mixture: estimate by C. R. Wilke, J. Chem. Phys. 1950, 18, 517, from the parts by CoolProp"
NOT_NAMED = "the refrigerant is not known, so there are no grams a year"
NOT_FOR_CARS = "For stationary appliances that the rule covers; it is no duty for a car."


@dataclass(frozen=True, kw_only=True)
class SameHole:
    """What a hole that lets one gas through would lose of a refrigerant at 25 C.

    `note` says where a viscosity is an estimate from the components of a blend; the factor of about three
    (`WITHIN_THREE`) is far wider than that estimate.
    """

    g_per_year_per_pa_m3_s: float | None = None
    why_not: str = ""
    note: str = ""

    def g_per_year(self, throughput_pa_m3_s: float) -> float | None:
        """Return grams a year for a throughput of the other gas, or None where there is no conversion."""
        factor = self.g_per_year_per_pa_m3_s
        return None if factor is None else factor * throughput_pa_m3_s

    def grams(self, throughput: Ends | None) -> Ends | None:
        """Return grams a year for throughputs (Pa m3/s) of the other gas, None where there is no conversion."""
        factor = self.g_per_year_per_pa_m3_s
        if factor is None or throughput is None:
            return None
        return Ends(factor * throughput.low, factor * throughput.high, factor * throughput.usual)

    def time_to_see_s(self, u_pa: float, volume_m3: float, limit_g_per_year: float) -> float | None:
        """Return the seconds after which two readings, each good to `u_pa`, would see the limit, 19 times in 20."""
        smallest_in_a_second = self.g_per_year(detection_limit(sqrt(2) * u_pa) * volume_m3)
        return None if smallest_in_a_second is None else smallest_in_a_second / limit_g_per_year

    @property
    def note_words(self) -> str:
        """The note as a sentence has it behind grams a year, "" where there is none."""
        return f" ({self.note}, within a factor of about three)" if self.note else ""


class Leaks:
    """What a hold tells of one hole, its leak and the smallest that it would have seen (Pa m3/s), in grams too."""

    hole: SameHole
    leak: Ends | None
    smallest: Ends

    @property
    def leak_g(self) -> Ends | None:
        """The leak in grams a year."""
        return self.hole.grams(self.leak)

    @property
    def smallest_g(self) -> Ends | None:
        """The smallest leak that would have been seen, 19 times in 20, in grams a year."""
        return self.hole.grams(self.smallest)


@dataclass(frozen=True, kw_only=True)
class BetweenVisits:
    """A vehicle between two visits of this workshop; masses in grams, standard uncertainties beside them.

    `residue_g` is what recovery left behind. `known_content` says that the book charged it from evacuated.
    """

    charged_g: float
    u_charged_g: float
    recovered_g: float
    u_recovered_g: float
    residue_g: float
    u_residue_g: float
    days: float
    known_content: bool = True
    evaporators: int = 1

    @property
    def loss_g(self) -> float:
        """What was lost: charged less recovered less residue."""
        return self.charged_g - self.recovered_g - self.residue_g

    @property
    def u_loss_g(self) -> float:
        """Its standard uncertainty."""
        return hypot(self.u_charged_g, self.u_recovered_g, self.u_residue_g)

    @property
    def a_year(self) -> tuple[float, float] | None:
        """The loss in grams a year and its standard uncertainty; None under 90 days."""
        if self.days < SHORTEST_DAYS_FOR_A_RATE:
            return None
        return self.loss_g / (self.days / YEAR_DAYS), self.u_loss_g / (self.days / YEAR_DAYS)


@dataclass(frozen=True, kw_only=True)
class BetweenVisitsAnswer(Answer):
    """Verdicts: `lost`, `nothing-shown`, `gained`, `not-known`. Rates are None under 90 days or if not known."""

    loss_g: float | None = None
    g_per_year: float | None = None
    u_g_per_year: float | None = None
    percent_per_year: float | None = None


def grams_per_year(throughput_pa_m3_s: float, molar_mass_kg_mol: float, temperature_k: float = CONVERSION_K) -> float:
    """Return the mass (g) that a throughput of one ideal gas (Pa m3/s at `temperature_k`) carries in a year.

    m = q M t / (R T). Source: ideal gas; leak rate unit as in EN 1779 (from memory).
    """
    return throughput_pa_m3_s * molar_mass_kg_mol / (GAS_CONSTANT_J_MOL_K * temperature_k) * YEAR_S * 1000


def same_hole(
    refrigerant: str, *, gas_viscosity_pa_s: float, upstream_pa: float, downstream_pa: float, atmosphere_pa: float
) -> SameHole:
    """Return what a hole would lose of `refrigerant`, standing at 25 C with liquid, into the atmosphere.

    The hole was measured with another gas of `gas_viscosity_pa_s` flowing from `upstream_pa` to `downstream_pa`
    (both absolute). q_R / q_G = (p_R2 - p_a2) / (p_up2 - p_down2) x eta_G / eta_R. Where there is no property,
    the factor is None with the reason. Vapour only: a hole below the liquid carries more, rubber does not leak so,
    and below about 1e-6 Pa m3/s the flow is no longer laminar. Viscosities at the pressure inside; that of a blend is
    an estimate from its components as thin vapours (`note` says so), None where one of them has no data.
    Source: Poiseuille's law for an ideal gas in a long narrow passage; blends: Wilke 1950.
    """
    if upstream_pa <= downstream_pa:
        raise MeasurementError("There was no pressure across the hole, so nothing could be measured.")
    if not refrigerant:
        return SameHole(why_not=NOT_NAMED)
    try:
        inside_pa = fluids.dew_pressure_pa(refrigerant, CONVERSION_K)
        viscosity_pa_s, note = _viscosity(refrigerant, inside_pa)
        molar_mass_kg_mol = fluids.molar_mass_kg_mol(refrigerant)
    except fluids.FluidError as error:
        return SameHole(why_not=str(error))
    driving = (inside_pa**2 - atmosphere_pa**2) / (upstream_pa**2 - downstream_pa**2)
    if driving <= 0:
        return SameHole(why_not=f"{refrigerant} stands below the atmosphere at 25 C, so it would not leak out.")
    factor = driving * gas_viscosity_pa_s / viscosity_pa_s
    return SameHole(g_per_year_per_pa_m3_s=grams_per_year(factor, molar_mass_kg_mol), note=note)


def _viscosity(refrigerant: str, inside_pa: float) -> tuple[float, str]:
    """The viscosity (Pa s) of the vapour at 25 C, and what to say where it is an estimate."""
    if not fluids.is_blend(refrigerant):
        return fluids.vapour_viscosity_pa_s(refrigerant, inside_pa, CONVERSION_K), ""
    parts = {code: float(fraction) for code, fraction in catalogue.refrigerant(refrigerant).components}
    try:
        return testgases.blend_viscosity_pa_s(parts, CONVERSION_K), BY_COMPONENTS
    except fluids.FluidError as error:
        raise fluids.NoPropertyData(f"no viscosity for {refrigerant}: {error}") from error


def air_viscosity_pa_s(temperature_k: float) -> float:
    """Return the dynamic viscosity (Pa s) of air, 200 to 400 K. Source: U.S. Standard Atmosphere 1976, eq. 51."""
    return float(1.458e-6 * temperature_k**1.5 / (temperature_k + 110.4))


def annualising_percent(*, added: float, full_charge: float, days: float) -> float:
    """Return the leak rate in per cent of the full charge a year, from one addition (masses in one unit).

    added / full_charge x 365 / min(days, 365) x 100, `days` since the last addition. Only for stationary
    appliances subject to it, not cars. Source: 40 CFR 82.152 (read second-hand).
    """
    need_not_below_zero(mass_added=added)
    need_above_zero(full_charge=full_charge, number_of_days=days)
    return added / full_charge * 365 / min(days, 365) * 100


def rolling_percent(*, additions: tuple[float, ...], full_charge: float) -> float:
    """Return the leak rate in per cent a year from the sum of all additions of the last 365 days.

    Only for stationary appliances subject to it, not cars. Source: 40 CFR 82.152 (read second-hand).
    """
    need_above_zero(full_charge=full_charge)
    for added in additions:
        need_not_below_zero(mass_added=added)
    return sum(additions) / full_charge * 100


def between_visits(facts: BetweenVisits) -> BetweenVisitsAnswer:
    """Return what a vehicle lost between two visits: charged less recovered less residue, with uncertainty.

    `lost` or `gained` is what lies beyond 2 u. Only from known content, and as a yearly rate only from 90 days on:
    before, the residue alone could make one. Raises ``MeasurementError`` for masses below zero and for no time between.
    """
    _check(facts)
    if not facts.known_content:
        return BetweenVisitsAnswer(
            verdict="not-known",
            sentence="No leak rate: what the vehicle held at the start is not known, and a rate needs that.",
            workings=(("Content at the start", "not known"),),
            sources=(),
        )
    verdict, (rate, u_rate) = _verdict(facts), facts.a_year or (None, None)
    return BetweenVisitsAnswer(
        verdict=verdict,
        sentence=_sentence(verdict, facts),
        workings=_workings(facts),
        sources=("JCGM 100:2008, clause 5", YARDSTICK_SOURCE),
        cautions=("The yardstick is a type-approval figure for new cars, not a limit for a used one.",),
        loss_g=facts.loss_g,
        g_per_year=rate,
        u_g_per_year=u_rate,
        percent_per_year=None if rate is None else rate / facts.charged_g * 100,
    )


def _check(facts: BetweenVisits) -> None:
    need_above_zero(charged_mass=facts.charged_g, number_of_days=facts.days)
    need_not_below_zero(
        recovered_mass=facts.recovered_g,
        residue=facts.residue_g,
        uncertainty_of_the_charge=facts.u_charged_g,
        uncertainty_of_the_recovery=facts.u_recovered_g,
        uncertainty_of_the_residue=facts.u_residue_g,
    )
    if facts.evaporators < 1:
        raise MeasurementError("A system has at least one evaporator.")


def _verdict(facts: BetweenVisits) -> str:
    # Two u and not 1.645 u: a residue at the end of its bound lies at 1.73 u, and that is no leak.
    if abs(facts.loss_g) <= give_or_take(facts.u_loss_g):
        return "nothing-shown"
    return "lost" if facts.loss_g > 0 else "gained"


def _sentence(verdict: str, facts: BetweenVisits) -> str:
    loss_g, u_g = facts.loss_g, facts.u_loss_g
    days = f"{facts.days:.0f} days"
    about = f"{figure(loss_g, 3)} g, give or take {figure(give_or_take(u_g))} g"
    if verdict == "gained":
        more = f"{figure(-loss_g, 3)} g, give or take {figure(give_or_take(u_g))} g"
        return f"More came out than the book put in: {more}; a reading or another charge explains it."
    if verdict == "nothing-shown":
        return f"No loss shown in {days}: {about}, within what the readings can tell."
    if facts.a_year is None:
        return f"Lost {about}, in {days}: too short a time for a yearly rate (90 days)."
    rate, u_rate = facts.a_year
    at_least = max(0.0, rate - give_or_take(u_rate))
    limit = YARDSTICK_G_PER_YEAR.get(facts.evaporators, YARDSTICK_G_PER_YEAR[2])
    return (
        f"Lost {about}, in {days}: {figure(rate, 3)} g a year, at least {figure(at_least, 3)} g; "
        f"the yardstick for a new car is {mass(limit)} a year."
    )


def _workings(facts: BetweenVisits) -> tuple[tuple[str, str], ...]:
    rows = [
        ("Charged", f"{figure(facts.charged_g, 4)} g, {_within(facts.u_charged_g)}"),
        ("Recovered", f"{figure(facts.recovered_g, 4)} g, {_within(facts.u_recovered_g)}"),
        ("Residue after recovery", f"{facts.residue_g:.1f} g, {_within(facts.u_residue_g)}"),
        ("Loss = charged - recovered - residue", f"{facts.loss_g:.1f} g, {_within(facts.u_loss_g)}"),
    ]
    if facts.a_year is None:
        return (*rows, ("A year", "not given under 90 days"))
    rate, u_rate = facts.a_year
    return (*rows, (f"A year = loss x {YEAR_DAYS} / {facts.days:.0f}", f"{rate:.0f} g, {_within(u_rate)}"))


def _within(u_g: float) -> str:
    return f"give or take {give_or_take(u_g):.1f} g"


def statutory_sentence(percent_per_year: float, *, method: str) -> str:
    """Return the sentence for a statutory rate by `method` ("annualising" or "rolling")."""
    need_finite(leak_rate=percent_per_year)
    return f"{figure(percent_per_year, 4)} % of the full charge a year by the {method} method. {NOT_FOR_CARS}"


def yearly_words(hole: SameHole, leak: Ends, gas: str, refrigerant: str = "") -> str:
    """Return a limit or a leak in words: grams a year (of `refrigerant`) where there is a conversion, else as measured.

    `leak` is of `gas` (Pa m3/s) at the two ends of the inside volume; equal ones read as one.
    """
    as_measured = f"{figures_between(leak.low, leak.high)} Pa m3/s of {gas}"
    grams = hole.grams(leak)
    if grams is None:
        return as_measured
    of = f" of {refrigerant}" if refrigerant else ""
    return f"{yearly_between(grams.low, grams.high)}{of} ({as_measured})"
