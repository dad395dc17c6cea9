"""Filling limits against the printed rules: ADR/RID 2025 P200, 49 CFR 173.304a, AHRI Guideline K."""

import pytest

from inventory.gases import catalogue, estimated, filling, fluids

AT_50_C, AT_55_C, AT_60_C = 323.15, 328.15, 333.15
LITRE_M3 = 1e-3
WATER_60F_KG_M3 = 999.0

P200_TABLE_2 = {
    "R-12": 1.15,
    "R-22": 1.03,
    "R-115": 1.05,
    "R-124": 1.20,
    "R-142b": 0.99,
    "R-134a": 1.05,
    "R-152a": 0.79,
    "R-125": 0.87,
    "R-143a": 0.73,
    "R-32": 0.78,
    "R-227ea": 1.21,
    "R-218": 1.04,
    "R-C318": 1.32,
    "R-23": 0.88,
    "R-404A": 0.82,
    "R-407A": 0.94,
    "R-407B": 0.93,
    "R-407C": 0.95,
    "R-500": 1.01,
    "R-502": 1.01,
    "R-744": 0.68,
    "R-290": 0.43,
    "R-600a": 0.49,
    "R-600": 0.52,
    "R-1270": 0.43,
    "R-717": 0.54,
}
"""ADR/RID 2025, 4.1.4.1 P200 Table 2 (Norwegian national edition), kg per litre; of several test pressures (R-125,
R-23, R-744) the lowest."""


def limit_of(code: str, rule: str, litres: float = 1.0) -> filling.Limit:
    return next(limit for limit in filling.limits(code, litres * LITRE_M3) if limit.rule == rule)


@pytest.mark.parametrize("code", sorted(P200_TABLE_2))
def test_the_printed_ratio_of_p200_is_the_answer(code):
    limit = limit_of(code, "p200")
    assert limit.max_net_g == pytest.approx(P200_TABLE_2[code] * 1000)
    assert "P200 Table 2" in limit.source
    assert not limit.from_memory


def test_a_twelve_litre_cylinder_takes_12_6_kg_of_r134a():
    """Constructed from the table: 12 L x 1.05."""
    assert limit_of("R-134a", "p200", 12).max_net_g == pytest.approx(12_600)


@pytest.mark.parametrize(
    ("code", "printed", "at_50_c", "at_60_c"),
    [
        ("R-134a", 1.05, 0.95 * 1.1023, 1.0529),
        ("R-404A", 0.82, 0.854, 0.813),
        ("R-407A", 0.94, None, 0.943),
        ("R-407B", 0.93, None, 0.929),
        ("R-407C", 0.95, None, 0.951),
        ("R-125", 0.87, None, 0.872),
    ],
)
def test_the_density_rule_explains_the_printed_ratios(code, printed, at_50_c, at_60_c):
    """P200(5)(c): 0.95 x liquid density at 50 C, and not full at 60 C. Densities: CoolProp 8.0.0, kg per litre.

    The printed ratio lies within 0.01 of the smaller: R-404A is printed 0.007 above the density at 60 C.
    """
    ours_50 = 0.95 * fluids.liquid_density_kg_m3(code, AT_50_C) / 1000
    ours_60 = fluids.liquid_density_kg_m3(code, AT_60_C) / 1000
    if at_50_c is not None:
        assert ours_50 == pytest.approx(at_50_c, abs=6e-4)
    assert ours_60 == pytest.approx(at_60_c, abs=6e-4)
    assert min(ours_50, ours_60) == pytest.approx(printed, abs=0.01)


@pytest.mark.parametrize(
    ("code", "printed", "by_our_density"),
    [
        ("R-32", 0.78, 0.773),
        ("R-143a", 0.73, 0.729),
        ("R-218", 1.04, 1.037),
        ("R-290", 0.43, 0.428),
        ("R-404A", 0.82, 0.813),
        ("R-407B", 0.93, 0.929),
        ("R-500", 1.01, 0.998),
    ],
)
def test_where_a_printed_ratio_lets_liquid_fill_the_cylinder_at_60_c_both_stand_and_the_lesser_governs(
    code, printed, by_our_density
):
    """P200 Table 2 against the liquid density at 60 C by CoolProp: printed figures are rounded, R-500's by 1.2 %."""
    assert limit_of(code, "p200").max_net_g == pytest.approx(printed * 1000)
    assert limit_of(code, "liquid-full-60c").max_net_g == pytest.approx(by_our_density * 1000, abs=1)
    governing = filling.governing(filling.limits(code, LITRE_M3), "eu")
    assert governing.rule == "liquid-full-60c"


@pytest.mark.parametrize(
    ("code", "ratio"),
    [
        ("R-1234yf", 0.94),
        ("R-410A", 0.81),
        ("R-1234ze(E)", 1.02),
        ("R-513A", 0.97),
        ("R-450A", 1.02),
        ("R-454C", 0.87),
        ("R-444A", 0.98),
        ("R-456A", 1.01),
    ],
)
def test_where_p200_prints_no_ratio_the_density_rule_is_cut_to_hundredths(code, ratio):
    """UN 3161 and UN 3163 print none; worked out apart from this code with CoolProp 8.0.0, rounded down."""
    assert filling.density_rule_kg_per_litre(code) == pytest.approx(ratio)
    assert "prints no ratio" in limit_of(code, "p200").source


