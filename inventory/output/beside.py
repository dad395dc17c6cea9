"""Masses side by side, each a bar from nothing: what a label says, what was taken out, what was charged."""

from collections.abc import Sequence

from inventory.measure.own import Units
from inventory.output.svg import WIDTH, Axis, Drawing, Svg

ROW_PX = 44.0
BAR_PX = 16.0


def side_by_side(rows: Sequence[tuple[str, int]], units: Units, *, sentence: str) -> Drawing:
    """Draw masses (words, milligrams) one under the other, each with its figure; the bars begin at nothing."""
    svg = Svg(ROW_PX * len(rows) + 8, sentence)
    most = max((mass for _, mass in rows), default=0) or 1
    across = Axis(0, most, 1, WIDTH - 1)
    said = [(words, units.small_mass_said(mass)) for words, mass in rows]
    for place, ((words, figure), (_, mass)) in enumerate(zip(said, rows, strict=True)):
        top = place * ROW_PX
        svg.text(0, top + 14, words)
        svg.text(WIDTH, top + 14, figure, "d-end")
        svg.box(1, top + 20, across(mass) - 1, BAR_PX, "d-flow")
        svg.line(1, top + 18, 1, top + 22 + BAR_PX, "d-ink")
    return Drawing(svg.done(), sentence, ("", "mass"), tuple(said))
