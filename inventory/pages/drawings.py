"""Drawings as SVG: numbers in, a `Drawing` out (the picture, its one sentence, the table of the same numbers).

Drawn 340 wide with text of 12 px; series differ by dash, marker and end label, in the classes that the stylesheet
colours (ink, heavy, axis, faint, act, wine, band); there is no style attribute anywhere, as the page's policy drops it.
Mass axes begin at zero. On a page: ``{% include "_drawing.html" with drawing=drawing %}``.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone
from django.utils.html import escape
from django.utils.safestring import SafeString

from inventory.measure.displays import small
from inventory.pages.tables.tables import NARROW, figure, mass_number

WIDTH = 340
CHAR_PX = 6.4  # a wide guess of one character at 12 px, to keep labels inside and apart
LINE_PX = 15
LEAST_PX = 2.0  # the least width of a flow
BOOK_PX = 150.0  # the height of the whole mass of a period
FLOW_PX = 34.0  # the least height of a flow with its two lines of label
FLOW_EDGE_PX = 88.0  # where a flow begins beside its label
SAMPLE_PX = 22.0  # the piece of a line that stands before its name

Point = tuple[float, float]


@dataclass(frozen=True)
class Drawing:
    """A picture, the sentence that it says, and its numbers as a table: `head` and `rows` of text."""

    svg: SafeString
    sentence: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class Svg:
    """A small writer of SVG; lengths in pixels, y downwards."""

    def __init__(self, height: float, sentence: str, width: float = WIDTH) -> None:
        self.width, self.height, self.sentence = width, height, sentence
        self.parts: list[str] = []

    def line(self, x1: float, y1: float, x2: float, y2: float, css: str, dash: str = "") -> None:
        """Draw a straight line."""
        ends = f'x1="{_px(x1)}" y1="{_px(y1)}" x2="{_px(x2)}" y2="{_px(y2)}"'
        self.parts.append(f'<line {ends} class="{css}"{_dash(dash)}/>')

    def path(self, points: Sequence[Point], css: str, dash: str = "", *, closed: bool = False) -> None:
        """Draw straight pieces through `points`."""
        if not points:
            return
        way = "M" + "L".join(f"{_px(x)} {_px(y)}" for x, y in points) + ("Z" if closed else "")
        self.parts.append(f'<path d="{way}" class="{css}"{_dash(dash)}/>')

    def curve(self, way: str, css: str) -> None:
        """Draw a path given in the language of SVG."""
        self.parts.append(f'<path d="{way}" class="{css}"/>')

    def box(self, x: float, y: float, width: float, height: float, css: str, *, round_px: float = 0) -> None:
        """Draw a rectangle."""
        size = f'width="{_px(max(width, 0))}" height="{_px(max(height, 0))}"'
        self.parts.append(f'<rect x="{_px(x)}" y="{_px(y)}" {size} rx="{_px(round_px)}" class="{css}"/>')

    def dot(self, x: float, y: float, css: str = "d-dot", radius: float = 3) -> None:
        """Draw a marker."""
        self.parts.append(f'<circle cx="{_px(x)}" cy="{_px(y)}" r="{_px(radius)}" class="{css}"/>')

    def text(self, x: float, y: float, words: str, css: str = "") -> None:
        """Write a label; it is moved to stay inside the picture."""
        wide = len(words) * CHAR_PX
        if "d-end" in css:
            x = min(max(x, wide), self.width)
        elif "d-middle" in css:
            x = min(max(x, wide / 2), max(self.width - wide / 2, wide / 2))
        else:
            x = max(min(x, self.width - wide), 0)
        name = f' class="{css}"' if css else ""
        anchor = ' text-anchor="end"' if "d-end" in css else ' text-anchor="middle"' if "d-middle" in css else ""
        self.parts.append(f'<text x="{_px(x)}" y="{_px(y)}" font-size="12"{anchor}{name}>{escape(words)}</text>')

    def done(self) -> SafeString:
        """Return the picture."""
        frame = f'viewBox="0 0 {_px(self.width)} {_px(self.height)}"'
        return SafeString(
            f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" {frame}>'
            f"<title>{escape(self.sentence)}</title>{''.join(self.parts)}</svg>"
        )


def _px(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _dash(dash: str) -> str:
    return f' stroke-dasharray="{dash}"' if dash else ""


@dataclass(frozen=True)
class Axis:
    """From a range of values to a range of pixels, straight or by the logarithm."""

    low: float
    high: float
    from_px: float
    to_px: float
    by_log: bool = False

    def __call__(self, value: float) -> float:
        low, high, here = (math.log(one) if self.by_log else one for one in (self.low, self.high, value))
        return self.from_px + (self.to_px - self.from_px) * ((here - low) / (high - low) if high != low else 0.5)


def ticks(low: float, high: float, about: int = 4) -> list[float]:
    """Return round values from `low` to `high`, about so many."""
    span = high - low
    if not span > 0 or not math.isfinite(span):
        return [low]
    raw = span / about
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * one for one in (1, 2, 5, 10) if size * one >= raw * 0.999)
    first = math.ceil(low / step - 1e-9)
    return [step * number for number in range(first, math.floor(high / step + 1e-9) + 1)]


def _said(value: float) -> str:
    """Return an axis figure without needless zeros."""
    size = abs(value)
    decimals = 0 if size >= 100 or value == round(value) else 1 if abs(value * 10 - round(value * 10)) < 1e-6 else 2
    if size and size < 0.01:
        return f"{value:.2g}"
    return figure(value, decimals)


def _spread(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move label places apart by `gap`, in their order, inside `low` to `high` where there is room."""
    order = sorted(range(len(places)), key=lambda one: places[one])
    moved = list(places)
    for place, index in enumerate(order):
        floor = low if place == 0 else moved[order[place - 1]] + gap
        moved[index] = max(moved[index], floor)
    over = moved[order[-1]] - high if order else 0
    if over > 0:
        for place in range(len(order) - 1, -1, -1):
            ceiling = high if place == len(order) - 1 else moved[order[place + 1]] - gap
            moved[order[place]] = min(moved[order[place]], ceiling)
    return moved


