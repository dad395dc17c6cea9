"""Pressures as people type them: units, references, what cannot be and what is asked about."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.atmosphere import air_at
from inventory.measure.figures import show_pressure
from inventory.measure.own import Units
from inventory.measure.typed import Doubtful, Typed
from tests.inventory.measure.asking import HIGH_PA, SEA_LEVEL_PA, SPACE, choices_of, pressure, sentence_of


@pytest.mark.parametrize(
    ("text", "unit", "pascal"),
    [
        ("250 psi", "psig", 1_825_014),
        ("250 psig", "psig", 1_825_014),
        ("250 psia", "psia", 1_723_689),
        ("17.2 bar", "barg", 1_821_325),
        ("17.2 bar gauge", "barg", 1_821_325),
        ("17.2 bar (g)", "barg", 1_821_325),
        ("1.2 bara", "bara", 120_000),
        ("1.2 bar absolute", "bara", 120_000),
        ("\u22120.5 bar", "barg", 51_325),
        ("488 kPa", "kPa gauge", 589_325),
        ("1013 hPa abs", "hPa absolute", 101_300),
        ("500 micron", "micron", 66.66),
        ("500 microns absolute", "micron", 66.66),
        ("2 torr", "torr absolute", 266.645),
        ("4 inHg", "inHg vacuum", 87_779),
        ("-4 inHg", "inHg vacuum", 87_779),
        ("4 in. Hg below the atmosphere", "inHg vacuum", 87_779),
        ('4 " Hg vac', "inHg vacuum", 87_779),
        ("25.92 inHg abs", "inHg absolute", 87_775),
        ("7 kg/cm²", "kgf/cm2 gauge", 787_790),
        ("0.5 bar vacuum", "bar vacuum", 51_325),
    ],
)
def test_pressures_are_read_as_absolute(text: str, unit: str, pascal: float) -> None:
    read = pressure(text)
    assert read.unit == unit
    assert read.si == pytest.approx(pascal, rel=1e-4)


@pytest.mark.parametrize(
    ("text", "echo"),
    [
        ("250 psi", "250 psi gauge, 264.7 psi absolute (18.25 bar absolute)"),
        ("17.2 bar", "17.2 bar gauge, 18.21 bar absolute"),
        ("1.2 bara", "1.2 bar absolute, 0.19 bar gauge"),
        ("500 micron", "500 micron absolute (0.667 mbar absolute)"),
        ("29 inHg", "29 inHg below the atmosphere, 0.92 inHg absolute (31.2 mbar absolute)"),
    ],
)
def test_the_echo_tells_gauge_from_absolute(text: str, echo: str) -> None:
    assert pressure(text).echo == echo


@pytest.mark.parametrize(
    ("text", "own", "other"),
    [
        ("72 psi", "72 psi gauge, 86.7 psi absolute", "72 psi gauge, 86.7 psi absolute (4.96 bar gauge)"),
        ("350 micron", "350 micron absolute", "350 micron absolute (0.47 mbar absolute)"),
        ("18 inHg", "18 inHg below the atmosphere, 11.92 inHg absolute", None),
        ("5 bar", "5 bar gauge, 6.01 bar absolute (72.5 psi gauge)", "5 bar gauge, 6.01 bar absolute"),
    ],
)
def test_the_echo_has_in_brackets_what_the_reader_says_where_it_was_typed_otherwise(
    text: str, own: str, other: str | None
) -> None:
    assert pressure(text, reader=Units(pressure="psi", vacuum="micron")).echo == own
    if other is not None:
        assert pressure(text, reader=Units()).echo == other


def test_the_field_says_what_an_unmarked_pressure_counts_from() -> None:
    assert pressure("1 bar", default_reference="absolute").si == 100_000
    assert pressure("0.5 bar", default_reference="vacuum").si == SEA_LEVEL_PA - 50_000
    assert pressure("500 micron", default_reference="gauge").si == pytest.approx(66.66, abs=0.01)
    assert pressure("29.92", default_unit="inHg abs").si == pytest.approx(SEA_LEVEL_PA, abs=10)


def test_a_vacuum_deeper_than_the_local_atmosphere_is_refused_and_the_atmosphere_named() -> None:
    assert pressure("29 inHg").si > 0
    sentence = sentence_of(lambda text: pressure(text, atmosphere_pa=HIGH_PA), "29 inHg")
    assert "below zero absolute" in sentence
    assert "the local atmosphere is 24.97 inHg. " in sentence


def test_where_the_height_is_unknown_a_vacuum_is_refused_only_against_the_highest_atmosphere() -> None:
    unknown = {"atmosphere_pa": SEA_LEVEL_PA, "air": air_at(None)}
    read = pressure("29 inHg", **unknown)
    assert read.si == pressure("29 inHg").si  # read at sea level, and said what that leaves open
    assert read.echo.endswith(
        "The height of the workshop is not entered; 750 to 1040 hPa is reckoned with: 0 to 58 mbar absolute"
    )
    read = pressure("29 inHg", **unknown, reader=Units(pressure="psi", vacuum="inHg"))
    assert read.echo.endswith("22.15 to 30.71 inHg is reckoned with: 0 to 1.71 inHg absolute")
    assert 0 < pressure("30.5 inHg", **unknown).si < 1_000  # sea level has 29.92, the highest 30.71
    assert "at most 30.71 inHg." in sentence_of(lambda text: pressure(text, **unknown), "31 inHg")
    assert pressure("70 psi", **unknown) == pressure("70 psi")
    assert pressure("200 mbar abs", **unknown) == pressure("200 mbar abs")


@given(st.integers(1, 3071))
def test_no_vacuum_that_some_place_can_have_is_refused_where_the_height_is_unknown(hundredths: int) -> None:
    read = pressure(f"{hundredths // 100}.{hundredths % 100:02d} inHg", air=air_at(None))
    assert 0 <= read.si <= SEA_LEVEL_PA
    assert "750 to 1040 hPa is reckoned with" in read.echo


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("-5 psia", "below zero absolute"),
        ("-15 psi", "below zero absolute"),
        ("-5 psi vacuum", "minus and says vacuum"),
        ("500 micron gauge", "count from zero absolute"),
        ("3 kg", "is a mass; for the pressure write a pressure"),
        ("3 psx", "no unit of pressure"),
        ("100001 bar", "more than any pressure"),
    ],
)
def test_a_pressure_that_cannot_be_is_refused_in_words(text: str, words: str) -> None:
    assert words in sentence_of(pressure, text)


def test_a_hold_at_250_bar_is_asked_about() -> None:
    likely = (1_000_000.0, 4_200_000.0)
    with pytest.raises(Doubtful, match=r"did you mean 250 psi \(17\.2 bar\)\?") as caught:
        pressure("250 bar", plausible_pa=likely)
    assert caught.value.choices == ("250 psi", "25.0 bar")
    assert pressure("250 psi", plausible_pa=likely).si == pressure("250 psi").si


def test_a_marked_pressure_keeps_its_mark_in_the_question() -> None:
    found = choices_of(lambda text: pressure(text, plausible_pa=(1e6, 4.2e6)), "250 bar gauge")
    assert found == ("250 psi gauge", "25.0 bar gauge")


@pytest.mark.parametrize(
    ("text", "likely", "meant"),
    [
        ("750 psi", (1_000.0, 4.0e6), ("75.0 psi", "750 kPa", "750 mbar")),
        ("350 psi", (1_000.0, 1.0e6), ("35.0 psi", "350 kPa", "350 mbar")),
        ("3.5 psi", (2.0e5, 4.0e6), ("3.5 bar", "35 psi")),
    ],
)
def test_a_decimal_mark_that_slipped_is_asked_about(text: str, likely: tuple[float, float], meant: tuple[str]) -> None:
    assert choices_of(lambda one: pressure(one, plausible_pa=likely), text) == meant


def test_a_barometer_read_as_a_vacuum_is_asked_about() -> None:
    def barometer(text: str) -> Typed:
        return pressure(text, default_reference="absolute", plausible_pa=(50_000.0, 110_000.0))

    assert choices_of(barometer, "29.92 inHg") == ("29.92 inHg absolute",)
    assert barometer("29.92 inHg absolute").si == pytest.approx(SEA_LEVEL_PA, abs=10)


def test_an_unlikely_pressure_that_no_unit_saves_is_still_read() -> None:
    assert pressure("5000 bar", plausible_pa=(1e5, 1.5e5)).si == 500_101_325


def test_pressures_are_shown_as_gauge_and_absolute() -> None:
    assert (
        show_pressure(1_825_014, atmosphere_pa=SEA_LEVEL_PA, unit="psi")
        == f"250.0{SPACE}psi gauge, 264.7{SPACE}psi absolute"
    )
    assert show_pressure(50_000, atmosphere_pa=100_000) == f"\u22120.50{SPACE}bar gauge, 0.50{SPACE}bar absolute"
    with pytest.raises(ValueError, match="no unit of pressure"):
        show_pressure(1.0, atmosphere_pa=1.0, unit="kg")
