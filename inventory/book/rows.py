"""How entries with their lines are read and written under the lock: one statement a table, for one line or thousands.

Making Django's records would take most of the time of a posting, so the door of the book goes past them here. The
guards stand in the database and see these statements as any other. Holdings (`holdings`) and totals (`totals`) are
written in the same manner.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db import connection, models
from django.db.backends.utils import CursorWrapper

from inventory.book.chain import Numbered
from inventory.book.draft import Moved, Read
from inventory.models import Book, Entry, Movement, Weighing


@dataclass(frozen=True)
class Written:
    """An entry that is being written, and its lines with their numbers in it."""

    entry: Entry
    movements: Sequence[Numbered[Moved]] = ()
    weighings: Sequence[Numbered[Read]] = ()


def _insert(model: type[models.Model]) -> str:
    """Return the statement that inserts a row, with the values of all its fields but the key in their order."""
    columns = [field.attname for field in model._meta.concrete_fields if not field.primary_key]
    places = ", ".join(["%s"] * len(columns))
    return f"INSERT INTO {model._meta.db_table} ({', '.join(columns)}) VALUES ({places})"  # noqa: S608 - our names


_ENTRIES, _BOOKS = Entry._meta.db_table, Book._meta.db_table
_ENTRY, _MOVEMENT, _WEIGHING = _insert(Entry), _insert(Movement), _insert(Weighing)
_KEYS = f"SELECT id FROM {_ENTRIES} WHERE book_id = %s AND seq BETWEEN %s AND %s ORDER BY seq"  # noqa: S608 - our names
_KNOWN = f"SELECT 1 FROM {_ENTRIES} WHERE book_id = %s AND request_key = %s"  # noqa: S608 - our names
_BOOK = f"SELECT name, zone, head_seq, head_digest, closed_through FROM {_BOOKS} WHERE id = %s "  # noqa: S608 - our names
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


def insert(cursor: CursorWrapper, book: Book, written: Sequence[Written]) -> None:
    """Insert entries that follow each other in the book, with their lines, and let each entry know its key."""
    cursor.executemany(_ENTRY, [_entry_row(one.entry) for one in written])
    cursor.execute(_KEYS, [book.pk, written[0].entry.seq, written[-1].entry.seq])
    for one, (key,) in zip(written, cursor.fetchall(), strict=True):
        one.entry.pk, one.entry._state.adding, one.entry._state.db = key, False, connection.alias
    if movements := [_movement_row(one.entry, *line) for one in written for line in one.movements]:
        cursor.executemany(_MOVEMENT, movements)
    if weighings := [_weighing_row(one.entry, *line) for one in written for line in one.weighings]:
        cursor.executemany(_WEIGHING, weighings)


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
