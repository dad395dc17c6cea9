"""Laws of leak rates between visits, of the statutory formulas and of the conversion through a hole."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.gases.testgases import nitrogen_viscosity_pa_s
from shop.bench.answers import MeasurementError
from shop.bench.leakrate import (
    BetweenVisits,
    annualising_percent,
    between_visits,
    rolling_percent,
    same_hole,
    statutory_sentence,
)

ATMOSPHERE_PA = 101_325.0


def visits(**changes: object) -> BetweenVisits:
    facts = BetweenVisits(
        charged_g=900, u_charged_g=1, recovered_g=800, u_recovered_g=2, residue_g=20, u_residue_g=5, days=365.25
    )
    return replace(facts, **changes)  # type: ignore[arg-type]


def test_under_ninety_days_only_a_mass_is_given() -> None:
    answer = between_visits(visits(days=89))
    assert answer.loss_g == 80
    assert answer.g_per_year is None
    assert "too short a time" in answer.sentence
    assert between_visits(visits(days=90)).g_per_year is not None


def test_without_known_content_there_is_no_rate() -> None:
    answer = between_visits(visits(known_content=False))
    assert answer.verdict == "not-known"
    assert answer.loss_g is None
    assert answer.g_per_year is None


def test_a_tight_car_shows_no_loss_once_its_residue_is_counted() -> None:
    assert between_visits(visits(recovered_g=855, residue_g=22.5, u_residue_g=13)).verdict == "nothing-shown"
    assert between_visits(visits(recovered_g=855, residue_g=0, u_residue_g=0)).verdict == "lost"


def test_more_out_than_in_is_gained() -> None:
    answer = between_visits(visits(recovered_g=950))
    assert answer.verdict == "gained"
    assert answer.sentence.startswith("More came out")


def test_two_evaporators_have_the_higher_yardstick() -> None:
    assert between_visits(visits()).sentence.endswith("the yardstick for a new car is 40.0 g a year.")
    assert between_visits(visits(evaporators=2)).sentence.endswith("the yardstick for a new car is 60.0 g a year.")


@given(st.floats(0, 100), st.floats(1, 1000), st.floats(1, 2000))
def test_annualising_never_counts_more_than_a_year(added: float, charge: float, days: float) -> None:
    percent = annualising_percent(added=added, full_charge=charge, days=days)
    assert percent >= rolling_percent(additions=(added,), full_charge=charge) * (1 - 1e-12)


def test_a_hole_measured_at_twice_the_pressure_counts_for_less() -> None:
    eta = nitrogen_viscosity_pa_s(298.15)
    low, high = (
        same_hole(
            "R-134a",
            gas_viscosity_pa_s=eta,
            upstream_pa=inside_pa,
            downstream_pa=ATMOSPHERE_PA,
            atmosphere_pa=ATMOSPHERE_PA,
        ).g_per_year(1.0)
        for inside_pa in (9e5, 18e5)
    )
    assert low is not None
    assert high is not None
    # Poiseuille: the driving difference of squares, apart from any property.
    assert low / high == pytest.approx((18e5**2 - ATMOSPHERE_PA**2) / (9e5**2 - ATMOSPHERE_PA**2))


def test_a_conversion_that_cannot_be_says_why() -> None:
    facts = {"gas_viscosity_pa_s": 1.8e-5, "upstream_pa": 18e5, "downstream_pa": 1e5, "atmosphere_pa": 1e5}
    assert "R-115" in same_hole("R-502", **facts).why_not
    assert "no property data for R-409A" in same_hole("R-409A", **facts).why_not
    assert "R-11" in same_hole("R-11", **facts | {"atmosphere_pa": 1.1e5}).why_not
    with pytest.raises(MeasurementError, match="no pressure across"):
        same_hole("R-134a", **facts | {"upstream_pa": 1e5})


def test_the_statutory_sentence_keeps_cars_out() -> None:
    assert "no duty for a car" in statutory_sentence(60.0, method="annualising")


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"days": 0}, "number of days"),
        ({"charged_g": 0}, "charged mass"),
        ({"recovered_g": -1}, "recovered mass"),
        ({"evaporators": 0}, "at least one evaporator"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(changes: dict[str, object], says: str) -> None:
    with pytest.raises(MeasurementError, match=says):
        between_visits(visits(**changes))


def test_statutory_formulas_refuse_what_cannot_be() -> None:
    with pytest.raises(MeasurementError, match="full charge"):
        rolling_percent(additions=(1,), full_charge=0)
    with pytest.raises(MeasurementError, match="mass added"):
        rolling_percent(additions=(-1,), full_charge=10)
    with pytest.raises(MeasurementError, match="number of days"):
        annualising_percent(added=1, full_charge=10, days=0)
