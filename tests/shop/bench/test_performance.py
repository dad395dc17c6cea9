"""Laws of the running test: superheat, subcooling, ideal cycle, and what is asked back."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.gases import fluids
from inventory.gases.fluids import OutsideModel
from shop.bench.answers import MeasurementError
from shop.bench.performance import Running, judge


def a_test(**changes: object) -> Running:
    running = Running(refrigerant="R-134a", low_pa=3e5, high_pa=13.2e5)
    return replace(running, **changes)  # type: ignore[arg-type]


@settings(max_examples=20, deadline=None)
@given(st.floats(263, 288), st.floats(308, 343), st.sampled_from(["R-12", "R-134a", "R-1234yf"]))
def test_saturation_comes_back_from_its_own_pressures(cold_k: float, hot_k: float, code: str) -> None:
    low_pa, high_pa = fluids.dew_pressure_pa(code, cold_k), fluids.bubble_pressure_pa(code, hot_k)
    answer = judge(a_test(refrigerant=code, low_pa=low_pa, high_pa=high_pa))
    assert answer.evaporating_k == pytest.approx(cold_k, abs=0.01)
    assert answer.condensing_k == pytest.approx(hot_k, abs=0.01)
    # No cycle between two temperatures does better than Carnot's.
    assert 1 < answer.ideal_cop < cold_k / (hot_k - cold_k)


def test_superheat_and_subcooling_are_measured_from_dew_and_bubble() -> None:
    answer = judge(a_test(refrigerant="R-407C", low_pa=5e5, high_pa=18e5, suction_line_k=285.0, liquid_line_k=308.0))
    assert answer.superheat_k == pytest.approx(285.0 - fluids.dew_temperature_k("R-407C", 5e5))
    assert answer.subcooling_k == pytest.approx(fluids.bubble_temperature_k("R-407C", 18e5) - 308.0)


def test_the_cycle_goes_round() -> None:
    one, two, three, four = judge(a_test(suction_line_k=283.15, liquid_line_k=313.15)).diagram.states
    assert one.pressure_pa == four.pressure_pa < two.pressure_pa == three.pressure_pa
    assert three.enthalpy_j_kg == four.enthalpy_j_kg < one.enthalpy_j_kg < two.enthalpy_j_kg


def test_the_dome_closes_upwards() -> None:
    dome = judge(a_test()).diagram.dome
    widths = [dry - boiling for _, boiling, dry in dome]
    assert all(later < earlier for earlier, later in zip(widths, widths[1:], strict=False))
    assert dome[0][0] == pytest.approx(1.5e5)


def test_r744_above_its_critical_point_is_an_error_with_the_range() -> None:
    with pytest.raises(OutsideModel, match="73.77 bar"):
        judge(a_test(refrigerant="R-744", low_pa=35e5, high_pa=90e5))


def test_the_vent_is_set_beside_practice_and_the_dew_point() -> None:
    answer = judge(a_test(ambient_k=303.15, humidity=0.5, vent_k=281.15))
    # Psychrometric tables: dew point 18.4 C at 30 C and 50 %.
    assert answer.air_dew_point_k == pytest.approx(291.55, abs=0.1)
    assert "The vent is 22.0 K below the air outside." in answer.findings
    assert any("within the 7 to 10 C" in finding for finding in answer.findings)
    assert any("dew point" in finding for finding in answer.findings)
    assert answer.verdict == "read"


def test_full_humidity_puts_the_dew_point_at_the_airs_temperature() -> None:
    assert judge(a_test(ambient_k=303.15, humidity=1.0)).air_dew_point_k == pytest.approx(303.15, abs=0.001)
    assert judge(a_test(ambient_k=303.15, humidity=0.0)).air_dew_point_k is None


def test_a_vent_colder_than_the_refrigerant_is_a_question() -> None:
    answer = judge(a_test(vent_k=268.15))
    assert answer.verdict == "question"
    assert "cannot be" in answer.sentence


def test_condensing_below_the_air_is_a_question() -> None:
    assert "not this refrigerant" in judge(a_test(high_pa=6e5, ambient_k=308.15)).questions[0]


def test_little_superheat_and_little_subcooling_are_said() -> None:
    answer = judge(a_test(suction_line_k=274.0, liquid_line_k=323.0))
    assert any("liquid may reach the compressor" in finding for finding in answer.findings)
    assert any("vapour may be in the liquid line" in finding for finding in answer.findings)


def test_a_suction_line_colder_than_saturation_is_said() -> None:
    findings = judge(a_test(suction_line_k=268.15)).findings
    assert any("colder than saturation" in finding for finding in findings)


def test_pressures_that_lie_within_the_glide_of_a_blend_are_a_question() -> None:
    answer = judge(a_test(refrigerant="R-407C", low_pa=8.0e5, high_pa=8.5e5))
    assert answer.verdict == "question"
    assert any("too close" in question for question in answer.questions)


def test_air_so_dry_that_no_dew_point_is_known_has_none() -> None:
    assert judge(a_test(ambient_k=253.15, humidity=1e-4)).air_dew_point_k is None


def test_air_warmer_than_the_critical_point_has_no_line_in_the_drawing() -> None:
    hot = judge(a_test(refrigerant="R-744", low_pa=35e5, high_pa=70e5, ambient_k=308.15))
    assert hot.diagram.ambient_pa is None
    cool = judge(a_test(refrigerant="R-744", low_pa=35e5, high_pa=70e5, ambient_k=298.15))
    assert cool.diagram.ambient_pa == pytest.approx(fluids.bubble_pressure_pa("R-744", 298.15))


def test_a_low_side_below_the_atmosphere_and_ice_are_said() -> None:
    findings = judge(a_test(low_pa=0.9e5)).findings
    assert any("draw in air" in finding for finding in findings)
    assert any("freeze" in finding for finding in findings)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"low_pa": 14e5}, "swapped"),
        ({"low_pa": -1.0}, "low side absolute pressure"),
        ({"humidity": 1.5}, "between 0 and 100"),
        ({"vent_k": float("nan")}, "not a number"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(changes: dict[str, object], says: str) -> None:
    with pytest.raises(MeasurementError, match=says):
        judge(a_test(**changes))
