"""Proof of a mass book by reading alone: the chain, the lines, the holdings. What `manage.py verify` prints.

The book is read in chunks of entries up to the head that it had when the reading began, so that memory stays flat
however long the book is. Read inside `snapshot`, or writers in between look like faults.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import connections, transaction

from inventory import causes
from inventory.ledger import VERSION
from inventory.models import Account, Book, Entry, Holding, Movement, Scale, Weighing

CHUNK = 2_000  # entries read at a time
_EPOCH = datetime.fromisoformat("1970-01-01T00:00:00+00:00")
_MILLISECOND = timedelta(milliseconds=1)
# As the ledger writes it; one encoder for all rows, since making one costs as much as using it.
_encode = json.JSONEncoder(ensure_ascii=True, separators=(",", ":")).encode

_ENTRY = (
    "pk",
    "seq",
    "kind",
    "occurred_at",
    "recorded_at",
    "booked_on",
    "actor",
    "context",
    "request_key",
    "request_digest",
    "reverses_id",
    "reverses__seq",
    "reverses__book_id",
    "seals",
    "digest",
)
_MOVEMENT = (
    "entry_id",
    "pk",
    "book_id",
    "booked_on",
    "source_id",
    "target_id",
    "scale_id",
    "explains_id",
    "explains__entry__seq",
    "explains__line",
    "explains__book_id",
    "line",
    "cause",
    "basis",
    "refrigerant",
    "grade",
    "mass_mg",
    "u_random_mg",
    "u_span_mg",
    "can_tell_mg",
    "reversal",
)
_WEIGHING = (
    "entry_id",
    "pk",
    "line",
    "account_id",
    "role",
    "gross_mg",
    "tare_mg",
    "u_mg",
    "step_mg",
    "scale_id",
    "typed",
)


@dataclass(frozen=True)
class Fault:
    """One row that is not as it must be: which one, and what about it."""

    row: str
    words: str

    def __str__(self) -> str:
        return f"{self.row}: {self.words}"


@dataclass(frozen=True)
class Count:
    """How much a book holds."""

    entries: int
    movements: int
    weighings: int


@contextmanager
def snapshot(using: str = "default") -> Iterator[None]:
    """Let every query inside see one moment of the database, without keeping writers out.

    Joins a transaction that is open already, whatever it sees.
    """
    connection = connections[using]
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        # Not atomic(): that takes the write lock at once, and a long reading would hold up every writer.
        connection.ensure_connection()
        connection.cursor().execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            connection.cursor().execute("ROLLBACK")
    else:
        with transaction.atomic(using=using):
            connection.cursor().execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield


def count(book: Book, using: str = "default") -> Count:
    """Return how many entries, movements and weighings a book holds."""
    return Count(
        Entry.objects.using(using).filter(book=book).count(),
        Movement.objects.using(using).filter(entry__book=book).count(),
        Weighing.objects.using(using).filter(entry__book=book).count(),
    )


def faults(book: Book, using: str = "default") -> Iterator[Fault]:
    """Yield what is wrong in a book, the first wrong row first; nothing where it is as it was written."""
    return _Reading(Book.objects.using(using).get(pk=book.pk), using).faults()


@dataclass
class _Reading:
    """One pass over a book, from the first entry to the head."""

    book: Book
    using: str
    previous: str = ""
    balances: dict[int, dict[tuple[str, str], int]] = field(default_factory=lambda: defaultdict(dict))
    accounts: dict[int, tuple[str, str]] = field(default_factory=dict)  # reference, kind
    scales: dict[int, int] = field(default_factory=dict)
    differences: dict[int, int] = field(default_factory=lambda: defaultdict(int))  # explained, by movement

    def faults(self) -> Iterator[Fault]:
        book, using = self.book, self.using
        for pk, number, kind in Account.objects.using(using).filter(book=book).values_list("pk", "number", "kind"):
            self.accounts[pk] = f"{kind}:{number}", kind
        self.scales = dict(Scale.objects.using(using).filter(book=book).values_list("pk", "number"))
        expected = 1
        for first in range(1, book.head_seq + 1, CHUNK):
            last = min(first + CHUNK - 1, book.head_seq)
            movements = self._lines(Movement, _MOVEMENT, first, last)
            weighings = self._lines(Weighing, _WEIGHING, first, last)
            entries = Entry.objects.using(using).filter(book=book, seq__range=(first, last)).order_by("seq")
            for entry in entries.values_list(*_ENTRY):
                seq = entry[1]
                if seq != expected:
                    yield Fault(f"line {expected}", "is not in the book; the next one there is line {seq}")
                expected = seq + 1
                yield from self._entry(entry, movements.get(entry[0], []), weighings.get(entry[0], []))
        yield from self._head(expected - 1)
        yield from self._explained()
        yield from self._holdings()

    def _lines(self, model: Any, columns: tuple[str, ...], first: int, last: int) -> dict[int, list[tuple[Any, ...]]]:
        """Return the lines of the entries from `first` to `last`, by entry, in their order."""
        rows = model.objects.using(self.using).filter(entry__book=self.book, entry__seq__range=(first, last))
        by_entry: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
        for row in rows.order_by("entry__seq", "line").values_list(*columns):
            by_entry[row[0]].append(row)
        return by_entry

    def _entry(
        self, entry: tuple[Any, ...], movements: list[tuple[Any, ...]], weighings: list[tuple[Any, ...]]
    ) -> Iterator[Fault]:
        pk, seq, kind, occurred, recorded, booked_on, actor, context, key, request, reverses, reversed_seq, *rest = (
            entry
        )
        reversed_book, seals, digest = rest
        name = f"line {seq}"
        strange = False
        for row in movements:
            for fault in self._movement(seq, booked_on, row):
                strange = True
                yield fault
        for row in weighings:
            if row[3] not in self.accounts or row[9] not in self.scales:
                strange = True
                yield Fault(f"line {seq}, weighing {row[2]}", "names an account or a scale of another book")
        if reverses is not None and reversed_book != self.book.pk:
            strange = True
            yield Fault(name, "reverses a line of another book")
        if strange:
            self.previous = digest
            return
        facts = [
            VERSION,
            self.previous,
            str(self.book.uid),
            seq,
            kind,
            (occurred - _EPOCH) // _MILLISECOND,
            (recorded - _EPOCH) // _MILLISECOND,
            booked_on.isoformat(),
            actor,
            context,
            str(key),
            request,
            reversed_seq or 0,
            seals,
            [self._movement_facts(row) for row in movements],
            [self._weighing_facts(row) for row in weighings],
        ]
        self.previous = digest
        if hashlib.sha256(_encode(facts).encode("ascii")).hexdigest() != digest:
            yield Fault(name, "is not what was written: its digest does not follow from what stands there")
        if kind == Entry.REVERSE:
            yield from self._reversal(name, reverses, movements)
        yield from self._carry(name, movements)

    def _movement(self, seq: int, booked_on: Any, row: tuple[Any, ...]) -> Iterator[Fault]:
        """Look at what the digest does not hold, and whether the line is in the closed lists."""
        name = f"line {seq}, movement {row[11]}"
        source, target = self.accounts.get(row[4]), self.accounts.get(row[5])
        if source is None or target is None or (row[6] is not None and row[6] not in self.scales):
            yield Fault(name, "names an account or a scale of another book")
            return
        if row[2] != self.book.pk or row[3] != booked_on:
            yield Fault(name, "is kept under another book or another day than its line")
        if row[7] is not None and row[10] != self.book.pk:
            yield Fault(name, "explains a difference of another book")
        cause = causes.CAUSES.get(row[12])
        if cause is None or (source[1], target[1]) not in cause.routes:
            yield Fault(name, f"{row[12]} does not run from {source[1]} to {target[1]}")

    def _movement_facts(self, row: tuple[Any, ...]) -> list[object]:
        return [
            row[11],
            row[12],
            row[13],
            self.accounts[row[4]][0],
            self.accounts[row[5]][0],
            row[14],
            row[15],
            row[16],
            row[17],
            row[18],
            self.scales[row[6]] if row[6] is not None else 0,
            row[19],
            int(row[20]),
            f"{row[8]}:{row[9]}" if row[7] is not None else "",
        ]

    def _weighing_facts(self, row: tuple[Any, ...]) -> list[object]:
        return [row[2], self.accounts[row[3]][0], *row[4:9], self.scales[row[9]], row[10]]

    def _reversal(self, name: str, reverses: int, movements: list[tuple[Any, ...]]) -> Iterator[Fault]:
        """Look whether a reversal is the whole of what it reverses, last line first."""
        columns = ("source_id", "target_id", "refrigerant", "grade", "mass_mg")
        undone = Movement.objects.using(self.using).filter(entry_id=reverses).order_by("-line").values_list(*columns)
        written = [(row[4], row[5], row[14], row[15], -row[16]) for row in movements]
        if written != list(undone):
            yield Fault(name, "does not undo the whole of the line that it reverses")

    def _carry(self, name: str, movements: list[tuple[Any, ...]]) -> Iterator[Fault]:
        """Carry the lines of an entry into the balances; stock holds one content and never less than nothing."""
        in_process = 0
        for row in movements:
            mass = row[16]
            if row[7] is not None:
                self.differences[row[7]] += mass
            for account, change in ((row[4], -mass), (row[5], mass)):
                reference, kind = self.accounts[account]
                stock = kind in causes.STOCK_KINDS
                content = (row[14], row[15] if stock else "")
                held = self.balances[account]
                held[content] = held.get(content, 0) + change
                if kind == causes.PROCESS:
                    in_process += change
                if stock and held[content] < 0:
                    yield Fault(f"{name}, movement {row[11]}", f"leaves {reference} with less than nothing")
                if stock and held[content] and sum(1 for other in held.values() if other) > 1:
                    yield Fault(f"{name}, movement {row[11]}", f"mixes two contents in {reference}")
        if in_process:
            yield Fault(name, "leaves a rest in the process account")

    def _head(self, last: int) -> Iterator[Fault]:
        """Look whether the chain ends where the book says."""
        if last < self.book.head_seq:
            yield Fault(f"line {last + 1}", f"is not in the book, whose head is line {self.book.head_seq}")
        elif self.previous != self.book.head_digest:
            yield Fault(f"book {self.book.name}", "its head does not carry the digest of its last line")
        beyond = Entry.objects.using(self.using).filter(book=self.book, seq__gt=self.book.head_seq)
        if (entry := beyond.order_by("seq").first()) is not None:
            yield Fault(f"line {entry.seq}", f"stands beyond the head of the book, line {self.book.head_seq}")

    def _explained(self) -> Iterator[Fault]:
        return iter(())

    def _holdings(self) -> Iterator[Fault]:
        """Look whether every holding is the sum of its movements."""
        rows = Holding.objects.using(self.using).filter(account__book=self.book).order_by("account__number", "pk")
        for account, code, grade, stock, mass in rows.values_list(
            "account_id", "refrigerant", "grade", "stock", "mass_mg"
        ):
            reference, kind = self.accounts[account]
            name = f"holding of {reference}, {code} {grade}".rstrip()
            moved = self.balances[account].pop((code, grade), None)
            if stock != (kind in causes.STOCK_KINDS):
                yield Fault(name, "is marked as stock where it is not, or the reverse")
            if moved != mass:
                yield Fault(name, f"says {mass} mg; its movements say {moved or 0} mg")
        for account, left in self.balances.items():
            for (code, grade), mass in left.items():
                name = f"holding of {self.accounts[account][0]}, {code} {grade}".rstrip()
                yield Fault(name, f"is not there; its movements say {mass} mg")
