"""The totals of days and months, carried with the movements that they add up.

They are a copy, as holdings are: whoever writes movements adds them here in the same transaction, under the lock of the
book. No movement is changed or deleted, so totals only ever grow by what is written.
"""

from collections.abc import Iterable, Iterator
from typing import Any

from django.db import connections

from inventory.gases.catalogue import MIXED
from inventory.models import Book, Movement, PeriodTotal
from inventory.models.totals import ADDED, ALIKE

Alike = tuple[Any, ...]  # the values of ALIKE
Added = list[float]  # the values of ADDED


def add(book: Book, movements: Iterable[Movement], using: str = "default") -> None:
    """Add movements that are being written to the totals of their days and months."""
    found: dict[Alike, Added] = {}
    for one in movements:
        sums = added(one.mass_mg, one.u_random_mg, one.u_span_mg, reversal=one.reversal)
        for key in alike(one, one.source.kind, one.target.kind):
            found[key] = [there + more for there, more in zip(found.get(key, [0] * len(ADDED)), sums, strict=True)]
    write(book, found, using)


def alike(movement: Movement, source: str, target: str) -> Iterator[Alike]:
    """Yield the keys that a movement between two kinds of account counts under: its day's and its month's."""
    of_mixed = movement.refrigerant == MIXED
    rest = (
        movement.refrigerant,
        movement.grade,
        movement.cause,
        movement.basis,
        source,
        target,
        movement.scale_id or 0,
        movement.source_id if of_mixed else 0,
        movement.target_id if of_mixed else 0,
    )
    yield (False, movement.booked_on, *rest)
    yield (True, movement.booked_on.replace(day=1), *rest)


def added(mass_mg: int, u_random_mg: int, u_span_mg: int, *, reversal: bool) -> tuple[int, float, int, int]:
    """Return what one movement adds: mass, square of its random part, span part with the sign of a reversal, a line."""
    return mass_mg, float(u_random_mg * u_random_mg), -u_span_mg if reversal else u_span_mg, 1


def write(book: Book, found: dict[Alike, Added], using: str = "default") -> None:
    """Add sums to the totals of a book whose row is locked; one statement, whether a total is there or not."""
    if not found:
        return
    connection = connections[using]
    day = connection.ops.adapt_datefield_value
    rows = [(book.pk, whole, day(begins), *rest, *sums) for (whole, begins, *rest), sums in found.items()]
    with connection.cursor() as cursor:
        cursor.executemany(_UPSERT, rows)


_TABLE = PeriodTotal._meta.db_table
_COLUMNS = ("book_id", *ALIKE, *ADDED)
_UPSERT = (
    f"INSERT INTO {_TABLE} ({', '.join(_COLUMNS)}) VALUES ({', '.join(['%s'] * len(_COLUMNS))}) "  # noqa: S608 - our names
    f"ON CONFLICT (book_id, {', '.join(ALIKE)}) DO UPDATE SET "
    + ", ".join(f"{name} = {_TABLE}.{name} + excluded.{name}" for name in ADDED)
)
