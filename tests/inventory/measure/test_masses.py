"""Masses as people type them, in whole milligrams, and as pages show them."""

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.figures import show_mass
from inventory.measure.masses import read_mass, written_out
from inventory.measure.typed import LONGEST_TEXT
from tests.inventory.measure.asking import SPACE, choices_of, sentence_of


@pytest.mark.parametrize(
    ("text", "mg", "echo"),
    [
        ("0.9 lb", 408_233, "0.9 lb (408.2 g)"),
        ("14 oz", 396_893, "14 oz (396.9 g)"),
        ("410 g", 410_000, "410 g"),
        ("410g.", 410_000, "410 g"),
        ("1 lb 4 oz", 566_990, "1 lb 4 oz (567.0 g)"),
        ("1lb4oz", 566_990, "1 lb 4 oz (567.0 g)"),
        ("1 pound, 4 ounces", 566_990, "1 lb 4 oz (567.0 g)"),
        ("1.4 lb", 635_029, "1.4 lb, 1 lb 6.4 oz (635.0 g)"),
        ("26.2 LBS", 11_884_120, "26.2 lb, 26 lb 3.2 oz (11.8841 kg)"),
        ("0,45 kg", 450_000, "0.45 kg"),
        ("0,450 kg", 450_000, "0.450 kg"),  # no thousands begin with a nought
        ("1234,567 kg", 1_234_567_000, "1234.567 kg"),  # nor with four digits
        ("13.482 kg", 13_482_000, "13.482 kg"),  # a point is how scales print decimals
        ("1.234,5 g", 1_234_500, "1234.5 g"),
        ("1,234.5 g", 1_234_500, "1234.5 g"),
        ("1,234,567 g", 1_234_567_000, "1234567 g"),
        ("1 234 g", 1_234_000, "1234 g"),
        ("1\u202f234\u00a0g", 1_234_000, "1234 g"),
        ("1'234 g", 1_234_000, "1234 g"),
        ("\uff14\uff11\uff10 g", 410_000, "410 g"),  # full-width digits
        (".5 kg", 500_000, "0.5 kg"),
        ("007 g", 7_000, "7 g"),
        ("0 g", 0, "0 g"),
        ("+3 g", 3_000, "3 g"),
    ],
)
def test_masses_are_read_and_echoed(text: str, mg: int, echo: str) -> None:
    read = read_mass(text)
    assert (read.mg, read.echo, read.text) == (mg, echo, text)


@pytest.mark.parametrize(
    ("text", "choices"),
    [
        ("1,234 kg", ("1.234 kg", "1234 kg")),
        ("1,234 mg", ("1234 mg",)),  # the other reading is finer than a milligram
        ("3 Mg", ("3 mg", "3 t")),
        ("410", ("410 g", "410 kg", "410 lb", "410 oz")),
    ],
)
def test_a_mass_with_several_readings_is_a_question(text: str, choices: tuple[str, ...]) -> None:
    assert choices_of(read_mass, text) == choices


def test_a_unit_in_the_text_wins_over_the_one_of_the_field() -> None:
    assert read_mass("410", default_unit="g").mg == 410_000
    assert read_mass("1 lb", default_unit="g").mg == 453_592


@pytest.mark.parametrize(
    ("text", "choices"),
    [
        ("1.4", ("1.4 lb", "1 lb 4 oz")),
        ("0.9", ("0.9 lb", "0 lb 9 oz")),
        ("1,4", ("1.4 lb", "1 lb 4 oz")),
        ("2.15", ("2.15 lb", "2 lb 15 oz")),
    ],
)
def test_a_bare_number_is_asked_about_where_pounds_and_ounces_are_chosen(text: str, choices: tuple[str, ...]) -> None:
    assert choices_of(lambda typed: read_mass(typed, default_unit="lb oz"), text) == choices


@pytest.mark.parametrize(
    ("text", "mg", "echo"),
    [
        ("36 6.5", 16_513_597, "36 lb 6.5 oz (16.5136 kg)"),
        ("36 6,5", 16_513_597, "36 lb 6.5 oz (16.5136 kg)"),
        ("36 lb 6.5", 16_513_597, "36 lb 6.5 oz (16.5136 kg)"),
        ("0 15", 425_243, "0 lb 15 oz (425.2 g)"),
        ("40", 18_143_695, "40 lb 0 oz (18.1437 kg)"),
        ("40.0 lb", 18_143_695, "40 lb 0 oz (18.1437 kg)"),
        ("1 234", 559_732_985, "1234 lb 0 oz (559.7330 kg)"),  # thousands have three digits
        ("24.5 oz", 694_563, "24.5 oz (694.6 g)"),
        ("1.53 lb", 693_996, "1.53 lb, 1 lb 8.48 oz (694.0 g)"),
    ],
)
def test_one_text_takes_pounds_and_ounces(text: str, mg: int, echo: str) -> None:
    read = read_mass(text, default_unit="lb oz")
    assert (read.mg, read.echo, read.text) == (mg, echo, text)
    assert read_mass(written_out(text, "lb oz")).mg == mg


