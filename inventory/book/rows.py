"""How entries with their lines are read and written under the lock: one statement a table, for one line or thousands.

Holdings (`holdings`) and totals (`totals`) are written in the same manner (`inserting`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.backends.utils import CursorWrapper

from inventory.book.chain import Numbered
from inventory.book.draft import Moved, Read
from inventory.book.inserting import Insert
from inventory.models import Book, Entry, Movement, Weighing


@dataclass(frozen=True)
class Written:
    """An entry that is being written, and its lines with their numbers in it."""

    entry: Entry
    movements: Sequence[Numbered[Moved]] = ()
    weighings: Sequence[Numbered[Read]] = ()


_ENTRIES, _BOOKS = Entry._meta.db_table, Book._meta.db_table
_ENTRY, _MOVEMENT, _WEIGHING = Insert(Entry, "RETURNING seq, id"), Insert(Movement), Insert(Weighing)
_KNOWN = f"SELECT 1 FROM {_ENTRIES} WHERE book_id = %s AND request_key = %s"  # noqa: S608 - our names
_BOOK = (
    "SELECT name, zone, head_seq, head_digest, closed_through, trace_seq, trace_digest "  # noqa: S608 - our names
    f"FROM {_BOOKS} WHERE id = %s "
)
_HEAD = f"UPDATE {_BOOKS} SET head_seq = %s, head_digest = %s WHERE id = %s"  # noqa: S608 - our names


def lock(book: Book) -> Book:
    """Return the book as its row is now, locked until the transaction ends.

    On SQLite the transaction itself is the lock.
    """
    how = connection.ops.for_update_sql() if connection.features.has_select_for_update else ""
    with connection.cursor() as cursor:
        cursor.execute(_BOOK + how, [book.pk])
        row = cursor.fetchone()
    if row is None:
        raise Book.DoesNotExist(f"There is no book {book.pk}.")
    return Book.from_db(connection.alias, _BOOK_FIELDS, (book.pk, book.uid, *row))


_BOOK_FIELDS = [field.attname for field in Book._meta.concrete_fields]


def is_known(book: Book, key: UUID) -> bool:
    """Whether an entry of the book stands under a request key."""
    with connection.cursor() as cursor:
        cursor.execute(_KNOWN, [book.pk, _key(key)])
        return cursor.fetchone() is not None


def insert(cursor: CursorWrapper, written: Sequence[Written]) -> None:
    """Insert entries that follow each other in the book, with their lines, and let each entry know its key."""
    keys = dict(_ENTRY.run(cursor, [_entry_row(one.entry) for one in written]))
    for one in written:
        one.entry.pk = keys[one.entry.seq]
        one.entry._state.adding, one.entry._state.db = False, connection.alias
    _MOVEMENT.run(cursor, [_movement_row(one.entry, *line) for one in written for line in one.movements])
    _WEIGHING.run(cursor, [_weighing_row(one.entry, *line) for one in written for line in one.weighings])


def move_head(cursor: CursorWrapper, book: Book) -> None:
    """Write how far the chain of a book has come."""
    cursor.execute(_HEAD, [book.head_seq, book.head_digest, book.pk])


def _entry_row(entry: Entry) -> tuple[Any, ...]:
    moment = connection.ops.adapt_datetimefield_value
    return (
        entry.book_id,
        entry.seq,
        entry.kind,
        moment(entry.occurred_at),
        moment(entry.recorded_at),
        _day(entry.booked_on),
        entry.actor,
        entry.context,
        _key(entry.request_key),
        entry.request_digest,
        entry.reverses_id,
        entry.seals,
        entry.traced,
        entry.digest,
    )


def _movement_row(entry: Entry, number: int, line: Moved) -> tuple[Any, ...]:
    return (
        entry.pk,
        number,
        entry.book_id,
        _day(entry.booked_on),
        line.cause,
        line.basis,
        line.source.pk,
        line.target.pk,
        line.refrigerant,
        line.grade,
        line.mass_mg,
        line.u_random_mg,
        line.u_span_mg,
        line.scale.pk if line.scale else None,
        line.can_tell_mg,
        line.reversal,
        line.explains.pk if line.explains else None,
    )


def _weighing_row(entry: Entry, number: int, reading: Read) -> tuple[Any, ...]:
    return (
        entry.pk,
        number,
        reading.account.pk,
        reading.role,
        reading.gross_mg,
        reading.tare_mg,
        reading.u_mg,
        reading.step_mg,
        reading.scale.pk,
        reading.typed,
        reading.raw,
    )


def _day(day: date) -> Any:
    return connection.ops.adapt_datefield_value(day)


def _key(key: UUID) -> Any:
    return key if connection.features.has_native_uuid_field else key.hex
