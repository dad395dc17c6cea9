"""What stands in a hose."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.gases import fluids, hose


@settings(deadline=None)
@given(st.floats(0.1, 10.0), st.floats(0.001, 0.05), st.floats(253.15, 323.15))
def test_the_content_is_the_volume_times_the_density(length, bore, temperature):
    content = hose.hose_content("R-134a", length_m=length, bore_m=bore, temperature_k=temperature)
    volume = math.pi * (bore / 2) ** 2 * length
    assert content.volume_m3 == pytest.approx(volume)
    assert content.liquid_g == pytest.approx(volume * 1e3 * fluids.liquid_density_kg_m3("R-134a", temperature))
    assert content.vapour_g < content.liquid_g


def test_a_metre_and_a_half_of_five_millimetre_hose_holds_35_g_of_liquid():
    """Worked example by hand: 29.45 mL of R-134a at 25 C, boiling liquid 1.207 g/mL, dry vapour 0.0323 g/mL."""
    content = hose.hose_content("R-134a", length_m=1.5, bore_m=0.005, temperature_k=298.15)
    assert content.liquid_g == pytest.approx(29.45 * 1.207, rel=2e-3)
    assert content.vapour_g == pytest.approx(29.45 * 0.0323, rel=5e-3)


@pytest.mark.parametrize(
    ("length", "bore", "reason"),
    [(0.0, 0.005, "length"), (-1.0, 0.005, "length"), (150.0, 0.005, "length"), (1.5, 0.0, "bore"), (1.5, 5.0, "bore")],
)
def test_a_hose_that_cannot_be_is_a_sentence(length, bore, reason):
    with pytest.raises(ValueError, match=reason):
        hose.hose_content("R-134a", length_m=length, bore_m=bore, temperature_k=298.15)


def test_without_property_data_there_is_no_answer():
    with pytest.raises(fluids.NoPropertyData, match="R-409A"):
        hose.hose_content("R-409A", length_m=1.5, bore_m=0.005, temperature_k=298.15)
