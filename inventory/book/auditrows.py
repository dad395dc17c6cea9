"""Rows of a book as the proof reads them: plain values, in chunks of lines, so that memory stays flat.

The database turns moments, days and marks into whole numbers and text; Django's converters would take most of the time.
"""

from collections.abc import Iterator
from typing import Any, NamedTuple

from django.db import connections

from inventory.models import Account, Book, Entry, Movement, Scale, Weighing

CHUNK = 2_000  # entries read at a time
Row = tuple[Any, ...]

_E, _M, _W = (model._meta.db_table for model in (Entry, Movement, Weighing))
_OF_LINES = "e.book_id = %s AND e.seq BETWEEN %s AND %s"


class Named(NamedTuple):
    """What the lines of a book may name: its accounts by the digest's reference and kind, its scales by number."""

    references: dict[int, str]
    kinds: dict[int, str]
    scales: dict[int | None, int]


def named(book: Book, using: str) -> Named:
    """Return the accounts and scales of a book."""
    accounts = [*Account.objects.using(using).filter(book=book).values_list("pk", "number", "kind")]
    scales = Scale.objects.using(using).filter(book=book).values_list("pk", "number")
    references = {pk: f"{kind}:{number}" for pk, number, kind in accounts}
    return Named(references, {pk: kind for pk, _, kind in accounts}, {None: 0, **dict(scales)})


def chunks(first: int, last: int) -> Iterator[tuple[int, int]]:
    """Yield the numbers of lines in chunks, each by its first and last."""
    for start in range(first, last + 1, CHUNK):
        yield start, min(start + CHUNK - 1, last)


class Reader:
    """Reads the rows of the lines between two numbers."""

    def __init__(self, book: Book, using: str) -> None:
        self.book, self.using = book, using
        lite = connections[using].vendor == "sqlite"
        self._ms = _MS_LITE if lite else "floor(extract(epoch FROM {0}) * 1000)::bigint"
        self._text = "{0} || ''" if lite else "{0}::text"
        self._mark = "+{0}" if lite else "{0}::integer"

    def entries(self, bounds: tuple[int, int]) -> list[Row]:
        """Return the entries in order, each with number and book of what it reverses."""
        moments = ", ".join(self._ms.format(f"e.{name}") for name in ("occurred_at", "recorded_at"))
        return self._rows(
            f"SELECT e.id, e.seq, e.kind, {moments}, {self._text.format('e.booked_on')}, e.actor, e.context, "  # noqa: S608 - our names
            f"{self._text.format('e.request_key')}, e.request_digest, e.seals, e.traced, e.digest, e.reverses_id, "
            f"r.seq, r.book_id FROM {_E} e LEFT JOIN {_E} r ON r.id = e.reverses_id WHERE {_OF_LINES} ORDER BY e.seq",
            bounds,
        )

    def movements(self, bounds: tuple[int, int]) -> list[Row]:
        """Return the movements in order, each with line, movement and book of what it explains."""
        return self._rows(
            f"SELECT m.entry_id, m.line, m.cause, m.basis, m.source_id, m.target_id, m.refrigerant, m.grade, "  # noqa: S608 - our names
            f"m.mass_mg, m.u_random_mg, m.u_span_mg, m.scale_id, m.can_tell_mg, {self._mark.format('m.reversal')}, "
            f"m.book_id, {self._text.format('m.booked_on')}, m.explains_id, x.book_id, xe.seq, x.line "
            f"FROM {_E} e JOIN {_M} m ON m.entry_id = e.id LEFT JOIN {_M} x ON x.id = m.explains_id "
            f"LEFT JOIN {_E} xe ON xe.id = x.entry_id WHERE {_OF_LINES} ORDER BY e.seq, m.line",
            bounds,
        )

    def weighings(self, bounds: tuple[int, int]) -> list[Row]:
        """Return the weighings in order."""
        return self._rows(
            "SELECT w.entry_id, w.line, w.account_id, w.role, w.gross_mg, w.tare_mg, w.u_mg, w.step_mg, w.scale_id, "  # noqa: S608 - our names
            f"w.typed, w.raw FROM {_E} e JOIN {_W} w ON w.entry_id = e.id WHERE {_OF_LINES} ORDER BY e.seq, w.line",
            bounds,
        )

    def masses(self, bounds: tuple[int, int]) -> list[Row]:
        """Return what the movements carry, in order, each with its line's number and the mass it explains."""
        return self._rows(
            f"SELECT e.seq, m.line, m.cause, m.basis, m.source_id, m.target_id, m.refrigerant, m.grade, m.mass_mg, "  # noqa: S608 - our names
            f"m.u_random_mg, m.u_span_mg, m.scale_id, {self._mark.format('m.reversal')}, "
            f"{self._text.format('m.booked_on')}, m.explains_id, x.target_id, x.mass_mg "
            f"FROM {_E} e JOIN {_M} m ON m.entry_id = e.id LEFT JOIN {_M} x ON x.id = m.explains_id "
            f"WHERE {_OF_LINES} ORDER BY e.seq, m.line",
            bounds,
        )

    def _rows(self, sql: str, bounds: tuple[int, int]) -> list[Row]:
        with connections[self.using].cursor() as cursor:
            cursor.execute(sql, [self.book.pk, *bounds])
            rows: list[Row] = cursor.fetchall()
            return rows


# Whole milliseconds since 1970 of a moment as it is kept in SQLite, such as 2025-06-02 10:00:00.123000.
_MS_LITE = "CAST(strftime('%%s', {0}) AS integer) * 1000 + CAST(substr({0}, 21, 3) AS integer)"
