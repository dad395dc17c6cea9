"""Drawings: well-formed, no style attribute, every number of the table, labels inside, whatever the numbers are."""

import re
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from django.utils.safestring import SafeString
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.own import METRIC
from inventory.output.beside import side_by_side
from inventory.output.course import Lane, Panel, Run, Spread, bars_by_month, days_ahead, spreads, steps_by_day
from inventory.output.masses import Flow, Weighed, cylinder_level, mass_over_time, period_flow
from inventory.output.plots import Fit, HoldPicture, State, hold, pressure_enthalpy, vacuum
from inventory.output.svg import WIDTH, Axis, Drawing, ticks

SVG = "{http://www.w3.org/2000/svg}"
START = datetime(2025, 3, 4, 9, tzinfo=UTC)
masses = st.integers(0, 10**9)


def checked(drawing: Drawing) -> ElementTree.Element:
    """Return the picture's root after what holds for every drawing has been seen to hold."""
    root = ElementTree.fromstring(str(drawing.svg))  # noqa: S314 our own
    assert root.get("role") == "img"
    assert root[0].tag == f"{SVG}title"
    assert root[0].text
    assert "style=" not in drawing.svg
    assert "nan" not in drawing.svg
    assert "inf" not in re.sub(r"<title>.*?</title>|<text.*?</text>", "", drawing.svg)
    for label in root.iter(f"{SVG}text"):
        assert float(label.get("font-size", "0")) >= 12
        assert 0 <= float(label.get("x", "-1")) <= WIDTH
    for row in drawing.rows:
        assert len(row) == len(drawing.head)
    return root


@given(held=masses, limit=st.none() | st.integers(1, 10**9), unit=st.sampled_from(["kg", "lb"]))
def test_a_cylinder_is_drawn_whatever_it_holds(held: int, limit: int | None, unit: str):
    checked(cylinder_level(held, limit, name="CYL 07", unit=unit))


def test_a_cylinder_says_level_limit_and_room():
    drawing = cylinder_level(6_034_000, 12_900_000, name="CYL 07")
    assert drawing.sentence.replace("\u202f", " ") == (
        "CYL 07 holds 6.034 kg, 47 % of its limit of 12.900 kg; room 6.866 kg."
    )
    assert [row[1].replace("\u202f", " ") for row in drawing.rows] == ["6.034 kg", "12.900 kg", "6.866 kg"]


def test_a_cylinder_over_its_limit_says_by_how_much():
    drawing = cylinder_level(13_000_000, 12_900_000, name="CYL 07")
    assert "0.100\u202fkg over its limit" in drawing.sentence


def test_a_name_cannot_break_out_of_the_picture():
    drawing = cylinder_level(1, None, name='<script>"&')
    assert "<script>" not in drawing.svg
    checked(drawing)


@given(st.lists(st.tuples(st.integers(0, 10**6), masses, st.integers(-(10**6), 10**6)), max_size=30))
def test_mass_over_time_has_a_row_for_each_step(found: list[tuple[int, int, int]]):
    steps = [Weighed(START + timedelta(minutes=minute), held, differed) for minute, held, differed in found]
    drawing = mass_over_time(steps, name="CYL 07", limit_mg=10**7)
    checked(drawing)
    assert len(drawing.rows) == len(steps)


def test_mass_over_time_runs_in_steps_not_slopes():
    steps = [Weighed(START, 9_000_000), Weighed(START + timedelta(days=1), 4_000_000)]
    way = next(
        path.get("d", "")
        for path in checked(mass_over_time(steps, name="CYL 07")).iter(f"{SVG}path")
        if path.get("class") == "d-act"
    )
    points = [tuple(map(float, point.split())) for point in re.split("[ML]", way)[1:]]
    assert all(a[0] == b[0] or a[1] == b[1] for a, b in zip(points, points[1:], strict=False))


@given(
    st.lists(st.floats(0, 3000), min_size=2, max_size=20),
    st.floats(0, 100),
    st.floats(-50, 50),
    st.floats(0.001, 100),
    st.floats(0, 100),
)
def test_a_hold_is_drawn_whatever_was_read(pressures: list[float], u: float, slope: float, blind: float, limit: float):
    minutes = [10.0 * place for place in range(len(pressures))]
    drawing = hold(HoldPicture(minutes, pressures, u, slope, blind, limit, "40 g a year", "psi", "As read."))
    checked(drawing)
    assert len(drawing.rows) == len(pressures)


@given(st.lists(st.floats(0, 1100), min_size=2, max_size=20), st.none() | st.floats(0.1, 100))
def test_a_vacuum_is_drawn_whatever_was_read(readings: list[float], water: float | None):
    points = [(float(place), value) for place, value in enumerate(readings)]
    drawing = vacuum(
        points, water=water, unit="mbar", fits=[Fit("steady", points), Fit("levels off", points)], sentence="Rise."
    )
    checked(drawing)
    assert len(drawing.rows) == len(points)


def test_states_are_numbered_in_the_picture_and_the_table():
    states = [State("suction", 402, 3.1), State("discharge", 440, 14.5), State("liquid", 262, 14.5)]
    dome = [(150.0, 1.0), (250.0, 27.0), (400.0, 1.0)]
    drawing = pressure_enthalpy(dome, states, ambient=7.7, unit="bar", sentence="A cycle.")
    words = [label.text for label in checked(drawing).iter(f"{SVG}text")]
    assert {"1", "2", "3", "ambient air"} <= set(words)
    assert [row[:2] for row in drawing.rows] == [("1", "suction"), ("2", "discharge"), ("3", "liquid")]