@given(st.integers(0, 999_999), st.integers(0, 1599))
def test_two_numbers_are_the_pounds_and_ounces_that_they_say(pounds: int, hundredths: int) -> None:
    ounces = f"{hundredths // 100}.{hundredths % 100:02}"
    exact = pounds * 16 + Fraction(hundredths, 100)
    for text in (f"{pounds} {ounces}", f"{pounds} lb {ounces}", f"{pounds}  lb {ounces} oz"):
        read = read_mass(text, default_unit="lb oz")
        assert read.exact_mg == exact * Fraction(28_349_523_125, 10**6)
        assert read.mg == round(read.exact_mg)


def test_sixteen_ounces_beside_pounds_are_refused_as_they_were_typed() -> None:
    sentence = sentence_of(lambda text: read_mass(text, default_unit="lb oz"), "36 18")
    assert sentence.startswith("“36 18” has pounds that are not whole, or 16 ounces and more beside them.")


@pytest.mark.parametrize(
    ("text", "mg"), [("2", 907_185), ("1.0", 453_592), ("1.25", 566_990), ("1.16", 526_167), ("1.4 kg", 1_400_000)]
)
def test_a_bare_number_that_cannot_hold_ounces_is_pounds(text: str, mg: int) -> None:
    assert read_mass(text, default_unit="lb oz").mg == mg


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "Nothing is entered for the mass"),
        ("   ", "Nothing is entered"),
        ("kg", "no number"),
        ("nan", "no number"),
        ("inf kg", "no number"),
        ("1e9 kg", "exponent"),
        ("1E-3 kg", "exponent"),
        ("2 x 10^3 g", "exponent"),
        ("-3 kg", "below zero"),
        ("\u22123 kg", "below zero"),
        ("3 kq", "“kq” is no unit of mass"),
        ("3 bar", "is a pressure; for the mass write a mass in g, kg, lb or oz"),
        ("3 psig", "is a pressure"),
        ("3 C", "is a temperature"),
        ("3 L", "is a volume"),
        ("12 5 g", "not one number"),
        ("5. kg", "not one number"),
        ("1.234.56 g", "not one number"),
        ("1/2 lb", "not one number"),
        ("3-4 kg", "not one number"),
        ("1½ lb", "not one number"),
        ("1² g", "not one number"),
        ("\u0663 kg", "no number"),  # an Arabic-Indic three
        ("1 lb 17 oz", "16 ounces and more"),
        ("1 lb 16 oz", "16 ounces and more"),
        ("1.5 lb 2 oz", "not whole"),
        ("1 lb 2 g", "not pounds and ounces"),
        ("0.0000001 lb", "finer than a milligram"),
        ("1000001 kg", "more than any mass can be"),
        ("1" * 25 + " mg", "more than 24 digits"),
        ("1 \x00", "is no unit of mass"),
    ],
)
def test_a_mass_that_cannot_be_read_is_refused_in_words(text: str, words: str) -> None:
    assert words in sentence_of(read_mass, text)


def test_a_text_longer_than_any_quantity_is_refused_and_not_repeated() -> None:
    sentence = sentence_of(read_mass, "1" * (LONGEST_TEXT + 1))
    assert f"more than {LONGEST_TEXT}" in sentence
    assert "1111111" not in sentence
    assert "characters" in sentence_of(lambda text: read_mass(text, default_unit="lb oz"), "1" * 5000)


def test_a_sentence_names_what_was_asked_for() -> None:
    assert "gross on the scale" in sentence_of(lambda text: read_mass(text, what="gross on the scale"), "")


@pytest.mark.parametrize(
    ("mg", "how", "shown"),
    [
        (450_000, {}, "0.450_kg"),
        (-450_000, {}, "\u22120.450_kg"),
        (450_000, {"sign": True}, "+0.450_kg"),
        (0, {"sign": True}, "0.000_kg"),
        (-499, {}, "0.000_kg"),  # no minus before nothing
        (500, {}, "0.001_kg"),  # a half goes away from zero
        (-500, {}, "\u22120.001_kg"),
        (17_190_000, {"step_mg": 5_000}, "17.190_kg"),
        (17_190_000, {"step_mg": 10_000}, "17.19_kg"),
        (12_345, {"step_mg": 500, "unit": "g"}, "12.3_g"),
        (12_345, {"unit": "g"}, "12_g"),
        (635_029, {"unit": "lb"}, "1.400_lb"),
        (566_990, {"unit": "lb oz"}, "1_lb 4.00_oz"),
        (453_592, {"unit": "lb oz"}, "1_lb 0.00_oz"),  # not 0 lb 16.00 oz
        (-566_990, {"unit": "lb oz", "step_mg": 5_000}, "\u22121_lb 4.0_oz"),
    ],
)
def test_masses_are_shown_for_a_column(mg: int, how: dict[str, Any], shown: str) -> None:
    assert show_mass(mg, **how) == shown.replace("_", SPACE)