def _kg(mass_mg: float, unit: str) -> str:
    return f"{figure(mass_number(round(mass_mg), unit), 3 if unit == 'kg' else 2)}{NARROW}{unit}"


# --- cylinder ---------------------------------------------------------------------------------------------------


def cylinder_level(held_mg: int, limit_mg: int | None, *, name: str, unit: str = "kg") -> Drawing:
    """Draw a vessel hatched to what it holds, its limit as a heavy line and the room above; `unit` is kg or lb."""
    sentence = f"{name} holds {_kg(held_mg, unit)}"
    rows = [("held", _kg(held_mg, unit))]
    if limit_mg:
        room_mg = limit_mg - held_mg
        share = f"{held_mg / limit_mg * 100:.0f}{NARROW}% of its limit of {_kg(limit_mg, unit)}"
        sentence += (
            f", {share}; room {_kg(room_mg, unit)}" if room_mg >= 0 else f", {_kg(-room_mg, unit)} over its limit"
        )
        rows += [("limit", _kg(limit_mg, unit)), ("room", _kg(room_mg, unit))]
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
    marks = [(held_y, f"held {_kg(held_mg, unit)}")]
    if limit_mg:
        limit_y = level(limit_mg)
        svg.line(left - 6, limit_y, right + 10, limit_y, "d-heavy")
        marks.append((limit_y, f"limit {_kg(limit_mg, unit)}"))
        if limit_mg > held_mg:
            marks.append(((limit_y + held_y) / 2, f"room {_kg(limit_mg - held_mg, unit)}"))
    for (_, words), y in zip(marks, _spread([y for y, _ in marks], LINE_PX, 20, bottom), strict=True):
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
    rows = tuple(
        (f"{timezone.localtime(one.at):%Y-%m-%d %H:%M}", _kg(one.held_mg, unit), _differed(one, unit)) for one in found
    )
    head = ("when", "held", "weighing differed by")
    if not found:
        svg = Svg(40, f"{name} has no line yet")
        svg.text(0, 24, "no line yet", "d-soft")
        return Drawing(svg.done(), f"{name} has no line yet.", head, ())
    differing = sum(1 for one in found if one.differed_mg)
    held = _kg(found[-1].held_mg, unit)
    sentence = f"{name} went from {_kg(found[0].held_mg, unit)} to {held} in {len(found)} steps"
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
        y = up(tick * one_unit)
        svg.line(left - 4, y, left, y, "d-axis")
        svg.text(left - 7, y + 4, _said(tick), "d-end d-soft")
    svg.line(left, top, left, bottom, "d-axis")
    svg.line(left, bottom, right, bottom, "d-axis")
    svg.text(0, 12, unit, "d-soft")
    if limit_mg:
        svg.line(left, up(limit_mg), right, up(limit_mg), "d-heavy", "8 4")
        svg.text(right, up(limit_mg) - 5, "limit", "d-end")
    _staircase(svg, found, across, up, right)
    _differences(svg, found, across, up, unit)
    svg.text(left, bottom + 18, f"{timezone.localtime(found[0].at):%Y-%m-%d}", "d-soft")
    svg.text(right, bottom + 18, f"{timezone.localtime(found[-1].at):%Y-%m-%d}", "d-end d-soft")
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


