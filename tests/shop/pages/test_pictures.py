"""Drawings of a hold and of a vacuum in the units of who looks at them: the same picture, other figures."""

import re

import pytest

from inventory.measure.own import Units
from inventory.output.svg import Drawing
from shop.bench.hold import HoldPicture
from shop.bench.vacuum import VacuumPicture
from shop.pages.pictures import drawing_of

HOLD = HoldPicture(
    points=((0.0, 1_800_000.0, 7_000.0), (1200.0, 1_790_000.0, 7_000.0)),
    trend=((0.0, 1_800_000.0), (1200.0, 1_790_000.0)),
    blind=((0.0, 1_800_000.0), (1200.0, 1_780_000.0)),
    limit=((0.0, 1_800_000.0), (1200.0, 1_799_000.0)),
)
VACUUM = VacuumPicture(
    points=((0.0, 150.0), (900.0, 155.0), (1800.0, 160.0)),
    water_pa=2_339.0,
    curves=(("steady", ((0.0, 150.0), (1800.0, 160.0))),),
)


def drawn(picture: object, units: Units) -> Drawing:
    drawing = drawing_of(picture, units)
    assert drawing is not None
    return drawing


@pytest.mark.parametrize(
    ("unit", "first"),  # 18 bar; 14.5037738 psi to the bar, NIST SP 811 (2008), appendix B.8
    [("bar", "18.00"), ("psi", "261.07"), ("kPa", "1800.00")],
)
def test_a_hold_is_drawn_in_the_unit_of_who_looks_at_it(unit: str, first: str) -> None:
    drawing = drawn(HOLD, Units(pressure=unit))
    assert drawing.head[1] == f"compensated pressure, {unit} absolute"
    assert re.sub(r"\s", "", drawing.rows[0][1]) == first
    assert f"{unit} absolute" in drawing.svg


@pytest.mark.parametrize(
    ("unit", "first"),  # 150 Pa; 133.3224 Pa to the mmHg, which is 1,000 micron, NIST SP 811 (2008), appendix B.8
    [("mbar", "1.50"), ("micron", "1125"), ("inHg", "0.044")],
)
def test_a_vacuum_is_drawn_in_the_unit_of_who_looks_at_it(unit: str, first: str) -> None:
    drawing = drawn(VACUUM, Units(vacuum=unit))
    assert drawing.head[1] == f"pressure, {unit} absolute"
    assert re.sub(r"\s", "", drawing.rows[0][1]) == first


def test_the_limit_is_named_in_own_units_and_the_lines_stay_where_they_are() -> None:
    metric, own = drawn(HOLD, Units()), drawn(HOLD, Units(mass="lb oz", pressure="psi"))
    assert "40 g a year" in metric.svg
    assert "40 g a year" not in own.svg
    lines = [re.findall(r"<path d=\"[^\"]+\"", one.svg) for one in (metric, own)]
    assert lines[0] == lines[1]
