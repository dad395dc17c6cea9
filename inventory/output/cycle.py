"""The drawing of a running circuit: pressure over enthalpy."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.measure.figures import figure
from inventory.output.svg import Axis, Drawing, Point, Svg, tick_below, tick_beside, ticks


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
            tick_beside(svg, left, up(tick), tick)
    for tick in ticks(across.low, across.high, 3):
        tick_below(svg, across(tick), bottom, tick)
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
