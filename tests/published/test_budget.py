"""Worked numbers of JCGM 100:2008 (GUM), cited from memory: masses stand here for its ohms and nanometres."""

import pytest

from inventory.measure.budget import Budget, together

U_STANDARD = 100.0  # milliohms; every resistor was compared with one standard


def test_ten_resistors_compared_with_one_standard() -> None:
    """5.2.2, EXAMPLE: ten resistors of 1 000 ohm in series are known to 1 ohm."""
    resistor = Budget(spans={"the standard": U_STANDARD})
    assert together([resistor] * 10).u == pytest.approx(1_000)


def test_ten_resistors_were_they_independent() -> None:
    """The same example: 0.32 ohm would be wrong, the covariances left out."""
    series = together(Budget({f"resistor {n}": U_STANDARD}) for n in range(10))
    assert series.u == pytest.approx(320, abs=5)


def test_a_resistor_against_another_of_the_same_standard() -> None:
    """F.1.2.3: what two share by one standard falls out of their difference."""
    one, other = (Budget({name: 3.0}, {"the standard": U_STANDARD}) for name in ("one", "other"))
    assert (one - other).u == pytest.approx(18**0.5)


def test_the_difference_of_two_end_gauges() -> None:
    """H.1.3.2: repeated observations 5.8 nm, comparator at random 3.9 nm and by its scale 6.7 nm make 9.7 nm."""
    difference = Budget({"repeated": 5.8, "random": 3.9, "systematic": 6.7})
    assert difference.u == pytest.approx(9.7, abs=0.05)


def test_an_end_gauge() -> None:
    """H.1.4: standard 25 nm, difference 9.7 nm, expansion 2.9 nm, temperature 16.6 nm make 32 nm."""
    parts = (Budget({"standard": 25.0}), Budget({"difference": 9.7}), Budget(squares=2.9**2), Budget(squares=16.6**2))
    length = together(parts)
    assert length.u == pytest.approx(32, abs=0.5)
    assert length.u**2 == pytest.approx(1_002, abs=5)
