"""What is shown in a person's units is read back as what it says."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.masses import read_mass
from inventory.measure.own import PRESSURES, VACUUMS, Units
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
