"""Conversions of typed quantities against published factors.

SP 811 is NIST Special Publication 811 (2008), appendix B.8; its factors are quoted from memory where no
other source is named. All are defined or rounded values, so the tolerance is the last printed digit.
"""

from decimal import Decimal

import pytest

from inventory.measure.conversion import convert
from inventory.measure.masses import read_mass
from inventory.measure.own import WATER_KG_M3
from inventory.measure.pressures import read_pressure
from inventory.measure.quantities import read_length, read_temperature, read_volume, read_water_capacity

SEA_LEVEL_PA = 101_325.0  # ISO 2533


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("1 lb", "453.59237"),  # international pound of 1959, exact
        ("1 oz", "28.349523125"),  # a sixteenth of it, exact
        ("1 t", "1000000"),  # SI brochure, 9th edition, table 8
    ],
)
def test_units_of_mass_by_definition(text: str, grams: str) -> None:
    assert abs(Decimal(read_mass(text).mg) - Decimal(grams) * 1000) <= Decimal("0.5")
    assert convert(text, "g")[0] == pytest.approx(float(grams), rel=1e-15)


@pytest.mark.parametrize(
    ("text", "grams", "tolerance_g"),
    [
        ("1 lb 4 oz", 567.0, 0.05),  # the trade's notes on pounds and ounces
        ("1.4 lb", 635.0, 0.05),  # the same
        ("15.43 lb", 7000, 2.3),  # acceptance scenario of a bus, printed to 0.01 lb
        ("0.005 lb", 2.3, 0.05),  # SAE J2788 weighing limit, both units printed, read second-hand
        ("3 lb", 1400, 50),  # SAE J2788 test system, both units printed, read second-hand
        ("10 lb", 4535.9237, 0.0005),  # 0.45359237 kg to the pound, as the US exchange-value check of 10 lb multiplies
    ],
)
def test_masses_printed_in_two_units(text: str, grams: float, tolerance_g: float) -> None:
    assert read_mass(text).mg / 1000 == pytest.approx(grams, abs=tolerance_g)


@pytest.mark.parametrize(
    ("text", "pascal", "tolerance_pa"),
    [
        ("1 psia", 6894.757, 0.0005),  # SP 811
        ("1 bar absolute", 100_000, 0),  # SP 811, exact
        ("1 mbar absolute", 100, 0),  # SP 811, exact
        ("1 inHg abs", 3386.389, 0.0005),  # SP 811, conventional inch of mercury
        ("1 mmHg", 133.3224, 0.00005),  # SP 811, conventional millimetre of mercury
        ("1 torr", 133.3224, 0.00005),  # SP 811
        ("1 micron", 0.133322, 0.0000005),  # a thousandth of a torr
        ("500 micron", 66.66, 0.005),  # leak and vacuum notes; 0.667 mbar, not 0.5 as some print
        ("1 atm", 101_325, 0),  # SP 811, exact
        ("1 kgf/cm2 absolute", 98_066.5, 0),  # SP 811, exact
    ],
)
def test_units_of_pressure(text: str, pascal: float, tolerance_pa: float) -> None:
    read = read_pressure(text, atmosphere_pa=SEA_LEVEL_PA)
    assert read.si == pytest.approx(pascal, abs=tolerance_pa + 1e-9)


@pytest.mark.parametrize(
    ("kg_cm2", "psi"),
    [(5.62, 80), (5.76, 82), (5.83, 83), (5.90, 84)],  # 40 CFR 82 subpart B appendix A, table 1, CFC-12
)
def test_a_published_container_table_in_metric_and_in_pounds(kg_cm2: float, psi: int) -> None:
    assert convert(f"{kg_cm2} kgf/cm2", "psi")[0] == pytest.approx(psi, abs=0.15)


def test_the_hold_of_the_design_at_250_psi_is_17_2_bar() -> None:
    assert convert("250 psi", "bar")[0] == pytest.approx(17.2, abs=0.05)


def test_the_atmosphere_at_1500_m_in_inches_of_mercury() -> None:
    # Acceptance scenario at height: 84,556 Pa (ISO 2533) is 24.97 inHg.
    assert convert("84556 Pa", "inHg")[0] == pytest.approx(24.97, abs=0.005)


@pytest.mark.parametrize(
    ("text", "kelvin"),
    [
        ("0 C", 273.15),  # SI brochure, exact
        ("32 F", 273.15),  # SP 811, exact
        ("-40 F", 233.15),  # the two scales meet at -40
        ("131 F", 328.15),  # 49 CFR 173.304a prints 55 C and 131 F
        ("60 F", 288.71),  # 49 CFR 173.304a note 1; 15.56 C, which it prints as 16 C
    ],
)
def test_temperatures(text: str, kelvin: float) -> None:
    assert read_temperature(text).si == pytest.approx(kelvin, abs=0.006)


@pytest.mark.parametrize(
    ("text", "litres", "tolerance"),
    [
        ("1 gal", 3.785412, 5e-7),  # SP 811, US gallon
        ("1 fl oz", 0.02957353, 5e-9),  # SP 811, US fluid ounce
        ("1 in3", 0.01638706, 5e-9),  # SP 811
        ("1 ft3", 28.31685, 5e-6),  # SP 811
        ("1 m3", 1000, 0),  # exact
    ],
)
def test_volumes(text: str, litres: float, tolerance: float) -> None:
    assert read_volume(text).si * 1000 == pytest.approx(litres, abs=tolerance + 1e-12)


@pytest.mark.parametrize(("text", "metres"), [("1 ft", 0.3048), ("1 in", 0.0254)])  # SP 811, exact
def test_lengths(text: str, metres: float) -> None:
    assert read_length(text).si == pytest.approx(metres, rel=1e-15)


def test_one_pascal_cubic_metre_a_second_is_ten_millibar_litres_a_second() -> None:
    # SP 811 by its factors; EN 1779 uses the first unit (from memory).
    assert convert("1 Pa m3/s", "mbar L/s")[0] == pytest.approx(10, rel=1e-12)


def test_water_at_60_f_weighs_0_999_kg_a_litre() -> None:
    from CoolProp.CoolProp import PropsSI

    # IAPWS-95 as CoolProp carries it, at 60 F and one atmosphere.
    density = PropsSI("D", "T", read_temperature("60 F").si, "P", SEA_LEVEL_PA, "Water")
    assert pytest.approx(density, rel=2e-5) == WATER_KG_M3


def test_a_capacity_stamped_in_pounds_of_water() -> None:
    # The same cylinder is stamped 26.2 lb of water and 11.9 L in the trade's notes and the scenarios.
    assert read_water_capacity("WC 26.2 lb").si * 1000 == pytest.approx(11.9, abs=0.05)
