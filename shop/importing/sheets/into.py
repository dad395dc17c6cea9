"""A matched sheet into the book: every row read, then all of it written in one transaction, as a plain file is.

What a later file has of the same rows adds nothing. Opening stock, where it is reckoned, is the least that the new rows
need of each cylinder beyond what the book has in it.
"""

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import chain, islice
from pathlib import Path
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.db import transaction

from inventory import causes
from inventory.measure.marks import mark
from inventory.models import Entry, Holding
from shop.importing.people import MOST_NAMES
from shop.importing.read import BATCH, Faults, Progress, Row, stage, staged_rows
from shop.importing.sheets.columns import Matching
from shop.importing.sheets.moves import Plain, Reader, Understood, understood
from shop.importing.sheets.opening import NotASheet, Sheet
from shop.importing.write import Imported, Writer, row_key
from shop.models import Workshop

TOLD = 300  # rows whose notes are kept
LEFT_OUT = 5_000  # rows left out that are kept with why: the list of them is a file


@dataclass
class Told:
    """What is said of a sheet that was read: rows left out and why, notes, cylinders with reckoned opening stock."""

    left_out: list[tuple[int, str]] = field(default_factory=list)
    left_out_count: int = 0  # rows
    last_left_out: int = 0
    notes: list[tuple[int, str, str]] = field(default_factory=list)
    notes_count: int = 0
    opened: list[tuple[str, str, int]] = field(default_factory=list)  # cylinder, refrigerant and grade, milligrams
    people: dict[str, str] = field(default_factory=dict)  # the names in it, each to the handle of who was meant
    recycled: list[str] = field(default_factory=list)  # cylinders that are both recovered into and charged from

    def leave(self, row: int, why: str) -> None:
        """Keep why something of a row was left out; rows come in their order."""
        self.left_out_count += row != self.last_left_out
        self.last_left_out = row
        if len(self.left_out) < LEFT_OUT:
            self.left_out.append((row, why))

    def of(self, said: Understood) -> None:
        """Keep what is said of one row."""
        if said.left_out:
            self.leave(said.row, said.left_out)
        self.notes_count += len(said.notes)
        self.notes += [(one.row, one.column, one.words) for one in said.notes[: TOLD - len(self.notes)]]


class _LeftOut(Faults):
    """What cannot be read of a movement, where its row is left out for it."""

    def __init__(self, told: Told) -> None:
        super().__init__()
        self.told = told

    def add(self, line: int, reason: str) -> None:
        self.count += 1
        self.told.leave(line, reason)


def faults_of(said: Understood) -> Iterator[tuple[int, str]]:
    """Yield the faults of a row as they are listed: with the column before the sentence."""
    for one in said.faults:
        yield one.row, f"{one.column}: {one.words}" if one.column else f": {one.words}"


def import_sheet(
    sheet: Sheet,
    headers: list[str],
    matching: Matching,
    workshop: Workshop,
    by: str,
    *,
    progress: Progress = lambda done, total: None,
) -> tuple[Imported, Told]:
    """Write a sheet into a workshop's book, in one transaction; raises `NotImported` with every fault.

    `by` is who brings it: named for opening stock. Where the matching says so, rows with faults are left out.
    """
    zone, faults, told = ZoneInfo(workshop.book.zone), Faults(), Told()
    reader = Reader(matching, headers, zone)
    with tempfile.TemporaryDirectory() as folder, closing(sqlite3.connect(Path(folder) / "rows")) as staged:
        plain = _plain(understood(reader, sheet.rows()), faults, told, leave_out=matching.leave_out)
        try:
            stage(staged, plain, zone, _LeftOut(told) if matching.leave_out else faults, progress)
            ((total,),) = staged.execute("SELECT count(*) FROM rows")
        except NotASheet as error:
            faults.add(0, f": {error}")
            total = 0
        if total == 0 and not faults.count:
            faults.add(matching.head, ": There is no row with a day and an amount below the headers.")
        faults.stop_if_any()
        tanks = _Tanks.of(staged)
        told.recycled = sorted(tanks.recycled.values())

        def rows() -> Iterator[Row]:
            return map(tanks.graded, staged_rows(staged, zone))

        with transaction.atomic(durable=True):
            writer = Writer(workshop, faults, progress, total, matching.people)
            opened = _reckoned(rows(), writer, by, told) if matching.reckon_stock else []
            result = writer.write(chain(opened, rows()))
            faults.stop_if_any()
    told.people = {name: one.handle for name, one in islice(writer.named.found.items(), MOST_NAMES)}
    return replace(result, rows=total), told


