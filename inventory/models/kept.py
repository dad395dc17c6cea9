"""Records that cannot be saved, in whichever way, without a trace of their state; `trace` says what one is."""

import os
from collections.abc import Iterable, Sequence
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, ClassVar, TypeVar
from uuid import UUID

from django.db import connections, models, router, transaction
from django.utils import timezone

from inventory.models.trace import (
    GONE,
    ORIGIN,
    History,
    Trace,
    columns_of,
    content_of,
    digest_of,
    said_of,
)

acting: ContextVar[str] = ContextVar("acting", default="")
"""The handle of who is at work, where a page knows it."""

M = TypeVar("M", bound=models.Model, covariant=True)
States = Sequence[tuple[int, str]]
CHUNK = 500
_EPOCH, _MILLISECOND = datetime(1970, 1, 1, tzinfo=UTC), timedelta(milliseconds=1)
_COLUMNS = ("book_id", "seq", "model", "record", "said", "salt", "content", "who", "at_ms", "digest")
_INSERT = f"INSERT INTO inventory_trace ({', '.join(_COLUMNS)}) VALUES ({', '.join(['%s'] * len(_COLUMNS))})"  # noqa: S608 - our names


class KeptQuerySet(models.QuerySet[M]):
    """Rows that cannot be changed past their history. Models without one are written as ever."""

    def update(self, **values: Any) -> int:
        if not _touches(self.model, values):
            return super().update(**values)
        with transaction.atomic(using=self.db, savepoint=False):
            keys = list(self.order_by().values_list("pk", flat=True))
            heads = _Heads(self.db, _books_of(self.model, keys, self.db))
            done = super().update(**values)
            heads.write(self.model, read(self.model, keys, self.db), unless_same=True)
        return done

    def bulk_create(self, objs: Iterable[Any], *args: Any, **more: Any) -> list[Any]:
        if not hasattr(self.model, "history"):
            return super().bulk_create(objs, *args, **more)
        with transaction.atomic(using=self.db, savepoint=False):
            everything = self.model._base_manager.using(self.db)
            last = everything.aggregate(last=models.Max("pk"))["last"] or 0 if more.get("ignore_conflicts") else 0
            made: list[Any] = super().bulk_create(objs, *args, **more)
            if more.get("ignore_conflicts"):  # the keys are not told
                keys = list(everything.filter(pk__gt=last).values_list("pk", flat=True))
            else:
                keys = [one.pk for one in made]
            _Heads(self.db, _books_of(self.model, keys, self.db)).write(self.model, read(self.model, keys, self.db))
            also: tuple[str, ...] = self.model.history.also  # type: ignore[attr-defined]
            for one in everything.filter(pk__in=keys) if also else ():
                _write_also(one, _Heads(self.db, _books_of_one(one, self.db)), self.db)
        return made

    def delete(self) -> tuple[int, dict[str, int]]:
        if not hasattr(self.model, "history"):
            return super().delete()
        with transaction.atomic(using=self.db, savepoint=False):
            keys = list(self.order_by().values_list("pk", flat=True))
            _gone(self.model, keys, self.db)
            return super().delete()


class Kept(models.Model):
    """A record whose every state is kept. `history` says how."""

    history: ClassVar[History]
    objects = KeptQuerySet.as_manager()

    class Meta:
        abstract = True

    def save_base(
        self, raw: bool = False, force_insert: Any = False, force_update: bool = False, using: str | None = None,
        update_fields: Iterable[str] | None = None,
    ) -> None:  # fmt: skip
        model = type(self)
        named = None if update_fields is None else list(update_fields)
        if raw or (named is not None and not _touches(model, named)):
            super().save_base(raw, force_insert, force_update, using, named)
            return
        using = using or router.db_for_write(model, instance=self)
        fresh = self._state.adding
        with transaction.atomic(using=using, savepoint=False):
            heads = _Heads(using, _books_of_one(self, using))
            super().save_base(raw, force_insert, force_update, using, named)
            heads.lock(_books_of_one(self, using))  # a book that came with it
            states = [(self.pk, _said_by(self))] if fresh else read(model, [self.pk], using)
            heads.write(model, states, unless_same=not fresh)
            if fresh:
                _write_also(self, heads, using)

    def delete(self, using: str | None = None, keep_parents: bool = False) -> tuple[int, dict[str, int]]:
        using = using or router.db_for_write(type(self), instance=self)
        with transaction.atomic(using=using, savepoint=False):
            _gone(type(self), [self.pk], using)
            return super().delete(using, keep_parents)


