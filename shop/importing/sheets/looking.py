"""A sheet looked at before it is read: its headers and first cells, and its first rows as they would be written."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from zoneinfo import ZoneInfo

from shop.importing.people import MOST_NAMES
from shop.importing.sheets.cells import text_of
from shop.importing.sheets.columns import Matching, digest_of, guessed, head_of, order_of
from shop.importing.sheets.moves import Plain, Reader, Said, understood
from shop.importing.sheets.opening import MOST_COLUMNS, Sheet, first_rows
from shop.models import SheetMatching, Workshop

LOOKED_AT = 300  # rows below the headers
SHOWN = 12  # movements
MOST_HEAD = 60  # the last row in which headers may stand
SAMPLES = 3


@dataclass(frozen=True)
class Column:
    """A column as the page of matching shows it."""

    place: int
    header: str
    samples: tuple[str, ...]


@dataclass
class Look:
    """The first rows of a sheet as they would be written, and what is odd about them."""

    moves: list[tuple[int, Plain]] = field(default_factory=list)
    faults: list[Said] = field(default_factory=list)
    notes: list[Said] = field(default_factory=list)
    left_out: list[tuple[int, str]] = field(default_factory=list)
    names: list[str] = field(default_factory=list)  # of who did it, each once, as far as `MOST_NAMES`
    rows: int = 0
    whole: bool = False  # all of the sheet was looked at


def headers_of(sheet: Sheet, head: int) -> list[str]:
    """Return the headers, each by a name that no other has; a column without one by its letter."""
    found = next((cells for number, cells in islice(sheet.rows(), MOST_HEAD) if number == head), [])
    width = max((len(cells) for _, cells in islice(sheet.rows(), MOST_HEAD)), default=0)
    names: list[str] = []
    for place in range(min(width, MOST_COLUMNS)):
        text = text_of(found[place])[:80] if place < len(found) else ""
        name = text or f"column {letter(place)}"
        names.append(f"{name} ({letter(place)})" if name in names else name)
    return names


def letter(place: int) -> str:
    """Return the letters of a column as a spreadsheet has them."""
    return (chr(64 + place // 26) if place >= 26 else "") + chr(65 + place % 26)


def columns_of(sheet: Sheet, head: int) -> list[Column]:
    """Return the columns with what stands in their first cells."""
    headers = headers_of(sheet, head)
    below = [texts for number, texts in first_rows(sheet, MOST_HEAD + 40) if number > head]
    return [
        Column(place, header, _samples([texts[place] for texts in below if place < len(texts)]))
        for place, header in enumerate(headers)
    ]


def _samples(texts: list[str]) -> tuple[str, ...]:
    return tuple(list(dict.fromkeys(text[:40] for text in texts if text))[:SAMPLES])


def first_matching(sheet: Sheet, workshop: Workshop, by: str, head: int | None = None) -> Matching:
    """Return the matching to begin with: what was chosen for the same headers before, else what they probably mean."""
    head = head or head_of(first_rows(sheet, MOST_HEAD))
    headers = headers_of(sheet, head)
    known = SheetMatching.objects.filter(workshop=workshop, headers=digest_of(headers)).first()
    if known is not None:
        return Matching.of({**known.matching, "sheet": sheet.name, "head": head, "leave_out": False})
    columns, units = guessed(headers)
    day = next((place for place, meaning in columns.items() if meaning == "day"), 0)
    days = [texts[day] for number, texts in first_rows(sheet, LOOKED_AT) if number > head and day < len(texts)]
    comma = sheet.delimiter == ";"
    return Matching(
        sheet=sheet.name,
        head=head,
        columns=columns,
        units=units,
        order=order_of(days, "mdy" if workshop.day_order == "mdy" else "dmy"),
        mark="," if comma else ".",
        cylinder="Stock",
        tank="Recovery",
        partner="Not named",
        person="" if "person" in columns.values() else by,
    )


def remember(workshop: Workshop, headers: list[str], matching: Matching) -> None:
    """Keep what was chosen, for the next sheet with the same headers."""
    SheetMatching.objects.update_or_create(
        workshop=workshop, headers=digest_of(headers), defaults={"matching": matching.kept()}
    )


def look(sheet: Sheet, matching: Matching, zone: ZoneInfo) -> Look:
    """Return the first rows as they would be written."""
    found = Look()
    reader = Reader(matching, headers_of(sheet, matching.head), zone)
    rows = understood(reader, sheet.rows())
    for said in islice(rows, LOOKED_AT):
        found.rows += 1
        found.moves += [(said.row, move) for move in said.moves]
        found.faults += said.faults
        found.notes += said.notes
        if said.left_out:
            found.left_out.append((said.row, said.left_out))
    named = dict.fromkeys(move["person"] for _, move in found.moves)
    found.names = list(islice(named, MOST_NAMES))
    found.whole = _ended(rows)
    return found


def _ended(rows: Iterator[object]) -> bool:
    return next(rows, None) is None