def _plain(found: Iterator[Understood], faults: Faults, told: Told, *, leave_out: bool) -> Iterator[tuple[int, Plain]]:
    """Yield the movements of a sheet; keep what is said of its rows."""
    for said in found:
        told.of(said)
        for row, words in faults_of(said):
            if leave_out:
                told.leave(row, words.removeprefix(": "))
            else:
                faults.add(row, words)
        for move in said.moves:
            yield said.row, move


@dataclass(frozen=True)
class _Tanks:
    """What the sheet says of its cylinders, by what counts of their names."""

    recycled: dict[str, str]  # recovered into and charged from: a machine's tank
    recovered: set[str]  # recovered into, and neither charged from nor filled otherwise

    @classmethod
    def of(cls, staged: sqlite3.Connection) -> "_Tanks":
        def named(end: str, *of_causes: str) -> dict[str, str]:
            asked = "SELECT DISTINCT json_extract(cells, ?), json_extract(cells, '$.cause') FROM rows"
            rows = staged.execute(asked, (f"$.{end}_name",))
            return {mark(name): name for name, cause in rows if cause in of_causes}

        into, out = named("to", "recovery"), named("from", "charge")
        filled = named("to", "purchase", "opening-stock")
        recycled = {key: name for key, name in into.items() if key in out and key not in filled}
        return cls(recycled, into.keys() - out.keys() - filled.keys())

    def graded(self, row: Row) -> Row:
        """Return a row with the grade that its cylinder's content has."""
        ends = {mark(name) for kind, name in (row.source, row.target) if kind == causes.CYLINDER}
        if ends & self.recycled.keys():
            return replace(row, grade="recycled")
        if row.source[0] == causes.CYLINDER and mark(row.source[1]) in self.recovered:
            return replace(row, grade="recovered")
        return row


@dataclass
class _Need:
    """What one cylinder holds as rows go by, and the least that it ever came to."""

    first: Row
    name: str
    held_mg: int = 0
    least_mg: int = 0


def _reckoned(rows: Iterator[Row], writer: Writer, by: str, told: Told) -> list[Row]:
    """Return opening stock for cylinders of which the new rows take more than is in them."""
    needs: dict[str, _Need] = {}
    first: datetime | None = None
    while batch := list(islice(rows, BATCH)):
        keys = [row_key(writer.book, row) for row in batch]
        there = Entry.objects.filter(book=writer.book, request_key__in=keys).values_list("request_key", flat=True)
        known = set(there)
        for row in (row for row, key in zip(batch, keys, strict=True) if key not in known):
            first = first or row.occurred_at
            for (kind, name), mass in ((row.source, -row.mass_mg), (row.target, row.mass_mg)):
                if kind == causes.CYLINDER:
                    if mark(name) not in needs:
                        needs[mark(name)] = _begun(writer, row, name)
                    need = needs[mark(name)]
                    need.held_mg += mass
                    need.least_mg = min(need.least_mg, need.held_mg)
    short = [need for need in needs.values() if need.least_mg < 0]
    told.opened = [(one.name, f"{one.first.refrigerant} {one.first.grade}", -one.least_mg) for one in short]
    return [_opening(need, first, by) for need in short if first]


def _begun(writer: Writer, row: Row, name: str) -> _Need:
    account = writer.accounts.get((causes.CYLINDER, name)) or writer.accounts.get((causes.CYLINDER, mark(name)))
    held = Holding.objects.filter(account=account, refrigerant=row.refrigerant, grade=row.grade) if account else ()
    mass = sum(int(one.mass_mg) for one in held)
    return _Need(row, name, mass)


def _opening(need: _Need, first: datetime, by: str) -> Row:
    """Return the opening stock of a cylinder, from the first of the year in which the rows begin."""
    key = uuid4().hex
    begins = first.replace(month=1, day=1, hour=0, minute=0, second=0, microsecond=0)
    note = "Reckoned: the least that the rows of a sheet kept elsewhere need. Not weighed."
    content = {"opening": need.name, "mass_mg": str(-need.least_mg), "key": key}
    return Row(
        line=need.first.line,
        occurred_at=begins,
        cause="opening-stock",
        refrigerant=need.first.refrigerant,
        grade=need.first.grade,
        source=(causes.OPENING, ""),
        target=(causes.CYLINDER, need.name),
        mass_mg=-need.least_mg,
        person=by,
        note=note,
        key=key,
        basis="paper",
        content=content,
    )
