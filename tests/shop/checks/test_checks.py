"""Checks: one registry for pages and command; what cannot be read is a sentence."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from shop.bench.vacuum import VacuumPicture
from shop.checks import registry as checks
from tests.shop.checks.asked import TYPED, reckon

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
