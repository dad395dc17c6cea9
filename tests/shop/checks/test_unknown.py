"""Checks where nobody knows the inside volume, the temperature or the height."""

import pytest
from django.core.management import CommandError

from tests.shop.checks.asked import reckon


@pytest.mark.parametrize(
    ("vehicle_class", "low_m3", "high_m3"),
    [
        ("car", 0.0012, 0.004),
        ("van", 0.0025, 0.007),
        ("machine", 0.0015, 0.008),
        ("bus", 0.01, 0.08),
        ("", 0.0012, 0.004),
    ],
)
@pytest.mark.parametrize("name", ["hold", "vacuum", "recovery"])
def test_a_class_stands_in_place_of_the_volume_and_the_sentence_says_so(
    name: str, vehicle_class: str, low_m3: float, high_m3: float
) -> None:
    answer = reckon(name, volume="", vehicle_class=vehicle_class)
    assert (answer["volume_low_m3"], answer["volume_high_m3"]) == (low_m3, high_m3)
    assert "an estimate of the trade, no source" in answer["sentence"]
    assert ("which is assumed here" in answer["sentence"]) is (not vehicle_class)


@pytest.mark.parametrize("name", ["hold", "vacuum", "recovery"])
def test_a_volume_that_is_entered_holds_whatever_the_class(name: str) -> None:
    answer = reckon(name, volume="2 L", vehicle_class="bus")
    assert answer["volume_low_m3"] == answer["volume_high_m3"] == pytest.approx(0.002)
    assert "estimate of the trade" not in answer["sentence"]
    for key in [key for key in answer if key.endswith("_low") and not key.startswith("volume")]:
        whole = key.removesuffix("_low")
        assert answer[key] == answer[f"{whole}_high"] == answer.get(whole, answer[key])


def test_a_hold_gives_its_fall_whatever_is_not_known() -> None:
    answer = reckon("hold", volume="", refrigerant="", readings="0 min 250 psi; 20 min 249 psi")
    assert answer["pressure_drop_pa"] == pytest.approx(6894.76, rel=1e-5)
    assert answer["compensated_drop_pa"] == pytest.approx(6894.76, rel=1e-5)
    assert answer["duration_s"] == 1200
    assert answer["temperature_taken"] is False
    assert answer["leak_g_per_year"] is None
    assert 0 < answer["smallest_visible_leak_pa_m3_s_low"] < answer["smallest_visible_leak_pa_m3_s_high"]
    assert "It stood at 17.24 bar gauge at first and at 17.17 bar gauge 20 min later" in answer["sentence"]
    assert "The temperature was not taken" in answer["sentence"]


def test_the_drop_is_that_of_the_gauge_and_the_compensated_one_that_of_the_gas() -> None:
    # By hand: 251 psi gauge at 23 C are 1,831,909 Pa absolute; times 295.15 / 296.15 they are 1,825,723.
    answer = reckon("hold", volume="", readings="0 min 250 psi 22 C; 20 min 251 psi 23 C")
    assert answer["pressure_drop_pa"] == pytest.approx(-6894.76, rel=1e-5)
    assert answer["compensated_drop_pa"] == pytest.approx(1_825_014 - 1_831_909 * 295.15 / 296.15, abs=1)


def test_the_smallest_visible_leak_of_a_class_is_that_of_its_two_ends() -> None:
    car = reckon("hold", volume="", vehicle_class="car")
    low, high = reckon("hold", volume="1.2 L"), reckon("hold", volume="4 L")
    for end, one in (("low", low), ("high", high)):
        for key in ("smallest_visible_leak_g_per_year", "leak_g_per_year"):
            assert car[f"{key}_{end}"] == pytest.approx(one[key])
    assert car["smallest_visible_leak_g_per_year"] == pytest.approx(reckon("hold")["smallest_visible_leak_g_per_year"])
    assert car["leak_at_least_g_per_year"] <= car["leak_g_per_year_low"]
    assert car["leak_at_most_g_per_year"] >= car["leak_g_per_year_high"]


def test_a_vacuum_needs_no_temperature_to_say_its_rise() -> None:
    answer = reckon("vacuum", temperature="", readings="0 min 500 micron; 5 min 900 micron; 20 min 1500 micron")
    assert answer["rise_pa"] == pytest.approx(133.32, rel=1e-4)
    assert answer["rise_pa_per_minute"] == pytest.approx(133.32 / 20, rel=1e-4)
    assert answer["water_pa"] is None
    assert "from 0.667 mbar to 2.00 mbar in 20 min" in answer["sentence"]
    assert "temperature of the coldest part was not taken" in answer["sentence"]


OUT = {"volume": "", "temperature": "", "expected": "907 g", "recovered": "850 g", "final_pressure": "18 inHg"}


def test_a_recovery_down_to_a_stated_pressure_is_emptied_within_a_bound() -> None:
    answer = reckon("recovery", **OUT, vehicle_class="car")
    assert answer["verdict"] == "emptied"
    assert answer["verdict_detail"] == "short"
    assert answer["emptied"] is True
    assert answer["emptied_below_pa"] == pytest.approx(91_192.5)
    assert answer["rest_at_most_g"] == answer["residual_max_g"] == pytest.approx(20.4, abs=0.1)
    assert "at most 21 g is left" in answer["sentence"]


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [
        ({"recovered": "900 g"}, "emptied"),
        ({"recovered": "900 g", "volume": "2 L"}, "emptied"),
        ({"recovered": "900 g", "volume": "2 L", "oil": "100 g"}, "accounted for"),  # all was entered: that says more
        ({"volume": "2 L", "oil": "100 g"}, "emptied"),
        ({"waited": "0 min"}, "short"),
        ({"final_pressure": "0 bar"}, "accounted for"),  # so much a car's volume and oil can still hold there
        ({"final_pressure": "2 bar"}, "short"),
        ({"recovered": "0 g", "arrival_pressure": "0 bar"}, "arrived empty"),
    ],
)
def test_when_a_recovery_is_called_emptied(changes: dict[str, str], verdict: str) -> None:
    answer = reckon("recovery", **OUT | changes)
    assert answer["verdict"] == verdict
    assert "part is out" not in answer["sentence"]


def test_where_liquid_may_remain_there_is_no_bound() -> None:
    answer = reckon("recovery", **OUT | {"final_pressure": "5 bar", "temperature": "20 C"})
    assert answer["rest_at_most_g"] is None
    assert answer["emptied"] is False


@pytest.mark.parametrize(
    ("name", "other", "words"),
    [
        ("hold", {"vehicle_class": "ship"}, "car, van, machine, bus"),
        ("hold", {"volume": "0 L"}, "volume"),
        ("recovery", {"volume": "2 m3"}, "Is the unit right"),
        ("recovery", {"waited": "soon"}, "soon"),
        ("vacuum", {"temperature": "cold"}, "cold"),
    ],
)
def test_nonsense_in_what_may_be_left_out_is_a_sentence(name: str, other: dict[str, str], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        reckon(name, **other)
