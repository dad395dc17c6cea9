"""Worth in CO2 and ozone depletion, and the columns a movement stands in: pure functions."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.statement import balance, emissions
from compliance.statement.balance import COLUMNS, Sum, balances, column
from compliance.statement.emissions import Lot, worth
from inventory import causes
from inventory.gases import catalogue, potentials

# (EU) 2024/573 Annex I and IPCC AR4 print 1 430 for HFC-134a; the Montreal Protocol prints ODP 1.0 for CFC-12.
R134A_AR4, R12_ODP = 1430, 1


def one(cause: str, source: str, target: str, mass_mg: int = 1_000, code: str = "R-134a", **more: object) -> Sum:
    return Sum(code, "virgin", cause, source, target, mass_mg, basis="pair", **more)  # type: ignore[arg-type]


def test_a_kilogram_is_worth_its_potential():
    found = worth("R-134a", [Lot(1_000_000)], "AR4")
    assert (found.co2e_mg, found.odp_mg) == (R134A_AR4 * 1_000_000, 0)
    assert worth("R-12", [Lot(1_000_000)], "AR4").odp_mg == R12_ODP * 1_000_000


def test_nothing_is_worth_nothing_even_without_a_figure():
    assert worth("R-12", [Lot(0)], "EU") == emissions.Worth(0, 0, 0)


def test_no_figure_is_said_and_never_zero():
    found = worth("R-12", [Lot(5)], "EU")
    assert found.co2e_mg is None
    assert found.notes


def test_a_lot_of_mixed_content_counts_by_its_parts_and_air_counts_nothing():
    parts = {"R-134a": Decimal("0.5"), potentials.AIR: Decimal("0.5")}
    assert worth(catalogue.MIXED, [Lot(2_000_000, parts)], "AR4").co2e_mg == R134A_AR4 * 1_000_000


def test_one_lot_not_analysed_leaves_the_whole_open():
    lots = [Lot(1_000, {"R-134a": Decimal(1)}), Lot(1_000)]
    found = worth(catalogue.MIXED, lots, "AR4")
    assert (found.co2e_mg, found.notes) == (None, ("MIXED: composition not measured",))


@given(st.integers(-(10**9), 10**9))
def test_a_reversal_is_worth_the_opposite(mass_mg):
    there, back = (worth("R-134a", [Lot(sign * mass_mg)], "AR5").co2e_mg for sign in (1, -1))
    assert there == -back  # type: ignore[operator]


def test_the_two_totals_are_apart():
    sums = [one("purge", "cylinder", "air", code="R-12"), one("purge", "cylinder", "air", code="R-134a")]
    impacts = [emissions.impact(each, "AR4") for each in balances(sums, by_grade=False)]
    ozone = {each.measure: each.mass_mg for each in emissions.totals(impacts, depletes_ozone=True)}
    others = {each.measure: each.mass_mg for each in emissions.totals(impacts, depletes_ozone=False)}
    assert (ozone[balance.WORKSHOP_AIR], others[balance.WORKSHOP_AIR]) == (1_000, 1_000)


@pytest.mark.parametrize("cause", causes.CAUSES.values(), ids=lambda cause: cause.name)
def test_every_route_of_every_cause_has_its_column_or_none(cause):
    for source, target in cause.routes:
        moves = (target in causes.STOCK_KINDS) != (source in causes.STOCK_KINDS)
        assert (column(cause.name, source, target) in COLUMNS) == moves


@pytest.mark.parametrize(
    ("cause", "source", "target", "stands_in"),
    [
        ("purchase", "partner", "cylinder", "acquired"),
        ("came-back", "partner", "cylinder", "acquired"),
        ("recovery", "vehicle", "cylinder", "recovered"),
        ("recovery-through-machine", "process", "cylinder", "recovered"),
        ("recovery-through-machine", "vehicle", "process", None),
        ("charge", "cylinder", "vehicle", "charged"),
        ("rig-cleared", "rig", "vehicle", "charged"),
        ("rig-filled", "cylinder", "rig", None),
        ("transfer", "cylinder", "cylinder", None),
        ("regrade", "cylinder", "process", "other"),
        ("was-oil", "cylinder", "opening", "other"),
        ("heel-returned", "cylinder", "partner", "sent_away"),
        ("released-exempt", "cylinder", "air", "air"),
        ("missing", "cylinder", "unexplained", "unexplained"),
        ("turned-up", "unexplained", "cylinder", "unexplained"),
        ("loss-explained", "unexplained", "air", None),
        ("lost-on-the-road", "vehicle", "air", None),
    ],
)
def test_movements_stand_in_the_column_of_their_ends(cause, source, target, stands_in):
    assert column(cause, source, target) == stands_in


def test_missing_counts_as_positive_and_found_as_negative():
    sums = [one("missing", "cylinder", "unexplained", 700), one("turned-up", "unexplained", "cylinder", 200)]
    assert balances(sums, by_grade=False)[0].unexplained.mass_mg == 500


def test_span_errors_of_opposite_directions_cancel_and_of_two_scales_do_not():
    def net_u(scale: int) -> float | None:
        sums = [
            one("weighing-difference", "cylinder", "unexplained", span_mg=300.0, scale=1),
            one("weighing-difference", "unexplained", "cylinder", span_mg=300.0, scale=scale),
        ]
        return balances(sums, by_grade=False)[0].unexplained.u_mg

    assert net_u(1) == 0
    assert net_u(2) == pytest.approx(300 * 2**0.5)


def test_every_mass_is_from_a_source():
    found = emissions.sources(["R-134a", "R-12", "MIXED"], "AR4")
    assert {each.refrigerant for each in found} == {"R-134a", "R-12"}
    assert all(each.text for each in found)
