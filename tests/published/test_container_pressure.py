"""The container-pressure tables for CFC-12 and HFC-134a, row by row, and what ties them to saturation."""

import pytest

from inventory.gases import fluids, purity

PSI_PA = 6894.757
KG_CM2_PA = 98_066.5
ATMOSPHERE_PSI = 14.696

CFR_ROWS = {
    70: 5.62,
    71: 5.76,
    72: 5.83,
    73: 5.90,
    74: 6.04,
    80: 6.74,
    81: 6.88,
    82: 6.95,
    83: 7.03,
    84: 7.10,
    90: 7.73,
    91: 7.80,
    92: 7.94,
    93: 8.08,
    94: 8.15,
    100: 8.92,
    101: 9.06,
    102: 9.13,
    103: 9.27,
    104: 9.42,
    110: 10.26,
    111: 10.40,
    112: 10.54,
    113: 10.68,
    114: 10.82,
}
"""40 CFR 82 Subpart B Appendix A Table 1, 1 July 1996 edition, metric half: degree F (printed as C), kg/cm2 gauge."""


@pytest.mark.parametrize("degree_f", sorted(CFR_ROWS))
def test_the_printed_rows_of_cfc_12_are_whole_psi_once_converted(degree_f):
    """kg/cm2 x 14.2233; within 0.15 psi of the whole psi that the other half of the table prints."""
    row = purity.container_table("R-12")[degree_f]
    assert not row.from_memory
    assert row.limit_pa / PSI_PA == pytest.approx(CFR_ROWS[degree_f] * KG_CM2_PA / PSI_PA, abs=0.15)
    assert row.limit_pa / PSI_PA == pytest.approx(round(row.limit_pa / PSI_PA), abs=1e-3)


@pytest.mark.parametrize(("degree_f", "psi"), [(70, 80), (84, 101), (100, 127), (114, 154)])
def test_four_printed_rows_in_psi(degree_f, psi):
    """The same rows at 21.1, 28.9, 37.7 and 45.5 C, converted: 5.62, 7.10, 8.92 and 10.82 kg/cm2."""
    assert purity.container_table("R-12")[degree_f].limit_pa / PSI_PA == pytest.approx(psi, abs=1e-3)


def test_all_other_rows_are_marked_as_from_memory():
    memory = {row.temperature_f for row in purity.container_table("R-12").values() if row.from_memory}
    assert memory == {*range(65, 70), *range(75, 80), *range(85, 90), *range(95, 100), *range(105, 110)}
    assert all(row.from_memory for row in purity.container_table("R-134a").values())


def test_the_tables_are_whole_and_rise_with_temperature():
    for code, last in (("R-12", 114), ("R-134a", 120)):
        table = purity.container_table(code)
        assert sorted(table) == list(range(65, last + 1))
        limits = [table[degree].limit_pa for degree in sorted(table)]
        assert limits == sorted(set(limits))


def margin_psi(code: str, degree_f: int) -> float:
    saturated_pa = fluids.bubble_pressure_pa(code, (degree_f - 32) / 1.8 + 273.15)
    return purity.container_table(code)[degree_f].limit_pa / PSI_PA - (saturated_pa / PSI_PA - ATMOSPHERE_PSI)


@pytest.mark.parametrize("degree_f", range(65, 115))
def test_the_table_of_cfc_12_lies_9_to_13_psi_above_saturation(degree_f):
    """Its margin runs from 9.4 to 12.5 psi with a bump at 78 to 84 F that the printed rows confirm: not a formula."""
    assert 9.3 <= margin_psi("R-12", degree_f) <= 12.6


@pytest.mark.parametrize("degree_f", range(65, 121))
def test_the_table_of_hfc_134a_lies_5_psi_above_saturation_cut_to_a_whole_psi(degree_f):
    """From memory: SAE J2211. Every row is saturation + 5.0 psi cut down, two within 0.03 psi of the next whole."""
    assert 4.0 - 0.03 <= margin_psi("R-134a", degree_f) <= 5.0 + 0.03
