"""Whether a charge lies in its band, and what an old label suggests. Masses are those of the acceptance scenarios."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.bench.answers import MeasurementError
from shop.bench.charging import Charge, from_old_label, judge


@pytest.mark.parametrize(
    ("target", "tolerance", "drawn", "u", "verdict"),
    [
        (765, 25, 784, 0.93, "within"),  # scenario 1
        (550, 15, 546, 14.25, "cannot-show"),  # scenario 8, two scales
        (550, 15, 554, 1.85, "within"),  # scenario 8, one scale again
        (550, 15, 545, 8.66, "cannot-show"),  # scenario 9, a machine
        (550, 15, 500, 1.85, "under"),
        (550, 15, 600, 1.85, "over"),
    ],
)
def test_a_charge_against_its_band(target: float, tolerance: float, drawn: float, u: float, verdict: str) -> None:
    charge = Charge(target_g=target, tolerance_g=tolerance, drawn_g=drawn, u_drawn_g=u)
    assert judge(charge).verdict == verdict


def test_scenario_8_is_said_in_words() -> None:
    answer = judge(Charge(target_g=550, tolerance_g=15, drawn_g=546, u_drawn_g=14.25))
    assert "(517 to 575 g) cannot show that it is within 535 to 565 g" in answer.sentence


def test_scenario_9_band_is_narrower_than_the_machine_can_show() -> None:
    answer = judge(Charge(target_g=550, tolerance_g=15, drawn_g=545, u_drawn_g=8.66))
    assert "narrower than these readings can show (+-17.3 g" in answer.cautions[0]


@given(st.floats(100, 9000), st.floats(0, 100), st.floats(0, 9000), st.floats(0, 50))
def test_the_verdict_is_true_of_every_mass_the_readings_allow(
    target: float, tol: float, drawn: float, u: float
) -> None:
    charge = Charge(target_g=target, tolerance_g=tol, drawn_g=drawn, u_drawn_g=u)
    answer = judge(charge)
    inside = [target - tol <= mass <= target + tol for mass in (charge.least_g, charge.drawn_g, charge.most_g)]
    if answer.verdict == "within":
        assert all(inside)
    elif answer.verdict in ("under", "over"):
        assert not any(inside)
    else:
        assert not all(inside)


def test_an_old_r12_label_is_practice_not_a_figure() -> None:
    # Scenario 1: 900 g x 0.80 to 0.90 = 720 to 810 g.
    estimate = from_old_label(old_refrigerant="R-12", new_refrigerant="R-134a", label_g=900)
    assert "0.80 to 0.90 of the old label, 720 to 810 g" in estimate
    assert "not a maker's figure" in estimate


def test_r1234yf_after_r134a_is_nine_tenths() -> None:
    estimate = from_old_label(old_refrigerant="R-134a", new_refrigerant="R-1234yf", label_g=500)
    assert "0.90 of the old label, 450 g;" in estimate


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"old_refrigerant": "R-22", "new_refrigerant": "R-134a", "label_g": 900}, "No common practice"),
        ({"old_refrigerant": "R-12", "new_refrigerant": "R-134a", "label_g": 0}, "label"),
    ],
)
def test_no_estimate_where_none_is_due(facts: dict[str, object], says: str) -> None:
    with pytest.raises(MeasurementError, match=says):
        from_old_label(**facts)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("charge", "says"),
    [
        (Charge(target_g=0, tolerance_g=15, drawn_g=1, u_drawn_g=1), "target"),
        (Charge(target_g=550, tolerance_g=-1, drawn_g=1, u_drawn_g=1), "tolerance"),
        (Charge(target_g=550, tolerance_g=15, drawn_g=-1, u_drawn_g=1), "charged mass"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(charge: Charge, says: str) -> None:
    with pytest.raises(MeasurementError, match=says):
        judge(charge)
