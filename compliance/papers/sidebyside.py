"""The tables of a usage report on paper: refrigerants side by side, one table of a sort, what is nothing left out.

A page shows each refrigerant by itself; a sheet has them together, so that a small year stands on three pages.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import takewhile, zip_longest
from typing import TypeVar

from compliance.papers.paper import Block, Table, Words
from compliance.statement import balance, emissions
from compliance.statement.balance import Balance
from compliance.statement.emissions import Impact, Source, Worth
from compliance.statement.layout import PART, START, SUM, WORDS, Cell, Grid, Layout, Row, co2e_kg
from compliance.statement.sums import VehicleHolding

One = TypeVar("One")
BESIDE = 3  # refrigerants in the table of a total
COLUMNS = 5  # refrigerants side by side on a sheet
FEW_STREAMS = 4
SEVERAL = 4  # vehicles
NO_OZONE = "No refrigerant of this period depletes the ozone layer."
NOTHING_TO_BRIDGE = "Every balance by mass is nothing, and so are the workshop's emissions to air."


def as_table(grid: Grid, rows: Iterable[Row]) -> Table:
    """Return some rows of a grid as the table of a sheet."""
    kept = tuple(rows)
    return Table(
        caption=grid.caption,
        heads=(grid.corner, *grid.heads),
        rows=tuple((row.label, *(cell.text for cell in row.cells)) for row in kept),
        numeric=tuple(range(1, len(grid.heads) + 1)),
        marks=tuple(row.mark for row in kept),
    )


def balances(layout: Layout, caption: str) -> Iterator[Table]:
    """Yield the balance of all refrigerants, a few side by side; rows in which nothing moved are left out."""
    for some in _few(layout.statement.refrigerants):
        grid = layout.masses(some, caption)
        yield as_table(grid, _together(_moved(grid.rows, layout.mass(0))))


def grades(layout: Layout) -> Table | None:
    """Return each grade of the refrigerants that have several, one row for each; None where none has."""
    every = [layout.statement.grades_of(each.refrigerant) for each in layout.statement.refrigerants]
    found = [each for some in every if len(some) > 1 for each in some]
    if not found:
        return None
    names = [name for name in balance.COLUMNS if any(getattr(each, name).mass_mg for each in found)]
    heads = ("Refrigerant and grade", START, *(WORDS[name] for name in names), WORDS[emissions.CLOSING])
    rows = tuple(_grade_row(layout, each, names) for each in found)
    return Table(f"By grade, {layout.words}", heads, rows, _all_but_first(heads))


def _grade_row(layout: Layout, each: Balance, names: Sequence[str]) -> tuple[str, ...]:
    signs = {name: -1 if name in balance.OUTWARD else 1 for name in names}
    flows = (layout.mass(sign * getattr(each, name).mass_mg, signed=True) for name, sign in signs.items())
    return (f"{each.refrigerant} {each.grade}", layout.mass(each.opening_mg), *flows, layout.mass(each.closing_mg))


def totals(layout: Layout) -> Iterator[Block]:
    """Yield the two totals, which are never added to one, with what each refrigerant has in them."""
    impacts = layout.statement.impacts.values()
    ozone, others = ([one for one in impacts if bool(one.depletes_ozone) == so] for so in (True, False))
    if ozone:
        yield from _total(layout, layout.two_totals["ozone_totals"], ozone)
    else:
        yield Words("", (NO_OZONE,))
    yield from _total(layout, layout.two_totals["other_totals"], others)


def _total(layout: Layout, grid: Grid, impacts: Sequence[Impact]) -> Iterator[Table]:
    """Yield a total, each refrigerant beside it where there are few, else in tables of their own."""
    rows = {name: row for name, row in zip(emissions.MEASURES, grid.rows, strict=True) if _says(layout, name, row)}
    if not 1 < len(impacts) <= BESIDE:
        yield as_table(grid, rows.values())
    else:
        beside = {name: tuple(Cell(_co2e(one.worth[name])) for one in impacts) for name in rows}
        heads = (*grid.heads, *(f"of it {one.refrigerant}, CO2e" for one in impacts))
        wide = Grid(grid.caption, grid.corner, heads, ())
        yield as_table(wide, (Row(row.label, (*row.cells, *beside[name]), row.mark) for name, row in rows.items()))
    if len(impacts) > BESIDE:
        for few in _few(impacts):
            cells = tuple((WORDS[name], *(_co2e(one.worth[name]) for one in few)) for name in rows)
            heads = ("Measure", *(one.refrigerant for one in few))
            yield Table(f"By refrigerant, kg CO2e ({layout.statement.basis})", heads, cells, _all_but_first(heads))


def _says(layout: Layout, name: str, row: Row) -> bool:
    return name in (balance.WORKSHOP_AIR, emissions.CLOSING) or row.cells[0].text != layout.mass(0)


def _co2e(worth: Worth) -> str:
    return "no figure" if worth.co2e_mg is None else co2e_kg(worth.co2e_mg)


def behind(layout: Layout) -> Table:
    """Return what stands behind each column of each refrigerant: uncertainty, two weighings, somebody's word, lines."""
    heads: tuple[str, ...] = ()
    rows = []
    for each in layout.statement.refrigerants:
        grid = layout.behind(each)
        heads = ("Refrigerant and column", *grid.heads)
        rows += [(f"{each.refrigerant}, {_lower(row.label)}", *(cell.text for cell in row.cells)) for row in grid.rows]
    return Table("What stands behind the figures", heads, tuple(rows), (1, 2, 3, 4, 5))