# --- hold and vacuum --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class HoldPicture:
    """A pressure hold: minutes, compensated pressures and standard uncertainty in one unit of pressure (`unit`).

    `slope` is the trend in units an hour; `blind` half the height of the band that the gauge cannot see; `limit_slope`
    the fall (units an hour, positive) of the leak that is asked about, such as 40 g a year, named by `limit_words`.
    """

    minutes: Sequence[float]
    pressures: Sequence[float]
    u: float
    slope: float
    blind: float
    limit_slope: float
    limit_words: str
    unit: str
    sentence: str


BAND_WORDS = "the gauge cannot see inside the band"


def hold(picture: HoldPicture) -> Drawing:
    """Draw the compensated pressure with bars of two standard uncertainties, the trend, the band and the limit leak."""
    svg = Svg(220, picture.sentence)
    left, right, top, bottom = 52.0, 330.0, 24.0, 180.0
    first, last = picture.minutes[0], picture.minutes[-1]
    start = picture.pressures[0]
    hours = (last - first) / 60
    reach = [p + side * 2 * picture.u for p in picture.pressures for side in (-1, 1)]
    reach += [start - picture.blind, start + picture.blind, start - picture.limit_slope * hours]
    low, high = min(reach), max(reach)
    room = (high - low) * 0.08 or 1.0
    across, up = Axis(first, last, left, right), Axis(low - room, high + room, bottom, top)
    svg.box(
        left, up(start + picture.blind), right - left, up(start - picture.blind) - up(start + picture.blind), "d-band"
    )
    _frame(svg, across, up, picture.unit, "min")
    svg.path([(left, up(start)), (right, up(start - picture.limit_slope * hours))], "d-wine", "6 4")
    svg.path([(left, up(start)), (right, up(start + picture.slope * hours))], "d-act")
    for minute, pressure in zip(picture.minutes, picture.pressures, strict=True):
        x = across(minute)
        svg.line(x, up(pressure - 2 * picture.u), x, up(pressure + 2 * picture.u), "d-ink")
        svg.dot(x, up(pressure))
    ends = [up(start - picture.limit_slope * hours), up(start + picture.slope * hours)]
    above = [-6.0, 14.0] if ends[0] < ends[1] else [14.0, -6.0]  # the upper line is named above it, the lower below
    band = up(start + picture.blind)
    labels = [(ends[0] + above[0], picture.limit_words), (ends[1] + above[1], "trend"), (band + 13, BAND_WORDS)]
    for (_, words), y in zip(labels, _spread([y for y, _ in labels], LINE_PX, top + 10, bottom - 4), strict=True):
        svg.text(right - 6, y, words, "d-end")
    rows = tuple(
        (_said(minute), figure(pressure, 2), figure(2 * picture.u, 2))
        for minute, pressure in zip(picture.minutes, picture.pressures, strict=True)
    )
    head = ("minutes", f"compensated pressure, {picture.unit}", f"give or take, {picture.unit}")
    return Drawing(svg.done(), picture.sentence, head, rows)