@given(st.lists(masses, max_size=8), st.lists(masses, max_size=8))
def test_a_period_has_every_mass_in_its_table(ins: list[int], outs: list[int]):
    sources = [Flow(f"in {place}", mass) for place, mass in enumerate(ins)]
    ends = [Flow(f"out {place}", mass) for place, mass in enumerate(outs)]
    drawing = period_flow(sources, ends, sentence="The year.")
    checked(drawing)
    assert len(drawing.rows) == len(ins) + len(outs)


def test_a_period_says_when_its_thinnest_streams_are_wider_than_their_mass():
    thin = period_flow([Flow("bought", 10**9)], [Flow("purge", 1), Flow("at the end", 10**9 - 1)], sentence="S")
    plain = period_flow([Flow("bought", 2)], [Flow("charged", 1), Flow("at the end", 1)], sentence="S")
    assert "thinnest" in thin.svg
    assert "thinnest" not in plain.svg


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_ticks_lie_inside_and_are_evenly_spaced(low: float, span: float):
    found = ticks(low, low + span)
    room = span * 1e-6 + abs(low) * 1e-9
    assert all(low - room <= one <= low + span + room for one in found)
    gaps = [b - a for a, b in zip(found, found[1:], strict=False)]
    assert all(gap == pytest.approx(gaps[0], rel=1e-3) for gap in gaps)


def test_an_axis_by_the_logarithm_puts_equal_ratios_at_equal_lengths():
    axis = Axis(1, 100, 0, 200, by_log=True)
    assert axis(10) == pytest.approx(100)


PLAN = Drawing(SafeString(""), "What it says.", ("month", "mass"), (("2025-03", "1.000"),))
values = st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=36)


def inside(root: ElementTree.Element) -> None:
    """Boxes, lines and dots lie in the picture."""
    _, _, wide, high = map(float, root.get("viewBox", "").split())
    for box in root.iter(f"{SVG}rect"):
        x, y, width, height = (float(box.get(name, "-1")) for name in ("x", "y", "width", "height"))
        assert x >= 0 <= y
        assert x + width <= wide + 0.1
        assert y + height <= high + 0.1
    for dot in root.iter(f"{SVG}circle"):
        assert 0 <= float(dot.get("cx", "-1")) <= wide
        assert 0 <= float(dot.get("cy", "-1")) <= high
    for line in root.iter(f"{SVG}line"):
        assert all(0 <= float(line.get(name, "-1")) <= wide for name in ("x1", "x2"))
        assert all(0 <= float(line.get(name, "-1")) <= high for name in ("y1", "y2"))


@given(found=st.lists(values, max_size=4))
def test_bars_stand_by_month_whatever_their_values(found: list[list[int]]):
    months = ["Jan"] * max([len(one) for one in found] + [1])
    root = checked(bars_by_month([Panel("Charged: 1.000 kg", one) for one in found], months, PLAN))
    inside(root)
    assert len(list(root.iter(f"{SVG}rect"))) == sum(bool(value) for one in found for value in one)


def test_a_bar_below_nothing_hangs_and_one_above_stands():
    root = checked(bars_by_month([Panel("Unexplained", [3, -3])], ["Jan", "Feb"], PLAN))
    up, down = root.iter(f"{SVG}rect")
    assert float(up.get("y", "")) + float(up.get("height", "")) == pytest.approx(float(down.get("y", "")), abs=0.1)


@given(held=st.lists(masses, min_size=1, max_size=30))
def test_stock_is_drawn_as_steps_whatever_it_was(held: list[int]):
    points = [(date(2025, 1, 1) + timedelta(days=number), mass) for number, mass in enumerate(held)]
    root = checked(steps_by_day([Run("R-134a", points)], PLAN, ends=("2025-01-01", "2025-12-31")))
    inside(root)
    (way,) = root.iter(f"{SVG}path")
    corners = [tuple(map(float, one.split())) for one in way.get("d", "")[1:].split("L")]
    assert all(here[0] == there[0] or here[1] == there[1] for here, there in pairwise(corners)), "no slopes"


@given(found=st.lists(st.tuples(st.integers(-(10**9), 10**9), masses), min_size=1, max_size=6))
def test_a_spread_is_drawn_about_one_line_of_nothing(found: list[tuple[int, int]]):
    labelled = [Spread("C-34", value, half, "6 g to air" if value % 2 else "") for value, half in found]
    root = checked(spreads(labelled, PLAN, below="missing", above="more"))
    inside(root)
    zero = float(next(root.iter(f"{SVG}line")).get("x1", ""))
    for (value, _), dot in zip(found, root.iter(f"{SVG}circle"), strict=True):
        assert (float(dot.get("cx", "")) - zero) * value >= 0, "what is missing lies on the side that says so"


@given(days=st.lists(st.integers(-4_000, 90), max_size=8))
def test_what_is_past_stands_before_today_and_the_rest_after(days: list[int]):
    root = checked(days_ahead([Lane("scales", days)], PLAN, ahead=90))
    inside(root)
    today = float(next(root.iter(f"{SVG}line")).get("x1", ""))
    for left, dot in zip(days, root.iter(f"{SVG}circle"), strict=True):
        assert (float(dot.get("cx", "")) >= today) == (left >= 0)


@given(st.lists(masses, min_size=1, max_size=6))
def test_masses_side_by_side_are_bars_from_nothing_as_long_as_their_mass(rows: list[int]):
    drawing = side_by_side([(f"row {place}", mass) for place, mass in enumerate(rows)], METRIC, sentence="Masses.")
    bars = [float(bar.get("width", "")) for bar in checked(drawing).iter(f"{SVG}rect")]
    assert len(bars) == len(drawing.rows) == len(rows)
    longest = max(rows) or 1
    assert all(bar == pytest.approx(mass / longest * 338, abs=0.06) for bar, mass in zip(bars, rows, strict=True))
