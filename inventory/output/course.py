"""Drawings of how a period went: masses by month, stock against time, losses with what scales can tell, days ahead.

Small panels stand over one row of months, each from nothing to its own largest; what a panel shows is written above it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from textwrap import wrap

from inventory.output.svg import CHAR_PX, WIDTH, Axis, Drawing, Point, Svg

LEFT, RIGHT = 2.0, WIDTH - 2.0
TITLE_PX, PANEL_PX, GAP_PX = 15.0, 44.0, 14.0
SPREAD_PX = 33.0
MONTHS_PX, LABEL_PX = 18.0, 26.0  # the row of months; the least room of a month's name


@dataclass(frozen=True)
class Panel:
    """One small panel: its title with the figures that matter, and a value for each month."""

    title: str
    values: Sequence[float]


def bars_by_month(panels: Sequence[Panel], months: Sequence[str], drawing: Drawing) -> Drawing:
    """Draw a panel of bars each, what is below nothing hanging below its line; returns `drawing` with the picture."""
    titles = [_in_lines(panel.title) for panel in panels]
    svg = Svg(_foot(titles) + MONTHS_PX, drawing.sentence)
    wide = (RIGHT - LEFT) / max(len(months), 1)
    for place, panel in enumerate(panels):
        top = _under(svg, titles, place)
        low, high = min([0.0, *panel.values]), max([0.0, *panel.values])
        up = Axis(low, high, top + PANEL_PX, top + 4) if high > low else Axis(0, 1, top + PANEL_PX, top + 4)
        for number, value in enumerate(panel.values):
            if value:
                x, y, zero = LEFT + number * wide, up(value), up(0)
                svg.box(x + 1, min(y, zero), wide - 2, max(abs(y - zero), 1), "d-flow")
        svg.line(LEFT, up(0), RIGHT, up(0), "d-axis")
    _name_months(svg, months, _foot(titles) + 4, wide)
    return Drawing(svg.done(), drawing.sentence, drawing.head, drawing.rows)


def _in_lines(title: str) -> list[str]:
    """Return a title in as many lines as it takes on a phone."""
    return wrap(title, int((RIGHT - LEFT) / CHAR_PX), break_on_hyphens=False) or [""]


def _foot(titles: Sequence[Sequence[str]]) -> float:
    """Return where panels under these titles end."""
    return sum(len(lines) * TITLE_PX + PANEL_PX + GAP_PX for lines in titles)


def _under(svg: Svg, titles: Sequence[Sequence[str]], place: int) -> float:
    """Write the title of a panel; returns where its drawing begins."""
    top = _foot(titles[:place])
    for number, words in enumerate(titles[place], 1):
        svg.text(LEFT, top + number * TITLE_PX - 3, words)
    return top + len(titles[place]) * TITLE_PX


def _name_months(svg: Svg, months: Sequence[str], y: float, wide: float) -> None:
    """Write as many names of months as have room, the first among them."""
    each = max(1, round(LABEL_PX / wide + 0.49))
    for number, name in enumerate(months):
        if number % each == 0:
            svg.text(LEFT + (number + 0.5) * wide, y, name, "d-middle d-soft")


@dataclass(frozen=True)
class Run:
    """What something held from day to day: its title and its points, the first and the last at the ends drawn."""

    title: str
    points: Sequence[tuple[date, float]]


def steps_by_day(runs: Sequence[Run], drawing: Drawing, *, ends: tuple[str, str]) -> Drawing:
    """Draw a panel of steps each, from nothing up; `ends` are the first and the last day in words."""
    titles = [_in_lines(run.title) for run in runs]
    svg, foot = Svg(_foot(titles) + MONTHS_PX, drawing.sentence), _foot(titles) + 4
    for place, run in enumerate(runs):
        top = _under(svg, titles, place)
        days = [day.toordinal() for day, _ in run.points]
        across = Axis(days[0], max(days[-1], days[0] + 1), LEFT, RIGHT)
        up = Axis(min([0.0, *(held for _, held in run.points)]), _most(run), top + PANEL_PX, top + 4)
        svg.line(LEFT, up(0), RIGHT, up(0), "d-axis")
        svg.path(_stairs([(across(day), up(held)) for day, (_, held) in zip(days, run.points, strict=True)]), "d-act")
    svg.text(LEFT, foot, ends[0], "d-soft")
    svg.text(RIGHT, foot, ends[1], "d-end d-soft")
    return Drawing(svg.done(), drawing.sentence, drawing.head, drawing.rows)


def _most(run: Run) -> float:
    return max([*(held for _, held in run.points), 0.0]) or 1.0


def _stairs(points: Sequence[Point]) -> list[Point]:
    found = list(points[:1])
    for x, y in points[1:]:
        found += [(x, found[-1][1]), (x, y)]
    return found


@dataclass(frozen=True)
class Spread:
    """A mass with what can be told of it: its label, value, half the width of "give or take", and what is beside it."""

    label: str
    value: float
    half: float
    more: str = ""


def spreads(found: Sequence[Spread], drawing: Drawing, *, below: str, above: str) -> Drawing:
    """Draw each as a dot on a bar of "give or take" beside one line of nothing; `below` and `above` name its sides."""
    tall = [SPREAD_PX + (TITLE_PX if one.more else 0) for one in found]
    bottom = TITLE_PX + sum(tall)
    svg = Svg(bottom + MONTHS_PX, drawing.sentence)
    reach = max([abs(one.value) + one.half for one in found] + [1e-9]) * 1.04
    across = Axis(-reach, reach, LEFT + 4, RIGHT - 4)
    svg.text(LEFT, 11, below, "d-soft")
    svg.text(RIGHT, 11, above, "d-end d-soft")
    top = TITLE_PX
    for one, high in zip(found, tall, strict=True):
        svg.line(across(0), top + high - 15, across(0), top + high - 1, "d-axis")  # beside the words, never through
        svg.text(LEFT, top + 14, one.label)
        if one.more:
            svg.text(LEFT, top + 14 + TITLE_PX, one.more, "d-soft")
        _spread(svg, across, one, top + high - 8)
        top += high
    svg.text(across(0), bottom + 14, "0", "d-middle d-soft")
    return Drawing(svg.done(), drawing.sentence, drawing.head, drawing.rows)


def _spread(svg: Svg, across: Axis, one: Spread, y: float) -> None:
    ends = [across(one.value - one.half), across(one.value + one.half)]
    svg.line(ends[0], y, ends[1], y, "d-act")
    for end in ends:
        svg.line(end, y - 4, end, y + 4, "d-act")
    svg.dot(across(one.value), y)


@dataclass(frozen=True)
class Lane:
    """What falls due of one kind: its name, and in how many days each; below nothing is past."""

    name: str
    days: Sequence[int]


def days_ahead(lanes: Sequence[Lane], drawing: Drawing, *, ahead: int) -> Drawing:
    """Draw a lane for each kind over the days from today on; what is past stands as a ring left of today."""
    row, begin = 30.0, 20 * CHAR_PX
    svg = Svg(TITLE_PX + len(lanes) * row + MONTHS_PX, drawing.sentence)
    across, bottom = Axis(0, ahead, begin + 22, RIGHT - 8), TITLE_PX + len(lanes) * row
    svg.line(across(0), TITLE_PX, across(0), bottom, "d-heavy")
    for days in range(30, ahead + 1, 30):
        svg.line(across(days), TITLE_PX, across(days), bottom, "d-faint", "2 4")
        svg.text(across(days), bottom + 14, str(days), "d-middle d-soft")
    svg.text(RIGHT, 11, "days from today", "d-end d-soft")
    svg.text(across(0) - 12, 11, "today", "d-middle d-soft")
    for place, lane in enumerate(lanes):
        y = TITLE_PX + (place + 0.5) * row
        svg.line(begin, y, RIGHT, y, "d-axis")
        svg.text(LEFT, y + 4, lane.name)
        for days in lane.days:
            svg.dot(across(days) if days >= 0 else across(0) - 12, y, "d-dot" if days >= 0 else "d-ring", 4)
    return Drawing(svg.done(), drawing.sentence, drawing.head, drawing.rows)
