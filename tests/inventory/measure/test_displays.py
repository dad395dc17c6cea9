"""What a scale can show: each display of every usual step is read exactly, and comes back from the book as it was.

Of a long row the first thousand are read, then each seventeenth pair of neighbours, and the last.
"""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.displays import Step, co2e_said, small, step_of, text_of
from inventory.measure.figures import NARROW
from inventory.measure.masses import Mass, read_mass

# Step, unit, and what such scales carry, in that unit (pounds for "lb oz"): usual ones, common practice, no source.
USUAL = [
    *((number, "g", most) for number, most in (("0.1", 1_000), ("0.2", 2_000), ("0.5", 6_000), ("1", 15_000))),
    *((number, "g", most) for number, most in (("2", 30_000), ("5", 60_000), ("10", 60_000), ("20", 100_000))),
    ("50", "g", 150_000),
    *((number, "kg", most) for number, most in (("0.001", 15), ("0.002", 30), ("0.005", 100), ("0.01", 100))),
    *((number, "kg", 150) for number in ("0.02", "0.05")),
    *((number, "oz", most) for number, most in (("0.1", 500), ("0.2", 1_000), ("0.5", 3_520))),
    *((number, "lb", most) for number, most in (("0.01", 110), ("0.02", 220), ("0.05", 220), ("0.1", 440))),
    *((number, "lb oz", most) for number, most in (("0.1", 110), ("0.5", 220))),
]
STEPS = pytest.mark.parametrize(("number", "unit", "most"), USUAL, ids=lambda value: str(value))


def displays_of(number: str, unit: str, most: int) -> dict[int, str]:
    """Return displays of a scale as a person copies them, by their count of steps, made by plain arithmetic."""
    step, whole = Decimal(number), Decimal(most) * (16 if unit == "lb oz" else 1)
    last = int(whole / step)
    counts = [count for count in range(last + 1) if count < 1_000 or count % 17 < 2 or count == last]
    if unit == "lb oz":
        return {count: f"{step * count // 16} lb {step * count % 16} oz" for count in counts}
    return {count: f"{step * count} {unit}" for count in counts}


@STEPS
def test_each_display_is_read_exactly_and_round_trips(number: str, unit: str, most: int) -> None:
    step = Step(Decimal(number), unit)
    shown = displays_of(number, unit, most)
    assert max(shown) > 2_000
    before = -1
    for count, text in shown.items():
        mass = read_mass(text)
        mg = step.read(mass)
        assert mg == mass.mg == step.mg_of(count), text
        assert mg > before, f"{text} is the same mass as the display before it"
        back = step.show(mg).replace(NARROW, " ")
        assert back == text or (unit == "g" and back.endswith(" kg") and read_mass(back).mg == mg)
        before = mg


@STEPS
@given(data=st.data())
def test_what_lies_between_two_displays_is_none_and_both_are_named(
    number: str, unit: str, most: int, data: st.DataObject
) -> None:
    step = Step(Decimal(number), unit)
    count = data.draw(st.integers(0, 20_000))
    part = data.draw(st.sampled_from([Decimal("0.1"), Decimal("0.3"), Decimal("0.9")]))
    off = (count + part) * Decimal(number)
    typed = read_mass(f"{off // 16} lb {off % 16} oz" if unit == "lb oz" else f"{off} {unit}")
    assert step.read(typed) is None
    beside = step.beside(typed)
    assert [read_mass(text).mg for text in beside] == [step.mg_of(count), step.mg_of(count + 1)]
    assert all(step.read(read_mass(text)) is not None and text.endswith(unit.split()[-1]) for text in beside)


@pytest.mark.parametrize(
    ("number", "unit"), [("0.5", "oz"), ("0.5", "lb oz"), ("0.02", "lb"), ("0.1", "lb"), ("5", "g")]
)
@given(count=st.integers(0, 8_000), data=st.data())
def test_a_display_turned_into_another_unit_and_rounded_there_is_that_display(
    number: str, unit: str, count: int, data: st.DataObject
) -> None:
    step = Step(Decimal(number), unit)
    other, places = data.draw(st.sampled_from([("kg", 3), ("g", 0), ("g", 1), ("lb", 2), ("lb", 3), ("oz", 1)]))
    size = Fraction(read_mass(f"1 {other}").exact_mg)
    value = round(count * step.mg / size * 10**places)
    typed = read_mass(f"{Decimal(value).scaleb(-places):f} {other}")
    if step.is_own(other) or typed.place_mg > step.mg:
        return  # the first is exact, and another test; the second cannot say which display it was
    assert step.read(typed) == step.mg_of(count)


