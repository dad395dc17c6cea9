"""What a cylinder may hold: the rule that governs, the room left, and the refusals."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.gases import catalogue, filling, fluids

AT_60_C = 333.15
LITRE_M3 = 1e-3
CODES = [one.code for one in catalogue.refrigerants()]
LIQUID_AT_60_C = [code for code in CODES if fluids.has_data(code) and fluids.saturation_range_k(code)[1] >= AT_60_C]


@settings(deadline=None, max_examples=150)
@given(st.sampled_from(LIQUID_AT_60_C), st.floats(0.1, 1000.0), st.sampled_from([None, "us", "eu", "india"]))
def test_the_governing_limit_never_lets_liquid_fill_the_cylinder_at_60_c(code, litres, jurisdiction):
    limit = filling.governing(filling.limits(code, litres * LITRE_M3), jurisdiction)
    full_g = litres * fluids.liquid_density_kg_m3(code, AT_60_C)
    assert 0 < limit.max_net_g <= full_g


@settings(deadline=None, max_examples=80)
@given(st.sampled_from(LIQUID_AT_60_C), st.floats(0.1, 300.0), st.floats(1.01, 10.0))
def test_a_larger_cylinder_takes_more_in_proportion_by_every_rule(code, litres, times):
    small = filling.limits(code, litres * LITRE_M3)
    large = filling.limits(code, litres * times * LITRE_M3)
    assert [limit.rule for limit in small] == [limit.rule for limit in large]
    for one, other in zip(small, large, strict=True):
        assert other.max_net_g == pytest.approx(one.max_net_g * times, rel=1e-4, abs=0.01)


@pytest.mark.parametrize("code", CODES)
def test_every_catalogued_refrigerant_has_a_limit_or_a_sentence(code):
    found = filling.limits(code, 0.01)
    if found:
        assert all(limit.source and limit.max_net_g > 0 for limit in found)
    else:
        with pytest.raises(filling.NoLimit, match="No filling limit is known"):
            filling.governing(found)


@pytest.mark.parametrize(
    ("code", "litres", "rule", "net_g"),
    [
        ("R-12", 11.9, "p200", 13_685),
        ("R-12", 11.9, "eighty-percent", 12_478),
        ("R-134a", 10.0, "p200", 10_500),
        ("R-134a", 10.0, "eighty-percent", 9_654),
        ("R-1234yf", 6.0, "p200", 5_640),
        ("R-1234yf", 6.0, "eighty-percent", 5_241),
        ("R-134a", 10.0, "49cfr-density", 10_779),
    ],
)
def test_worked_limits(code, litres, rule, net_g):
    found = {limit.rule: limit for limit in filling.limits(code, litres * LITRE_M3)}
    assert found[rule].max_net_g == pytest.approx(net_g, abs=0.5)


@pytest.mark.parametrize(
    ("jurisdiction", "rule"),
    [(None, "eighty-percent"), ("us", "eighty-percent"), ("eu", "p200"), ("india", "eighty-percent")],
)
def test_the_rule_follows_the_jurisdiction_and_the_strictest_where_none_is_set(jurisdiction, rule):
    assert filling.governing(filling.limits("R-134a", 0.01), jurisdiction).rule == rule


def test_carbon_dioxide_has_printed_ratios_only():
    found = filling.limits("R-744", 0.01)
    assert {limit.rule for limit in found} == {"p200", "49cfr-density"}
    assert all("CoolProp" not in limit.source for limit in found)


def test_the_guard_at_60_c_is_listed_only_where_it_matters():
    rules = {code: [limit.rule for limit in filling.limits(code, 0.01)] for code in ("R-134a", "R-404A")}
    assert rules == {
        "R-134a": ["p200", "49cfr-density", "eighty-percent"],
        "R-404A": ["p200", "49cfr-density", "eighty-percent", "liquid-full-60c"],
    }


def test_a_mixed_content_has_the_strictest_limit_of_its_parts_and_names_it():
    limit = filling.mixture_limit(["R-134a", "R-1234yf"], 0.006)
    assert limit.max_net_g == pytest.approx(5_241, abs=0.5)
    assert limit.note.startswith("Strictest of the parts: R-1234yf.")


def test_a_part_without_a_limit_leaves_the_whole_without_one():
    with pytest.raises(filling.NoLimit, match="R-445A"):
        filling.mixture_limit(["R-134a", "R-445A"], 0.006)
    with pytest.raises(filling.NoLimit, match="at least one named refrigerant"):
        filling.mixture_limit([], 0.006)


@pytest.mark.parametrize("capacity", [0.0, -0.01, 3.1, float("nan")])
def test_a_capacity_that_no_cylinder_has_is_refused(capacity):
    with pytest.raises(ValueError, match="water capacity"):
        filling.limits("R-134a", capacity)


def test_the_room_goes_below_nothing_when_the_cylinder_is_past_its_limit():
    limit = filling.governing(filling.limits("R-134a", 0.01), "eu")
    assert filling.room(limit, 8_050) == pytest.approx(2_450)
    assert filling.room(limit, 11_000) == pytest.approx(-500)


@settings(deadline=None)
@given(st.sampled_from(["R-12", "R-134a", "R-407C"]), st.floats(0.0, 1.0), st.floats(263.15, 323.15))
def test_the_liquid_level_gives_back_the_mass_it_came_from(code, level, temperature):
    liquid = fluids.liquid_density_kg_m3(code, temperature)
    vapour = fluids.saturated_vapour_density_kg_m3(code, temperature)
    held_g = 10.0 * (level * liquid + (1 - level) * vapour)
    found = filling.liquid_fraction(code, held_g=held_g, water_capacity_m3=0.01, temperature_k=temperature)
    assert found == pytest.approx(level, abs=1e-9)


def test_an_almost_empty_cylinder_has_no_liquid():
    assert filling.liquid_fraction("R-134a", held_g=100, water_capacity_m3=0.012, temperature_k=295.15) == 0


def test_a_bottle_whose_liquid_is_gone_still_holds_354_g():
    """Worked example: 12 L of R-134a at 22 C."""
    held = filling.vapour_only_g("R-134a", water_capacity_m3=0.012, temperature_k=295.15)
    assert held == pytest.approx(354, rel=0.01)


TODAY = date(2025, 3, 3)


@pytest.mark.parametrize("kind", ["single-trip", "can lot"])
def test_a_single_trip_container_is_never_filled_whatever_its_date(kind):
    assert "never filled" in filling.refusal(kind, date(2030, 1, 1), TODAY)


@pytest.mark.parametrize("kind", ["refillable", "recovery", "machine tank"])
def test_a_cylinder_past_its_requalification_takes_nothing(kind):
    assert "2025-03-02" in filling.refusal(kind, date(2025, 3, 2), TODAY)
    assert filling.refusal(kind, TODAY, TODAY) is None
    assert filling.refusal(kind, None, TODAY) is None
