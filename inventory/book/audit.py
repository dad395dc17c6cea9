"""Proof of a mass book by reading alone: chain, lines, holdings, totals. What `manage.py verify` prints.

A book is read in chunks of entries up to its head, so that memory stays flat however long it is. Read it inside
`snapshot`, or what writers do in between looks like a fault. The digest is recomputed here from the rows by code of its
own: a slip in the writing is not repeated in the proof.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import QuerySet

from inventory import causes
from inventory.book.chain import VERSION
from inventory.book.ledger import CLOSED
from inventory.gases.catalogue import MIXED
from inventory.models import Account, Book, Entry, Holding, Movement, PeriodTotal, Scale, Weighing
from inventory.models.totals import ADDED, ALIKE

CHUNK = 2_000  # entries read at a time
OF_EXPLAINED = tuple(f"explains__{name}" for name in ("entry__seq", "line", "book_id", "target_id", "mass_mg"))
_EPOCH = datetime.fromisoformat("1970-01-01T00:00:00+00:00")
_MILLISECOND = timedelta(milliseconds=1)
# As the ledger writes it; one encoder for all rows, since making one costs as much as using it.
_encode = json.JSONEncoder(ensure_ascii=True, separators=(",", ":")).encode


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


_Row = Any  # a row of a table's columns by their names, with those that are asked for of what it names


def _rows(rows: QuerySet[Any], *beyond: str) -> Iterable[_Row]:
    """Return rows as plain named tuples: making records of a whole book would take most of the time."""
    columns = [column.attname for column in rows.model._meta.concrete_fields]
    return rows.values_list(*columns, *beyond, named=True)


@contextmanager
def snapshot(using: str = "default") -> Iterator[None]:
    """Let every query inside see one moment of the database, without keeping writers out.

    Joins a transaction that is open already, whatever that one sees.
    """
    connection = connections[using]
    if connection.in_atomic_block or _reads_already(connection):
        yield
    elif connection.vendor == "sqlite":
        # Not atomic(): that takes the write lock at once, and a long reading would hold up every writer.
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic(using=using), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield


def _reads_already(connection: BaseDatabaseWrapper) -> bool:
    """Whether a snapshot is open on SQLite, of which Django does not know."""
    return connection.vendor == "sqlite" and bool(connection.connection and connection.connection.in_transaction)


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
    """One pass over a book, from its first entry to its head."""

    book: Book
    using: str
    previous: str = ""
    last_seq: int = 0
    closed: date | None = None
    references: dict[int, str] = field(default_factory=dict)
    kinds: dict[int, str] = field(default_factory=dict)
    scales: dict[int | None, int] = field(default_factory=lambda: {None: 0})
    balances: dict[int, dict[tuple[str, str], int]] = field(default_factory=lambda: defaultdict(dict))
    unexplained: dict[int, int] = field(default_factory=dict)  # what is left of a difference, by its movement
    totals: dict[Any, list[float]] = field(default_factory=dict)  # of days and months, as PeriodTotal has them

    def faults(self) -> Iterator[Fault]:
        accounts = Account.objects.using(self.using).filter(book=self.book)
        for pk, number, kind in accounts.values_list("pk", "number", "kind"):
            self.references[pk], self.kinds[pk] = f"{kind}:{number}", kind
        self.scales.update(Scale.objects.using(self.using).filter(book=self.book).values_list("pk", "number"))
        yield from self._chain()
        yield from self._head()
        yield from self._holdings()
        yield from self._totals()

    def _chain(self) -> Iterator[Fault]:
        """Look at every entry up to the head."""
        for first in range(1, self.book.head_seq + 1, CHUNK):
            bounds = (first, min(first + CHUNK - 1, self.book.head_seq))
            movements = self._lines(Movement, bounds, *OF_EXPLAINED)
            weighings = self._lines(Weighing, bounds)
            rows = Entry.objects.using(self.using).filter(book=self.book, seq__range=bounds).order_by("seq")
            for entry in _rows(rows, "reverses__seq", "reverses__book_id"):
                if entry.seq != self.last_seq + 1:
                    yield Fault(f"line {self.last_seq + 1}", f"is not in the book; after it comes line {entry.seq}")
                self.last_seq = entry.seq
                yield from self._entry(entry, movements.get(entry.id, []), weighings.get(entry.id, []))
                self.previous = entry.digest

    def _lines(self, model: Any, bounds: tuple[int, int], *beyond: str) -> dict[int, list[_Row]]:
        """Return the lines of the entries within `bounds`, by entry, in their order."""
        rows = model.objects.using(self.using).filter(entry__book=self.book, entry__seq__range=bounds)
        by_entry: dict[int, list[_Row]] = defaultdict(list)
        for row in _rows(rows.order_by("entry__seq", "line"), *beyond):
            by_entry[row.entry_id].append(row)
        return by_entry

    def _entry(self, entry: _Row, movements: list[_Row], weighings: list[_Row]) -> Iterator[Fault]:
        """Look at one entry with its lines; where a line cannot be read as one of this book, at nothing further."""
        strangers = [*self._strangers(entry, movements, weighings)]
        if strangers:
            yield from strangers
            return
        facts = self._facts(entry, movements, weighings)
        if hashlib.sha256(_encode(facts).encode("ascii")).hexdigest() != entry.digest:
            yield Fault(f"line {entry.seq}", "is not what was written: its digest does not follow from what is there")
        yield from self._rules(entry, movements)
        if entry.reverses_id is not None:
            yield from self._reversal(entry, entry.reverses_id, movements)
        yield from self._carry(entry, movements)

    def _strangers(self, entry: _Row, movements: list[_Row], weighings: list[_Row]) -> Iterator[Fault]:
        """Look for what another book owns."""
        if entry.reverses_id is not None and entry.reverses__book_id != self.book.pk:
            yield Fault(f"line {entry.seq}", "reverses a line of another book")
        for row in movements:
            if row.source_id not in self.kinds or row.target_id not in self.kinds or row.scale_id not in self.scales:
                yield Fault(f"line {entry.seq}, movement {row.line}", "names an account or a scale of another book")
            elif row.book_id != self.book.pk or row.booked_on != entry.booked_on:
                yield Fault(
                    f"line {entry.seq}, movement {row.line}", "is kept under another book or another day than its line"
                )
            elif row.explains_id is not None and row.explains__book_id != self.book.pk:
                yield Fault(f"line {entry.seq}, movement {row.line}", "explains a difference of another book")
        for weighing in weighings:
            if weighing.account_id not in self.kinds or weighing.scale_id not in self.scales:
                yield Fault(
                    f"line {entry.seq}, weighing {weighing.line}", "names an account or a scale of another book"
                )

    def _facts(self, entry: _Row, movements: list[_Row], weighings: list[_Row]) -> list[object]:
        """Return what the digest of an entry is taken over."""
        return [
            VERSION,
            self.previous,
            str(self.book.uid),
            entry.seq,
            entry.kind,
            (entry.occurred_at - _EPOCH) // _MILLISECOND,
            (entry.recorded_at - _EPOCH) // _MILLISECOND,
            entry.booked_on.isoformat(),
            entry.actor,
            entry.context,
            str(entry.request_key),
            entry.request_digest,
            entry.reverses__seq or 0,
            entry.seals,
            [
                [
                    row.line,
                    row.cause,
                    row.basis,
                    self.references[row.source_id],
                    self.references[row.target_id],
                    row.refrigerant,
                    row.grade,
                    row.mass_mg,
                    row.u_random_mg,
                    row.u_span_mg,
                    self.scales[row.scale_id],
                    row.can_tell_mg,
                    int(row.reversal),
                    "" if row.explains_id is None else f"{row.explains__entry__seq}:{row.explains__line}",
                ]
                for row in movements
            ],
            [
                [
                    row.line,
                    self.references[row.account_id],
                    row.role,
                    row.gross_mg,
                    row.tare_mg,
                    row.u_mg,
                    row.step_mg,
                    self.scales[row.scale_id],
                    row.typed,
                    *([row.raw] if row.raw else []),
                ]
                for row in weighings
            ],
        ]

    def _rules(self, entry: _Row, movements: list[_Row]) -> Iterator[Fault]:
        """Look whether an entry counts for an open day, and whether its lines are in the closed lists."""
        if self.closed is not None and entry.booked_on <= self.closed:
            yield Fault(f"line {entry.seq}", f"counts for {entry.booked_on}; the book was closed through {self.closed}")
        if entry.kind == Entry.CLOSE and entry.context.startswith(CLOSED):
            self.closed = date.fromisoformat(entry.context.removeprefix(CLOSED))
        for row in movements:
            cause = causes.CAUSES.get(row.cause)
            route = (self.kinds[row.source_id], self.kinds[row.target_id])
            if cause is None or route not in cause.routes:
                yield Fault(f"line {entry.seq}, movement {row.line}", f"{row.cause} does not run {' to '.join(route)}")
            if row.reversal != (entry.kind == Entry.REVERSE):
                yield Fault(f"line {entry.seq}, movement {row.line}", "has the mark of a reversal wrongly set")

    def _reversal(self, entry: _Row, reverses: int, movements: list[_Row]) -> Iterator[Fault]:
        """Look whether a reversal is the whole of what it reverses, last line first."""
        columns = ("cause", "source_id", "target_id", "refrigerant", "grade", "mass_mg")
        undone = Movement.objects.using(self.using).filter(entry_id=reverses).order_by("-line")
        written = [(m.cause, m.source_id, m.target_id, m.refrigerant, m.grade, -m.mass_mg) for m in movements]
        if written != list(undone.values_list(*columns)):
            yield Fault(f"line {entry.seq}", f"does not undo the whole of line {entry.reverses__seq}")

    def _carry(self, entry: _Row, movements: list[_Row]) -> Iterator[Fault]:
        """Carry the lines of an entry into the balances; stock holds one content and never less than nothing."""
        in_process = 0
        for row in movements:
            self._count(row)
            for account, change in ((row.source_id, -row.mass_mg), (row.target_id, row.mass_mg)):
                kind = self.kinds[account]
                held = self.balances[account]
                content = (row.refrigerant, row.grade if kind in causes.STOCK_KINDS else "")
                held[content] = held.get(content, 0) + change
                if kind == causes.PROCESS:
                    in_process += change
                elif kind in causes.STOCK_KINDS:
                    yield from self._stock(entry, row, account)
            if row.explains_id is not None:
                yield from self._explanation(entry, row)
        if in_process:
            yield Fault(f"line {entry.seq}", "leaves a rest in the process account")

    def _stock(self, entry: _Row, row: _Row, account: int) -> Iterator[Fault]:
        masses = [mass for mass in self.balances[account].values() if mass]
        if masses and min(masses) < 0:
            yield Fault(f"line {entry.seq}, movement {row.line}", f"takes more than {self.references[account]} held")
        if len(masses) > 1:
            yield Fault(f"line {entry.seq}, movement {row.line}", f"mixes two contents in {self.references[account]}")

    def _explanation(self, entry: _Row, row: _Row) -> Iterator[Fault]:
        """Look whether an explanation leaves nothing less than nothing of its difference."""
        difference = row.explains_id
        if difference not in self.unexplained:
            self.unexplained[difference] = self._lost(row.explains__target_id, row.explains__mass_mg or 0)
        left = self.unexplained[difference]
        after = self.unexplained[difference] = left + self._lost(row.target_id, row.mass_mg)
        if row.cause in causes.USES_UP and not row.reversal and (abs(after) >= abs(left) or after * left < 0):
            yield Fault(f"line {entry.seq}, movement {row.line}", "explains more than was left of the difference")

    def _lost(self, target: int, mass_mg: int) -> int:
        return mass_mg if self.kinds.get(target) == causes.UNEXPLAINED else -mass_mg

    def _head(self) -> Iterator[Fault]:
        """Look whether the chain ends where the book says, and the book is closed as far as the chain says."""
        book = f"book {self.book.name}"
        if self.last_seq < self.book.head_seq:
            yield Fault(f"line {self.last_seq + 1}", f"is not in the book, whose head is line {self.book.head_seq}")
        elif self.previous != self.book.head_digest:
            yield Fault(book, "its head does not carry the digest of its last line")
        beyond = Entry.objects.using(self.using).filter(book=self.book, seq__gt=self.book.head_seq)
        if (seq := beyond.order_by("seq").values_list("seq", flat=True).first()) is not None:
            yield Fault(f"line {seq}", f"stands beyond the head of the book, line {self.book.head_seq}")
        if self.book.closed_through != self.closed:
            says, is_ = self.book.closed_through or "no day", self.closed or "no day"
            yield Fault(book, f"says that it is closed through {says}; its lines close it through {is_}")

    def _holdings(self) -> Iterator[Fault]:
        """Look whether every holding is the sum of its movements."""
        columns = ("account_id", "refrigerant", "grade", "stock", "mass_mg")
        rows = Holding.objects.using(self.using).filter(account__book=self.book).order_by("account__number", "pk")
        for account, code, grade, stock, mass in rows.values_list(*columns):
            moved = self.balances[account].pop((code, grade), 0)
            if moved != mass:
                yield Fault(self._holding(account, code, grade), f"says {mass} mg; its movements say {moved} mg")
            if stock != (self.kinds[account] in causes.STOCK_KINDS):
                yield Fault(self._holding(account, code, grade), "has the mark of stock wrongly set")
        for account, left in self.balances.items():
            for (code, grade), mass in left.items():
                yield Fault(self._holding(account, code, grade), f"is not there; its movements say {mass} mg")

    def _count(self, row: _Row) -> None:
        """Add a movement to the totals of its day and of its month."""
        accounts = (row.source_id, row.target_id)
        kinds = [self.kinds[account] for account in accounts]
        ends = accounts if row.refrigerant == MIXED else (0, 0)
        key = (row.refrigerant, row.grade, row.cause, row.basis, *kinds, row.scale_id or 0, *ends)
        span_mg = row.u_span_mg * (-1 if row.reversal else 1)
        for period in ((False, row.booked_on), (True, row.booked_on.replace(day=1))):
            there = self.totals.setdefault((*period, *key), [0, 0.0, 0, 0])
            for place, more in enumerate((row.mass_mg, float(row.u_random_mg**2), span_mg, 1)):
                there[place] += more

    def _totals(self) -> Iterator[Fault]:
        """Look whether the total of every day and month is the sum of its movements."""
        rows = PeriodTotal.objects.using(self.using).filter(book=self.book).order_by("begins_on", "whole_month", "pk")
        for row in rows.values_list(*ALIKE, *ADDED).iterator():
            key, says = row[: len(ALIKE)], [*row[len(ALIKE) :]]
            moved = self.totals.pop(key, [0, 0.0, 0, 0])
            if moved != says:
                yield Fault(_total(key), f"says {_sums(says)}; its movements say {_sums(moved)}")
        for key, moved in self.totals.items():
            yield Fault(_total(key), f"is not there; its movements say {_sums(moved)}")

    def _holding(self, account: int, code: str, grade: str) -> str:
        return f"holding of {self.references[account]}, {code} {grade}".rstrip()


def _total(key: tuple[Any, ...]) -> str:
    whole_month, begins_on, *rest = key
    alike = " ".join(str(one) for one in rest if one)
    return f"total of {begins_on.strftime('%Y-%m') if whole_month else begins_on}, {alike}"


def _sums(values: list[float]) -> str:
    return ", ".join(f"{name} {value}" for name, value in zip(ADDED, values, strict=True))
