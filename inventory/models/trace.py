"""The history of what is no line of the book: each state of each record, as the product wrote it, in a chain.

A line of the book is digested; a cylinder's empty mass, a step of a visit, a certificate or a role is a row that may
change. So the product writes every state of such a row (`Kept`) beside it, in the same transaction, whichever way it is
saved: who has no product changes the row and leaves its history behind, and `verify` compares the two.

A trace is digested over the one before it and over `content`, the SHA-256 of a salt and of what was said. Each line of
the book names the head of this chain as it stood, so that papers and witnesses hold it too. Personal data that is
removed goes out of older traces with the salt (`forget`): what is left can be proved and says nothing.
"""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from typing import Any, ClassVar

from django.db import models

from inventory.models.likeness import LikenessField

VERSION = "tarebook-trace-1"
GONE = "null"  # what is said of a record that the product removed
ORIGIN = "origin"  # of a book that was brought in: what its lines up to a number name is the history of another
_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode


class Trace(models.Model):
    """One state of one record of a book. Append-only, but for `said` and `salt`, which may be emptied."""

    book = models.ForeignKey("inventory.Book", models.PROTECT, related_name="+", db_index=False)
    seq = models.PositiveBigIntegerField()
    model = models.CharField(max_length=20)
    record = models.BigIntegerField()  # the key of the row in this database
    said = models.TextField()  # its columns as JSON; empty once it was forgotten
    salt = models.CharField(max_length=32)
    content = models.CharField(max_length=64)
    who = models.CharField(max_length=40)
    at_ms = models.BigIntegerField()
    digest = models.CharField(max_length=64)

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["book", "seq"], name="trace_number_once")]
        indexes: ClassVar = [models.Index(fields=["book", "model", "record", "seq"], name="trace_record")]

    def __str__(self) -> str:
        return f"trace {self.seq}, {self.model} {self.record}"


@dataclass(frozen=True)
class History:
    """How a model is kept: the `path` from a row to its book, and which columns; `also` is written with a new row."""

    path: str  # several where any of them may lead there: "scale__book or gauge__book"
    only: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    also: tuple[str, ...] = ()  # relations whose rows belong to the book from now on

    @property
    def paths(self) -> list[str]:
        return self.path.split(" or ")


@cache
def columns_of(model: type[models.Model]) -> "tuple[models.Field[Any, Any], ...]":
    """Return the columns of a record that are kept."""
    history: History = model.history  # type: ignore[attr-defined]
    return tuple(
        column
        for column in model._meta.concrete_fields
        if not column.primary_key
        and not isinstance(column, (LikenessField, models.BinaryField))
        and column.name not in history.without
        and (not history.only or column.name in history.only)
    )


def said_of(names: Iterable[str], values: Iterable[Any]) -> str:
    """Return a state as it is kept: its columns as JSON, the same whichever database they come from."""
    return _encode({name: _plain(value) for name, value in zip(names, values, strict=True)})


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, float):
        return int(value) if value.is_integer() else value  # a database may keep 5.0 as 5
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict):
        return {str(name): _plain(one) for name, one in value.items()}
    return [_plain(one) for one in value] if isinstance(value, (list, tuple)) else str(value)


def content_of(salt: str, said: str) -> str:
    """Return what the chain holds of a state; without the salt nobody can guess what was said."""
    return hashlib.sha256((salt + said).encode()).hexdigest()


def digest_of(previous: str, uid: str, seq: int, model: str, record: int, content: str, who: str, at_ms: int) -> str:
    """Return the SHA-256 that chains a trace to the one before it."""
    facts = json.dumps([VERSION, previous, uid, seq, model, record, content, who, at_ms], separators=(",", ":"))
    return hashlib.sha256(facts.encode()).hexdigest()
