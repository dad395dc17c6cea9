"""Checks: one registry for pages and command; what cannot be read is a sentence."""

import json
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from shop import checks

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


def test_a_script_gets_one_of_four_verdicts_of_a_vacuum() -> None:
    assert reckon("vacuum")["verdict"] in {"tight", "leak", "moisture", "cannot-tell"}


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
    ],
)
def test_what_gives_no_answer_is_a_sentence(name: str, other: dict[str, str], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        reckon(name, **other)


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
