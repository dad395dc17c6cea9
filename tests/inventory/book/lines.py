"""Lines for the tests of the ledger, and a refusal that leaves no trace."""

from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace

import pytest

from inventory.book import ledger
from inventory.book.draft import Draft, Line
from inventory.book.refusals import (
    LedgerError,
    WrongLine,
)
from inventory.models import Entry, Holding, Movement, Weighing

KG = 1_000_000


@contextmanager
def refused(error: type[LedgerError], match: str):
    """Expect a refusal that leaves no row behind."""
    before = [Entry.objects.count(), Movement.objects.count(), Weighing.objects.count(), [*Holding.objects.values()]]
    with pytest.raises(error, match=match):
        yield
    after = [Entry.objects.count(), Movement.objects.count(), Weighing.objects.count(), [*Holding.objects.values()]]
    assert after == before


def line(cylinder, vehicle, **changes) -> Line:
    charge = Line("charge", cylinder.account, vehicle, "R-134a", "virgin", KG, "pair")
    return replace(charge, **changes)


def write(book, act, *lines, **how) -> Entry:
    def build(draft: Draft) -> None:
        for one in lines:
            draft.move(one)

    return ledger.write(book, act, build, **how)


def is_refused_as_wrong(words: str) -> AbstractContextManager[object]:
    return refused(WrongLine, words)
