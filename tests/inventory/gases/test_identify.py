"""Which refrigerant a pressure fits; worked examples and properties."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.gases import catalogue, fluids, identify

ATMOSPHERE_PA = 101_325.0
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

    def lead_pa(celsius):
        return fluids.bubble_pressure_pa("R-12", celsius + 273.15) - fluids.bubble_pressure_pa(
            "R-134a", celsius + 273.15
        )

    assert lead_pa(16.55) > 0 > lead_pa(16.65)


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
    assert candidate.reason.startswith("1.99618 bar above its saturation")


def test_a_refrigerant_without_data_or_past_its_critical_point_cannot_be_told():
    result = at(4.7, 40, ["R-445A", "R-744"])
    assert result.codes(identify.CANNOT_TELL) == ("R-445A", "R-744")
    assert [candidate.reason for candidate in result.candidates] == [
        "no property data for R-445A",
        "40.00 C is outside the range for R-744: at least -56.56 C, at most 30.98 C.",
    ]


def test_a_blend_fits_anywhere_between_dew_and_bubble():
    dew = fluids.dew_pressure_pa("R-407C", 293.15)
    bubble = fluids.bubble_pressure_pa("R-407C", 293.15)
    assert bubble - dew > 1e5
    for pressure in (dew, (dew + bubble) / 2, bubble):
        (candidate,) = at((pressure - ATMOSPHERE_PA) / 1e5, 20, ["R-407C"]).candidates
        assert candidate.verdict == identify.FITS


@settings(deadline=None, max_examples=60)
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
