"""What people type, and what is made of it."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.conversion import convert
from inventory.measure.figures import show_mass, show_temperature
from inventory.measure.masses import read_mass
from inventory.measure.quantities import (
    read_duration,
    read_length,
    read_number,
    read_percent,
    read_temperature,
    read_volume,
    read_water_capacity,
)
from inventory.measure.typed import Doubtful, QuantityError
from tests.inventory.measure.asking import HIGH_PA, SEA_LEVEL_PA, SPACE, Reader, choices_of, pressure, sentence_of

POUND_MG = Fraction("453592.37")


READERS: list[Reader] = [
    read_mass,
    lambda text: read_mass(text, default_unit="kg"),
    lambda text: read_mass(text, default_unit="lb oz"),
    pressure,
    lambda text: pressure(text, default_unit="psi", plausible_pa=(80_000.0, 4_200_000.0)),
    lambda text: pressure(text, atmosphere_pa=HIGH_PA, default_reference="vacuum", default_unit="inHg"),
    read_temperature,
    read_volume,
    read_water_capacity,
    read_length,
    lambda text: read_length(text, default_unit=None, lowest_m=-500),
    read_duration,
    lambda text: read_duration(text, default_unit=None),
    read_percent,
    lambda text: read_number(text, what="count", lowest=0),
    lambda text: convert(text, "kg"),
    lambda text: convert(text, "psia", atmosphere_pa=SEA_LEVEL_PA),
    lambda text: convert(text, "C"),
]
PIECES = ["0", "1", "4", "20", "250", "1,234", "1.4", ",5", ".", ",", "'", " ", "-", "\u2212", "+", "/", ":", "e9", "½"]
WORDS = ["lb", "oz", "g", "kg", "Mg", "mg", "psi", "bar", "g", "a", "abs", "vacuum", "inHg", "micron", "C", "F", "L"]
MORE = ["WC", "of water", "h", "min", "s", "m", "%", "fl", "(", ")", "²", "\u00a0", "\x00", "\uff11", "in", '"']
texts = st.text() | st.lists(st.sampled_from(PIECES + WORDS + MORE), max_size=8).map("".join)


def refusal_of(reader: Reader, text: str) -> QuantityError | None:
    """Return what a reader says against a text; any other error comes through."""
    try:
        reader(text)
    except QuantityError as error:
        return error
    return None


@given(st.sampled_from(READERS), texts)
def test_any_text_is_read_or_refused_with_a_sentence(reader: Reader, text: str) -> None:
    refusal = refusal_of(reader, text)
    if refusal is not None:
        assert refusal.sentence[-1] in ".?"
        assert len(refusal.sentence) < 600


@given(st.sampled_from(READERS), texts)
def test_each_choice_of_a_question_reads_without_doubt(reader: Reader, text: str) -> None:
    refusal = refusal_of(reader, text)
    if isinstance(refusal, Doubtful):
        assert refusal.choices
        for choice in refusal.choices:
            assert choice in refusal.sentence
            assert refusal_of(reader, choice) is None


@given(st.integers(0, 10**9), st.integers(0, 8), st.sampled_from(["lb", "oz"]))
def test_pounds_and_ounces_are_the_nearest_milligram_of_the_exact_mass(digits: int, places: int, unit: str) -> None:
    number = Fraction(digits, 10**places)
    exact = number * POUND_MG / (1 if unit == "lb" else 16)
    text = f"{digits // 10**places}.{digits % 10**places:0{places}d}" if places else str(digits)
    if exact > 10**12 or (exact and round(exact) == 0):
        assert refusal_of(read_mass, f"{text} {unit}") is not None
    else:
        assert read_mass(f"{text} {unit}").mg == round(exact)


@given(st.integers(0, 2000), st.integers(0, 15))
def test_pounds_with_ounces_are_one_mass(pounds: int, ounces: int) -> None:
    assert read_mass(f"{pounds} lb {ounces} oz").mg == round((pounds + Fraction(ounces, 16)) * POUND_MG)


@given(st.integers(0, 10**12), st.sampled_from([("mg", 0), ("g", 3), ("kg", 6), ("t", 9)]))
def test_metric_masses_keep_every_milligram(mg: int, unit: tuple[str, int]) -> None:
    word, places = unit
    whole, part = divmod(mg, 10**places)
    number = f"{whole}.{part:0{places}d}" if places else str(whole)
    read = read_mass(f"{number} {word}")
    assert read.mg == mg
    assert read.si == pytest.approx(mg / 1e6)
    assert read.echo == f"{number} {word}"


@given(st.integers(1, 9), st.integers(4, 9))
def test_metric_text_finer_than_a_milligram_is_refused_and_not_rounded(digit: int, zeros: int) -> None:
    assert "finer than a milligram" in sentence_of(read_mass, f"0.{'0' * (zeros - 1)}{digit} g")
    assert read_mass(f"1.{'0' * zeros} g").mg == 1000


@given(st.integers(1, 10**9))
def test_a_mass_shown_is_the_mass_read(grams: int) -> None:
    assert read_mass(show_mass(grams * 1000)).mg == grams * 1000
    assert show_mass(-grams * 1000) == "\u2212" + show_mass(grams * 1000)
    assert "below zero" in sentence_of(read_mass, show_mass(-grams * 1000))


@given(st.integers(0, 10**10), st.sampled_from(["lb", "lb oz"]))
def test_a_mass_shown_in_pounds_is_read_back_to_the_gram(mg: int, unit: str) -> None:
    assert abs(read_mass(show_mass(mg, unit=unit)).mg - mg) <= 500  # type: ignore[arg-type]


@given(st.lists(st.integers(0, 10**6), min_size=2, max_size=5), st.sampled_from(["g", "kg", "oz", "lb"]))
def test_more_typed_is_more_read(hundredths: list[int], unit: str) -> None:
    masses = [read_mass(f"{size / 100:.2f} {unit}").mg for size in sorted(hundredths)]
    assert all(less <= more for less, more in pairwise(masses))


PRESSURES = ["psig", "psia", "barg", "bara", "kPa abs", "micron", "torr", "inHg abs"]


@given(st.integers(0, 90_000), st.sampled_from(PRESSURES))
def test_more_typed_is_more_pressure(tenths: int, unit: str) -> None:
    assert pressure(f"{tenths / 10} {unit}").si < pressure(f"{tenths / 10 + 1} {unit}").si


@given(st.integers(0, 280))
def test_more_vacuum_is_less_pressure(tenths: int) -> None:
    assert pressure(f"{tenths / 10} inHg").si > pressure(f"{tenths / 10 + 1} inHg").si


@given(st.integers(-400, 1500), st.sampled_from(["C", "F"]))
def test_the_echo_opens_with_what_was_read(tenths: int, unit: str) -> None:
    text = f"{tenths / 10} {unit}"
    read = read_temperature(text)
    assert (read.text, read.unit) == (text, unit)
    assert read.echo.startswith(text.replace("-", "\u2212"))


@given(st.integers(0, 5000), st.sampled_from(["psi", "bar", "kPa", "micron", "torr", "psia", "bar abs", "mbar abs"]))
def test_a_pressure_is_echoed_as_gauge_and_as_absolute_and_its_unit_word_can_be_typed(size: int, unit: str) -> None:
    read = pressure(f"{size} {unit}")
    assert read.echo.startswith(f"{size} ")
    assert "absolute" in read.echo
    assert "gauge" in read.echo or unit in ("inHg", "micron", "torr", "mmHg", "atm")  # a needle below, or from nothing
    assert read.echo.count("bar") <= 1 or "bar" in unit
    assert pressure(f"{size} {read.unit}").si == read.si


@pytest.mark.parametrize(
    ("text", "kelvin", "echo"),
    [
        ("20", 293.15, "20 C (68 F)"),
        ("9.9 C", 283.05, "9.9 C (49.8 F)"),
        ("9,9°C", 283.05, "9.9 C (49.8 F)"),
        ("20 ℃", 293.15, "20 C (68 F)"),
        ("\u221210 degrees C", 263.15, "\u221210 C (14 F)"),
        ("50 F", 283.15, "50 F (10.0 C)"),
        ("293.15 K", 293.15, "293.15 K (20.0 C)"),
    ],
)
def test_temperatures_are_read(text: str, kelvin: float, echo: str) -> None:
    read = read_temperature(text)
    assert read.si == pytest.approx(kelvin, abs=1e-9)
    assert read.echo == echo


def test_colder_than_nothing_is_refused() -> None:
    assert "below absolute zero" in sentence_of(read_temperature, "-274 C")
    assert "below absolute zero" in sentence_of(read_temperature, "-1 K")
    assert "is a mass" in sentence_of(read_temperature, "20 g")


def test_temperatures_are_shown_to_a_tenth() -> None:
    assert show_temperature(263.15) == f"\u221210.0{SPACE}C"
    assert show_temperature(283.15, "F") == f"50.0{SPACE}F"
    assert show_temperature(273.15 - 0.04) == f"0.0{SPACE}C"


@pytest.mark.parametrize(
    ("text", "litres"),
    [("2", 2), ("30 mL", 0.03), ("40 cc", 0.04), ("40 cm³", 0.04), ("0.0119 m3", 11.9), ("122 cu in", 1.99922)],
)
def test_volumes_are_read(text: str, litres: float) -> None:
    assert read_volume(text).si * 1000 == pytest.approx(litres, rel=1e-5)


def test_ounces_in_a_volume_field_are_asked_about() -> None:
    assert choices_of(read_volume, "8 oz") == ("8 fl oz",)
    assert "is a mass" in sentence_of(read_volume, "2 lb")
    assert "below zero" in sentence_of(read_volume, "-2 L")


@pytest.mark.parametrize("text", ["26.2 lb", "WC 26.2 lb", "w.c. 26.2 lb of water", "11.884 kg water", "11.896 L"])
def test_a_water_capacity_is_litres_or_a_mass_of_water(text: str) -> None:
    read = read_water_capacity(text)
    assert read.si * 1000 == pytest.approx(11.896, abs=0.001)
    assert read.text == text


def test_a_bare_water_capacity_is_asked_about() -> None:
    assert choices_of(read_water_capacity, "WC 26.2") == ("26.2 lb", "26.2 L")
    assert read_water_capacity("WC 26.2", default_unit="lb").si * 1000 == pytest.approx(11.896, abs=0.001)
    assert "no water capacity" in sentence_of(read_water_capacity, "26.2 bar")


def test_lengths_are_read_and_heights_may_lie_below_the_sea() -> None:
    assert read_length("4921 ft").echo == "4921 ft (1500 m)"
    assert read_length("1.8").si == 1.8
    assert "cannot be below 0 m" in sentence_of(read_length, "-5 m")
    assert read_length("-5 m", lowest_m=-500).si == -5


@pytest.mark.parametrize(
    ("text", "seconds", "echo"),
    [
        ("20", 1200, "20 min"),
        ("20 min", 1200, "20 min"),
        ("90 s", 90, "90 s"),
        ("1 h 20 min", 4800, "1 h 20 min, 80 min"),
        ("1h20m", 4800, "1 h 20 min, 80 min"),
        ("1 h, 20 min", 4800, "1 h 20 min, 80 min"),
        ("1,5 h", 5400, "1.5 h, 90 min"),
        ("2 d", 172_800, "2 d, 2880 min"),
        ("1 week 2 days", 777_600, "1 week 2 d, 12960 min"),
    ],
)
def test_times_are_read(text: str, seconds: float, echo: str) -> None:
    read = read_duration(text)
    assert (read.si, read.echo) == (seconds, echo)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("20 min 1 h", "out of order"),
        ("1 h 1 h", "out of order"),
        ("1.5 h 20 min", "not whole"),
        ("1 h 20 foo", "no unit of time"),
        ("1 h 1,234 s", "cannot be read as a time"),
        ("-20 min", "below zero"),
        ("3 kg", "is a mass"),
    ],
)
def test_a_time_that_cannot_be_read_is_refused_in_words(text: str, words: str) -> None:
    assert words in sentence_of(read_duration, text)


def test_a_time_written_like_a_clock_is_asked_about() -> None:
    assert choices_of(read_duration, "1:20") == ("1 h 20 min", "1 min 20 s")


def test_shares_lie_between_0_and_100() -> None:
    assert read_percent("91,5 %") == 91.5
    assert read_percent("8 per cent") == 8
    assert "between 0 and 100" in sentence_of(read_percent, "100.1")
    assert "between 0 and 100" in sentence_of(read_percent, "-1 %")
    assert "after the number" in sentence_of(read_percent, "5 kg")


def test_a_number_has_its_bounds_and_its_word() -> None:
    assert read_number("14 joints", what="number of joints", lowest=0, highest=200, unit_word="joints") == 14
    assert "at or above 0" in sentence_of(lambda text: read_number(text, what="count", lowest=0), "-1")
    assert "at or below 5" in sentence_of(lambda text: read_number(text, what="count", highest=5), "6")
    assert choices_of(lambda text: read_number(text, what="odometer", lowest=0), "1,234") == ("1.234", "1234")


@pytest.mark.parametrize(
    ("text", "to", "value", "line"),
    [
        ("250 psi", "bar", 17.236893, "250 psi = 17.2369 bar"),
        ("1 lb 4 oz", "g", 566.9904625, "1 lb 4 oz = 566.99 g"),
        ("20 C", "F", 68, "20 C = 68 F"),
        ("500 micron", "mbar", 0.66661, "500 micron = 0.666612 mbar"),
        ("1 h", "min", 60, "1 h = 60 min"),
        ("40 g/year", "oz/year", 1.41096, "40 g/year = 1.41096 oz/year"),
        ("-40 F", "C", -40, "\u221240 F = \u221240 C"),
    ],
)
def test_quantities_are_converted(text: str, to: str, value: float, line: str) -> None:
    found, said = convert(text, to)
    assert found == pytest.approx(value, rel=1e-5)
    assert said == line


def test_gauge_turns_into_absolute_only_with_the_local_atmosphere() -> None:
    assert convert("0 psig", "Pa abs", atmosphere_pa=HIGH_PA)[0] == HIGH_PA
    assert convert("20 inHg vacuum", "bara", atmosphere_pa=SEA_LEVEL_PA)[0] == pytest.approx(0.335972, abs=1e-6)
    assert convert("1 bara", "inHg vacuum", atmosphere_pa=SEA_LEVEL_PA)[0] == pytest.approx(0.391272, abs=1e-6)
    assert convert("500 micron", "psig", atmosphere_pa=SEA_LEVEL_PA)[0] == pytest.approx(-14.6863, abs=1e-4)
    assert "needs the local atmosphere" in sentence_of(lambda text: convert(text, "bara"), "250 psig")
    assert "one side says" in sentence_of(lambda text: convert(text, "bara"), "250 psi")
    deep = sentence_of(lambda text: convert(text, "bara", atmosphere_pa=HIGH_PA), "29 inHg vacuum")
    assert "below zero absolute" in deep


@pytest.mark.parametrize(
    ("text", "to", "words"),
    [
        ("1 kg", "bar", "one does not turn into the other"),
        ("3 foo", "kg", "“foo” is no unit"),
        ("3 kg", "foo", "“foo” is no unit"),
        ("3", "kg", "has no unit"),
    ],
)
def test_what_cannot_be_converted_is_refused_in_words(text: str, to: str, words: str) -> None:
    assert words in sentence_of(lambda typed: convert(typed, to), text)


def test_a_conversion_asks_about_a_doubtful_number() -> None:
    assert choices_of(lambda text: convert(text, "lb"), "1,234 kg") == ("1.234 kg", "1234 kg")
