"""The totals of days and months, carried with the movements that they add up.

They are a copy, as holdings are: whoever writes movements adds them here in the same transaction, under the lock of the
book. No movement is changed or deleted, so totals only ever grow by what is written.
"""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any

from django.db import connection
from django.db.backends.utils import CursorWrapper

from inventory.book.draft import Moved
from inventory.book.inserting import Insert
from inventory.gases.catalogue import MIXED
from inventory.models import Book, PeriodTotal
from inventory.models.totals import ADDED, ALIKE

Alike = tuple[Any, ...]  # the values of ALIKE
Added = list[float]  # the values of ADDED


def add(cursor: CursorWrapper, book: Book, movements: Iterable[tuple[date, Moved]]) -> None:
    """Add movements that are being written, each with the day it counts for; the book's row is locked.

    One statement, whether a total is there or not.
    """
    found: dict[Alike, Added] = {}
    for day, one in movements:
        span_mg = -one.u_span_mg if one.reversal else one.u_span_mg
        sums = (one.mass_mg, float(one.u_random_mg**2), span_mg, 1)
        for key in _alike(day, one):
            found[key] = [there + more for there, more in zip(found.get(key, [0] * len(ADDED)), sums, strict=True)]
    if not found:
        return
    adapted = connection.ops.adapt_datefield_value
    rows = [(book.pk, whole, adapted(begins), *rest, *sums) for (whole, begins, *rest), sums in found.items()]
    _UPSERT.run(cursor, rows)


def _alike(day: date, movement: Moved) -> Iterator[Alike]:
    """Yield the keys that a movement counts under: its day's and its month's."""
    of_mixed = movement.refrigerant == MIXED
    rest = (
        movement.refrigerant,
        movement.grade,
        movement.cause,
        movement.basis,
        movement.source.kind,
        movement.target.kind,
        movement.scale.pk if movement.scale else 0,
        movement.source.pk if of_mixed else 0,
        movement.target.pk if of_mixed else 0,
    )
    yield (False, day, *rest)
    yield (True, day.replace(day=1), *rest)


_UPSERT = Insert(
    PeriodTotal,
    f"ON CONFLICT (book_id, {', '.join(ALIKE)}) DO UPDATE SET "
    + ", ".join(f"{name} = {PeriodTotal._meta.db_table}.{name} + excluded.{name}" for name in ADDED),
)
