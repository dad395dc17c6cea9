"""Drawings as SVG: numbers in, a `Drawing` out (the picture, its one sentence, the table of the same numbers).

Drawn 340 wide with text of 12 px; series differ by dash, marker and end label, in the classes that the stylesheet
colours (ink, heavy, axis, faint, act, wine, band); there is no style attribute anywhere, as the page's policy drops it.
Mass axes begin at zero. On a page: ``{% include "_drawing.html" with drawing=drawing %}``.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.html import escape
from django.utils.safestring import SafeString

from inventory.measure.displays import POUNDS_AND_OUNCES, columned
from inventory.measure.figures import NARROW, figure, mass_number

WIDTH = 340
CHAR_PX = 6.4  # a wide guess of one character at 12 px, to keep labels inside and apart
LINE_PX = 15

Point = tuple[float, float]


@dataclass(frozen=True)
class Drawing:
    """A picture, the sentence that it says, and its numbers as a table: `head` and `rows` of text."""

    svg: SafeString
    sentence: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def lines(self) -> tuple[tuple[tuple[str, str], ...], ...]:
        """Each row with the head of every cell, for a narrow page that names each figure."""
        return tuple(tuple(zip(row, self.head, strict=True)) for row in self.rows)


class Svg:
    """A small writer of SVG; lengths in pixels, y downwards."""

    def __init__(self, height: float, sentence: str, width: float = WIDTH) -> None:
        self.width, self.height, self.sentence = width, height, sentence
        self.parts: list[str] = []

    def line(self, x1: float, y1: float, x2: float, y2: float, css: str, dash: str = "") -> None:
        """Draw a straight line."""
        ends = f'x1="{px(x1)}" y1="{px(y1)}" x2="{px(x2)}" y2="{px(y2)}"'
        self.parts.append(f'<line {ends} class="{css}"{_dash(dash)}/>')

    def path(self, points: Sequence[Point], css: str, dash: str = "", *, closed: bool = False) -> None:
        """Draw straight pieces through `points`."""
        if not points:
            return
        way = "M" + "L".join(f"{px(x)} {px(y)}" for x, y in points) + ("Z" if closed else "")
        self.parts.append(f'<path d="{way}" class="{css}"{_dash(dash)}/>')

    def curve(self, way: str, css: str) -> None:
        """Draw a path given in the language of SVG."""
        self.parts.append(f'<path d="{way}" class="{css}"/>')

    def box(self, x: float, y: float, width: float, height: float, css: str, *, round_px: float = 0) -> None:
        """Draw a rectangle."""
        size = f'width="{px(max(width, 0))}" height="{px(max(height, 0))}"'
        self.parts.append(f'<rect x="{px(x)}" y="{px(y)}" {size} rx="{px(round_px)}" class="{css}"/>')

    def dot(self, x: float, y: float, css: str = "d-dot", radius: float = 3) -> None:
        """Draw a marker."""
        self.parts.append(f'<circle cx="{px(x)}" cy="{px(y)}" r="{px(radius)}" class="{css}"/>')

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
        self.parts.append(f'<text x="{px(x)}" y="{px(y)}" font-size="12"{anchor}{name}>{escape(words)}</text>')

    def done(self) -> SafeString:
        """Return the picture."""
        frame = f'viewBox="0 0 {px(self.width)} {px(self.height)}"'
        return SafeString(
            f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" {frame}>'
            f"<title>{escape(self.sentence)}</title>{''.join(self.parts)}</svg>"
        )


def px(value: float) -> str:
    """Return a length in pixels to a tenth."""
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


def axis_figure(value: float) -> str:
    """Return an axis figure without needless zeros."""
    size = abs(value)
    decimals = 0 if size >= 100 or value == round(value) else 1 if abs(value * 10 - round(value * 10)) < 1e-6 else 2
    if size and size < 0.01:
        return f"{value:.2g}"
    return figure(value, decimals)


def spread(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
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


def mass_said(mass_mg: float, unit: str) -> str:
    """Return a mass as its label says it, in kg or lb."""
    if unit == POUNDS_AND_OUNCES:
        return columned(round(mass_mg), unit)
    return f"{figure(mass_number(round(mass_mg), unit), 3 if unit == 'kg' else 2)}{NARROW}{unit}"


def tick_beside(svg: Svg, left: float, y: float, value: float) -> None:
    """Draw a tick of the axis that goes up, with its figure."""
    svg.line(left - 4, y, left, y, "d-axis")
    svg.text(left - 7, y + 4, axis_figure(value), "d-end d-soft")


def tick_below(svg: Svg, x: float, bottom: float, value: float) -> None:
    """Draw a tick of the axis that goes across, with its figure."""
    svg.line(x, bottom, x, bottom + 4, "d-axis")
    svg.text(x, bottom + 18, axis_figure(value), "d-middle d-soft")


def frame(svg: Svg, across: Axis, up: Axis, unit: str, across_unit: str) -> None:
    """Draw both axes with ticks and units."""
    left, bottom = across.from_px, up.from_px
    svg.line(left, up.to_px, left, bottom, "d-axis")
    svg.line(left, bottom, across.to_px, bottom, "d-axis")
    for tick in ticks(up.low, up.high):
        tick_beside(svg, left, up(tick), tick)
    for tick in ticks(across.low, across.high):
        tick_below(svg, across(tick), bottom, tick)
    svg.text(0, 12, unit, "d-soft")
    svg.text(across.to_px, bottom + 34, across_unit, "d-end d-soft")
