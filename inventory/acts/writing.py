"""How an act that is one entry is written: its lines are built on a draft, in one transaction, once per request key."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.db import transaction

from inventory.book import ledger
from inventory.book.draft import Draft
from inventory.book.ledger import Act
from inventory.models import Book, Entry

P = ParamSpec("P")
Builds = Callable[Concatenate[Draft, P], None]
Writes = Callable[Concatenate[Book, Act, P], Entry]


def one_entry(kind: str = Entry.POST) -> Callable[[Builds[P]], Writes[P]]:
    """Make an act of a function that builds its draft; it takes book and act instead, and returns the entry.

    The transaction is the act's own: what has to stand with other rows calls `ledger.write` within its own one.
    """

    def act_of(build: Builds[P]) -> Writes[P]:
        @wraps(build)
        def written(book: Book, act: Act, /, *args: P.args, **kwargs: P.kwargs) -> Entry:
            with transaction.atomic(durable=True):
                return ledger.write(book, act, lambda draft: build(draft, *args, **kwargs), kind=kind)

        return written

    return act_of
