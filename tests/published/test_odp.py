"""Ozone depletion potentials against treaty, law and an open table."""

from decimal import Decimal

import chemicals
import pytest

from inventory.gases.potentials import ODP_BASES, odp

CAS = {
    "R-11": "75-69-4",
    "R-12": "75-71-8",
    "R-114": "76-14-2",
    "R-115": "76-15-3",
    "R-22": "75-45-6",
    "R-123": "306-83-2",
    "R-124": "2837-89-0",
    "R-142b": "75-68-3",
}


@pytest.mark.parametrize(
    ("code", "published"),
    [
        # Montreal Protocol Annex A Group I; COM(2022)151 Annex I
        ("R-11", "1.0"),
        ("R-12", "1.0"),
        ("R-115", "0.6"),
        # Montreal Protocol Annex A Group I, as reproduced in Fiji's ozone law (2021 text)
        ("R-114", "1.0"),
        # Montreal Protocol Annex C Group I
        ("R-22", "0.055"),
        ("R-123", "0.02"),
        ("R-124", "0.022"),
        ("R-142b", "0.065"),
    ],
)
def test_the_treaty_figures(code: str, published: str) -> None:
    assert str(odp(code, "montreal").value) == published


@pytest.mark.parametrize("code", CAS)
def test_the_treaty_figures_are_those_of_an_open_table(code: str) -> None:
    """Source: chemicals 1.5.2, ODP table, first set (regulatory values)."""
    assert float(odp(code, "montreal").value) == chemicals.ODP(CAS[code], "ODP1 Max")


@pytest.mark.parametrize(
    ("code", "scientific"),
    # World Meteorological Organization, Scientific Assessment 2010, as carried in chemicals 1.5.2, second set.
    # The treaty's figures differ and are the ones that count in a legal report.
    [("R-12", "0.82"), ("R-22", "0.04"), ("R-115", "0.5")],
)
def test_the_scientific_figures_are_others_and_not_used(code: str, scientific: str) -> None:
    assert chemicals.ODP(CAS[code], "ODP2 Max") == float(scientific)
    assert all(odp(code, basis).value != Decimal(scientific) for basis in ODP_BASES)


@pytest.mark.parametrize(
    ("code", "regulation", "statute"),
    [
        # 40 CFR 82 Subpart A Appendix B as tabulated by EPA; 42 U.S.C. 7671a(e)
        ("R-22", "0.055", "0.05"),
        ("R-123", "0.02", "0.02"),
        ("R-124", "0.022", "0.02"),
        ("R-142b", "0.065", "0.06"),
        # 40 CFR 82 Subpart A Appendix A; 42 U.S.C. 7671a(e) in a published summary
        ("R-11", "1.0", "1.0"),
        ("R-12", "1.0", "1.0"),
    ],
)
def test_regulation_and_statute_of_the_united_states_differ(code: str, regulation: str, statute: str) -> None:
    assert str(odp(code, "us-cfr").value) == regulation
    assert str(odp(code, "us-statute").value) == statute


@pytest.mark.parametrize(("code", "published"), [("R-114", "1.0"), ("R-115", "0.6")])
def test_class_one_figures_of_the_regulation(code: str, published: str) -> None:
    """Source: 40 CFR 82 Subpart A Appendix A (2008 edition and text current to November 2024)."""
    assert str(odp(code, "us-cfr").value) == published


@pytest.mark.parametrize(
    ("code", "expected"),
    # Arithmetic from the cited figures, not published: 0.738 x 1.0; 0.488 x 0.055 + 0.512 x 0.6
    [("R-500", "0.738"), ("R-502", "0.33404")],
)
def test_blends_with_old_gas_are_the_weighted_sum(code: str, expected: str) -> None:
    assert odp(code, "us-cfr").value == Decimal(expected)
    assert odp(code, "montreal").value == Decimal(expected)


@pytest.mark.parametrize("code", ["R-134a", "R-404A", "R-1234yf", "R-290", "R-744", "R-717", "R-513A"])
@pytest.mark.parametrize("basis", ODP_BASES)
def test_substances_that_no_list_of_the_treaty_names_have_none(code: str, basis: str) -> None:
    """Source: Montreal Protocol Annexes A to E; HFCs stand in Annex F, which carries no ozone potential."""
    assert odp(code, basis).value == 0
