"""Checks: one registry for pages and command; what cannot be read is a sentence."""

import json
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from shop.bench.vacuum import VacuumPicture
from shop.checks import registry as checks

TYPED: dict[str, dict[str, str]] = {
    "saturation": {"refrigerant": "r134a", "temperature": "25 C"},
    "filling": {"refrigerant": "r134a", "water_capacity": "26.2 lb", "tare": "7 kg", "gross": "13 kg"},
    "air": {"refrigerant": "r134a", "temperature": "70 F", "pressure": "76 psi"},
    "identify": {"pressure": "4.7 bar", "temperature": "20 C"},
    "hold": {"readings": "0 min 250 psi 20 C; 20 min 249 psi 20 C", "volume": "2 L", "refrigerant": "r134a"},
    "vacuum": {"readings": "0 min 500 micron; 10 min 520 micron; 20 min 540 micron", "temperature": "20 C"},
    "recovery": {
        "expected": "550 g",
        "recovered": "512 g",
        "final_pressure": "0 bar",
        "volume": "2 L",
        "temperature": "20 C",
        "refrigerant": "r134a",
    },
    "hose": {"refrigerant": "r134a", "length": "1.8 m", "bore": "5 mm", "temperature": "20 C"},
    "leak-rate": {"method": "annualising", "added": "120 g", "full_charge": "600 g", "days": "365"},
    "gwp": {"refrigerant": "r134a", "basis": "ar4"},
    "odp": {"refrigerant": "r12"},
    "co2e": {"mass": "0.5 kg", "refrigerant": "r134a", "basis": "AR4"},
    "atmosphere": {"altitude": "1500 m"},
    "convert": {"value": "250 psi", "to": "bar"},
    "performance": {"refrigerant": "r134a", "low": "2 bar", "high": "14 bar"},
}
KEYS = {
    "saturation": "bubble_pressure_pa dew_pressure_pa liquid_density_kg_m3 vapour_density_kg_m3",
    "filling": "rules max_net_kg max_gross_kg room_kg governing_rule",
    "air": "table_limit_pa excess_pa air_ppm_by_mass verdict",
    "hold": "leak_g_per_year u_leak_g_per_year smallest_visible_leak_g_per_year time_to_see_limit_s"
    " compensated_drop_pa verdict",
    "vacuum": "verdict rise_pa_per_hour atmosphere_pa",
    "recovery": "residual_max_g missing_g u_missing_g verdict",
    "hose": "liquid_g vapour_g",
    "leak-rate": "percent_per_year g_per_year",
    "gwp": "value source from_memory",
    "odp": "value source from_memory",
    "co2e": "co2e_kg",
    "atmosphere": "pressure_pa",
    "convert": "value",
}


def reckon(name: str, **other: str) -> dict[str, Any]:
    typed = TYPED[name] | other
    out = StringIO()
    call_command("reckon", name, "--json", *(f"{key}={text}" for key, text in typed.items() if text), stdout=out)
    answer: dict[str, Any] = json.loads(out.getvalue())
    return answer


@pytest.mark.parametrize("name", KEYS)
def test_the_command_gives_the_keys_that_scripts_rely_on(name: str) -> None:
    assert set(KEYS[name].split()) <= set(reckon(name))


@pytest.mark.parametrize("name", checks.CHECKS)
def test_every_check_answers_its_own_example(name: str) -> None:
    answer = checks.reckon(name, TYPED[name])
    assert answer.sentence.endswith(".")
    assert answer.inputs
    assert answer.formula
    assert answer.sources


@pytest.mark.parametrize("name", checks.CHECKS)
def test_the_examples_that_pages_show_can_be_read(name: str) -> None:
    check = checks.find(name)
    examples = {one.key: one.example for one in check.inputs if one.key != "as_read"}
    assert checks.reckon(name, examples).sentence


def test_the_usual_hold_sees_only_kilograms_a_year() -> None:
    for minutes in (15, 20):
        answer = reckon("hold", readings=f"0 min 250 psi 20 C; {minutes} min 250 psi 20 C")
        assert answer["smallest_visible_leak_g_per_year"] > 1000
        assert answer["verdict"] == "no-leak-larger"


