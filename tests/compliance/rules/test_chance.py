"""How likely counts are by chance."""

from math import comb, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.rules.chance import binomial_tail, tail_beside, together


@given(st.integers(0, 40), st.integers(0, 40), st.floats(0.01, 0.99))
def test_a_binomial_tail_is_the_sum_of_its_points(n: int, k: int, p: float) -> None:
    exact = sum(comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(max(k, 0), n + 1))
    assert binomial_tail(n, k, p) == pytest.approx(exact, abs=1e-9)


@given(st.integers(0, 30), st.integers(0, 30))
def test_one_more_is_as_likely_as_the_share_of_the_others(others_k: int, more: int) -> None:
    others_n = others_k + more
    assert tail_beside(1, 1, others_n, others_k) == pytest.approx((others_k + 0.5) / (others_n + 2))


@given(st.integers(1, 60), st.integers(1, 60), st.integers(0, 60), st.integers(0, 60))
def test_a_tail_beside_others_falls_with_the_count_and_never_below_nothing(
    n: int, k: int, hits: int, more: int
) -> None:
    assert 0 <= tail_beside(n, k, hits + more, hits) <= tail_beside(n, k - 1, hits + more, hits) <= 1


def test_a_share_known_from_many_is_as_good_as_known() -> None:
    assert tail_beside(94, 35, 1_000_000, 250_000) == pytest.approx(binomial_tail(94, 35, 0.25), rel=1e-3)


def test_a_share_known_from_few_makes_little_rare() -> None:
    assert tail_beside(94, 35, 12, 3) > 20 * tail_beside(94, 35, 1_000, 250)


@pytest.mark.parametrize(("n", "others_n", "others_k"), [(5, 3, 4), (5, 3, -1), (-1, 3, 1)])
def test_a_count_beyond_what_there_is_is_refused(n: int, others_n: int, others_k: int) -> None:
    with pytest.raises(ValueError, match="between none and all"):
        tail_beside(n, 1, others_n, others_k)


def test_two_tails_together_are_less_rare_than_their_product() -> None:
    assert together(0.05, 0.05) == pytest.approx(0.0025 * (1 - log(0.0025)))
    assert together(1.0, 1.0) == 1.0
    assert together(0.0, 0.3) == 0.0
