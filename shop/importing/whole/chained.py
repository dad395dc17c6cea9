"""The lines of a whole book: entries with their movements and weighings, read side by side and chained anew."""

import zipfile
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from django.db import connection

from inventory import causes
from inventory.book import chain, totals
from inventory.book import rows as book_rows
from inventory.book.ledger import CLOSED
from inventory.book.rows import Written
from inventory.models import Account, Book, Entry, Holding, Movement, Scale, Weighing
from shop.importing.whole.reading import Keys, NotABook, rows
from shop.importing.whole.tables import ENTRIES, MOVEMENTS, WEIGHINGS

BATCH = 500

Row = dict[str, Any]


@dataclass
class Lines:
    """The lines on their way into a book. `was` is the identity that the book had where the file was written."""

    book: Book
    was: UUID
    keys: Keys
    tell: Callable[[int], None]
    previous: str = ""  # the digest that the file's own chain has reached
    closed: date | None = None
    held: dict[tuple[int, str, str], int] = field(default_factory=lambda: defaultdict(int))
    written: list[Written] = field(default_factory=list)

    def write(self, file: zipfile.ZipFile, counts: Mapping[str, int]) -> None:
        """Write every line and then what each account holds; raises NotABook where the chain does not follow."""
        self.accounts = {account.pk: account for account in Account.objects.filter(book=self.book)}
        self.scales = {scale.pk: scale for scale in Scale.objects.filter(book=self.book)}
        with (
            closing(rows(file, ENTRIES, self.keys, counts[ENTRIES.name])) as entries,
            closing(rows(file, MOVEMENTS, self.keys, counts[MOVEMENTS.name])) as movements,
            closing(rows(file, WEIGHINGS, self.keys, counts[WEIGHINGS.name])) as weighings,
        ):
            moved, read = _ByLine(movements), _ByLine(weighings)
            for _, values in entries:
                self._entry(values, moved.of(values["seq"]), read.of(values["seq"]))
            self._flush()
            moved.end(MOVEMENTS.name)
            read.end(WEIGHINGS.name)
        self._hold()

    def _entry(self, values: Row, moved: list[Row], read: list[Row]) -> None:
        undone = values.pop("reverses_id")
        if undone is not None or any(one["explains_id"] for one in moved) or len(self.written) >= BATCH:
            self._flush()  # what this line names stands then
        written = values.pop("digest")
        entry = Entry(book=self.book, **values)
        if entry.seq != self.book.head_seq + 1:
            raise NotABook(f"entries.csv: after line {self.book.head_seq} comes line {entry.seq}.")
        entry.reverses = Entry.objects.get(pk=self.keys.of(Entry, undone)) if undone is not None else None
        movements = [(row.line, row) for row in (self._movement(entry, one) for one in moved)]
        weighings = [(row.line, row) for row in (self._weighing(entry, one) for one in read)]
        line = Written(entry, movements, weighings)
        self.previous = self._digest(self.was, self.previous, line)
        if self.previous != written:
            raise NotABook(f"Line {entry.seq} is not what was written: its digest does not follow from the file.")
        same = self.was == self.book.uid
        mine = self.book.head_digest
        entry.digest = written if same else self._digest(self.book.uid, mine, line)
        self.book.head_seq, self.book.head_digest = entry.seq, entry.digest
        if entry.kind == Entry.CLOSE and entry.context.startswith(CLOSED):
            self.closed = date.fromisoformat(entry.context.removeprefix(CLOSED))
        self.written.append(line)

    def _digest(self, uid: UUID, previous: str, line: Written) -> str:
        return chain.entry_digest(Book(uid=uid), previous, line.entry, line.movements, line.weighings)

    def _movement(self, entry: Entry, values: Row) -> Movement:
        explained = values.pop("explains_id")
        row = Movement(entry=entry, book=self.book, **values)
        if row.booked_on != entry.booked_on:
            raise NotABook(f"movements.csv counts line {entry.seq} for {row.booked_on}, not {entry.booked_on}.")
        row.source, row.target = self.accounts[row.source_id], self.accounts[row.target_id]
        row.scale = self.scales[row.scale_id] if row.scale_id else None
        row.explains = self._explained(explained) if explained else None
        for account, mass in ((row.source, -row.mass_mg), (row.target, row.mass_mg)):
            grade = row.grade if account.kind in causes.STOCK_KINDS else ""
            self.held[account.pk, row.refrigerant, grade] += mass
        return row

    def _explained(self, named: str) -> Movement:
        seq, _, line = named.partition(":")
        of_line = Movement.objects.filter(entry_id=self.keys.of(Entry, seq), line=int(line or 0))
        if (found := of_line.select_related("entry").first()) is None:
            raise NotABook(f"movements.csv explains {named}, which is not in the file.")
        return found

    def _weighing(self, entry: Entry, values: Row) -> Weighing:
        row = Weighing(entry=entry, **values)
        row.account, row.scale = self.accounts[row.account_id], self.scales[row.scale_id]
        return row

    def _flush(self) -> None:
        if not self.written:
            return
        with connection.cursor() as cursor:
            book_rows.insert(cursor, self.written)
            moved = [(line.entry.booked_on, row) for line in self.written for _, row in line.movements]
            totals.add(cursor, self.book, moved)
        for line in self.written:
            self.keys.learn(Entry, str(line.entry.seq), line.entry.pk)
        self.tell(sum(1 + len(line.movements) + len(line.weighings) for line in self.written))
        self.written = []

    def _hold(self) -> None:
        Holding.objects.bulk_create(
            (
                Holding(
                    account_id=account,
                    refrigerant=code,
                    grade=grade,
                    stock=self.accounts[account].kind in causes.STOCK_KINDS,
                    mass_mg=mass,
                )
                for (account, code, grade), mass in self.held.items()
            ),
            batch_size=BATCH,
        )


class _ByLine:
    """Rows of a table by the line they belong to, taken in order."""

    def __init__(self, found: Iterator[tuple[int, Row]]) -> None:
        self.found = found
        self.next = self._take()

    def _take(self) -> Row | None:
        return next((values for _, values in self.found), None)

    def of(self, seq: int) -> list[Row]:
        """Return the rows of a line."""
        taken = []
        while (row := self.next) is not None and row["entry_id"] == str(seq):
            del row["entry_id"]
            taken.append(row)
            self.next = self._take()
        return taken

    def end(self, name: str) -> None:
        if self.next is not None:
            raise NotABook(f"{name}.csv has rows of line {self.next['entry_id']}, which stand out of order.")
