"""Reading a year that was kept elsewhere: a CSV file, row by row, into a temporary table that sorts by time.

Memory does not grow with the file. Every row that cannot be read is a `Fault` with its line number.
"""

import csv
import json
import sqlite3
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from inventory import causes
from inventory.book import ledger
from inventory.book.refusals import LedgerError
from inventory.gases.catalogue import find
from inventory.measure.masses import read_mass

REQUIRED = (
    "occurred_at",
    "cause",
    "refrigerant",
    "grade",
    "from_kind",
    "from_name",
    "to_kind",
    "to_name",
    "mass",
    "person",
    "note",
)
OPTIONAL = ("key", "basis")
KEPT_FAULTS = 1_000
BATCH = 1_000
KEPT_CELLS = 10_000  # of a column: days, masses and words come again and again
LONGEST = {"cylinder": 60, "vehicle": 20, "partner": 120, "rig": 120}
Progress = Callable[[int, int], None]
Readers = Mapping[str, Callable[[str], Any]]


class Fault(NamedTuple):
    """A row that cannot be taken: its line in the file, and why."""

    line: int
    reason: str


class NotImported(Exception):
    """Nothing was written. `faults` holds the first of them, `count` says how many there are."""

    def __init__(self, faults: list[Fault], count: int) -> None:
        self.faults, self.count = faults, count
        super().__init__(f"{count} lines cannot be taken." if count != 1 else "One line cannot be taken.")


@dataclass(frozen=True)
class Row:
    """One row as read; mass in milligrams."""

    line: int
    occurred_at: datetime
    cause: str
    refrigerant: str
    grade: str
    source: tuple[str, str]
    target: tuple[str, str]
    mass_mg: int
    person: str
    note: str
    key: str
    basis: str
    content: Mapping[str, str]


class Faults:
    """The faults found so far: how many, and the first of them."""

    def __init__(self) -> None:
        self.first: list[Fault] = []
        self.count = 0

    def add(self, line: int, reason: str) -> None:
        self.count += 1
        if len(self.first) < KEPT_FAULTS:
            self.first.append(Fault(line, reason))

    def stop_if_any(self) -> None:
        if self.count:
            raise NotImported(sorted(self.first), self.count)


def stage(
    staged: sqlite3.Connection,
    rows: Iterable[tuple[int, dict[str, str]]],
    zone: ZoneInfo,
    faults: Faults,
    progress: Progress,
) -> int:
    """Read every row into a table that sorts by time; return how many there are."""
    staged.execute("PRAGMA synchronous=OFF")
    staged.execute("CREATE TABLE rows (at TEXT, line INTEGER, key TEXT, cells TEXT)")
    count, readers = 0, _readers(zone)
    batch: list[tuple[str, int, str, str]] = []
    for line, cells in rows:
        count += 1
        row = _read(line, cells, readers, faults)
        if row is not None:
            at = row.occurred_at.astimezone(UTC).isoformat(timespec="milliseconds")
            batch.append((at, line, row.key, json.dumps(cells)))
        if len(batch) >= BATCH:
            staged.executemany("INSERT INTO rows VALUES (?, ?, ?, ?)", batch)
            batch.clear()
            progress(0, count)
    staged.executemany("INSERT INTO rows VALUES (?, ?, ?, ?)", batch)
    staged.execute("CREATE INDEX in_order ON rows (at, line)")
    for line, key in staged.execute(_KEYS_APART):
        faults.add(line, f"key: {key!r} stands on rows that do not follow each other in time.")
    return count


# Rows of one key are one entry, so they must follow each other.
_KEYS_APART = """
    SELECT MAX(line), key
    FROM (SELECT line, key, ROW_NUMBER() OVER (ORDER BY at, line) AS place FROM rows)
    WHERE key <> '' GROUP BY key HAVING MAX(place) - MIN(place) + 1 <> COUNT(*) ORDER BY 1
"""


def staged_rows(staged: sqlite3.Connection, zone: ZoneInfo) -> Iterator[Row]:
    """Return the rows that were read, in the order in which they happened."""
    readers = _readers(zone)
    for line, cells in staged.execute("SELECT line, cells FROM rows ORDER BY at, line"):
        row = _read(line, json.loads(cells), readers, Faults())
        if row is not None:
            yield row


