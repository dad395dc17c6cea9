"""The totals of days and months, carried with the movements that they add up.

They are a copy, as holdings are: whoever writes movements adds them here in the same transaction, under the lock of the
book. No movement is changed or deleted, so totals only ever grow by what is written.
"""

from collections.abc import Iterable, Iterator
from typing import Any

from django.db import connection

from inventory.gases.catalogue import MIXED
from inventory.models import Book, Movement, PeriodTotal
from inventory.models.totals import ADDED, ALIKE

Alike = tuple[Any, ...]  # the values of ALIKE
Added = list[float]  # the values of ADDED


def add(book: Book, movements: Iterable[Movement]) -> None:
    """Add movements that are being written to the totals of their days and months; the book's row is locked.

    One statement, whether a total is there or not.
    """
    found: dict[Alike, Added] = {}
    for one in movements:
        span_mg = -one.u_span_mg if one.reversal else one.u_span_mg
        sums = (one.mass_mg, float(one.u_random_mg**2), span_mg, 1)
        for key in _alike(one):
            found[key] = [there + more for there, more in zip(found.get(key, [0] * len(ADDED)), sums, strict=True)]
    if not found:
        return
    day = connection.ops.adapt_datefield_value
    rows = [(book.pk, whole, day(begins), *rest, *sums) for (whole, begins, *rest), sums in found.items()]
    with connection.cursor() as cursor:
        cursor.executemany(_UPSERT, rows)


def _alike(movement: Movement) -> Iterator[Alike]:
    """Yield the keys that a movement counts under: its day's and its month's."""
    of_mixed = movement.refrigerant == MIXED
    rest = (
        movement.refrigerant,
        movement.grade,
        movement.cause,
        movement.basis,
        movement.source.kind,
        movement.target.kind,
        movement.scale_id or 0,
        movement.source_id if of_mixed else 0,
        movement.target_id if of_mixed else 0,
    )
    yield (False, movement.booked_on, *rest)
    yield (True, movement.booked_on.replace(day=1), *rest)


_TABLE = PeriodTotal._meta.db_table
_COLUMNS = ("book_id", *ALIKE, *ADDED)
_UPSERT = (
    f"INSERT INTO {_TABLE} ({', '.join(_COLUMNS)}) VALUES ({', '.join(['%s'] * len(_COLUMNS))}) "  # noqa: S608 - our names
    f"ON CONFLICT (book_id, {', '.join(ALIKE)}) DO UPDATE SET "
    + ", ".join(f"{name} = {_TABLE}.{name} + excluded.{name}" for name in ADDED)
)
