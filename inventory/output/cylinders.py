"""Drawings of a cylinder: how full it is, and what it held over time."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.measure.displays import small
from inventory.measure.figures import NARROW, mass_number
from inventory.output.days import day, when
from inventory.output.svg import CHAR_PX, LINE_PX, Axis, Drawing, Point, Svg, mass_said, spread, tick_beside, ticks


def cylinder_level(held_mg: int, limit_mg: int | None, *, name: str, unit: str = "kg") -> Drawing:
    """Draw a vessel hatched to what it holds, its limit as a heavy line and the room above; `unit` is kg or lb."""
    sentence = f"{name} holds {mass_said(held_mg, unit)}"
    rows = [("held", mass_said(held_mg, unit))]
    if limit_mg:
        room_mg = limit_mg - held_mg
        share = f"{held_mg / limit_mg * 100:.0f}{NARROW}% of its limit of {mass_said(limit_mg, unit)}"
        room = mass_said(abs(room_mg), unit)
        sentence += f", {share}; room {room}" if room_mg >= 0 else f", {room} over its limit"
        rows += [("limit", mass_said(limit_mg, unit)), ("room", mass_said(room_mg, unit))]
    else:
        sentence += "; its limit is not known"
        rows.append(("limit", "not known"))
    svg = Svg(200, sentence)
    top, bottom, left, right = 34.0, 190.0, 20.0, 130.0
    full_mg = max(limit_mg or 0, held_mg, 1) / 0.86
    level = Axis(0, full_mg, bottom, top)
    svg.box(63, 10, 24, 16, "d-ink")
    svg.box(69, 4, 12, 6, "d-ink")
    svg.box(left, 26, right - left, bottom - 26, "d-ink", round_px=14)
    held_y = level(held_mg)
    _hatch(svg, left + 3, right - 3, held_y, bottom - 3)
    svg.line(left, held_y, right, held_y, "d-act")
    marks = [(held_y, f"held {mass_said(held_mg, unit)}")]
    if limit_mg:
        limit_y = level(limit_mg)
        svg.line(left - 6, limit_y, right + 10, limit_y, "d-heavy")
        marks.append((limit_y, f"limit {mass_said(limit_mg, unit)}"))
        if limit_mg > held_mg:
            marks.append(((limit_y + held_y) / 2, f"room {mass_said(limit_mg - held_mg, unit)}"))
    for (_, words), y in zip(marks, spread([y for y, _ in marks], LINE_PX, 20, bottom), strict=True):
        svg.text(right + 16, y + 4, words)
    return Drawing(svg.done(), f"{sentence}.", ("", "mass"), tuple(rows))


def _hatch(svg: Svg, left: float, right: float, top: float, bottom: float, step: float = 8) -> None:
    """Draw slanting lines inside a box."""
    if bottom - top < 1:
        return
    start = left - (bottom - top)
    for number in range(math.ceil((right - start) / step) + 1):
        x = start + number * step
        begin, end = max(left - x, 0), min(right - x, bottom - top)
        if end > begin:
            svg.line(x + begin, bottom - begin, x + end, bottom - end, "d-faint")


@dataclass(frozen=True)
class Weighed:
    """One step of a cylinder's mass: when, what it held from then on, and by how much a weighing differed there."""

    at: datetime
    held_mg: int
    differed_mg: int = 0


def mass_over_time(steps: Sequence[Weighed], *, name: str, limit_mg: int | None = None, unit: str = "kg") -> Drawing:
    """Draw what a cylinder held as steps, not slopes, with a labelled tick where a weighing differed."""
    found = sorted(steps, key=lambda one: one.at)
    rows = tuple((when(one.at), mass_said(one.held_mg, unit), _differed(one, unit)) for one in found)
    head = ("when", "held", "weighing differed by")
    if not found:
        svg = Svg(40, f"{name} has no line yet")
        svg.text(0, 24, "no line yet", "d-soft")
        return Drawing(svg.done(), f"{name} has no line yet.", head, ())
    differing = sum(1 for one in found if one.differed_mg)
    held = mass_said(found[-1].held_mg, unit)
    sentence = f"{name} went from {mass_said(found[0].held_mg, unit)} to {held} in {len(found)} steps"
    if len(found) == 1:
        sentence = f"{name} held {held} at its one weighing"
    sentence += f"; {differing} weighing{'' if differing == 1 else 's'} differed" if differing else ""
    svg = Svg(210, sentence)
    left, right, top, bottom = 44.0, 326.0, 24.0, 180.0
    most = max([one.held_mg for one in found] + [limit_mg or 0, 1])
    span = found[-1].at.timestamp() - found[0].at.timestamp()
    across = Axis(found[0].at.timestamp(), found[-1].at.timestamp() + span * 0.04 + 1, left, right)
    up = Axis(0, most * 1.08, bottom, top)
    one_unit = float(most) / float(mass_number(most, unit, 9))
    for tick in ticks(0, most * 1.08 / one_unit):
        tick_beside(svg, left, up(tick * one_unit), tick)
    svg.line(left, top, left, bottom, "d-axis")
    svg.line(left, bottom, right, bottom, "d-axis")
    svg.text(0, 12, unit, "d-soft")
    if limit_mg:
        svg.line(left, up(limit_mg), right, up(limit_mg), "d-heavy", "8 4")
        svg.text(right, up(limit_mg) - 5, "limit", "d-end")
    _staircase(svg, found, across, up, right)
    _differences(svg, found, across, up, unit)
    svg.text(left, bottom + 18, day(found[0].at), "d-soft")
    svg.text(right, bottom + 18, day(found[-1].at), "d-end d-soft")
    return Drawing(svg.done(), f"{sentence}.", head, rows)


def _differed(one: Weighed, unit: str) -> str:
    return small(one.differed_mg, unit) if one.differed_mg else "nothing"


def _staircase(svg: Svg, found: Sequence[Weighed], across: Axis, up: Axis, right: float) -> None:
    points: list[Point] = []
    for one in found:
        x, y = across(one.at.timestamp()), up(one.held_mg)
        if points:
            points.append((x, points[-1][1]))
        points.append((x, y))
    points.append((right, points[-1][1]))
    svg.path(points, "d-act")


def _differences(svg: Svg, found: Sequence[Weighed], across: Axis, up: Axis, unit: str) -> None:
    """Draw a tick at each weighing that differed; label those that have room."""
    free_from = -math.inf
    for one in (one for one in found if one.differed_mg):
        x, y = across(one.at.timestamp()), up(one.held_mg)
        svg.line(x, y - 9, x, y + 9, "d-wine")
        words = _differed(one, unit)
        half = len(words) * CHAR_PX / 2
        if x - half > free_from:
            svg.text(x, y - 12, words, "d-middle")
            free_from = x + half + 4
