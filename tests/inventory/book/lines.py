"""Lines for the tests of the ledger, and a refusal that leaves no trace."""

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from typing import Any

import pytest
from django.db import transaction

from inventory.book import ledger
from inventory.book.chain import standing_digest
from inventory.book.draft import Draft, Line
from inventory.book.refusals import (
    LedgerError,
    WrongLine,
)
from inventory.models import Account, Book, Cylinder, Entry, Holding, Movement, Weighing

KG = 1_000_000


@contextmanager
def refused(error: type[LedgerError], match: str) -> Iterator[None]:
    """Expect a refusal that leaves no row behind."""
    before = [Entry.objects.count(), Movement.objects.count(), Weighing.objects.count(), [*Holding.objects.values()]]
    with pytest.raises(error, match=match):
        yield
    after = [Entry.objects.count(), Movement.objects.count(), Weighing.objects.count(), [*Holding.objects.values()]]
    assert after == before


def line(cylinder: Cylinder, vehicle: Account, **changes: Any) -> Line:
    charge = Line("charge", cylinder.account, vehicle, "R-134a", "virgin", KG, "pair")
    return replace(charge, **changes)


def write(book: Book, act: ledger.Act, *lines: Line, **how: Any) -> Entry:
    def build(draft: Draft) -> None:
        for one in lines:
            draft.move(one)

    return ledger.write(book, act, build, **how)


def undo_line(entry: Entry, act: ledger.Act) -> Entry:
    """Reverse an entry by the door alone; what happens to its cylinders is an act's."""
    with transaction.atomic():
        return ledger.reverse_locked(ledger.lock(entry.book), entry, act)


def untraced_digests(book: Book) -> list[str]:
    """Return the digest of each line as it would be without the history that lines name, which has salts."""
    digests = [""]
    for entry in Entry.objects.filter(book=book).order_by("seq"):
        entry.traced = ""
        digests.append(standing_digest(book, digests[-1], entry))
    return digests[1:]


def is_refused_as_wrong(words: str) -> AbstractContextManager[object]:
    return refused(WrongLine, words)
