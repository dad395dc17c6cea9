"""Which refrigerant a pressure fits, and what mass it bounds; worked examples and properties."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.gases import catalogue, fluids, identify

ATMOSPHERE_PA = 101_325.0
INHG_PA = 3_386.389
GAUGE_U_PA = 0.1e5 / math.sqrt(12)  # readable to 0.1 bar
THERMOMETER_U_K = 0.5 / math.sqrt(3)  # good to 0.5 K
CODES = [one.code for one in catalogue.refrigerants()]
WITH_DATA = [code for code in CODES if fluids.has_data(code)]


def at(bar_gauge: float, celsius: float, codes=("R-12", "R-134a", "R-1234yf", "R-22", "R-290")):
    return identify.identify(
        codes,
        pressure_pa=bar_gauge * 1e5 + ATMOSPHERE_PA,
        temperature_k=celsius + 273.15,
        u_pressure_pa=GAUGE_U_PA,
        u_temperature_k=THERMOMETER_U_K,
    )


def bound(code, pressure_pa, litres, coldest_c, warmest_c=None, oil_g=0.0):
    return identify.content_bounds(
        code,
        pressure_pa=pressure_pa,
        volume_m3=litres / 1000,
        coldest_k=coldest_c + 273.15,
        warmest_k=(coldest_c if warmest_c is None else warmest_c) + 273.15,
        u_pressure_pa=GAUGE_U_PA,
        u_temperature_k=THERMOMETER_U_K,
        oil_g=oil_g,
    )


@pytest.mark.parametrize(
    ("code", "bar_gauge"),
    [("R-12", 4.65), ("R-134a", 4.70), ("R-1234yf", 4.91), ("R-22", 8.09), ("R-290", 7.35)],
)
def test_saturation_at_20_c_in_bar_gauge(code, bar_gauge):
    """Worked example."""
    assert (fluids.bubble_pressure_pa(code, 293.15) - ATMOSPHERE_PA) / 1e5 == pytest.approx(bar_gauge, abs=0.006)


def test_4_7_bar_at_20_c_fits_two_refrigerants_and_cannot_tell_them_apart():
    """Worked example: gauge readable to 0.1 bar, thermometer good to 0.5 K."""
    result = at(4.7, 20)
    assert result.codes(identify.FITS) == ("R-12", "R-134a")
    assert result.codes(identify.DOES_NOT_FIT) == ("R-1234yf", "R-22", "R-290")
    assert "cannot tell them apart" in result.sentence
    assert "never replaces an identifier" in result.caution


def test_r12_and_r134a_cross_at_16_6_c():
    """Worked example."""
    found = identify.crossing_temperature_k("R-12", "R-134a", low_k=260.0, high_k=320.0)
    assert found - 273.15 == pytest.approx(16.6, abs=0.05)
    assert identify.crossing_temperature_k("R-12", "R-22", low_k=260.0, high_k=320.0) is None


@pytest.mark.parametrize("celsius", [5, 10, 16.6, 20, 25, 30])
def test_r12_and_r134a_stay_within_0_3_bar_between_5_and_30_c(celsius):
    """Worked example."""
    kelvin = celsius + 273.15
    apart = fluids.bubble_pressure_pa("R-12", kelvin) - fluids.bubble_pressure_pa("R-134a", kelvin)
    assert abs(apart) < 0.3e5


@pytest.mark.parametrize("celsius", [5, 15, 25])
def test_r1234yf_stands_0_15_to_0_25_bar_above_r134a(celsius):
    """Worked example says 0.17 to 0.25 bar between 5 and 25 C."""
    kelvin = celsius + 273.15
    apart = fluids.bubble_pressure_pa("R-1234yf", kelvin) - fluids.bubble_pressure_pa("R-134a", kelvin)
    assert 0.165e5 < apart < 0.255e5


@pytest.mark.parametrize(
    ("u_off", "verdict"),
    [
        (1.9, identify.FITS),
        (2.1, identify.CANNOT_TELL),
        (-2.9, identify.CANNOT_TELL),
        (3.1, identify.DOES_NOT_FIT),
        (-3.1, identify.DOES_NOT_FIT),
    ],
)
def test_between_two_and_three_u_nobody_can_tell(u_off, verdict):
    (there,) = at(4.7, 20, ["R-134a"]).candidates
    gauge_bar = (there.bubble_pa + u_off * there.u_pa - ATMOSPHERE_PA) / 1e5
    (candidate,) = at(gauge_bar, 20, ["R-134a"]).candidates
    assert candidate.verdict == verdict
    assert ("on the edge" in candidate.reason) is (verdict == identify.CANNOT_TELL)


def test_a_warmer_part_that_nobody_measured_may_be_another_refrigerant():
    """75 psi at 70 F, gauge good to +-2 psi: R-12 stands at 70.2 psi there, and R-1234yf is 2 psi nearer."""
    reading = {"pressure_pa": 75 * 6_894.757 + ATMOSPHERE_PA, "temperature_k": 294.261}
    off = {"u_pressure_pa": 2 * 6_894.757 / math.sqrt(3), "u_temperature_k": THERMOMETER_U_K}
    codes = ("R-12", "R-134a", "R-1234yf", "R-22", "R-290")
    unknown = identify.identify(codes, **reading, **off, warmer_k=identify.WARMER_K)
    assert unknown.codes(identify.WITH_A_WARMER_PART) == ("R-12", "R-134a")
    assert unknown.codes(identify.FITS) == ("R-1234yf",)
    assert "would explain R-12 and R-134a as well" in unknown.sentence
    assert "Only R-1234yf" not in unknown.sentence
    measured = identify.identify(codes, **reading, **off, warmest_k=296.5, warmer_k=identify.WARMER_K)
    assert measured.codes(identify.FITS) == ("R-12", "R-134a", "R-1234yf")
    assert measured.codes(identify.WITH_A_WARMER_PART) == ()


def test_one_that_fits_is_still_no_proof():
    result = at(8.1, 20)
    assert result.codes(identify.FITS) == ("R-22",)
    assert "with air in it" in result.sentence


def test_nothing_that_fits_is_said_with_what_it_can_mean():
    result = at(2.0, 24)
    assert result.codes(identify.FITS) == ()
    assert "no liquid" in result.sentence


def test_a_pressure_above_saturation_says_how_much_air_it_would_take():
    (candidate,) = at(6.7, 20, ["R-134a"]).candidates
    assert candidate.verdict == identify.DOES_NOT_FIT
    assert candidate.reason.startswith("2.00 bar above its saturation")


def test_a_refrigerant_without_data_or_past_its_critical_point_cannot_be_told():
    result = at(4.7, 40, ["R-409A", "R-744"])
    assert result.codes(identify.CANNOT_TELL) == ("R-409A", "R-744")
    assert [candidate.reason for candidate in result.candidates] == [
        "no property data for R-409A",
        "40.0 C is outside the range for R-744: -56.6 to 31.0 C.",
    ]


def test_a_blend_fits_anywhere_between_dew_and_bubble():
    dew = fluids.dew_pressure_pa("R-407C", 293.15)
    bubble = fluids.bubble_pressure_pa("R-407C", 293.15)
    assert bubble - dew > 1e5
    for pressure in (dew, (dew + bubble) / 2, bubble):
        (candidate,) = at((pressure - ATMOSPHERE_PA) / 1e5, 20, ["R-407C"]).candidates
        assert candidate.verdict == identify.FITS


@settings(deadline=None, max_examples=150)
@given(st.sampled_from(WITH_DATA), st.floats(273.15, 310.0), st.floats(-1.9, 1.9))
def test_a_refrigerant_at_its_own_saturation_always_fits(code, kelvin, u_off):
    low, high = fluids.saturation_range_k(code)
    if not low + 1 < kelvin < high - 1:
        return
    middle = (fluids.bubble_pressure_pa(code, kelvin) + fluids.dew_pressure_pa(code, kelvin)) / 2
    (candidate,) = identify.identify(
        [code],
        pressure_pa=middle + u_off * GAUGE_U_PA,
        temperature_k=kelvin,
        u_pressure_pa=GAUGE_U_PA,
        u_temperature_k=THERMOMETER_U_K,
    ).candidates
    assert candidate.verdict == identify.FITS


def test_the_whole_catalogue_can_be_asked_at_once():
    result = at(4.7, 20, CODES)
    assert len(result.candidates) == len(CODES)
    assert {"R-12", "R-134a"} <= set(result.codes(identify.FITS))
    assert not {"R-22", "R-290", "R-404A", "R-744"} & set(result.codes(identify.FITS))


def test_a_full_car_holds_at_least_64_g():
    """Worked example: 2.0 L of R-12 at 4.7 bar gauge and 20 C."""
    result = bound("R-12", 4.7e5 + ATMOSPHERE_PA, 2.0, 20)
    assert result.kind == identify.AT_LEAST
    assert result.vapour_g == pytest.approx(64, rel=0.01)
    assert "at least 64 g" in result.sentence


def test_a_car_at_atmosphere_holds_at_most_11_7_g_and_about_10_g_in_its_oil():
    """Worked example: 2.2 L of R-12 at 0.0 bar gauge, read to 0.1 bar, and 24 C; 200 g of oil."""
    result = bound("R-12", ATMOSPHERE_PA, 2.2, 24, oil_g=200)
    assert result.kind == identify.AT_MOST
    assert result.vapour_limit_g == pytest.approx(11.7, rel=0.01)
    assert result.oil_allowance_g == pytest.approx(10)
    assert result.oil_limit_g == pytest.approx(20)
    assert result.sentence == "No liquid: at most 11.7 g of vapour and about 10 g in the oil."


def test_a_car_at_5_3_bar_that_is_called_empty_holds_at_least_79_g():
    """Worked example: 2.2 L of R-12 at 24 C, which stands at 5.32 bar gauge."""
    assert (fluids.bubble_pressure_pa("R-12", 297.15) - ATMOSPHERE_PA) / 1e5 == pytest.approx(5.32, abs=0.005)
    result = bound("R-12", 5.3e5 + ATMOSPHERE_PA, 2.2, 24)
    assert result.kind == identify.AT_LEAST
    assert result.vapour_g == pytest.approx(79, rel=0.01)


def test_a_car_at_2_bar_holds_34_g_and_no_liquid():
    """Worked example: 34 g, give or take 1 g."""
    result = bound("R-12", 2.0e5 + ATMOSPHERE_PA, 2.2, 24)
    assert result.kind == identify.AT_MOST
    assert result.vapour_g == pytest.approx(34, abs=1)
    assert 2 * result.u_vapour_g < 1


@pytest.mark.parametrize(
    ("code", "pressure_pa", "litres", "celsius", "grams"),
    [
        ("R-12", ATMOSPHERE_PA - 4 * INHG_PA, 2.0, 20, 8.9),
        ("R-134a", ATMOSPHERE_PA - 4 * INHG_PA, 2.0, 20, 7.5),
        ("R-1234yf", ATMOSPHERE_PA - 4 * INHG_PA, 2.0, 20, 8.4),
        ("R-134a", ATMOSPHERE_PA - 4 * INHG_PA, 2.0, 15, 7.6),
        ("R-134a", 0.50e5, 12.0, 25, 24.9),
    ],
)
def test_vapour_left_at_the_end_of_a_recovery(code, pressure_pa, litres, celsius, grams):
    """Worked examples: 4 inHg below atmosphere, and 0.50 bar absolute in a bus; to 1 %."""
    result = bound(code, pressure_pa, litres, celsius)
    assert result.kind == identify.AT_MOST
    assert result.vapour_g == pytest.approx(grams, rel=0.01)


def test_a_pressure_above_saturation_at_the_warmest_part_is_air_or_another():
    saturated = fluids.bubble_pressure_pa("R-134a", 303.15)
    result = bound("R-134a", saturated + 0.5e5, 2.0, 20, 30)
    assert result.kind == identify.AIR_OR_ANOTHER
    assert result.vapour_g == 0
    assert bound("R-134a", saturated, 2.0, 20, 30).kind == identify.AT_LEAST


@settings(deadline=None, max_examples=150)
@given(st.sampled_from(["R-12", "R-134a", "R-1234yf", "R-407C"]), st.floats(0.01, 0.9), st.floats(263.0, 313.0))
def test_below_saturation_the_bound_is_never_less_than_an_ideal_gas_would_hold(code, part, kelvin):
    """The oracle: p V M / (R T), which real vapour exceeds."""
    pressure = part * (fluids.dew_pressure_pa(code, kelvin) - 60_000)
    if pressure < 1_000:
        return
    result = bound(code, pressure, 2.0, kelvin - 273.15)
    ideal_g = pressure * 0.002 * fluids.molar_mass_kg_mol(code) / (8.314462618 * kelvin) * 1000
    assert result.kind == identify.AT_MOST
    assert ideal_g <= result.vapour_g <= result.vapour_limit_g


@pytest.mark.parametrize(
    ("pressure_pa", "litres", "coldest_c", "warmest_c", "oil_g", "reason"),
    [
        (0.0, 2.0, 20, 20, 0, "above nothing"),
        (1e5, 0.0, 20, 20, 0, "above nothing"),
        (1e5, 2.0, 20, 20, -1, "below nothing"),
        (1e5, 2.0, 25, 20, 0, "warmer than the warmest"),
    ],
)
def test_what_cannot_be_is_a_sentence(pressure_pa, litres, coldest_c, warmest_c, oil_g, reason):
    with pytest.raises(ValueError, match=reason):
        bound("R-12", pressure_pa, litres, coldest_c, warmest_c, oil_g)