@dataclass
class _Heads:
    """The ends of the histories of some books, whose rows are locked until the transaction ends."""

    using: str
    books: Iterable[int]
    heads: dict[int, tuple[str, int, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.lock(self.books)

    def lock(self, books: Iterable[int]) -> None:
        wait = "" if connections[self.using].vendor == "sqlite" else " FOR UPDATE"
        with connections[self.using].cursor() as cursor:
            for book in sorted(set(books) - set(self.heads)):
                cursor.execute(f"SELECT uid, trace_seq, trace_digest FROM inventory_book WHERE id = %s{wait}", [book])  # noqa: S608 - our words
                if (row := cursor.fetchone()) is not None:
                    self.heads[book] = (str(UUID(str(row[0]))), row[1], row[2])

    def write(self, model: type[models.Model], states: States, *, unless_same: bool = False) -> None:
        """Add the states of some records to the history of each book; where asked, only those that are new."""
        self.write_named(str(model._meta.model_name), states, unless_same=unless_same)

    def write_named(self, name: str, states: States, *, unless_same: bool = False) -> None:
        at_ms, who = (timezone.now() - _EPOCH) // _MILLISECOND, acting.get()
        for book, (uid, seq, digest) in self.heads.items():
            last = self._last(book, name, [key for key, _ in states]) if unless_same else {}
            rows = []
            for key, said in states:
                if last.get(key) == said:
                    continue
                seq, salt = seq + 1, os.urandom(16).hex()
                content = content_of(salt, said)
                digest = digest_of(digest, uid, seq, name, key, content, who, at_ms)
                rows.append((book, seq, name, key, said, salt, content, who, at_ms, digest))
            if rows:
                self._add(book, rows)
                self.heads[book] = (uid, seq, digest)

    def _last(self, book: int, name: str, keys: list[int]) -> dict[int, str]:
        found = Trace.objects.using(self.using).filter(book=book, model=name, record__in=keys).order_by("seq")
        return dict(found.values_list("record", "said"))

    def _add(self, book: int, rows: list[tuple[Any, ...]]) -> None:
        with connections[self.using].cursor() as cursor:
            cursor.executemany(_INSERT, rows)
            cursor.execute(
                "UPDATE inventory_book SET trace_seq = %s, trace_digest = %s WHERE id = %s",
                [rows[-1][1], rows[-1][-1], book],
            )


def read(model: type[models.Model], keys: Sequence[int], using: str) -> list[tuple[int, str]]:
    """Return the states of some records as they stand in the database."""
    names = [column.attname for column in columns_of(model)]
    found = []
    for first in range(0, len(keys), CHUNK):
        rows = model._base_manager.using(using).filter(pk__in=keys[first : first + CHUNK]).order_by("pk")
        found += [(key, said_of(names, values)) for key, *values in rows.values_list("pk", *names)]
    return found


def begin_anew(book: int, through: int, using: str = "default") -> None:
    """Say that what the lines up to a number name is the history that a book had elsewhere; it did not come along."""
    with transaction.atomic(using=using):
        _Heads(using, [book]).write_named(ORIGIN, [(book, said_of(["through"], [through]))])


def write_first(book: int, name: str, states: States, using: str = "default") -> None:
    """Write the states that records have when their history begins; for a migration."""
    with transaction.atomic(using=using):
        _Heads(using, [book]).write_named(name, states)


def head_of(book: int, using: str = "default") -> int:
    """Return the number of a book's last trace."""
    last = Trace.objects.using(using).filter(book=book).aggregate(last=models.Max("seq"))["last"]
    return int(last or 0)


def forget(book: int, since: int, using: str = "default") -> None:
    """Empty the older traces of every record that was written anew after trace `since`: personal data has gone."""
    rows = Trace.objects.using(using).filter(book=book)
    later = rows.filter(model=models.OuterRef("model"), record=models.OuterRef("record"), seq__gt=since)
    rows.filter(models.Exists(later), seq__lte=since).update(said="", salt="")


def _said_by(one: models.Model) -> str:
    """Return the state of a record that was just put in, as the database has it."""
    columns = columns_of(type(one))
    return said_of(
        (column.attname for column in columns), (column.to_python(getattr(one, column.attname)) for column in columns)
    )


def _touches(model: type[models.Model], names: Iterable[str]) -> bool:
    """Whether columns of these names are kept."""
    if not hasattr(model, "history"):
        return False
    kept = {name for column in columns_of(model) for name in (column.name, column.attname)}
    return not kept.isdisjoint(names)


def _books_of(model: type[models.Model], keys: Sequence[int], using: str) -> set[int]:
    found: set[int | None] = set()
    for first in range(0, len(keys), CHUNK):
        rows = model._base_manager.using(using).filter(pk__in=keys[first : first + CHUNK])
        for path in model.history.paths:  # type: ignore[attr-defined]
            found |= set(rows.values_list(path, flat=True))
    return {book for book in found if book is not None}


def _books_of_one(one: models.Model, using: str) -> set[int]:
    """Return the books of a record by what it holds already; asked only where many may have it."""
    found = set()
    for path in type(one).history.paths:  # type: ignore[attr-defined]
        *way, last = path.split("__")
        place: Any = one
        for name in way:
            if place._meta.get_field(name).one_to_many:
                return _books_of(type(one), [one.pk], using) if one.pk else set()
            if (place := getattr(place, name)) is None:
                break
        else:
            found.add(place.pk if last == "pk" else getattr(place, f"{last}_id"))
    return found - {None}


def _write_also(one: models.Model, heads: _Heads, using: str) -> None:
    """Write the states of what belongs to a book from now on, since `one` does."""
    for relation in type(one).history.also:  # type: ignore[attr-defined]
        heads.write(*_related(one, relation, using), unless_same=True)


def _related(one: models.Model, relation: str, using: str) -> tuple[type[models.Model], States]:
    """Return the records to which a relation leads, with their states."""
    model: Any = type(one)
    for name in relation.split("__"):
        model = model._meta.get_field(name).related_model
    keys = type(one)._base_manager.using(using).filter(pk=one.pk).values_list(relation, flat=True)
    return model, read(model, [key for key in keys if key is not None], using)


def _gone(model: type[models.Model], keys: Sequence[int], using: str) -> None:
    _Heads(using, _books_of(model, keys, using)).write(model, [(key, GONE) for key in keys])
