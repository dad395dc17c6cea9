"""Bubble points of blends that are estimated, as published.

Source: normal bubble points printed with the designations of ISO 817 / ANSI-ASHRAE 34, from memory.
"""

import pytest

from inventory.gases import estimated
from inventory.gases.fluids import ZERO_CELSIUS_K

ATMOSPHERE_PA = 101_325.0


@pytest.mark.parametrize(
    ("code", "bubble_c"),
    [
        ("R-401A", -34.4),
        ("R-406A", -32.7),
        ("R-409A", -35.4),
        ("R-414B", -34.4),
        ("R-416A", -23.4),
        ("R-437A", -32.9),
    ],
)
def test_the_published_bubble_point_lies_within_the_estimate(code: str, bubble_c: float) -> None:
    found = estimated.bubble_pressure_pa(code, ZERO_CELSIUS_K + bubble_c)
    assert found.low <= ATMOSPHERE_PA <= found.high