def test_a_tight_system_that_cools_is_compensated() -> None:
    # Common practice, no source: 250 psi gauge at sea level; p/T is kept, so the drop is that of the rounding.
    warm, cold = 293.15, 283.15
    after_psi = (250 + 14.69595) * cold / warm - 14.69595
    answer = reckon("hold", readings=f"0 min 250.000 psi 20 C; 60 min {after_psi:.3f} psi 10 C")
    assert abs(answer["compensated_drop_pa"]) < 0.001 * 6894.76


def test_bar_in_place_of_psi_is_a_question() -> None:
    with pytest.raises(CommandError, match="Did you mean 250 psi"):
        reckon("hold", readings="0 min 250 bar 20 C; 20 min 249 bar 20 C")


def test_a_vacuum_deeper_than_the_atmosphere_is_refused() -> None:
    with pytest.raises(CommandError):
        reckon("vacuum", readings="0 min 29.9 inHg; 10 min 29.9 inHg", altitude="1500 m")


VERDICTS_OF_A_VACUUM = [  # of a gauge of 0.1 mbar at 20 C, where water stands at 23.4 mbar
    ("0 min 1.5 mbar; 10 min 1.5 mbar; 20 min 1.5 mbar", "tight", "tight"),
    ("0 min 1.5 mbar; 10 min 4.5 mbar; 20 min 7.5 mbar; 30 min 10.5 mbar; 40 min 13.5 mbar", "leak", "leak"),
    ("0 min 1.5 mbar; 5 min 12.0 mbar; 10 min 17.4 mbar; 15 min 20.3 mbar; 20 min 21.8 mbar", "moisture", "moisture"),
    (
        "0 min 1.5 mbar; 5 min 28.7 mbar; 10 min 43.2 mbar; 15 min 51.0 mbar; 20 min 55.2 mbar",
        "cannot-tell",
        "outgassing",
    ),
    ("0 min 1.5 mbar; 10 min 9 mbar", "cannot-tell", "cannot-tell"),
]


@pytest.mark.parametrize(("readings", "verdict", "detail"), VERDICTS_OF_A_VACUUM)
def test_a_script_gets_one_of_four_verdicts_of_a_vacuum(readings: str, verdict: str, detail: str) -> None:
    answer = reckon("vacuum", readings=readings, pressure_step="0.1 mbar")
    assert (answer["verdict"], answer["verdict_detail"]) == (verdict, detail)


@pytest.mark.parametrize("name", ["vacuum", "hold"])
def test_a_barometer_is_the_atmosphere_and_the_answer_says_so(name: str) -> None:
    answer = reckon(name, barometer="838.5 hPa", altitude="1500 m")
    assert answer["atmosphere_pa"] == pytest.approx(83_850)
    assert answer["atmosphere_by"] == "by the barometer"
    by_height = reckon(name, altitude="1500 m")
    assert by_height["atmosphere_pa"] == pytest.approx(84_556, abs=1)
    assert by_height["atmosphere_by"] == "standard at this height"
    assert "no height entered" in reckon(name)["atmosphere_by"]


def test_the_barometer_is_what_gauge_pressures_are_read_against() -> None:
    # 20 inHg below 838.5 hPa and below 845.6 hPa: 16,122 and 16,828 Pa absolute; the rise in between stays.
    typed = {"readings": "0 min 20 inHg; 20 min 19 inHg", "temperature": "20 C", "altitude": "1500 m"}
    by_barometer = checks.reckon("vacuum", typed | {"barometer": "838.5 hPa"})
    by_height = checks.reckon("vacuum", typed)
    assert isinstance(by_barometer.picture, VacuumPicture)
    assert isinstance(by_height.picture, VacuumPicture)
    assert by_barometer.picture.points[0][1] == pytest.approx(83_850 - 20 * 3386.389, abs=1)
    assert by_height.picture.points[0][1] == pytest.approx(84_556 - 20 * 3386.389, abs=1)


