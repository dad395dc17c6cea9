"""Laws that uncertainties keep, whatever the scale."""

from dataclasses import replace
from math import hypot, inf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.uncertainty import (
    Scale,
    U,
    agrees,
    can_tell,
    count,
    machine,
    oiml_limit,
    pair_one_session,
    pair_two_scales,
    pair_two_sessions,
    paper,
    rounded_up,
    single,
    total,
)

grams = st.floats(0, 100_000)
scales = st.builds(Scale, step_g=st.sampled_from([0.1, 0.5, 1, 2, 5, 10, 20]), span=st.floats(0, 0.01))
parts = st.lists(st.tuples(st.sampled_from(["S1", "S2", ""]), st.builds(U, grams, grams), st.just(1)), max_size=9)


@given(scales, grams)
def test_a_new_session_never_tells_more_than_the_same_one(scale: Scale, difference_g: float) -> None:
    one, two = pair_one_session(scale, difference_g), pair_two_sessions(scale, difference_g)
    assert one.random_g < two.random_g
    assert one.span_g == two.span_g


@given(scales, grams, grams)
def test_a_greater_difference_is_never_known_better(scale: Scale, one_g: float, other_g: float) -> None:
    less_g, more_g = sorted((one_g, other_g))
    for pair in (pair_one_session, pair_two_sessions):
        assert pair(scale, less_g).total_g <= pair(scale, more_g).total_g


@given(scales, grams)
def test_direction_does_not_matter(scale: Scale, difference_g: float) -> None:
    assert pair_one_session(scale, difference_g) == pair_one_session(scale, -difference_g)


@given(scales, scales, grams, grams)
def test_two_scales_can_be_named_in_either_order(one: Scale, other: Scale, a_g: float, b_g: float) -> None:
    there = pair_two_scales(one, a_g, other, b_g).total_g
    assert there == pytest.approx(pair_two_scales(other, b_g, one, a_g).total_g)


@given(scales, st.floats(1, 50_000))
def test_two_readings_of_a_full_cylinder_on_two_scales_tell_less_than_on_one(scale: Scale, gross_g: float) -> None:
    apart = pair_two_scales(scale, gross_g, replace(scale, name="twin"), gross_g).total_g
    assert pair_two_sessions(scale, 0).total_g <= apart * (1 + 1e-9)


@given(scales, grams, st.floats(0, 100))
def test_one_weighing_is_never_better_than_its_tare(scale: Scale, gross_g: float, tare_u_g: float) -> None:
    assert single(scale, gross_g, tare_u_g).total_g > tare_u_g


@given(parts)
def test_a_total_lies_between_squares_and_plain_addition_where_all_signs_agree(
    some: list[tuple[str, U, int]],
) -> None:
    found = total(some).total_g
    assert found >= hypot(*(u.total_g for _, u, _ in some)) * (1 - 1e-9)
    assert found <= sum(u.total_g for _, u, _ in some) * (1 + 1e-9)


@given(parts, st.randoms())
def test_the_order_of_a_total_does_not_matter(some: list[tuple[str, U, int]], random: object) -> None:
    turned = list(reversed(some))
    assert total(turned).total_g == pytest.approx(total(some).total_g)


def test_the_span_error_of_what_goes_in_and_out_on_one_scale_cancels() -> None:
    there_and_back = [("S1", U(1.0, 7.0), 1), ("S1", U(1.0, 7.0), -1)]
    assert total(there_and_back) == U(pytest.approx(sqrt(2)), 0.0)


def test_span_errors_without_a_scale_or_of_two_scales_add_as_squares() -> None:
    assert total([("", U(0, 3.0), 1), ("", U(0, 4.0), 1)]).span_g == pytest.approx(5)
    assert total([("S1", U(0, 3.0), 1), ("S2", U(0, 4.0), 1)]).span_g == pytest.approx(5)
    assert total([("S1", U(0, 3.0), 1), ("S1", U(0, 4.0), 1)]).span_g == pytest.approx(7)


def test_nothing_adds_up_to_no_uncertainty() -> None:
    assert total([]) == U(0.0, 0.0)


def test_a_flicker_of_one_step_is_no_finding_and_two_steps_are() -> None:
    scale = Scale(step_g=5)
    u_g = pair_one_session(scale, 5).total_g
    assert 2 * u_g < 5  # with 2 u alone a flicker would be a finding
    assert agrees(5, u_g, scale.step_g, scale.step_g)
    assert not agrees(10, u_g, scale.step_g, scale.step_g)
    assert agrees(-5, u_g, scale.step_g, scale.step_g)


@given(st.floats(-1000, 1000), st.floats(0, 100), st.floats(0, 20), st.floats(0, 20))
def test_beyond_what_they_can_tell_is_the_same_as_to_disagree(
    difference_g: float, u_g: float, first_g: float, second_g: float
) -> None:
    told = abs(difference_g) > can_tell(u_g, first_g, second_g)
    assert told != agrees(difference_g, u_g, first_g, second_g)
    assert can_tell(u_g, first_g, second_g) >= 2 * u_g


@pytest.mark.parametrize(
    "fields",
    [{"step_g": 0}, {"step_g": -1}, {"step_g": inf}, {"step_g": 5, "span": -0.1}, {"step_g": 5, "zero_g": -1}],
)
def test_a_scale_of_impossible_figures_is_refused(fields: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="must"):
        Scale(**fields)  # type: ignore[arg-type]


def test_a_scale_of_an_unknown_class_is_refused() -> None:
    with pytest.raises(ValueError, match="I, II, III or IIII"):
        Scale(step_g=5, accuracy_class="V")
    with pytest.raises(ValueError, match="I, II, III or IIII"):
        oiml_limit(5, 100, "V")


def test_a_load_beyond_the_class_is_refused() -> None:
    with pytest.raises(ValueError, match="10000 intervals"):
        oiml_limit(1, 10_001, "III")


def test_a_verified_scale_uses_the_limits_of_its_class() -> None:
    scale = Scale(step_g=5, accuracy_class="III", in_service=False)
    assert pair_one_session(scale, 868).span_g == pytest.approx(2.5 / sqrt(3))
    assert single(scale, 17_190, 0).span_g == pytest.approx(7.5 / sqrt(3))
    assert pair_one_session(replace(scale, in_service=True), 868).span_g == pytest.approx(5 / sqrt(3))


def test_a_document_counts_half_a_per_cent() -> None:
    assert paper(11_000).total_g == pytest.approx(55 / sqrt(3))


def test_cans_of_one_lot_share_their_error() -> None:
    assert count(12, 3).total_g == pytest.approx(36 / sqrt(3))
    assert machine(15) == U(pytest.approx(15 / sqrt(3)), 0.0)


def test_a_stated_zero_return_takes_the_place_of_one_step() -> None:
    assert pair_two_sessions(Scale(step_g=5, zero_g=0), 0) == pair_one_session(Scale(step_g=5), 0)


@given(st.floats(1e-6, 1e9))
def test_a_doubt_is_rounded_up_to_two_digits_and_never_down(value: float) -> None:
    up = rounded_up(value)
    assert value * (1 - 1e-9) <= up <= value * 1.1 * (1 + 1e-9)
    assert rounded_up(up) == pytest.approx(up)


@pytest.mark.parametrize(("value", "up"), [(41.3, 42), (9.13, 9.2), (100, 100), (101, 110), (0, 0)])
def test_a_doubt_rounded_up(value: float, up: float) -> None:
    assert rounded_up(value) == pytest.approx(up)