def plain_cells(path: Path, faults: Faults) -> Iterator[tuple[int, dict[str, str]]]:
    """Return each row of the file as text by column name; a wrong header or a broken file is a fault."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            head = file.readline()
            delimiter = ";" if head.count(";") > head.count(",") else ","
            names = [name.strip() for name in next(csv.reader([head], delimiter=delimiter), [])]
            if (reason := _header_fault(names)) is not None:
                faults.add(1, reason)
                return
            reader = csv.reader(file, delimiter=delimiter, strict=True)
            for cells in reader:
                line = reader.line_num + 1
                if not any(cell.strip() for cell in cells):
                    continue
                if len(cells) != len(names):
                    faults.add(line, f"It has {len(cells)} cells; the header names {len(names)}.")
                    continue
                yield line, {name: cell.strip() for name, cell in zip(names, cells, strict=True)}
    except UnicodeDecodeError:
        faults.add(1, "The file is not UTF-8 text. Save it as CSV in UTF-8.")
    except csv.Error as error:
        faults.add(1, f"The file cannot be read as CSV: {error}.")
    except OSError as error:
        faults.add(1, f"The file cannot be opened: {error.strerror}.")


def _header_fault(names: list[str]) -> str | None:
    missing = [name for name in REQUIRED if name not in names]
    unknown = [name for name in names if name not in REQUIRED + OPTIONAL]
    if missing:
        return f"The header lacks {', '.join(missing)}."
    if unknown:
        return f"The header names {', '.join(unknown)}, which this import does not know."
    if len(set(names)) != len(names):
        return "The header names a column twice."
    return None


def _read(line: int, cells: Mapping[str, str], readers: Readers, faults: Faults) -> Row | None:
    """Read one row; every cell that cannot be read is a fault of its own."""
    before = faults.count
    found: dict[str, Any] = {"basis": "paper"}
    for name, read in readers.items():
        if name == "basis" and not cells.get(name):
            continue
        try:
            found[name] = read(cells[name])
        except (ValueError, LookupError, LedgerError) as error:
            faults.add(line, f"{name}: {error}")
    for end in ("from", "to"):
        kind = found.get(f"{end}_kind")
        if kind and (reason := _name_fault(kind, cells[f"{end}_name"])) is not None:
            faults.add(line, f"{end}_name: {reason}")
    if {"cause", "from_kind", "to_kind"} <= found.keys():
        cause, *ends = found["cause"], found["from_kind"], found["to_kind"]
        if tuple(ends) not in causes.CAUSES[cause].routes:
            faults.add(line, f"cause: {cause} does not run from {ends[0]} to {ends[1]}.")
    if not cells["person"]:
        faults.add(line, "person: nobody is named.")
    elif len(cells["person"]) > 120:
        faults.add(line, "person: the name is longer than 120 characters.")
    if faults.count != before:
        return None
    source, target = (
        (kind, "" if kind in causes.SINGLE_KINDS else cells[f"{end}_name"])
        for end in ("from", "to")
        for kind in [found[f"{end}_kind"]]
    )
    return Row(
        line=line,
        occurred_at=found["occurred_at"],
        cause=found["cause"],
        refrigerant=found["refrigerant"],
        grade=found["grade"],
        source=source,
        target=target,
        mass_mg=found["mass"],
        person=cells["person"],
        note=cells["note"],
        key=cells.get("key", ""),
        basis=found["basis"],
        content={name: text for name, text in sorted(cells.items()) if name != "key"},
    )


def _readers(zone: ZoneInfo) -> Readers:
    """Return how the cells of a row are read, by column; what was read lately is known yet."""
    kind = _one_of(causes.ACCOUNT_KINDS, "a kind of account")
    readers: Readers = {
        "occurred_at": lambda text: _moment(text, zone),
        "cause": _one_of(causes.CAUSES, "a cause"),
        "refrigerant": lambda text: find(text).code,
        "grade": _one_of(causes.GRADES, "a grade"),
        "from_kind": kind,
        "to_kind": kind,
        "mass": _mass_mg,
        "basis": _one_of(causes.BASES, "a basis"),
    }
    return {name: lru_cache(KEPT_CELLS)(read) for name, read in readers.items()}


def _one_of(known: Collection[str], what: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in known:
            raise ValueError(f"{text!r} is not {what}." if text else "It is empty.")
        return text

    return read


def _mass_mg(text: str) -> int:
    mass_mg = int(read_mass(text).mg)
    if mass_mg <= 0:
        raise ValueError("A movement is of more than nothing.")
    return mass_mg


def _moment(text: str, zone: ZoneInfo) -> datetime:
    """Return a moment; a bare date counts as its noon, a time without zone is the book's."""
    try:
        bare = len(text) == 10
        moment = datetime.combine(date.fromisoformat(text), time(12)) if bare else datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a date (2025-03-04) or a date with a time (2025-03-04T10:30).") from None
    moment = moment if moment.tzinfo else moment.replace(tzinfo=zone)
    ledger.moments(moment)
    return moment


def _name_fault(kind: str, name: str) -> str | None:
    if kind in causes.SINGLE_KINDS:
        return None if name in ("", kind) else f"There is only one account {kind}; leave its name empty."
    if not name:
        return f"The {kind} has no name."
    if len(name) > LONGEST[kind]:
        return f"A {kind} has a name of {LONGEST[kind]} characters at most."
    return None