def bridges(layout: Layout) -> Iterator[Block]:
    """Yield the way from the balance by mass to the workshop's emissions, of the refrigerants in which any is."""
    some = [each for each in layout.statement.refrigerants if any(mass for _, mass in each.bridge)]
    if not some:
        yield Words("", (NOTHING_TO_BRIDGE,))
    for few in _few(some):
        caption = f"From the balance by mass to the workshop's emissions, {layout.words}"
        yield _bridge(layout, few, caption)


def _bridge(layout: Layout, few: Sequence[Balance], caption: str) -> Table:
    steps = list(zip(*(each.bridge for each in few), strict=True))
    rows, marks = [], []
    for at, step in enumerate(steps):
        ends = at in (0, len(steps) - 1)
        if ends or any(mass for _, mass in step):
            words = step[0][0]
            rows.append((f"{words[:1].upper()}{words[1:]}", *(layout.mass(mass, signed=not ends) for _, mass in step)))
            marks.append(SUM if ends else "")
    heads = ("Step", *(each.refrigerant for each in few))
    return Table(caption, heads, tuple(rows), _all_but_first(heads), tuple(marks))


def sources(found: Iterable[Source]) -> Iterator[str]:
    """Yield each published figure with where it is from, refrigerants that have the same together."""
    alike: dict[tuple[str, str, str], list[str]] = {}
    for each in found:
        value = "no figure" if each.value is None else f"{each.value:f}"
        memory = " From memory: to be checked." if each.from_memory else ""
        said = f"{value}. {each.text.rstrip('.')}.{memory}"
        alike.setdefault((each.quantity, each.basis, said), []).append(each.refrigerant)
    for (quantity, basis, said), codes in alike.items():
        yield f"{', '.join(codes)}, {quantity} ({basis}): {said}"


def _moved(rows: Iterable[Row], zero: str) -> list[Row]:
    """Return the rows in which something is; beginning and end always."""
    kept = [row for row in rows if any(cell.text not in (zero, "none") for cell in row.cells)]
    return [row for row in rows if row in kept or row.label in (START, WORDS[emissions.CLOSING])]


def _together(rows: Sequence[Row]) -> Iterator[Row]:
    """Yield the rows, a column of one part with its part in one row: "Acquired: bought"."""
    at = 0
    while at < len(rows):
        row, parts = rows[at], _parts_after(rows, at)
        if row.label != START and len(parts) == 1 and _same(row, parts[0]):
            words = parts[0].label
            yield row if _lower(row.label) == words else Row(f"{row.label}: {words}", row.cells, row.mark)
            at += 2
        else:
            yield row
            at += 1


def _parts_after(rows: Sequence[Row], at: int) -> list[Row]:
    return list(takewhile(lambda row: row.mark == PART, rows[at + 1 :]))


def _same(whole: Row, part: Row) -> bool:
    """Whether a part is the whole of its column, with nothing in place of none."""
    pairs = zip(whole.cells, part.cells, strict=True)
    return all(one.text == other.text or other.text == "none" for one, other in pairs)


def _all_but_first(heads: Sequence[str]) -> tuple[int, ...]:
    return tuple(range(1, len(heads)))


def _few(found: Sequence[One]) -> Iterator[Sequence[One]]:
    return (found[at : at + COLUMNS] for at in range(0, len(found), COLUMNS))


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def flows_many_ways(each: Balance) -> bool:
    """Whether a picture shows more than a table at one look."""
    moved = [flow for flow in each.flows if flow.mass_mg]
    return len(moved) + bool(each.opening_mg) + bool(each.closing_mg) > FEW_STREAMS


def vehicles(layout: Layout, found: Sequence[VehicleHolding]) -> Table:
    """Return what is inside vehicles, two side by side where there are several."""
    words = f"What the book shows inside vehicles, {layout.words}; below zero, more came out than was put in"
    cells = [(one.label, one.refrigerant, layout.mass(one.mass_mg)) for one in found]
    heads = ("Vehicle", "Refrigerant", layout.words)
    if len(cells) < SEVERAL:
        return Table(words, heads, tuple(cells), (2,))
    half = -(-len(cells) // 2)
    pairs = zip_longest(cells[:half], cells[half:], fillvalue=("", "", ""))
    return Table(words, (*heads, *heads), tuple((*left, *right) for left, right in pairs), (2, 5))
