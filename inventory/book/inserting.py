"""Rows into a table by one statement for many of them, past Django's records.

Making and saving records would take most of the time of a posting. The guards stand in the database and see these
statements as any other.
"""

from collections.abc import Sequence
from functools import cache
from typing import Any

from django.db import models
from django.db.backends.utils import CursorWrapper

AT_ONCE = 500  # rows of one statement: a database bounds the number of values that one may have


class Insert:
    """The statement that inserts rows of a model, with the values of all fields but the key in their order.

    `ending` is what follows the values: what to do where such a row is there already, or what to return.
    """

    def __init__(self, model: type[models.Model], ending: str = "") -> None:
        columns = [field.attname for field in model._meta.concrete_fields if not field.primary_key]
        self._beginning = f"INSERT INTO {model._meta.db_table} ({', '.join(columns)}) VALUES "  # noqa: S608 - our names
        self._row = f"({', '.join(['%s'] * len(columns))})"
        self._ending = ending
        self._statement = cache(self._of)

    def _of(self, count: int) -> str:
        return f"{self._beginning}{', '.join([self._row] * count)} {self._ending}"

    def run(self, cursor: CursorWrapper, rows: Sequence[Sequence[Any]]) -> list[tuple[Any, ...]]:
        """Insert the rows; return what the statement returns."""
        returned: list[tuple[Any, ...]] = []
        for first in range(0, len(rows), AT_ONCE):
            some = rows[first : first + AT_ONCE]
            cursor.execute(self._statement(len(some)), [value for row in some for value in row])
            if self._ending.startswith("RETURNING"):
                returned += cursor.fetchall()
        return returned
