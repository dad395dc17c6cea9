"""Drawings of pressures: what stood under pressure or vacuum over time with what was fitted, and a running circuit."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.measure.figures import figure
from inventory.output.svg import (
    CHAR_PX,
    LINE_PX,
    Axis,
    Drawing,
    Point,
    Svg,
    axis_figure,
    frame,
    spread,
    tick_below,
    tick_beside,
    ticks,
)

SAMPLE_PX = 22.0  # the piece of a line that stands before its name


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
    frame(svg, across, up, picture.unit, "min")
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
    for (_, words), y in zip(labels, spread([y for y, _ in labels], LINE_PX, top + 10, bottom - 4), strict=True):
        svg.text(right - 6, y, words, "d-end")
    rows = tuple(
        (axis_figure(minute), figure(pressure, 2), figure(2 * picture.u, 2))
        for minute, pressure in zip(picture.minutes, picture.pressures, strict=True)
    )
    head = ("minutes", f"compensated pressure, {picture.unit}", f"give or take, {picture.unit}")
    return Drawing(svg.done(), picture.sentence, head, rows)


@dataclass(frozen=True)
class Fit:
    """A curve fitted to a vacuum hold: its name and its points (minutes, pressure)."""

    name: str
    points: Sequence[Point]


FIT_LOOKS = (("d-act", ""), ("d-wine", "6 4"), ("d-faint", "2 3"))


VACUUM_DECIMALS = {"micron": 0, "inHg": 3}  # mbar has 2


def vacuum(
    readings: Sequence[Point], *, water: float | None, unit: str, fits: Sequence[Fit] = (), sentence: str
) -> Drawing:
    """Draw absolute pressure (in `unit`) over minutes, water's vapour pressure dashed, fits told apart by dash."""
    svg = Svg(220, sentence)
    left, right, top, bottom = 44.0, 326.0, 24.0, 180.0
    most = max([p for _, p in readings] + [p for fit in fits for _, p in fit.points] + [(water or 0)]) * 1.1 or 1.0
    across = Axis(readings[0][0], max(readings[-1][0], readings[0][0] + 1), left, right)
    up = Axis(0, most, bottom, top)
    frame(svg, across, up, f"{unit} absolute", "min")
    if water is not None:
        svg.line(left, up(water), right, up(water), "d-ink", "8 3 2 3")
        words = f"water's vapour pressure, {axis_figure(round(water, VACUUM_DECIMALS.get(unit, 1)))}"
        svg.text(left + 6, up(water) - 5, words)  # on the left, where a hold is still far below it
    for fit, (css, dash) in zip(fits, FIT_LOOKS, strict=False):
        svg.path([(across(minute), up(p)) for minute, p in fit.points], css, dash)
    for minute, p in readings:
        svg.dot(across(minute), up(p))
    drawn = [(across(minute), up(p)) for fit in fits for minute, p in fit.points]
    drawn += [(across(minute), up(p)) for minute, p in readings]
    _name_fits(svg, fits, drawn, top if water is None else up(water), bottom, right)
    rows = tuple((axis_figure(minute), figure(p, VACUUM_DECIMALS.get(unit, 2))) for minute, p in readings)
    return Drawing(svg.done(), sentence, ("minutes", f"pressure, {unit} absolute"), rows)


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


@dataclass(frozen=True)
class State:
    """A state point: its name, specific enthalpy in kJ/kg and absolute pressure."""

    name: str
    enthalpy: float
    pressure: float


CYCLE_TICKS = {
    "psi": (5, 10, 20, 50, 100, 200, 500, 1000),
    "kPa": (50, 100, 200, 500, 1000, 2000, 5000, 10_000),
    "bar": (0.5, 1, 2, 5, 10, 20, 50, 100),
}


def pressure_enthalpy(
    dome: Sequence[Point], states: Sequence[State], *, ambient: float | None, unit: str, sentence: str
) -> Drawing:
    """Draw the dome (kJ/kg, absolute pressure in `unit`), the numbered states joined, the ambient air as a pressure."""
    svg = Svg(250, sentence)
    left, right, top, bottom = 44.0, 326.0, 24.0, 206.0
    enthalpies = [h for h, _ in dome] + [state.enthalpy for state in states]
    pressures = [p for _, p in dome] + [state.pressure for state in states] + ([ambient] if ambient else [])
    room = (max(enthalpies) - min(enthalpies)) * 0.05 or 1.0
    across = Axis(min(enthalpies) - room, max(enthalpies) + room, left, right)
    up = Axis(min(pressures) * 0.9, max(pressures) * 1.15, bottom, top, by_log=True)
    svg.line(left, top, left, bottom, "d-axis")
    svg.line(left, bottom, right, bottom, "d-axis")
    for tick in CYCLE_TICKS[unit]:
        if up.low <= tick <= up.high:
            tick_beside(svg, left, up(tick), tick)
    for tick in ticks(across.low, across.high, 3):
        tick_below(svg, across(tick), bottom, tick)
    svg.text(0, 12, f"{unit} absolute", "d-soft")
    svg.text(right, bottom + 34, "kJ/kg", "d-end d-soft")
    svg.path([(across(h), up(p)) for h, p in dome], "d-ink")
    if ambient:
        svg.line(left, up(ambient), right, up(ambient), "d-faint", "6 4")
        svg.text(left + 6, up(ambient) - 5, "ambient air", "d-soft")
    corners = [(across(state.enthalpy), up(state.pressure)) for state in states]
    svg.path(corners, "d-act", closed=len(corners) > 2)
    for number, (x, y) in enumerate(corners, 1):
        svg.dot(x, y, "d-ring", 9)
        svg.text(x, y + 4, str(number), "d-middle")
    rows = tuple(
        (str(number), state.name, figure(state.enthalpy, 1), figure(state.pressure, 2))
        for number, state in enumerate(states, 1)
    )
    return Drawing(svg.done(), sentence, ("", "state", "enthalpy, kJ/kg", f"pressure, {unit} absolute"), rows)
