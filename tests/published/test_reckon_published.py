"""Published figures, asked for as a person types them: the command against its sources."""

import pytest

from inventory.purity import container_table
from shop.checks import reckon

PSI_PA = 6894.757293168


def test_air_table_row_of_hfc_134a_is_found_by_whole_degree() -> None:
    # SAE J2211 container-pressure table as carried in the catalogue of rows; the row is looked up, not interpolated.
    row = container_table("R-134a")[70]
    answer = reckon("air", {"refrigerant": "HFC-134a", "temperature": "70 F", "pressure": "70 psi"})
    assert answer.figures["table_limit_pa"] == pytest.approx(row.limit_pa)


@pytest.mark.parametrize(
    ("refrigerant", "basis", "value"),
    [
        ("R-134a", "AR4", 1430),  # IPCC AR4 table 2.14
        ("R-134a", "AR5", 1300),  # IPCC AR5 table 8.A.1
        ("R-410A", "AR4", 2087.5),  # by mass fractions; printed 2,088
    ],
)
def test_gwp_is_the_published_one(refrigerant: str, basis: str, value: float) -> None:
    assert reckon("gwp", {"refrigerant": refrigerant, "basis": basis}).figures["value"] == pytest.approx(value)


def test_the_atmosphere_at_1500_m_is_that_of_the_standard() -> None:
    # ISO 2533:1975: 845.6 hPa at 1,500 m.
    assert reckon("atmosphere", {"altitude": "1500 m"}).figures["pressure_pa"] == pytest.approx(84_560, abs=5)


def test_a_psi_is_its_definition() -> None:
    # 1 lbf/in2 with lb = 0.45359237 kg, g = 9.80665 m/s2, in = 25.4 mm.
    assert reckon("convert", {"value": "1 psi", "to": "Pa"}).figures["value"] == pytest.approx(PSI_PA)


def test_saturation_of_r134a_at_25_c_is_the_published_one() -> None:
    # 665.4 kPa absolute at 25 C: tables of the equation of Tillner-Roth and Baehr 1994, from memory.
    found = reckon("saturation", {"refrigerant": "134a", "temperature": "25 C"}).figures["bubble_pressure_pa"]
    assert found == pytest.approx(665_400, rel=1e-3)


def test_carbon_dioxide_equivalent_of_a_kilogram_is_its_gwp() -> None:
    # 1 kg x 1,430, IPCC AR4.
    answer = reckon("co2e", {"mass": "1 kg", "refrigerant": "R-134a", "basis": "AR4"})
    assert answer.figures["co2e_kg"] == pytest.approx(1430)
