"""What is shown in a person's units is read back as what it says."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.figures import NARROW, bar
from inventory.measure.masses import read_mass
from inventory.measure.own import PRESSURES, VACUUMS, Units, pascals
from inventory.measure.pressures import read_pressure
from inventory.measure.quantities import read_temperature
from inventory.measure.spoken import in_own_units

AIR_PA = 101_325.0
OUNCE_MG = 28_349.523125


@given(st.integers(15_000, 10**9), st.sampled_from(["kg", "lb", "lb oz"]))
def test_a_mass_read_back_is_what_the_display_says(mg: int, mass: str) -> None:
    said = Units(mass=mass).small_mass_said(mg)
    found = read_mass(said).mg
    assert abs(found - mg) <= (500 if mass == "kg" else OUNCE_MG / 20 + 1)
    assert Units(mass=mass).small_mass_said(found) == said


@given(st.floats(AIR_PA, 5e6), st.sampled_from(list(PRESSURES)), st.sampled_from(list(VACUUMS)))
def test_a_pressure_read_back_is_what_the_gauge_shows(pa: float, pressure: str, vacuum: str) -> None:
    units = Units(pressure=pressure, vacuum=vacuum)
    said = units.pressure_said(pa)
    assert read_pressure(said.replace(",", ""), atmosphere_pa=AIR_PA).si == pytest.approx(pa, abs=5_100)


@given(st.floats(15.0, 9_900.0), st.sampled_from(list(VACUUMS)))
def test_a_deep_vacuum_read_back_is_what_the_gauge_shows(pa: float, vacuum: str) -> None:
    said = Units(vacuum=vacuum).pressure_said(pa).replace(",", "").removesuffix(" of vacuum")
    assert read_pressure(said, atmosphere_pa=AIR_PA).si == pytest.approx(pa, abs=max(pa * 0.01, 2.0))


@given(st.floats(200, 400), st.sampled_from(["C", "F"]))
def test_a_temperature_read_back_is_what_is_shown(kelvin: float, unit: str) -> None:
    said = Units(temperature=unit).temperature_said(kelvin)
    assert read_temperature(said.replace("\N{MINUS SIGN}", "-")).si == pytest.approx(kelvin, abs=0.051)


@pytest.mark.parametrize(("days", "said"), [("ymd", "2026-03-04"), ("dmy", "4 Mar 2026"), ("mdy", "Mar 4, 2026")])
def test_a_day_is_said_in_the_order_of_who_reads_it(days: str, said: str) -> None:
    units = Units(days=days)
    assert units.day_said(date(2026, 3, 4)) == said
    assert in_own_units("It ran out on 2026-03-04.", units) == f"It ran out on {said}."
    assert in_own_units("Number 2026-13-40 stays.", units) == "Number 2026-13-40 stays."


def test_inches_of_mercury_of_a_deep_vacuum_say_that_they_count_from_nothing() -> None:
    units = Units(vacuum="inHg")
    assert in_own_units("It levels off at 0.67 mbar.", units) == "It levels off at 0.020 inHg absolute."
    assert in_own_units("It rises by 0.67 mbar a minute.", units) == "It rises by 0.020 inHg a minute."


def test_a_limit_of_temperature_is_whole_degrees_inside_it_for_whoever_reads_in_celsius_too() -> None:
    sentence = "93.33 C is outside: at least -56.56 C, at most 30.98 C."
    assert in_own_units(sentence, Units()) == "93.3 C is outside: at least −56 C, at most 30 C."


def test_a_temperature_in_fahrenheit_has_no_zero_behind_the_point() -> None:
    said = [Units(temperature="F").temperature_said(kelvin) for kelvin in (293.15, 293.2, 233.15)]
    assert said == ["68 F", "68.1 F", "−40 F"]
    assert Units().temperature_said(293.15) == "20.0 C"


US = Units(mass="lb oz", pressure="psi", vacuum="micron", temperature="F", volume="fl oz")


@given(st.floats(1e3, 3e6), st.sampled_from(list(PRESSURES)))
def test_a_sentence_says_a_pressure_as_the_unrounded_value_is(above_pa: float, pressure: str) -> None:
    units = Units(pressure=pressure)
    said = in_own_units(f"It stood at {bar(above_pa)} gauge.", units)
    own = above_pa / pascals(pressure)
    shown = float(said.removeprefix("It stood at ").removesuffix(f" {pressure} gauge.").replace(NARROW, ""))
    assert shown == pytest.approx(own, abs={"psi": 0.051, "kPa": 0.051, "bar": 0.0051}[pressure])


@pytest.mark.parametrize(
    ("sentence", "own"),
    [
        ("It is 0.36 bar above it.", "It is 5.2 psi above it."),
        ("93.33 C is outside: at least -56.56 C, at most 30.98 C.", "200 F is outside: at least −69 F, at most 87 F."),
        ("Up to 10 K above 18.889 C, below 50 C", "Up to 18 F above 66 F, below 122 F"),
        ("It fell by 0.013 bar, give or take 0.003 bar.", "It fell by 0.19 psi, give or take 0.044 psi."),
        ("8.15 g short of 620.9 g, 12.4 kg", "0.29 oz short of 1 lb 5.9 oz, 27 lb 5.4 oz"),
        ("It holds 231 g, at least 31 g.", "It holds 8.1 oz, at least 1.0 oz."),
        ("a leak of 40.0 g a year", "a leak of 1.4 oz a year"),
        ("The air there is 1013.2 hPa, moved by some 30 hPa.", "The air there is 29.92 inHg, moved by some 0.89 inHg."),
        ("a leak of 6.8 to 24 kg a year", "a leak of 15 to 53 lb a year"),
        ("1.2 to 4 L inside", "40.6 to 135 fl oz inside"),
        ("20 to 25 C", "68 to 77 F"),
        ("0.4 to 3.2 kg", "14.1 oz to 7 lb 0.9 oz"),
    ],
)
def test_a_sentence_has_the_digits_of_instruments_in_the_readers_unit(sentence: str, own: str) -> None:
    assert in_own_units(sentence, US).replace(NARROW, " ") == own
