"""What a leak search may say, alone and beside a hold."""

from dataclasses import replace

import pytest

from shop.bench.answers import MeasurementError
from shop.bench.hold import HoldAnswer
from shop.bench.hold import judge as judge_hold
from shop.bench.holdfacts import Hold, HoldReading
from shop.bench.leaksearch import LeakSearch, judge

FOURTEEN = tuple(f"joint {number}" for number in range(1, 15))


def a_search(**changes: object) -> LeakSearch:
    search = LeakSearch(
        method="electronic", joints=FOURTEEN, sensitivity_g_per_year=5, gas="refrigerant", gas_pressure_pa=6e5
    )
    return replace(search, **changes)  # type: ignore[arg-type]


def a_hold(end_pa: float = 18e5) -> HoldAnswer:
    readings = (HoldReading(0, 18e5, 295.0), HoldReading(1200, end_pa, 295.0))
    return judge_hold(
        Hold(readings=readings, volume_m3=0.002, refrigerant="R-134a", pressure_step_pa=7000, temperature_step_k=1.0)
    )


def test_no_leak_found_is_said_with_its_limit_and_the_holds() -> None:
    answer = judge(a_search(), a_hold())
    assert answer.verdict == "no-leak-found"
    assert answer.sentence.startswith("Electronic search: none above 5.0 g a year at the 14 joints looked at; ")
    assert "pressure hold: no leak larger than 5." in answer.sentence
    assert "coarse check" in answer.sentence


def test_without_a_sensitivity_no_limit_is_claimed() -> None:
    answer = judge(a_search(sensitivity_g_per_year=None))
    assert "nobody said how small" in answer.sentence
    assert "a year" not in answer.sentence


def test_leaking_joints_are_named() -> None:
    answer = judge(a_search(leaking=("joint 3",)))
    assert answer.verdict == "leak-found"
    assert "1 of the 14 joints looked at leaks (joint 3)" in answer.sentence


def test_a_falling_hold_contradicts_a_search_that_found_nothing() -> None:
    falling = a_hold(17e5)
    answer = judge(a_search(), falling)
    assert "a place that leaks was not found" in answer.sentence
    assert "was not found" not in judge(a_search(leaking=("joint 1",)), falling).sentence


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"joints": ()}, "no joint was looked at"),
        ({"gas_pressure_pa": 101_325.0}, "no pressure inside"),
        ({"gas": "nitrogen"}, "does not notice nitrogen"),
        ({"method": "hydrogen"}, "does not notice refrigerant"),
    ],
)
def test_a_search_that_could_find_nothing_cannot_tell(changes: dict[str, object], why: str) -> None:
    answer = judge(a_search(**changes))
    assert answer.verdict == "cannot-tell"
    assert why in answer.sentence
    assert "a year" not in answer.sentence


def test_few_joints_are_said() -> None:
    assert any("here 2." in caution for caution in judge(a_search(joints=("a", "b"))).cautions)
    assert not any("usually looked at" in caution for caution in judge(a_search()).cautions)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"method": "flame torch"}, "acid fumes"),
        ({"method": "ear"}, "one of"),
        ({"gas": "oxygen"}, "one of"),
        ({"leaking": ("elsewhere",)}, "not among the joints"),
        ({"joints": ("a", "a")}, "named twice"),
        ({"sensitivity_g_per_year": 0.0}, "sensitivity"),
    ],
)
def test_what_cannot_or_must_not_be_is_refused(changes: dict[str, object], says: str) -> None:
    with pytest.raises(MeasurementError, match=says):
        judge(a_search(**changes))
