"""Worked numbers of the project's own acceptance scenarios, and limits of OIML R 76.

The scenarios are constructed: their figures were computed apart from this code, by hand and by script,
from the formulas of JCGM 100:2008 (GUM). Each is checked to the digits printed there.
"""

from math import sqrt

import pytest

from inventory.measure.uncertainty import (
    Scale,
    U,
    can_tell,
    decision_threshold,
    detection_limit,
    give_or_take,
    machine,
    oiml_limit,
    pair_one_session,
    pair_two_scales,
    pair_two_sessions,
    rectangular,
    resolution,
    single,
    total,
)

S1 = Scale(step_g=5, name="S1")
S2 = Scale(step_g=2, name="S2")


@pytest.mark.parametrize(
    ("scale", "difference_g", "u_g"),
    [
        (S1, 0, 2.04),  # section 4, "d = 5 g and m small"; also d / sqrt 6 of JCGM 100:2008 F.2.2.1
        (S1, 868, 2.10),  # scenario 1, recovery
        (S2, 784, 0.93),  # scenario 1, charge
        (S2, 935, 0.98),  # scenario 2, charge
        (S1, 640, 2.07),  # scenario 3, recovery
        (S2, 770, 0.93),  # scenario 3, charge
        (S1, 465, 2.06),  # scenario 4, recovery
        (S2, 480, 0.86),  # scenario 4, charge
        (S1, 2445, 2.48),  # scenario 5, leg 1
        (S1, 4325, 3.23),  # scenario 5, leg 2
        (S2, 7000, 4.12),  # scenario 5, charge
    ],
)
def test_one_scale_in_one_session(scale: Scale, difference_g: float, u_g: float) -> None:
    assert pair_one_session(scale, difference_g).total_g == pytest.approx(u_g, abs=0.0051)


@pytest.mark.parametrize(
    ("scale", "difference_g", "u_g"),
    [
        (S1, 0, 4.56),  # section 4
        (S1, 180, 4.565),  # scenario 7, 2u is 9.13
        (S2, 554, 1.85),  # scenario 8, after the battery
    ],
)
def test_one_scale_in_two_sessions(scale: Scale, difference_g: float, u_g: float) -> None:
    assert pair_two_sessions(scale, difference_g).total_g == pytest.approx(u_g, abs=0.0051)


@pytest.mark.parametrize(
    ("first_gross_g", "second_gross_g", "twice_u_g"),
    [
        (17_190, 17_186, 28.9),  # scenario 1, first reading on S2
        (17_205, 17_196, 28.9),  # scenario 8, the same of another bottle
        (6_615, 6_622, 12.9),  # scenario 6, on its return
        (16_650, 17_196, 28.5),  # scenario 8, u 14.2 (14.25)
    ],
)
def test_two_scales(first_gross_g: float, second_gross_g: float, twice_u_g: float) -> None:
    u = pair_two_scales(S1, first_gross_g, S2, second_gross_g)
    assert give_or_take(u.total_g) == pytest.approx(twice_u_g, abs=0.051)
    assert u.span_g == 0


def test_a_purchase_of_scenario_1_by_one_weighing_and_a_stamped_tare() -> None:
    assert single(S1, 17_190, rectangular(50)).total_g == pytest.approx(30.7, abs=0.051)


def test_the_two_legs_of_scenario_5_share_one_span_error() -> None:
    legs = [pair_one_session(S1, 2445), pair_one_session(S1, 4325)]
    assert total(("S1", u, 1) for u in legs).total_g == pytest.approx(4.86, abs=0.0051)
    as_squares = sqrt(sum(u.total_g**2 for u in legs))
    assert as_squares == pytest.approx(4.07, abs=0.0051)  # the figure that the scenario calls wrong


def test_the_tank_display_of_scenario_9() -> None:
    assert machine(15).total_g == pytest.approx(8.66, abs=0.0051)
    assert give_or_take(machine(15).total_g) == pytest.approx(17.3, abs=0.051)


def test_the_weekend_loss_of_scenario_7_is_19_7_times_what_the_readings_can_tell() -> None:
    u_g = pair_two_sessions(S1, 180).total_g
    assert 180 / can_tell(u_g, 5, 5) == pytest.approx(19.7, abs=0.051)


def test_the_late_return_of_scenario_10_is_2_1_times_what_the_readings_can_tell() -> None:
    u_g = pair_two_scales(S2, 6_642, S1, 6_615).total_g
    assert 27 / can_tell(u_g, 2, 5) == pytest.approx(2.1, abs=0.051)


def test_sixty_small_losses_of_scenario_7_can_be_told_together_and_not_alone() -> None:
    one = pair_two_sessions(S1, 3)
    assert can_tell(one.total_g, 5, 5) > 3
    together = total(("S1", U(one.random_g, 0.0), 1) for _ in range(60))
    assert give_or_take(together.total_g) == pytest.approx(70.7, abs=0.051)
    # With the span part of 60 x 3 g counted as well, which the scenario leaves out, it is 70.71 still.
    full = total(("S1", one, 1) for _ in range(60))
    assert give_or_take(full.total_g) == pytest.approx(70.7, abs=0.051)


def test_resolution_and_detection_factors() -> None:
    assert resolution(1) == pytest.approx(0.2887, abs=0.00005)  # JCGM 100:2008 F.2.2.1, from memory
    assert sqrt(2) * resolution(1) == pytest.approx(0.4082, abs=0.00005)  # the same for two readings
    # Hold of scenario 1: u 3,781 Pa, decision 6,220 Pa, smallest leak it could see 12,440 Pa.
    assert decision_threshold(3781) == pytest.approx(6220, abs=1)
    assert detection_limit(3781) == pytest.approx(12_440, abs=1)


@pytest.mark.parametrize(
    ("accuracy_class", "load_in_e", "limit_in_e"),
    [  # OIML R 76 / EN 45501, initial verification, read second-hand
        ("I", 50_000, 0.5),
        ("I", 200_000, 1.0),
        ("I", 200_001, 1.5),
        ("II", 5_000, 0.5),
        ("II", 20_000, 1.0),
        ("II", 100_000, 1.5),
        ("III", 0, 0.5),
        ("III", 500, 0.5),
        ("III", 501, 1.0),
        ("III", 2_000, 1.0),
        ("III", 2_001, 1.5),
        ("III", 10_000, 1.5),
        ("IIII", 50, 0.5),
        ("IIII", 200, 1.0),
        ("IIII", 1_000, 1.5),
    ],
)
def test_limits_of_error_of_verified_scales(accuracy_class: str, load_in_e: int, limit_in_e: float) -> None:
    assert oiml_limit(5, 5 * load_in_e, accuracy_class) == 5 * limit_in_e
    assert oiml_limit(5, 5 * load_in_e, accuracy_class, in_service=True) == 10 * limit_in_e