def test_a_reading_coarser_than_the_step_in_another_unit_names_no_display() -> None:
    step = Step(Decimal("0.5"), "lb oz")
    assert step.read(read_mass("12.3 kg")) is None
    assert step.beside(read_mass("12.3 kg")) == ("27 lb 1.5 oz", "27 lb 2.0 oz")
    assert step.read(read_mass("12.35 kg")) == step.mg_of(871)
    assert Step(Decimal(5), "g").read(read_mass("27.2 lb")) is None


@pytest.mark.parametrize(
    ("typed", "mg", "words", "reading"),
    [
        ("5 g", 5_000, "5_g", "8.355_kg"),
        ("0.005 kg", 5_000, "0.005_kg", "8.355_kg"),
        ("500 mg", 500, "0.5_g", "8.3550_kg"),
        ("0.02 lb", Fraction(90_718_474, 10_000), "0.02_lb", "18.42_lb"),
        ("0.5 oz", Fraction(28_349_523_125, 2_000_000), "0.5_oz", "294.5_oz"),
    ],
)
def test_a_step_is_kept_as_it_was_typed(typed: str, mg: int | Fraction, words: str, reading: str) -> None:
    step = step_of(read_mass(typed))
    count = step.count(read_mass("8.355 kg").mg)
    assert step.mg == mg
    assert (step.words, step.show(step.mg_of(count))) == (
        words.replace("_", NARROW),
        reading.replace("_", NARROW),
    )


def test_a_display_of_pounds_and_ounces_speaks_so() -> None:
    step = Step(Decimal("0.5"), "lb oz")
    assert step.show(step.mg_of(589)).replace(NARROW, " ") == "18 lb 6.5 oz"
    assert step.words == f"0.5{NARROW}oz"


@given(st.integers(0, 100_000), st.sampled_from(["0.1", "0.2", "0.5", "1"]))
def test_a_display_of_pounds_and_ounces_is_read_from_its_two_numbers(count: int, ounces: str) -> None:
    step = Step(Decimal(ounces), "lb oz")
    shown = step.text(count)
    for typed in (shown, shown.removesuffix(" oz"), shown.replace(" lb ", " ").removesuffix(" oz")):
        assert step.read(read_mass(typed, default_unit="lb oz")) == step.mg_of(count)


@pytest.mark.parametrize("unit", ["lb oz", "oz", "lb"])
def test_whole_pounds_are_a_display_without_their_ounces(unit: str) -> None:
    step = Step(Decimal("0.5"), unit)
    for typed in ("40", "40 lb", "40 lb 0 oz"):
        assert step.read(read_mass(typed, default_unit="lb oz")) == 18_143_695
    assert Step(Decimal(5), "g").read(read_mass("40 lb")) is None  # half a pound either way is more than 5 g


@given(st.integers(0, 10**9), st.sampled_from(["g", "kg", "oz", "lb", "lb oz"]))
def test_a_mass_of_a_plate_is_written_so_that_it_is_read_again(mg: int, unit: str) -> None:
    assert read_mass(text_of(mg, unit)).mg == mg


def test_small_masses_are_grams_or_ounces() -> None:
    assert [small(mg, "kg").replace(NARROW, " ") for mg in (9_000, 180_000)] == ["9 g", "180 g"]
    assert [small(mg, "lb").replace(NARROW, " ") for mg in (9_000, 180_000)] == ["0.32 oz", "6.3 oz"]


def test_a_mass_knows_what_its_last_digit_is_worth() -> None:
    mass: Mass = read_mass("18.40 lb")
    assert mass.place_mg == Fraction(45_359_237, 10_000)
    assert read_mass("8,355 kg".replace(",", ".")).place_mg == 1_000
    assert read_mass("1 lb 4.5 oz").place_mg == Fraction(28_349_523_125, 10_000_000)


@pytest.mark.parametrize(
    ("mg", "unit", "said"),
    [
        (654_400_000, "kg", "654.4 kg CO2e"),
        (999_960_000, "kg", "1.00 t CO2e"),
        (1_654_400_000, "kg", "1.65 t CO2e"),
        (1_654_400_000, "lb oz", "1.65 metric tons CO2e"),
        (-2_000_000_000, "lb", "\N{MINUS SIGN}2.00 metric tons CO2e"),
        (0, "kg", "0.0 kg CO2e"),
    ],
)
def test_a_co2_equivalent_is_in_tonnes_where_it_is_large(mg: int, unit: str, said: str) -> None:
    assert co2e_said(mg, unit).replace(NARROW, " ") == said