def _frame(svg: Svg, across: Axis, up: Axis, unit: str, across_unit: str) -> None:
    """Draw both axes with ticks and units."""
    left, bottom = across.from_px, up.from_px
    svg.line(left, up.to_px, left, bottom, "d-axis")
    svg.line(left, bottom, across.to_px, bottom, "d-axis")
    for tick in ticks(up.low, up.high):
        svg.line(left - 4, up(tick), left, up(tick), "d-axis")
        svg.text(left - 7, up(tick) + 4, _said(tick), "d-end d-soft")
    for tick in ticks(across.low, across.high):
        svg.line(across(tick), bottom, across(tick), bottom + 4, "d-axis")
        svg.text(across(tick), bottom + 18, _said(tick), "d-middle d-soft")
    svg.text(0, 12, unit, "d-soft")
    svg.text(across.to_px, bottom + 34, across_unit, "d-end d-soft")


@dataclass(frozen=True)
class Fit:
    """A curve fitted to a vacuum hold: its name and its points (minutes, mbar)."""

    name: str
    points: Sequence[Point]


FIT_LOOKS = (("d-act", ""), ("d-wine", "6 4"), ("d-faint", "2 3"))


def vacuum(readings: Sequence[Point], *, water_mbar: float | None, fits: Sequence[Fit] = (), sentence: str) -> Drawing:
    """Draw absolute pressure (mbar) over time (minutes), water's vapour pressure dashed, fits told apart by dash."""
    svg = Svg(220, sentence)
    left, right, top, bottom = 44.0, 326.0, 24.0, 180.0
    most = max([p for _, p in readings] + [p for fit in fits for _, p in fit.points] + [(water_mbar or 0)]) * 1.1 or 1.0
    across = Axis(readings[0][0], max(readings[-1][0], readings[0][0] + 1), left, right)
    up = Axis(0, most, bottom, top)
    _frame(svg, across, up, "mbar absolute", "min")
    if water_mbar is not None:
        svg.line(left, up(water_mbar), right, up(water_mbar), "d-ink", "8 3 2 3")
        words = f"water's vapour pressure, {_said(round(water_mbar, 1))}"
        svg.text(left + 6, up(water_mbar) - 5, words)  # on the left, where a hold is still far below it
    for fit, (css, dash) in zip(fits, FIT_LOOKS, strict=False):
        svg.path([(across(minute), up(p)) for minute, p in fit.points], css, dash)
    for minute, p in readings:
        svg.dot(across(minute), up(p))
    drawn = [(across(minute), up(p)) for fit in fits for minute, p in fit.points]
    drawn += [(across(minute), up(p)) for minute, p in readings]
    _name_fits(svg, fits, drawn, top if water_mbar is None else up(water_mbar), bottom, right)
    rows = tuple((_said(minute), figure(p, 2)) for minute, p in readings)
    return Drawing(svg.done(), sentence, ("minutes", "pressure, mbar absolute"), rows)


def _name_fits(
    svg: Svg, fits: Sequence[Fit], drawn: Sequence[Point], ceiling: float, bottom: float, right: float
) -> None:
    """Name the curves, each after a piece of its line, where there is room beside their ends: above them or below."""
    if not fits:
        return
    wide = max(len(fit.name) for fit in fits) * CHAR_PX + SAMPLE_PX + 6
    near = [y for x, y in drawn if x >= right - wide] or [y for _, y in drawn]
    above, below = min(near) - max(ceiling, 0.0), bottom - max(near)
    order = sorted(zip(fits, FIT_LOOKS, strict=False), key=lambda one: -one[0].points[-1][1])  # the highest end first
    start = max(near) + LINE_PX if below >= above else min(near) - 8 - LINE_PX * (len(order) - 1)
    for place, (fit, (css, dash)) in enumerate(order):
        y = start + place * LINE_PX
        svg.line(right - wide, y - 4, right - wide + SAMPLE_PX, y - 4, css, dash)
        svg.text(right - wide + SAMPLE_PX + 6, y, fit.name)


# --- pressure and enthalpy --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class State:
    """A state point: its name, specific enthalpy in kJ/kg and absolute pressure in bar."""

    name: str
    enthalpy: float
    bar: float


