"""Laws that sums of masses keep, whatever errors they share."""

from math import isclose, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.budget import NOTHING, Budget, together

mg = st.floats(-1e7, 1e7)
parts = st.dictionaries(st.sampled_from(["a", "b", "c", "d"]), mg, max_size=4)
budgets = st.builds(Budget, parts, parts, st.floats(0, 1e12))


@given(st.lists(budgets, max_size=6))
def test_no_uncertainty_is_below_nothing(some: list[Budget]) -> None:
    assert together(some).u >= 0


@given(st.permutations([Budget({"a": 0.1 * n}, {"s": 1e6 / (n + 1)}, 0.3 * n) for n in range(6)]))
def test_the_order_does_not_matter(some: list[Budget]) -> None:
    ordered = [Budget({"a": 0.1 * n}, {"s": 1e6 / (n + 1)}, 0.3 * n) for n in range(6)]
    assert together(some) == together(ordered)


@given(budgets, budgets)
def test_two_masses_are_never_known_worse_than_both_errors_one_way(one: Budget, other: Budget) -> None:
    assert (one + other).u <= (one.u + other.u) * (1 + 1e-9)


@given(parts, parts)
def test_a_mass_less_itself_is_nothing(errors: dict[str, float], spans: dict[str, float]) -> None:
    one = Budget(errors, spans)
    assert (one - one).u == 0
    assert (NOTHING + one).u == one.u == (-one).u


@given(st.floats(1, 1e7), st.floats(0, 1))
def test_a_load_shared_by_two_scales_is_known_better_than_on_one(span: float, share: float) -> None:
    one = Budget(spans={"S1": span})
    two = Budget(spans={"S1": share * span}) + Budget(spans={"S2": (1 - share) * span})
    assert two.u <= one.u * (1 + 1e-9)


@pytest.mark.parametrize("n", [2, 10])
def test_readings_of_one_scale_share_its_span_and_not_their_steps(n: int) -> None:
    cylinders = [Budget({("step", number): 3.0}, {"S1": 4.0}) for number in range(n)]
    assert isclose(together(cylinders).u, sqrt(n * 9 + (4 * n) ** 2))


def test_squares_that_were_given_names_leave_nothing_below_nothing() -> None:
    assert Budget(squares=-1e-9).u == 0
