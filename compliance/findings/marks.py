"""What facts were read from, as text of which a mark is made: other rows, other text, another mark."""

from collections.abc import Iterable, Iterator
from typing import Any

from django.db.models import Model, QuerySet, TextField
from django.db.models.functions import Cast, JSONObject

from inventory.measure.codes import digest_of


def mark(*texts: object) -> str:
    """Return a mark of what was read."""
    return digest_of("\n".join(map(str, texts)).encode())


def whole(rows: QuerySet[Any], *beside: str) -> QuerySet[Any, str]:
    """Return each row as one text of all its columns, and of those `beside`: a column, or a table that rows lead to."""
    return rows.order_by().values_list(as_text(rows.model, *beside), flat=True)


def as_text(model: type[Model], *beside: str) -> Cast:
    """Return the columns of a row of `model` as one text; the database makes it, since reading columns takes longer."""
    names = [*_columns(model), *(name for path in beside for name in _beside(model, path))]
    return Cast(JSONObject(**{name: name for name in names}), TextField())


def texts(*tables: Iterable[str]) -> Iterator[str]:
    """Yield the rows of some tables, each table in an order of its own."""
    for rows in tables:
        yield from sorted(rows)


def _beside(model: type[Model], path: str) -> list[str]:
    for part in path.split("__"):
        other = model._meta.get_field(part).related_model
        if other is None:
            return [path]
        model = other
    return _columns(model, f"{path}__")


def _columns(model: type[Model], path: str = "") -> list[str]:
    return [f"{path}{field.attname}" for field in model._meta.concrete_fields]