def test_a_vacuum_deeper_than_the_barometer_allows_is_refused() -> None:
    # 24.9 inHg is possible under the standard 24.97 inHg of 1,500 m, and not under 838.5 hPa, 24.76 inHg.
    typed = {"readings": "0 min 24.9 inHg; 10 min 24.9 inHg", "temperature": "20 C", "altitude": "1500 m"}
    assert checks.reckon("vacuum", typed).verdict == "cannot-tell"
    with pytest.raises(checks.CheckFault, match=r"below zero absolute: the local atmosphere is 24\.76 inHg"):
        checks.reckon("vacuum", typed | {"barometer": "838.5 hPa"})


def test_a_hold_turns_gauge_into_absolute_by_the_barometer() -> None:
    # The compensation takes absolute pressure: warmed by 10 K, 98 % of an atmosphere counts for 2 % less of it.
    typed = TYPED["hold"] | {"readings": "0 min 250 psi 20 C; 20 min 250 psi 30 C"}
    low = checks.reckon("hold", typed | {"barometer": "993 hPa"}).figures["compensated_drop_pa"]
    standard = checks.reckon("hold", typed).figures["compensated_drop_pa"]
    assert standard - low == pytest.approx((101_325 - 99_300) * (1 - 293.15 / 303.15), rel=1e-6)


@pytest.mark.parametrize("text", ["838.5 mbar", "24.76 inHg", "24,76 in Hg", "628.9 mmHg", "83850 Pa", "0.8385 bar"])
def test_a_barometer_counts_from_nothing_in_every_unit(text: str) -> None:
    assert reckon("vacuum", barometer=text, altitude="1500 m")["atmosphere_pa"] == pytest.approx(83_850, rel=1e-3)


def test_a_barometer_that_is_doubtful_is_asked_about_and_taken_once_it_is_insisted_on() -> None:
    with pytest.raises(CommandError, match=r"960\.0 hPa is far from the 1013\.2 hPa .* say as_read=yes"):
        reckon("vacuum", barometer="960 hPa")
    assert reckon("vacuum", barometer="960 hPa", as_read="yes")["atmosphere_pa"] == pytest.approx(96_000)


def test_the_gas_of_a_hold_is_named_in_short_or_in_full() -> None:
    dry = reckon("hold")
    assert dry["gas"] == "dry nitrogen"
    for gas in ("nitrogen with hydrogen", "nitrogen-hydrogen"):
        mixed = reckon("hold", gas=gas)
        assert mixed["gas"] == "nitrogen with hydrogen"
        assert mixed["leak_g_per_year"] == pytest.approx(dry["leak_g_per_year"], rel=0.01)
        assert mixed["compensated_drop_pa"] == dry["compensated_drop_pa"]


def test_a_hold_of_a_blend_says_what_it_is_estimated_from_or_why_it_is_not() -> None:
    estimated = reckon("hold", refrigerant="R-407C")
    assert estimated["smallest_visible_leak_g_per_year"] > 0
    assert "estimated from the components" in estimated["sentence"]
    without = reckon("hold", refrigerant="R-502")
    assert without["leak_g_per_year"] is None
    assert "R-115" in without["why_not"]


def test_a_level_is_printed_only_where_the_rise_bends() -> None:
    def level(readings: str) -> str:
        answer = checks.reckon("vacuum", {"readings": readings, "temperature": "20 C", "pressure_step": "0.1 mbar"})
        return dict(answer.workings)["Chi-square, towards any level"]

    steady, bending = VERDICTS_OF_A_VACUUM[1][0], VERDICTS_OF_A_VACUUM[3][0]
    assert "mbar" not in level(steady)
    assert "no bend" in level(steady)
    assert float(level(bending).split("level ")[1].removesuffix(" mbar")) == pytest.approx(60, rel=0.02)


