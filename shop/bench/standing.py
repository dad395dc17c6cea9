"""The standing pressure: what a circuit at rest, before any machine is connected, says of its content.

Masses are grams, pressures absolute pascals, temperatures kelvin. A *step* is the resolution of a display; a
thermometer good to +-0.5 K counts as a step of 1 K. The inside volume is an interval: what is at most inside goes with
its high end, what is at least inside with its low end.

Errors: ``MeasurementError`` with a sentence; ``NoPropertyData`` and ``OutsideModel`` of inventory.gases.fluids.
"""

from dataclasses import dataclass
from math import hypot

from inventory.gases import fluids
from inventory.gases.identify import WARMER_K, warmest_that_explains_k
from inventory.measure.uncertainty import give_or_take, resolution
from shop.bench.answers import (
    INSTRUCTIONS_FIRST,
    Answer,
    MeasurementError,
    at_least,
    bar,
    celsius,
    celsius_read,
    figure,
    figures_between,
    need_above_zero,
)
from shop.bench.insides import Around, Inside
from shop.bench.residue import COLD_K, oil_allowance_g, vapour_g

SOURCES = (
    "Vapour inside: volume times density, by CoolProp",
    "Oil allowance: 5 % of the oil's mass (0 to 10 %), an allowance and not property data",
    "How much warmer than the coldest part the warmest may be where none was measured: an estimate without a source",
)
CAUTIONS = (
    "A pressure never replaces an identifier.",
    "Wait until hot and cold parts are alike: 5 K between them is about 1 bar of false difference.",
    "Goggles, gloves, a ventilated place, no pit: refrigerant is heavier than air.",
    INSTRUCTIONS_FIRST,
)


@dataclass(frozen=True, kw_only=True)
class Standing(Around):
    """A standing pressure: absolute, with the coldest and warmest part measured and the steps of the instruments.

    `oil_high_g` is the most oil that such a circuit has, allowed for where `oil_g` is not known.
    `coldest_k` may be None only where nothing stands above the air outside: then no usual refrigerant is liquid.
    """

    refrigerant: str
    pressure_pa: float
    coldest_k: float | None
    warmest_k: float | None = None
    pressure_step_pa: float
    temperature_step_k: float = 1.0
    oil_g: float | None = None
    oil_high_g: float | None = None

    @property
    def cold_k(self) -> float:
        """The coldest part, or what is taken for it."""
        return COLD_K if self.coldest_k is None else self.coldest_k

    @property
    def low_pa(self) -> float:
        """The lowest that the pressure can have been, as far as the air outside is not known."""
        return self.pressure_pa + (self.lowest_air_pa - self.atmosphere_pa)

    @property
    def high_pa(self) -> float:
        """The highest that the pressure can have been, as far as the air outside is not known."""
        return self.pressure_pa + (self.highest_air_pa - self.atmosphere_pa)

    @property
    def is_above_air(self) -> bool:
        """Whether it stands above the air outside by more than the gauge can tell."""
        return self.pressure_pa - self.atmosphere_pa > give_or_take(resolution(self.pressure_step_pa))


@dataclass(frozen=True, kw_only=True)
class StandingAnswer(Answer):
    """Verdicts: `empty` (nothing above the atmosphere), `vapour`, `liquid`, `too-high` (air or something else).

    `at_least_g` holds where liquid may be inside, for the low end of the inside volume. Where it cannot: `vapour_g`
    for the high end (`vapour_low_g` for the low one), and `at_most_g`, the vapour at
    half a step of the gauge more (`vapour_max_g`) with the oil allowance. `recovery_owed` is false only for `empty`.
    """

    saturation_pa: float
    at_least_g: float | None = None
    vapour_g: float | None = None
    vapour_low_g: float | None = None
    vapour_max_g: float | None = None
    oil_allowance_g: float | None = None
    at_most_g: float | None = None
    recovery_owed: bool
    inside: Inside


