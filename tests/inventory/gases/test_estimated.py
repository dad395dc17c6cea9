"""Blends estimated from their components: how far off where the mixture is known, and what is not estimated."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.gases import estimated, filling, fluids, identify
from inventory.gases.catalogue import refrigerant

KNOWN = ["R-404A", "R-407C", "R-410A", "R-507A", "R-417A", "R-502", "R-500", "R-421A", "R-454B", "R-466A", "R-513A"]
BLENDS = ["R-401A", "R-406A", "R-409A", "R-414B", "R-416A", "R-437A"]
MODEL = {
    estimated.BUBBLE: fluids.bubble_pressure_pa,
    estimated.DEW: fluids.dew_pressure_pa,
    estimated.LIQUID: fluids.liquid_density_kg_m3,
    estimated.VAPOUR: fluids.saturated_vapour_density_kg_m3,
}


def celsius(value: float) -> float:
    return fluids.ZERO_CELSIUS_K + value


@pytest.mark.parametrize("code", KNOWN)
def test_the_method_misses_a_known_mixture_by_no_more_than_every_estimate_says(code: str) -> None:
    # R-515B needs no pair of a kind: what it says is what the method alone may be off.
    said = {what: estimated._within()["R-515B"][what] for what in MODEL}
    for what, model in MODEL.items():
        for kelvin in map(celsius, (-40, -15, 10, 35, 60)):
            try:
                known = model(code, kelvin)
            except fluids.OutsideModel:  # the end of a mixture's model
                continue
            ours = estimated.reckon(code, what, kelvin, estimated.interactions())
            assert abs(ours / known - 1) <= said[what], (what, kelvin)


@pytest.mark.parametrize("code", BLENDS)
def test_bubble_lies_above_dew_and_both_rise_with_the_temperature(code: str) -> None:
    at = [celsius(value) for value in range(-40, 61, 20)]
    bubbles = [estimated.bubble_pressure_pa(code, kelvin).value for kelvin in at]
    dews = [estimated.dew_pressure_pa(code, kelvin).value for kelvin in at]
    assert all(dew < bubble for dew, bubble in zip(dews, bubbles, strict=True))
    assert bubbles == sorted(bubbles)
    assert dews == sorted(dews)


@given(st.sampled_from(BLENDS), st.floats(-40, 60))
@settings(max_examples=25)
def test_the_liquid_is_as_heavy_as_its_lightest_to_its_heaviest_component(code: str, value: float) -> None:
    parts = [fluids.liquid_density_kg_m3(one, celsius(value)) for one, _ in refrigerant(code).components]
    found = estimated.liquid_density_kg_m3(code, celsius(value))
    assert min(parts) <= found.value <= max(parts)
    assert found.low < found.value < found.high


@pytest.mark.parametrize("code", ["R-134a", "R-404A", "R-445A", "R-508B", "nonsense"])
def test_what_has_a_model_or_cannot_be_estimated_is_not(code: str) -> None:
    assert not estimated.is_estimated(code)
    with pytest.raises(fluids.NoPropertyData, match="no estimate"):
        estimated.bubble_pressure_pa(code, 300.0)


def test_beyond_the_temperatures_of_a_workshop_the_range_is_named() -> None:
    with pytest.raises(fluids.OutsideModel, match=r"at least -40\.00 C, at most 60\.00 C"):
        estimated.dew_pressure_pa("R-409A", celsius(61))


def test_every_pair_of_an_estimated_blend_has_its_interaction() -> None:
    for code in estimated._within():
        parts = [one for one, _ in refrigerant(code).components]
        assert all(
            estimated.pair(one, other) in estimated.interactions() for one in parts for other in parts if one < other
        )


def test_a_filling_limit_takes_off_what_the_estimate_may_be_off() -> None:
    found = {limit.rule: limit for limit in filling.limits("R-409A", 0.012)}
    at_55 = estimated.liquid_density_kg_m3("R-409A", celsius(55))
    limit = found[filling.CFR_DENSITY]
    assert limit.max_net_g == pytest.approx(at_55.low * 12, rel=2e-3)
    assert "estimated, within 6\N{NARROW NO-BREAK SPACE}%, which is taken off" in limit.note


def test_a_pressure_fits_an_estimated_blend_within_what_the_estimate_may_be_off() -> None:
    bubble = estimated.bubble_pressure_pa("R-409A", celsius(25))
    how = {"temperature_k": celsius(25), "u_pressure_pa": 2_000.0, "u_temperature_k": 0.1}
    verdicts = []
    for more in (1.0, 1 + 3 * bubble.within):
        one = identify.identify(["R-409A"], pressure_pa=bubble.value * more, **how).candidates[0]
        verdicts.append(one.verdict)
        assert "estimated from its components" in one.reason
    assert verdicts == [identify.FITS, identify.DOES_NOT_FIT]
