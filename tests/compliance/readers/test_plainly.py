"""What a test for leaks came to, in the words of somebody who owns a car and not a workshop."""

import pytest

from compliance.readers import plainly
from inventory.measure.own import Units
from shop.bench import hold, standing, vacuum
from shop.bench.holdfacts import Hold, HoldReading
from shop.bench.standing import Standing
from shop.bench.vacuumfits import Vacuum, VacuumReading

AIR_PA = 101_325.0
US = Units(mass="lb oz", pressure="psi", vacuum="micron", temperature="F")


def held(*bar: float, step_pa: float) -> hold.HoldAnswer:
    """A pressure hold of a circuit of 2 L, a reading every 20 minutes."""
    readings = tuple(HoldReading(1200.0 * at, AIR_PA + one * 1e5, 294.0) for at, one in enumerate(bar))
    return hold.judge(Hold(readings=readings, volume_m3=0.002, refrigerant="R-134a", pressure_step_pa=step_pa))


def held_empty(*mbar: float) -> vacuum.VacuumAnswer:
    readings = tuple(VacuumReading(600.0 * at, 100.0 * one) for at, one in enumerate(mbar))
    found = Vacuum(
        readings=readings, temperature_k=293.15, refrigerant="R-134a", pressure_step_pa=10.0, volume_m3=0.002
    )
    return vacuum.judge(found)


def test_a_coarse_gauge_sees_a_leak_that_empties_the_car_in_weeks_and_no_slower_one() -> None:
    answer = held(17.0, 17.0, step_pa=10_000.0)
    limit = answer.numbers.smallest_g
    assert limit is not None
    assert limit.high > 600  # grams a year: more than the car holds
    days = 600 / limit.high * 365.25
    assert plainly.told(answer, 600.0, Units()) == (
        "No fast leak was seen. Only such a one could have been: a leak that empties the system in "
        f"{days:.0f} days or longer can be there all the same."
    )


def test_a_leak_that_takes_longer_than_a_year_to_empty_it_is_named_in_the_units_of_who_reads_it() -> None:
    answer = held(17.0, 17.0, step_pa=1.0)
    limit = answer.numbers.smallest_g
    assert limit is not None
    assert limit.high < 10_000
    said = plainly.told(answer, 10_000.0, US)
    assert said.startswith("No leak was seen. A leak of less than ")
    assert " lb a year can be there all the same." in said
    assert plainly.told(answer, None, US) == said


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (held(17.0, 15.0, step_pa=1000.0), "There was a leak: the pressure fell"),
        (held(17.0, 18.0, step_pa=1000.0), "could not show whether it leaks"),
        (held_empty(1.5, 30, 40, 42, 42.5), "Gas was still coming out of the oil"),
        (held_empty(1.5, 7, 8.4, 8.8, 8.9, 8.9), "could not show whether it leaks"),
        (held_empty(1.5, 4.5, 7.5, 10.5, 13.5), "air came in steadily"),
    ],
)
def test_each_verdict_has_a_sentence_without_a_figure(answer: object, words: str) -> None:
    said = plainly.told(answer, 600.0, US)  # type: ignore[arg-type]
    assert words in said
    assert not any(letter.isdigit() for letter in said)


@pytest.mark.parametrize(("bar", "words"), [(4.7, "There was refrigerant in it"), (-0.1, "it was empty, or nearly")])
def test_a_pressure_at_rest_says_what_was_inside(bar: float, words: str) -> None:
    answer = standing.read_standing(
        Standing(
            refrigerant="R-134a",
            pressure_pa=AIR_PA + bar * 1e5,
            pressure_step_pa=10_000.0,
            coldest_k=293.15,
            volume_m3=0.002,
            oil_g=150,
        )
    )
    assert words in plainly.told(answer, None, US)