def read_standing(standing: Standing) -> StandingAnswer:
    """Return what a standing pressure says of the content, with its bounds.

    Below saturation at the coldest part (by more than 2 u): no liquid, so the vapour is all there is, with the oil's
    share. At saturation: at least V rho of the saturated vapour; nothing can be said about "at most". Above saturation
    at the warmest part: air or another refrigerant, and the same least mass cannot be given. Where the warmest part was
    not measured, one up to `WARMER_K` above the coldest may explain a pressure: `liquid` still, and the sentence says
    both. `empty` is a pressure not above the atmosphere by more than 2 u. Raises ``MeasurementError``;
    ``NoPropertyData``, ``OutsideModel``.
    """
    _check(standing)
    cold_k = standing.cold_k
    warmest_k = cold_k if standing.warmest_k is None else standing.warmest_k
    cold_pa = fluids.dew_pressure_pa(standing.refrigerant, cold_k)
    warm_pa = fluids.bubble_pressure_pa(standing.refrigerant, warmest_k)
    if standing.high_pa < cold_pa - _margin_pa(standing, cold_k):
        return _no_liquid(standing, cold_pa)
    if standing.coldest_k is None:
        raise MeasurementError("The temperature of the coldest part is needed: without it liquid may be inside or not.")
    if standing.low_pa <= warm_pa + _margin_pa(standing, warmest_k):
        return _liquid(standing, cold_pa)
    if standing.warmest_k is not None:
        return _too_high(standing, warm_pa)
    return _with_warmest_not_measured(standing, warm_pa)


def _check(standing: Standing) -> None:
    need_above_zero(
        absolute_pressure=standing.pressure_pa,
        absolute_temperature=standing.coldest_k,
        step_of_the_gauge=standing.pressure_step_pa,
        step_of_the_thermometer=standing.temperature_step_k,
        volume=standing.space.low_m3,
        atmospheric_pressure=standing.atmosphere_pa,
    )
    if standing.coldest_k is None and standing.is_above_air:
        raise MeasurementError("The temperature of the coldest part is needed: it says whether liquid may be inside.")
    if standing.warmest_k is not None and standing.warmest_k < standing.cold_k and standing.coldest_k is not None:
        raise MeasurementError("The warmest part is colder than the coldest: the two may be swapped.")


def _margin_pa(standing: Standing, temperature_k: float) -> float:
    """Twice the standard uncertainty of a reading against saturation, gauge and thermometer together."""
    # Slope over one kelvin downwards, so that the highest temperature of the model can still be asked about.
    slope = fluids.dew_pressure_pa(standing.refrigerant, temperature_k) - fluids.dew_pressure_pa(
        standing.refrigerant, temperature_k - 1.0
    )
    return give_or_take(hypot(resolution(standing.pressure_step_pa), slope * resolution(standing.temperature_step_k)))


def _no_liquid(standing: Standing, saturation_pa: float) -> StandingAnswer:
    held_g = _vapour_g(standing, standing.pressure_pa, standing.space.high_m3)
    low_g = _vapour_g(standing, standing.low_pa, standing.space.low_m3)
    top_pa = min(standing.high_pa + standing.pressure_step_pa / 2, saturation_pa)
    max_g = _vapour_g(standing, top_pa, standing.space.high_m3)
    oil_g = oil_allowance_g(standing.oil_high_g if standing.oil_g is None else standing.oil_g)
    if not standing.is_above_air:
        verdict, sentence = "empty", _empty_sentence(standing, max_g, oil_g)
    else:
        grams = f"{figures_between(low_g, max_g)} g of vapour, by the inside volume"
        if standing.space.is_one:
            u_g = held_g * hypot(
                resolution(standing.pressure_step_pa) / standing.pressure_pa,
                resolution(standing.temperature_step_k) / standing.cold_k,
            )
            grams = f"{figure(held_g, 3)} g of vapour, give or take {figure(give_or_take(u_g), 1)} g"
        verdict = "vapour"
        sentence = f"No liquid, but not empty: {grams}, beside what the oil holds; recovery is owed."
    return _standing_answer(
        standing,
        saturation_pa,
        verdict,
        sentence,
        vapour_g=held_g,
        vapour_low_g=low_g,
        vapour_max_g=max_g,
        oil_allowance_g=oil_g,
        at_most_g=max_g + oil_g,
    )


def _vapour_g(standing: Standing, pressure_pa: float, volume_m3: float) -> float:
    return vapour_g(
        standing.refrigerant,
        pressure_pa=max(0.0, pressure_pa),
        temperature_k=standing.cold_k,
        volume_m3=volume_m3,
    )


def _empty_sentence(standing: Standing, vapour_g: float, oil_g: float) -> str:
    oil = f"about {figure(oil_g, 2)} g in the oil"
    if standing.oil_g is None:
        oil = "what the oil holds (its amount was not entered)"
        if standing.oil_high_g is not None:
            oil = f"at most {figure(oil_g, 3)} g in the oil (its amount was not entered)"
    return (
        f"Empty: no pressure above the atmosphere, so at most {figure(vapour_g, 3)} g of vapour and {oil}; "
        "recovery is not owed."
    )


