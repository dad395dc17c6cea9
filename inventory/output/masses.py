"""Drawings of masses: what a cylinder holds and held, and where the mass of a period came from and went to."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.measure.displays import small
from inventory.measure.figures import NARROW, mass_number
from inventory.measure.own import METRIC, Units
from inventory.output.days import day, when
from inventory.output.svg import (
    CHAR_PX,
    LINE_PX,
    WIDTH,
    Axis,
    Drawing,
    Point,
    Svg,
    mass_said,
    px,
    spread,
    tick_beside,
    ticks,
)


def cylinder_level(held_mg: int, limit_mg: int | None, *, name: str, unit: str = "kg") -> Drawing:
    """Draw a vessel hatched to what it holds, its limit as a heavy line and the room above; `unit` as of a column."""
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


HATCH_PX = 8.0


def _hatch(svg: Svg, left: float, right: float, top: float, bottom: float) -> None:
    """Draw slanting lines inside a box."""
    if bottom - top < 1:
        return
    start = left - (bottom - top)
    for number in range(math.ceil((right - start) / HATCH_PX) + 1):
        x = start + number * HATCH_PX
        begin, end = max(left - x, 0), min(right - x, bottom - top)
        if end > begin:
            svg.line(x + begin, bottom - begin, x + end, bottom - end, "d-faint")


@dataclass(frozen=True)
class Weighed:
    """One step of a cylinder's mass: when, what it held from then on, and by how much a weighing differed there."""

    at: datetime
    held_mg: int
    differed_mg: int = 0


def mass_over_time(
    steps: Sequence[Weighed], *, name: str, limit_mg: int | None = None, units: Units = METRIC
) -> Drawing:
    """Draw what a cylinder held as steps, not slopes, with a labelled tick where a weighing differed."""
    found, unit = sorted(steps, key=lambda one: one.at), units.column
    rows = tuple((when(one.at, units), mass_said(one.held_mg, unit), _differed(one, unit)) for one in found)
    head = ("when", "held", "weighing differed by")
    if not found:
        sentence = f"Nothing has gone into {name} or out of it yet"
        svg = Svg(40, sentence)
        svg.text(0, 24, "nothing in or out yet", "d-soft")
        return Drawing(svg.done(), f"{sentence}.", head, ())
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
    one_unit = float(most) / float(mass_number(most, units.axis, 9))
    for tick in ticks(0, most * 1.08 / one_unit):
        tick_beside(svg, left, up(tick * one_unit), tick)
    svg.line(left, top, left, bottom, "d-axis")
    svg.line(left, bottom, right, bottom, "d-axis")
    svg.text(0, 12, units.axis, "d-soft")
    if limit_mg:
        svg.line(left, up(limit_mg), right, up(limit_mg), "d-heavy", "8 4")
        svg.text(right, up(limit_mg) - 5, "limit", "d-end")
    _staircase(svg, found, across, up, right)
    _differences(svg, found, across, up, unit)
    svg.text(left, bottom + 18, day(found[0].at, units), "d-soft")
    svg.text(right, bottom + 18, day(found[-1].at, units), "d-end d-soft")
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


LEAST_PX = 2.0  # the least width of a flow
BOOK_PX = 150.0  # the height of the whole mass of a period
FLOW_PX = 34.0  # the least height of a flow with its two lines of label
FLOW_EDGE_PX = 102.0  # where a flow begins beside its label, which may be "other changes"


@dataclass(frozen=True)
class Flow:
    """One stream of a period: its name and its mass in whole milligrams, not negative."""

    name: str
    mass_mg: int


def period_flow(sources: Sequence[Flow], ends: Sequence[Flow], *, sentence: str, unit: str = "kg") -> Drawing:
    """Draw where a period's mass came from and went to; widths are mass, the least 2 px, which is then said.

    What was there at the start is a source, what is there at the end an end, so both sides have the same sum.
    """
    incoming = [flow for flow in sources if flow.mass_mg > 0]
    outgoing = [flow for flow in ends if flow.mass_mg > 0]
    whole = max(sum(flow.mass_mg for flow in incoming), sum(flow.mass_mg for flow in outgoing), 1)
    px_per_mg = BOOK_PX / whole
    sides = [_stacked(flows, px_per_mg) for flows in (incoming, outgoing)]
    below = max([y + max(wide, FLOW_PX) for side in sides for y, wide in side] + [BOOK_PX + LINE_PX])
    thin = any(flow.mass_mg * px_per_mg < LEAST_PX for flow in (*incoming, *outgoing))
    svg = Svg(max(below, BOOK_PX + LINE_PX + 3) + (26 if thin else 8), sentence)
    book_y = max((below - BOOK_PX) / 2, LINE_PX + 3)
    for flows, side, left in zip((incoming, outgoing), sides, (True, False), strict=True):
        _side(svg, flows, side, book_y, unit, left=left)
    svg.box(162, book_y, 16, BOOK_PX, "d-book")
    svg.text(170, book_y - 5, "book", "d-middle")
    if thin:
        svg.text(0, below + 20, f"width is mass; the thinnest are drawn {LEAST_PX:.0f} px wide", "d-soft")
    rows = tuple(("in", flow.name, mass_said(flow.mass_mg, unit)) for flow in sources)
    rows += tuple(("out", flow.name, mass_said(flow.mass_mg, unit)) for flow in ends)
    return Drawing(svg.done(), sentence, ("", "from or to", "mass"), rows)


def _stacked(flows: Sequence[Flow], px_per_mg: float) -> list[tuple[float, float]]:
    """Return place and width of each stream at the edge; each has at least the height of its label."""
    found, y = [], 0.0
    for flow in flows:
        wide = max(flow.mass_mg * px_per_mg, LEAST_PX)
        room = max(wide, FLOW_PX)
        found.append((y + (room - wide) / 2, wide))
        y += room + 4
    return found


def _side(
    svg: Svg, flows: Sequence[Flow], places: Sequence[tuple[float, float]], book_y: float, unit: str, *, left: bool
) -> None:
    """Draw the streams of one side, each from beside its label at the edge to its share of the book."""
    edge, join = (FLOW_EDGE_PX, 162.0) if left else (WIDTH - FLOW_EDGE_PX, 178.0)
    bend = (edge + join) / 2
    at = book_y
    for flow, (y, wide) in zip(flows, places, strict=True):
        way = (
            f"M{px(edge)} {px(y)}C{px(bend)} {px(y)} {px(bend)} {px(at)} {px(join)} {px(at)}V{px(at + wide)}"
            f"C{px(bend)} {px(at + wide)} {px(bend)} {px(y + wide)} {px(edge)} {px(y + wide)}Z"
        )
        svg.curve(way, "d-flow")
        at += wide
        middle = y + wide / 2
        css, x = ("d-end", edge - 6) if left else ("", edge + 6)
        svg.text(x, middle - 3, flow.name, css)
        svg.text(x, middle + 11, mass_said(flow.mass_mg, unit), css)
