"""Proof of a mass book by reading alone: chain, lines, holdings, totals. What `manage.py verify` prints.

A book is read in chunks of entries up to its head, so that memory stays flat however long it is. Read it inside
`snapshot`, or what writers do in between looks like a fault. The chain (`auditchain`) of a long book is proved in
stretches by processes side by side, the masses (`auditmasses`) in one pass beside them.
"""

import multiprocessing
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from heapq import merge
from itertools import chain, islice
from multiprocessing.pool import Pool

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.sqlite3.base import DatabaseWrapper as SqliteWrapper

from inventory.book.auditchain import Found, Stretch, closed_by
from inventory.book.auditmasses import Masses
from inventory.models import Book, Entry, Movement, Weighing

LONG = 50_000  # lines of a book from which on processes side by side are worth their start
STRETCHES, SHORTEST = 16, 10_000  # of a long book, and how many lines a stretch has at least
MOST = 100  # faults that a stretch tells of
Tell = Callable[[int, int], None]  # of so many lines, how many are proved


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


def count(book: Book, using: str = "default", since: int = 0) -> Count:
    """Return how many entries, movements and weighings a book holds, or how many after the line `since`."""
    return Count(
        Entry.objects.using(using).filter(book=book, seq__gt=since).count(),
        Movement.objects.using(using).filter(entry__book=book, entry__seq__gt=since).count(),
        Weighing.objects.using(using).filter(entry__book=book, entry__seq__gt=since).count(),
    )


@contextmanager
def workers(using: str = "default") -> Iterator[Pool | None]:
    """Yield a process for each core of the machine where a book is long; None where that is not worth it.

    Begin it before `snapshot`: a process must not inherit an open connection. Inside a transaction of the caller's,
    which other processes do not see, there are none.
    """
    connection = connections[using]
    held = connection.in_atomic_block or (isinstance(connection, SqliteWrapper) and connection.is_in_memory_db())
    if held or not Book.objects.using(using).filter(head_seq__gte=LONG).exists():
        yield None
        return
    connections.close_all()
    with multiprocessing.get_context("fork").Pool(len(os.sched_getaffinity(0))) as pool:
        yield pool


def faults(
    book: Book,
    using: str = "default",
    *,
    since: int = 0,
    pool: Pool | None = None,
    tell: Tell = lambda done, lines: None,
) -> Iterator[Fault]:
    """Yield what is wrong in a book, the first wrong row first; nothing where it is as it was written.

    `since`: the lines up to that number are taken as proved, and their masses added up by the database; the totals of
    days and months are then not proved.
    """
    book = Book.objects.using(using).get(pk=book.pk)
    lines, masses, read = book.head_seq - since, Masses(book, using, since), 0

    def half(more: int) -> None:
        nonlocal read
        read += more
        tell(read // 2, lines)  # every line is read twice, for its digest and for its masses

    chained = _chained(book, using, since, pool if lines >= LONG else None, half)
    carried = ((found[0], 1, found) for found in masses.found(half))  # first: the processes are at work meanwhile
    ordered = (found for _, _, found in merge(carried, ((found[0], 0, found) for found in chained)))
    totals = () if since else masses.totals()
    for _, row, words in chain(ordered, _head(book, using), masses.holdings(), totals):
        yield Fault(row, words)


def _chained(book: Book, using: str, since: int, pool: Pool | None, tell: Callable[[int], None]) -> Iterator[Found]:
    """Return the faults of the chain; where there is a pool, its processes begin at once."""
    head = book.head_seq
    if pool is None:
        return Stretch(book, using, since + 1, head).found(tell)
    length = max(SHORTEST, (head - since) // STRETCHES + 1)
    stretches = [(book.pk, using, first, min(first + length - 1, head)) for first in range(since + 1, head + 1, length)]
    proved = pool.imap(_stretch, stretches)

    def found() -> Iterator[Found]:
        for (_, _, first, last), faults_of_it in zip(stretches, proved, strict=True):
            tell(last - first + 1)
            yield from faults_of_it

    return found()


def _stretch(asked: tuple[int, str, int, int]) -> list[Found]:
    """Prove a stretch in a process of its own; lines up to the head are the same in whatever moment it sees."""
    key, using, first, last = asked
    with snapshot(using):
        book = Book.objects.using(using).get(pk=key)
        return list(islice(Stretch(book, using, first, last).found(), MOST))


def _head(book: Book, using: str) -> Iterator[Found]:
    """Look whether the chain ends where the book says, and the book is closed as far as the chain says."""
    named, head = f"book {book.name}", book.head_seq
    entries = Entry.objects.using(using).filter(book=book)
    last = entries.filter(seq__lte=head).order_by("-seq").values_list("seq", "digest").first() or (0, "")
    if last[0] < head:
        yield head, f"line {last[0] + 1}", f"is not in the book, whose head is line {head}"
    elif last[1] != book.head_digest:
        yield head, named, "its head does not carry the digest of its last line"
    if (seq := entries.filter(seq__gt=head).order_by("seq").values_list("seq", flat=True).first()) is not None:
        yield seq, f"line {seq}", f"stands beyond the head of the book, line {head}"
    closed = closed_by(book, using, head)
    if str(book.closed_through or "") != closed:
        says, is_ = book.closed_through or "no day", closed or "no day"
        yield head, named, f"says that it is closed through {says}; its lines close it through {is_}"