def _liquid(standing: Standing, saturation_pa: float) -> StandingAnswer:
    cold_k, code = standing.cold_k, standing.refrigerant
    density = fluids.saturated_vapour_density_kg_m3(code, cold_k)
    if standing.low_pa < saturation_pa - _margin_pa(standing, cold_k):
        # Where the air outside is not known, it may as well stand below saturation, and then vapour is all there is.
        density = fluids.vapour_density_kg_m3(code, standing.low_pa, cold_k)
    at_least_g = 1000 * standing.space.low_m3 * density
    sentence = (
        f"Liquid may be inside: {code} at {celsius_read(cold_k)} stands at "
        f"{bar(saturation_pa - standing.atmosphere_pa)} gauge, and this system does, so it holds at least "
        f"{at_least(at_least_g)}; how much more, the pressure cannot tell."
    )
    return _standing_answer(standing, saturation_pa, "liquid", sentence, at_least_g=at_least_g)


def _with_warmest_not_measured(standing: Standing, saturation_pa: float) -> StandingAnswer:
    """Read a pressure above saturation at the coldest part: a part that is warmer, and nobody measured, may explain it.

    What that part has to be is reckoned without the errors of the instruments. The least mass is that of saturated
    vapour at the coldest part, true as long as no air and no other gas is in it.
    """
    code, cold_k = standing.refrigerant, standing.cold_k
    limit_k = cold_k + WARMER_K
    needed_k = warmest_that_explains_k(code, standing.pressure_pa)
    try:
        too_high = standing.low_pa > fluids.bubble_pressure_pa(code, limit_k) + _margin_pa(standing, limit_k)
    except fluids.FluidError:  # beyond the critical point: such a part explains what saturation still reaches
        too_high, limit_k = needed_k is None, cold_k
    if too_high or needed_k is None:
        warm = f" even with a warmest part of {celsius(limit_k)} (none was measured)" if limit_k > cold_k else ""
        limit_pa = fluids.bubble_pressure_pa(code, limit_k)
        return _too_high(standing, limit_pa, warm)
    at_least_g = 1000 * standing.space.low_m3 * fluids.saturated_vapour_density_kg_m3(code, cold_k)
    sentence = (
        f"{bar(standing.pressure_pa - saturation_pa)} above what {code} stands at at {celsius(cold_k)} "
        f"({bar(saturation_pa - standing.atmosphere_pa)} gauge): a warmest part of {celsius(needed_k)} would explain "
        "it, and none was measured; else there is air in it or another gas. "
        f"With liquid inside and no air it holds at least {at_least(at_least_g)}."
    )
    return _standing_answer(standing, saturation_pa, "liquid", sentence, at_least_g=at_least_g)


def _too_high(standing: Standing, saturation_pa: float, warm: str = "") -> StandingAnswer:
    sentence = (
        f"Above saturation: {standing.refrigerant} would stand at no more than "
        f"{bar(saturation_pa - standing.atmosphere_pa)} gauge{warm}, so there is air in it, or it is something else."
    )
    return _standing_answer(standing, saturation_pa, "too-high", sentence)


def _standing_answer(
    standing: Standing, saturation_pa: float, verdict: str, sentence: str, **masses_g: float
) -> StandingAnswer:
    return StandingAnswer(
        verdict=verdict,
        sentence=" ".join((sentence, *_taken_words(standing, verdict))),
        workings=(
            ("Pressure", f"{bar(standing.pressure_pa - standing.atmosphere_pa)} gauge"),
            (f"Saturation of {standing.refrigerant}", f"{bar(saturation_pa - standing.atmosphere_pa)} gauge"),
            ("Coldest part", celsius(standing.cold_k)),
            ("Warmest part where none was measured", f"up to {WARMER_K:g} K above the coldest"),
            ("Inside volume", standing.space.words),
            ("Mass of vapour", "volume x density at the coldest part"),
        ),
        sources=SOURCES,
        cautions=CAUTIONS,
        saturation_pa=saturation_pa,
        recovery_owed=verdict != "empty",
        inside=standing.space,
        **masses_g,
    )


def _taken_words(standing: Standing, verdict: str) -> tuple[str, ...]:
    """What holds in place of what nobody entered."""
    found = []
    if not standing.space.is_one and verdict != "too-high":
        found.append(f"Inside volume taken: {standing.space.words}.")
    if standing.coldest_k is None:
        found.append(f"The coldest part was not measured: {celsius(COLD_K)} is taken, as cold holds the most.")
    return tuple(found)