@pytest.mark.parametrize(
    ("name", "other", "words"),
    [
        ("hose", {"bore": ""}, "length, bore, temperature"),
        ("hose", {"colour": "red"}, "length, bore, temperature"),
        ("gwp", {"refrigerant": "R-99999"}, "not in the catalogue"),
        ("gwp", {"basis": "AR9"}, "AR4"),
        ("filling", {"tare": ""}, "tare"),
        ("leak-rate", {"days": ""}, "days"),
        ("leak-rate", {"method": "guess"}, "rolling"),
        ("hold", {"readings": "0 min 250 psi"}, "Reading 1"),
        ("hold", {"readings": "0 min 250 psi 20 C"}, "two readings"),
        ("saturation", {"temperature": "200 C"}, "outside the range"),
        ("atmosphere", {"altitude": "20000 m"}, "outside the heights"),
        ("convert", {"to": "kg"}, "does not turn into"),
        ("vacuum", {"barometer": "1013 hPa", "altitude": "1500 m"}, "reduced to sea level"),
        ("hold", {"barometer": "1013 hPa", "altitude": "1500 m"}, "reduced to sea level"),
        ("vacuum", {"barometer": "700 hPa"}, "no weather does that"),
        ("vacuum", {"barometer": "1003"}, "hPa"),
        ("vacuum", {"barometer": "high"}, "high"),
        ("filling", {"tare": "14 kg"}, "below the tare"),
        ("air", {"water_capacity": "26.2 lb"}, "both the water capacity and the contents"),
        ("leak-rate", {"method": "between-visits", "days": ""}, "between visits needs the days"),
        ("leak-rate", {"method": "between-visits", "added": "700 g"}, "More was added"),
        ("hold", {"pressure_step": "0 psi"}, "above zero"),
        ("hold", {"temperature_step": "a bit"}, "no step of a thermometer"),
        ("hold", {"temperature_step": "0 C"}, "no step of a thermometer"),
        ("hold", {"readings": "0 min 250 20 C; 20 min 249 20 C"}, "Reading 1: .* Choices"),
        ("air", {"pressure": "76"}, "Choices: 76 bar"),
        ("hold", {"gas": "oxygen"}, "dry nitrogen, nitrogen with hydrogen"),
    ],
)
def test_what_gives_no_answer_is_a_sentence(name: str, other: dict[str, str], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        reckon(name, **other)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "Name a check: hold"),
        (["hose", "length"], "is no key=value"),
        (["gwp", "basis=AR4", "basis=AR5"], "'basis' is given twice"),
    ],
)
def test_a_command_line_that_is_none_is_a_sentence(words: list[str], says: str) -> None:
    with pytest.raises(CommandError, match=says):
        call_command("reckon", *words)


def test_readings_by_the_clock_are_those_by_the_minute() -> None:
    by_clock = reckon("hold", readings="14:10 250 psi 20 C; 14:30:00 249 psi 20 C")
    by_minute = reckon("hold", readings="0 min 250 psi 20 C; 20 min 249 psi 20 C")
    assert by_clock["leak_pa_m3_s"] == pytest.approx(by_minute["leak_pa_m3_s"])


def test_an_unknown_check_names_all_of_them() -> None:
    with pytest.raises(CommandError, match="saturation, performance"):
        call_command("reckon", "wine")


def test_without_json_the_answer_is_text_with_source() -> None:
    out = StringIO()
    call_command("reckon", "gwp", "refrigerant=r134a", "basis=AR4", stdout=out)
    assert "1430" in out.getvalue()
    assert "Sources:" in out.getvalue()


def test_a_small_leak_adds_up_over_a_year() -> None:
    answer = reckon("leak-rate")
    assert answer["percent_per_year"] == pytest.approx(20.0)
    assert answer["g_per_year"] == pytest.approx(120.0)


def test_values_that_are_optional_come_out_as_null() -> None:
    assert reckon("filling", tare="", gross="")["room_kg"] is None
    assert reckon("air")["air_ppm_by_mass"] is None
    assert reckon("air", refrigerant="r22", pressure="121 psi")["table_limit_pa"] is None


# What nobody knows


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
    assert "It stood at 17.23689 bar gauge at first and at 17.16795 bar gauge 20 min later" in answer["sentence"]
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
    assert "from 0.66661 mbar to 1.9998 mbar in 20 min" in answer["sentence"]
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
