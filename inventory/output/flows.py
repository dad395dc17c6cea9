"""The drawing of a period: where its mass came from and where it went."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.output.svg import LINE_PX, WIDTH, Drawing, Svg, mass_said, px

LEAST_PX = 2.0  # the least width of a flow
BOOK_PX = 150.0  # the height of the whole mass of a period
FLOW_PX = 34.0  # the least height of a flow with its two lines of label
FLOW_EDGE_PX = 88.0  # where a flow begins beside its label


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
