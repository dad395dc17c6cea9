"""The most that can remain after a recovery: one figure wherever a certificate says it, and never one too small."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as some

from compliance.papers.recoveries import can_remain
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from shop.bench.residue import EMPTIED, Ending, left

GRAMS_OF = {"g": 1.0, "oz": 28.349523125, "lb": 453.59237}
OWN = [Units(mass="kg"), Units(mass="lb"), Units(mass="lb oz")]


def grams_of(said: str) -> float:
    """Read "20 g", "0.8 oz" or "1 lb 2.5 oz" back."""
    parts = re.findall(r"([0-9][0-9.,]*)\s*(g|oz|lb)\b", said)
    assert parts, said
    return sum(float(number.replace(",", "")) * GRAMS_OF[unit] for number, unit in parts)


@pytest.mark.parametrize("units", OWN, ids=lambda one: one.mass)
@given(
    pressure_pa=some.floats(1_000, 85_000),
    volume_l=some.floats(0.5, 12),
    oil_g=some.floats(0, 400),
    temperature_k=some.floats(278, 330),
)
def test_is_the_same_in_the_sentence_and_in_its_own_row(
    units: Units, pressure_pa: float, volume_l: float, oil_g: float, temperature_k: float
) -> None:
    rest = left(
        Ending(
            volume_m3=volume_l / 1000,
            refrigerant="R-134a",
            pressure_pa=pressure_pa,
            temperature_k=temperature_k,
            waited_s=600,
            oil_g=oil_g,
        )
    )
    assert rest.state == EMPTIED
    assert rest.at_most_g is not None
    row = can_remain(rest.at_most_g, units)
    assert f"so at most {row} is left" in in_own_units(rest.sentence, units)
    said_g = grams_of(row)
    assert rest.at_most_g <= said_g + 1e-6
    assert said_g < rest.at_most_g + 1 + GRAMS_OF["oz"] / 10 + 1e-6


def test_where_liquid_may_remain_no_figure_is_said() -> None:
    assert can_remain(None, Units()) == "none: liquid may remain"