def pressure_enthalpy(
    dome: Sequence[Point], states: Sequence[State], *, ambient_bar: float | None, sentence: str
) -> Drawing:
    """Draw the dome (kJ/kg, bar absolute), the numbered states joined, and the ambient air as a pressure."""
    svg = Svg(250, sentence)
    left, right, top, bottom = 44.0, 326.0, 24.0, 206.0
    enthalpies = [h for h, _ in dome] + [state.enthalpy for state in states]
    bars = [p for _, p in dome] + [state.bar for state in states] + ([ambient_bar] if ambient_bar else [])
    room = (max(enthalpies) - min(enthalpies)) * 0.05 or 1.0
    across = Axis(min(enthalpies) - room, max(enthalpies) + room, left, right)
    up = Axis(min(bars) * 0.9, max(bars) * 1.15, bottom, top, by_log=True)
    svg.line(left, top, left, bottom, "d-axis")
    svg.line(left, bottom, right, bottom, "d-axis")
    for tick in (0.5, 1, 2, 5, 10, 20, 50, 100):
        if up.low <= tick <= up.high:
            svg.line(left - 4, up(tick), left, up(tick), "d-axis")
            svg.text(left - 7, up(tick) + 4, _said(tick), "d-end d-soft")
    for tick in ticks(across.low, across.high, 3):
        svg.line(across(tick), bottom, across(tick), bottom + 4, "d-axis")
        svg.text(across(tick), bottom + 18, _said(tick), "d-middle d-soft")
    svg.text(0, 12, "bar absolute", "d-soft")
    svg.text(right, bottom + 34, "kJ/kg", "d-end d-soft")
    svg.path([(across(h), up(p)) for h, p in dome], "d-ink")
    if ambient_bar:
        svg.line(left, up(ambient_bar), right, up(ambient_bar), "d-faint", "6 4")
        svg.text(left + 6, up(ambient_bar) - 5, "ambient air", "d-soft")
    corners = [(across(state.enthalpy), up(state.bar)) for state in states]
    svg.path(corners, "d-act", closed=len(corners) > 2)
    for number, (x, y) in enumerate(corners, 1):
        svg.dot(x, y, "d-ring", 9)
        svg.text(x, y + 4, str(number), "d-middle")
    rows = tuple(
        (str(number), state.name, figure(state.enthalpy, 1), figure(state.bar, 2))
        for number, state in enumerate(states, 1)
    )
    return Drawing(svg.done(), sentence, ("", "state", "enthalpy, kJ/kg", "pressure, bar absolute"), rows)


# --- the period -------------------------------------------------------------------------------------------------


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
    rows = tuple(("in", flow.name, _kg(flow.mass_mg, unit)) for flow in sources)
    rows += tuple(("out", flow.name, _kg(flow.mass_mg, unit)) for flow in ends)
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
            f"M{_px(edge)} {_px(y)}C{_px(bend)} {_px(y)} {_px(bend)} {_px(at)} {_px(join)} {_px(at)}V{_px(at + wide)}"
            f"C{_px(bend)} {_px(at + wide)} {_px(bend)} {_px(y + wide)} {_px(edge)} {_px(y + wide)}Z"
        )
        svg.curve(way, "d-flow")
        at += wide
        middle = y + wide / 2
        css, x = ("d-end", edge - 6) if left else ("", edge + 6)
        svg.text(x, middle - 3, flow.name, css)
        svg.text(x, middle + 11, _kg(flow.mass_mg, unit), css)


def ranked_bars(flows: Sequence[Flow], *, sentence: str, unit: str = "kg") -> Drawing:
    """Draw masses as bars, the largest first, for a narrow page."""
    ranked = sorted(flows, key=lambda flow: -flow.mass_mg)
    most = max([flow.mass_mg for flow in ranked] + [1])
    svg = Svg(len(ranked) * 34 + 6, sentence)
    for place, flow in enumerate(ranked):
        y = place * 34
        svg.text(0, y + 13, flow.name)
        svg.text(WIDTH, y + 13, _kg(flow.mass_mg, unit), "d-end")
        svg.box(0, y + 18, max(flow.mass_mg / most * WIDTH, LEAST_PX if flow.mass_mg else 0), 10, "d-flow")
    rows = tuple((flow.name, _kg(flow.mass_mg, unit)) for flow in ranked)
    return Drawing(svg.done(), sentence, ("", "mass"), rows)
