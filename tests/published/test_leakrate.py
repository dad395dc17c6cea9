"""Leak rates: figures of public texts, and the project's own acceptance scenario 3 (constructed)."""

from math import sqrt

import pytest

from inventory.gases.fluids import molar_mass_kg_mol
from shop.bench.leakrate import (
    MBAR_L_S_PER_PA_M3_S,
    BetweenVisits,
    BetweenVisitsAnswer,
    annualising_percent,
    between_visits,
    grams_per_year,
    rolling_percent,
)


def test_a_month_times_twelve_and_the_day_count_differ() -> None:
    # HVACR trade press on the leak-repair rule: 5 lb of 100 lb in a month is 60 % a year (month x 12).
    # 40 CFR 82.152 counts days (arithmetic on the cited rule): 5 / 100 x 365 / 30 = 60.83 %. Both stand.
    assert annualising_percent(added=5, full_charge=100, days=365 / 12) == pytest.approx(60, abs=1e-9)
    assert annualising_percent(added=5, full_charge=100, days=30) == pytest.approx(60.83, abs=0.005)


def test_over_a_year_since_the_last_addition_counts_as_a_year() -> None:
    # 40 CFR 82.152 (read second-hand), arithmetic on the cited rule: 10 lb of 100 lb, 500 days, is 10.00 %.
    assert annualising_percent(added=10, full_charge=100, days=500) == pytest.approx(10.00)


def test_rolling_rate_is_the_sum_over_the_full_charge() -> None:
    # 40 CFR 82.152 (read second-hand), arithmetic on the cited rule.
    assert rolling_percent(additions=(5, 10), full_charge=100) == pytest.approx(15)


def test_a_detector_of_five_grams_a_year() -> None:
    # Reg. (EC) 1516/2007 names 5 g a year; as R-134a at 20 C computed 3.79e-5 mbar l/s, 7.57e-7 Pa m3/s for each gram.
    molar_mass = molar_mass_kg_mol("R-134a")
    assert 1 / grams_per_year(1.0, molar_mass, 293.15) == pytest.approx(7.57e-7, rel=0.001)
    mbar_l_s = 5 / grams_per_year(1.0, molar_mass, 293.15) * MBAR_L_S_PER_PA_M3_S
    assert mbar_l_s == pytest.approx(3.79e-5, rel=0.002)


def came_back(residue_g: float, u_residue_g: float) -> BetweenVisitsAnswer:
    """Scenario 3: 784 g charged (u 0.93), 640 recovered (u 2.07), 274 days between."""
    charged = {"charged_g": 784, "u_charged_g": 0.93, "recovered_g": 640, "u_recovered_g": 2.07}
    return between_visits(BetweenVisits(**charged, residue_g=residue_g, u_residue_g=u_residue_g, days=274))


def test_a_car_that_came_back_weak() -> None:
    answer = came_back(17.6, 10 / sqrt(3))  # residue 17.6 g, with the oil good to +-10 g
    assert answer.loss_g == pytest.approx(126.4)
    assert "give or take 12.4 g" in dict(answer.workings)["Loss = charged - recovered - residue"]
    assert answer.g_per_year == pytest.approx(168, abs=0.6)
    assert answer.u_g_per_year == pytest.approx(8.3, abs=0.05)
    assert "at least 152" in answer.sentence
    assert answer.verdict == "lost"


def test_the_same_car_with_half_the_bound_as_residue() -> None:
    # The project's rule for what is posted: half the bound, u = bound / sqrt 12. The loss then is 8.8 g more.
    answer = came_back(17.6 / 2, 17.6 / sqrt(12))
    assert answer.loss_g == pytest.approx(135.2)
    assert "give or take 11.1 g" in dict(answer.workings)["Loss = charged - recovered - residue"]
