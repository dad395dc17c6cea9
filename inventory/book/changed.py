"""What was changed outside the product: each record compared with the last state that its history has of it.

The chain of traces is proved first, by code of its own as in `audit`, and that each line of the book names a head that
stands in it, none earlier than the line before. Rows and traces are both read in the order of their keys, side by side,
so that memory stays flat. Since a line, the traces up to the one that it names are taken as proved; records are
compared all the same, since who changes one from outside writes no trace.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Any

from django.apps import apps
from django.db.models import Q

from inventory.book.audit import Fault
from inventory.models import Book, Entry, Trace
from inventory.models.trace import GONE, ORIGIN, VERSION, columns_of, said_of

_NAMED = {
    "user": "person",
    "step": "step of a visit",
    "instrumentcheck": "check of an instrument",
    "aircheck": "air check",
}


def faults(book: Book, using: str = "default", since: int = 0, models: Iterable[Any] | None = None) -> Iterator[Fault]:
    """Yield where history and records differ: the chain first, from line `since` on, then each kind of record.

    `models`: of these kinds alone.
    """
    book = Book.objects.using(using).get(pk=book.pk)
    broken = [*_chain(book, using, since)]
    yield from broken
    if not broken:
        for model in kept_models() if models is None else models:
            yield from _records(book, model, using)


def kept_models() -> list[Any]:
    """Return every model whose states are kept."""
    return [model for model in apps.get_models() if hasattr(model, "history")]


def states_since(book: Book, line: int, using: str = "default") -> int:
    """Return how many states its history has had since a line was written."""
    return int(Book.objects.using(using).get(pk=book.pk).trace_seq) - _named_by(book, line, using)[0]


def _named_by(book: Book, line: int, using: str) -> tuple[int, str]:
    """Return number and digest of the trace that a line names; 0 where it names none of this place's history."""
    named = Entry.objects.using(using).filter(book=book, seq=line).exclude(traced="").values("traced")
    found = Trace.objects.using(using).filter(book=book, digest__in=named).values_list("seq", "digest").first()
    return found or (0, "")


def _chain(book: Book, using: str, since: int) -> Iterator[Fault]:
    """Look whether each trace follows from the one before, up to the head, and is named by lines in order."""
    last, previous = _named_by(book, since, using)
    lines = _Lines(book, using, since)
    lines.pass_by(previous)
    rows = Trace.objects.using(using).filter(book=book, seq__gt=last).order_by("seq")
    for row in rows.iterator(chunk_size=2_000):
        if row.seq != last + 1:
            yield Fault(f"history {last + 1}", f"is not there; after it comes {row.seq}")
            return
        facts = [VERSION, previous, str(book.uid), row.seq, row.model, row.record, row.content, row.who, row.at_ms]
        if hashlib.sha256(json.dumps(facts, separators=(",", ":")).encode()).hexdigest() != row.digest:
            yield Fault(f"history {row.seq}", "is not what was written: its digest does not follow")
            return
        if row.said and hashlib.sha256(f"{row.salt}{row.said}".encode()).hexdigest() != row.content:
            yield Fault(f"history {row.seq}", f"does not say what was written of {_name(row.model)} {row.record}")
        if row.model == ORIGIN:
            lines.through(json.loads(row.said)["through"])
        lines.pass_by(row.digest)
        previous, last = row.digest, row.seq
    if (last, previous) != (book.trace_seq, book.trace_digest):
        yield Fault(f"book {book.name}", f"its history ends with {last}, its head says {book.trace_seq}")
    yield from lines.left()


class _Lines:
    """The heads that lines of the book name, in their order."""

    def __init__(self, book: Book, using: str, since: int) -> None:
        self._named = Entry.objects.using(using).filter(book=book, seq__gte=since).exclude(traced="").order_by("seq")
        self._begin()

    def _begin(self) -> None:
        self._rows = iter(self._named.values_list("seq", "traced").iterator(chunk_size=2_000))
        self._next = next(self._rows, None)

    def through(self, seq: int) -> None:
        """Leave out the lines up to a number: what they name is the history of another place."""
        self._named = self._named.filter(seq__gt=seq)
        self._begin()

    def pass_by(self, digest: str) -> None:
        while self._next is not None and self._next[1] == digest:
            self._next = next(self._rows, None)

    def left(self) -> Iterator[Fault]:
        if self._next is not None:
            yield Fault(f"line {self._next[0]}", "names a state of the history that is not in it")


def _records(book: Book, model: Any, using: str) -> Iterator[Fault]:
    """Compare the rows of one model with what the history said of each last."""
    names = [column.attname for column in columns_of(model)]
    own = Q()
    for path in model.history.paths:
        own |= Q(**{path: book.pk})
    found = model._base_manager.using(using).filter(own).order_by("pk").distinct().values_list("pk", *names)
    rows = iter(found.iterator(chunk_size=2_000))
    row = next(rows, None)
    name = str(model._meta.model_name)
    for key, said in _last(book, name, using):
        while row is not None and row[0] < key:
            yield _unknown(name, row[0])
            row = next(rows, None)
        if row is None or row[0] > key:
            if said != GONE:
                yield Fault(f"{_name(name)} {key}", "is not there any more; it was removed outside the product")
            continue
        yield from _compared(name, key, said, names, row[1:])
        row = next(rows, None)
    while row is not None:
        yield _unknown(name, row[0])
        row = next(rows, None)


def _last(book: Book, name: str, using: str) -> Iterator[tuple[int, str]]:
    """Yield what was said last of each record, in the order of their keys."""
    rows = Trace.objects.using(using).filter(book=book, model=name).order_by("record", "seq")
    for key, states in groupby(rows.values_list("record", "said").iterator(chunk_size=2_000), key=lambda row: row[0]):
        *_, (_, said) = states
        yield key, said


def _compared(name: str, key: int, said: str, names: list[str], values: tuple[Any, ...]) -> Iterator[Fault]:
    stands = said_of(names, values)
    if stands == said:
        return
    row = f"{_name(name)} {key}"
    if said == GONE:
        yield Fault(row, "stands there again after it was removed; it was put in outside the product")
    elif not said:
        yield Fault(row, "cannot be compared: what its history said of it was emptied outside the product")
    else:
        was, now = json.loads(said), json.loads(stands)
        for column in sorted(column for column in was if column not in now or was[column] != now[column]):
            yield Fault(row, f"{column} was changed outside the product{_from_to(was[column], now.get(column))}")


def _from_to(was: Any, now: Any) -> str:
    """Return both values where they are numbers: words may name a person, and this is printed."""
    numbers = isinstance(was, (int, float)) and isinstance(now, (int, float)) and not isinstance(was, bool)
    return f": it was written as {was}, and is {now}" if numbers else ""


def _unknown(name: str, key: int) -> Fault:
    return Fault(f"{_name(name)} {key}", "was put in outside the product: its history does not know it")


def _name(model: str) -> str:
    return _NAMED.get(model, model)