@pytest.mark.parametrize(
    ("code", "percent"), [("R-12", 119), ("R-22", 105), ("R-142b", 100), ("R-115", 110), ("R-744", 68), ("R-717", 54)]
)
def test_the_filling_density_of_49_cfr_is_the_printed_one(code, percent):
    """49 CFR 173.304a(a)(2), per cent of the weight of water at 60 F (R-744: service pressure 1,800 psig)."""
    limit = limit_of(code, "49cfr-density")
    assert limit.max_net_g == pytest.approx(percent / 100 * WATER_60F_KG_M3)
    assert not limit.from_memory


def test_the_filling_density_of_r152a_is_marked_as_from_memory():
    limit = limit_of("R-152a", "49cfr-density")
    assert limit.max_net_g == pytest.approx(0.79 * WATER_60F_KG_M3)
    assert limit.from_memory


@pytest.mark.parametrize(
    ("code", "printed", "not_full"), [("R-12", 119, 119.2), ("R-22", 105, 105.8), ("R-115", 110, 110.8)]
)
def test_not_full_at_55_c_explains_the_printed_filling_densities(code, printed, not_full):
    """49 CFR 173.304(b); the printed figures are these cut down to whole per cent."""
    ours = fluids.liquid_density_kg_m3(code, AT_55_C) / WATER_60F_KG_M3 * 100
    assert ours == pytest.approx(not_full, abs=0.06)
    assert int(ours) == printed


@pytest.mark.parametrize(("code", "percent"), [("R-134a", 107.9), ("R-1234yf", 96.7)])
def test_where_49_cfr_prints_none_liquid_must_not_fill_it_at_55_c(code, percent):
    """Worked out from 49 CFR 173.304(b) apart from this code."""
    limit = limit_of(code, "49cfr-density")
    assert limit.max_net_g == pytest.approx(percent / 100 * WATER_60F_KG_M3, rel=1e-6)
    assert "173.304(b)" in limit.source


def test_47_7_pounds_of_water_take_56_8_pounds_of_r12():
    """Arithmetic on 49 CFR 173.304a: 47.7 lb x 1.19."""
    litres = 47.7 * 0.45359237 / WATER_60F_KG_M3 * 1000
    assert limit_of("R-12", "49cfr-density", litres).max_net_g / 453.59237 == pytest.approx(56.8, abs=0.05)


def test_guideline_k_by_its_printed_example():
    """Trade article on AHRI Guideline K-2004: 1,000 lb of water, R-22 at SG 1.197: 957.60 lb; 380 lb tare: 1,337.60.

    The original form, 0.80 x water capacity for any refrigerant: 800 lb.
    """
    assert filling.eighty_percent_kg(1000, 1.197) == pytest.approx(957.60)
    assert filling.eighty_percent_kg(1000, 1.197) + 380 == pytest.approx(1337.60)
    assert filling.eighty_percent_kg(1000, 1.0) == pytest.approx(800)


def test_the_printed_specific_gravity_of_r22_differs_from_ours_and_both_stand_here():
    """Trade article on AHRI Guideline K-2004: 1.197 at 77 F; ours 1.192, 0.4 % less, so the lesser limit."""
    assert filling.specific_gravity("R-22") == 1.192
    assert filling.specific_gravity("R-22") < 1.197


@pytest.mark.parametrize(("code", "gravity"), [("R-12", 1.312), ("R-134a", 1.208), ("R-1234yf", 1.093)])
def test_specific_gravities_at_77_f_over_water_at_60_f(code, gravity):
    """Worked out apart from this code from reference equations of state."""
    assert filling.specific_gravity(code) == gravity


@pytest.mark.parametrize("code", ["R-290", "R-600a"])
def test_eighty_percent_of_water_without_specific_gravity_is_unsafe_for_light_refrigerants(code):
    """They are full of liquid at 55 C with less than 0.52 of the weight of water."""
    assert fluids.liquid_density_kg_m3(code, AT_55_C) / WATER_60F_KG_M3 < 0.52
    assert limit_of(code, "eighty-percent").max_net_g < 0.52 * 999


@pytest.mark.parametrize("code", [one.code for one in catalogue.refrigerants()])
def test_no_catalogued_refrigerant_may_fill_its_cylinder_with_liquid_at_60_c(code):
    """ADR 4.1.4.1 P200(5)(c): liquid must not fill it at any temperature up to 60 C. Densities by CoolProp.

    Without a model or an estimate there is no limit at all; R-23 and R-744 have their printed ratios and no liquid
    at 60 C. Of an estimate its unsafe side counts.
    """
    if estimated.is_estimated(code):
        full_kg_per_litre = estimated.liquid_density_kg_m3(code, AT_60_C).low / 1000
    elif not fluids.has_data(code):
        assert filling.limits(code, LITRE_M3) == ()
        return
    elif fluids.saturation_range_k(code)[1] < AT_60_C:
        assert fluids.critical_point(code)[0] < AT_60_C
        return
    else:
        full_kg_per_litre = fluids.liquid_density_kg_m3(code, AT_60_C) / 1000
    for litres in (0.1, 0.95, 2.5, 11.9, 50.0, 450.0, 3000.0):
        found = filling.limits(code, litres * LITRE_M3)
        for jurisdiction in (None, "us", "eu", "india"):
            limit_g = filling.governing(found, jurisdiction).max_net_g
            assert 0 < limit_g <= full_kg_per_litre * litres * 1000
