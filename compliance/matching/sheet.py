"""A partner's list read from CSV: its rows, and sentences of what is odd about it. Pure: no database.

A row of totals is left out and held against the rows above it; a paper that stands twice is said.
"""

import csv
import io
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from compliance.matching.pairs import DELIVERED, TAKEN_BACK, Theirs, normal
from inventory.gases.catalogue import UnknownRefrigerant, find
from inventory.measure.figures import show_mass
from inventory.measure.masses import read_mass
from inventory.measure.own import METRIC
from inventory.measure.typed import QuantityError
from inventory.measure.typedday import read_day

REQUIRED = ("date", "refrigerant", "mass")
OPTIONAL = ("paper_number", "direction")
MOST_ROWS = 2_000
MOST_FAULTS = 20
_TOTAL = re.compile(r"(grand |sub-?|year'?s )?(totals?|sums?|sum total)\W*", re.IGNORECASE)
_MASS_IN = re.compile(r"mass[ _]?\(?(kg|g|lb|oz)\)?")
DIRECTIONS = {"": DELIVERED, DELIVERED: DELIVERED, TAKEN_BACK: TAKEN_BACK, "returned": TAKEN_BACK}


class NotAList(ValueError):
    """A file that cannot be read as a list; `faults` are sentences, each with its line."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__(" ".join(faults))
        self.faults = faults


@dataclass(frozen=True)
class Sheet:
    """What a file says: its rows, and sentences of what is odd about it."""

    rows: tuple[Theirs, ...]
    said: tuple[str, ...] = ()


def read_list(content: bytes) -> list[Theirs]:
    """Return the rows of a partner's list; raises NotAList that names every line which cannot be read."""
    return list(read_sheet(content).rows)


def read_sheet(content: bytes, order: str = METRIC.days) -> Sheet:
    """Return a partner's list, its days in figures read by `order`; raises NotAList that names every unread line."""
    rows: list[Theirs] = []
    said: list[str] = []
    faults: list[str] = []
    for line, cells in _cells(content):
        if _is_total(cells):
            said.append(_of_total(line, cells, rows))
            continue
        try:
            rows.append(_row(line, cells, order))
        except (ValueError, UnknownRefrigerant) as error:
            faults.append(f"Line {line}: {error}")
    if faults:
        more = [f"And {len(faults) - MOST_FAULTS} more lines."] if len(faults) > MOST_FAULTS else []
        raise NotAList(faults[:MOST_FAULTS] + more)
    if not rows:
        raise NotAList(["The file has a header and no rows."])
    return Sheet(tuple(rows), (*said, *_twice(rows)))


def _is_total(cells: Mapping[str, str]) -> bool:
    named = (cells.get(name, "") for name in ("date", "refrigerant", "paper_number"))
    return not re.search(r"\d", cells["date"]) and any(_TOTAL.fullmatch(one) for one in named)


def _of_total(line: int, cells: Mapping[str, str], rows: Sequence[Theirs]) -> str:
    """Say of a row of totals whether the rows above it, or those of its refrigerant, come to the same."""
    try:
        total_mg = read_mass(cells["mass"], default_unit=cells.get("unit")).mg
    except QuantityError:
        return f"Line {line} is a total that cannot be read; it was left out."
    try:
        code = find(cells["refrigerant"]).code
    except UnknownRefrigerant:
        code = ""
    above_mg = sum(one.mass_mg for one in rows if code in ("", one.refrigerant))
    said = f"Line {line} is a total of {_kilos(total_mg)} and was left out; the rows above it come to"
    if total_mg == above_mg:
        return f"{said} the same."
    return f"{said} {_kilos(above_mg)}: a row may be missing, or stand there twice."


def _kilos(mass_mg: int) -> str:
    return show_mass(mass_mg, unit="kg")


def _twice(rows: Sequence[Theirs]) -> Iterator[str]:
    """Say which papers stand more than once for one refrigerant and direction."""
    papers: dict[tuple[str, str, str], list[Theirs]] = defaultdict(list)
    for one in rows:
        papers[normal(one.paper), one.refrigerant, one.direction].append(one)
    for (paper, *_), same in papers.items():
        if not paper or len(same) == 1:
            continue
        where = f"{', '.join(str(one.row) for one in same[:-1])} and {same[-1].row}"
        alike = len({(one.on, one.mass_mg) for one in same}) == 1
        then = "they say the same, so one may be a slip" if alike else "day and mass tell which is meant"
        yield f"Paper {same[0].paper} stands {len(same)} times, in rows {where}: {then}."


def _cells(content: bytes) -> Iterator[tuple[int, Mapping[str, str]]]:
    if b"\x00" in content:
        raise NotAList(["This is no CSV text. Save the sheet as CSV in UTF-8."])
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise NotAList(["The file is not UTF-8 text. Save the sheet as CSV in UTF-8."]) from None
    head = text.partition("\n")[0]
    reader = csv.reader(io.StringIO(text), delimiter=";" if head.count(";") > head.count(",") else ",", strict=True)
    try:
        names, unit = _header([name.strip().lower() for name in next(reader, [])])
        _check_header(names)
        for count, cells in enumerate((row for row in reader if any(cell.strip() for cell in row)), start=1):
            if count > MOST_ROWS:
                raise NotAList([f"The file has more than {MOST_ROWS} rows. Send it year by year."])
            if len(cells) < len(names) and any(_TOTAL.fullmatch(cell.strip()) for cell in cells):
                cells = [*cells, *[""] * (len(names) - len(cells))]  # a row of totals ends with its last figure
            if len(cells) != len(names):
                raise NotAList([f"Line {reader.line_num} has {len(cells)} cells; the header names {len(names)}."])
            named = {name: cell.strip() for name, cell in zip(names, cells, strict=True)}
            yield reader.line_num, {**named, "unit": unit} if unit else named
    except csv.Error as error:
        raise NotAList([f"The file cannot be read as CSV: {error}."]) from None


def _header(names: list[str]) -> tuple[list[str], str]:
    """Return the names of the columns, and the unit that the one of masses names."""
    units = [found[1] for name in names if (found := _MASS_IN.fullmatch(name))]
    return ["mass" if _MASS_IN.fullmatch(name) else name for name in names], units[0] if units else ""


def _check_header(names: list[str]) -> None:
    missing = [name for name in REQUIRED if name not in names]
    unknown = [name or "a column without a name" for name in names if name not in REQUIRED + OPTIONAL]
    if missing:
        raise NotAList([f"The header lacks {', '.join(missing)}."])
    if unknown:
        raise NotAList([f"The header names {', '.join(unknown)[:200]}, which is not known here."])
    if len(set(names)) != len(names):
        raise NotAList(["The header names a column twice."])


def _row(line: int, cells: Mapping[str, str], order: str) -> Theirs:
    direction = DIRECTIONS.get(cells.get("direction", "").lower())
    if direction is None:
        raise ValueError(f"direction is {DELIVERED} or {TAKEN_BACK}.")
    try:
        day = read_day(cells["date"], order)
    except QuantityError as error:
        raise ValueError(error.sentence) from error
    try:
        mass = read_mass(cells["mass"], default_unit=cells.get("unit"))
    except QuantityError as error:
        raise ValueError(error.sentence) from error
    if mass.mg <= 0:
        raise ValueError("a mass is more than nothing.")
    return Theirs(day, find(cells["refrigerant"]).code, direction, mass.mg, cells.get("paper_number", "")[:60], line)
