"""A cylinder on the scale: single readings, and those of one round of the floor."""

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from inventory.acts.writing import one_entry
from inventory.book import ledger, weighing
from inventory.book.draft import Balances, Draft
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross, Settled
from inventory.models import Book, Entry, Weighing
from inventory.shelf import photos


def preview(book: Book, gross: Gross) -> Settled:
    """Return what a reading taken now would say of a cylinder; nothing is written."""
    return weighing.settle(Draft(book, timezone.now(), Balances()), gross, Weighing.CHECK)


def weigh(book: Book, act: Act, gross: Gross, role: str = Weighing.CHECK, taken: Sequence[photos.Taken] = ()) -> Entry:
    """Write one reading; its difference to the book goes to or comes from *unexplained* in the same entry.

    With the role *before* the cylinder then stands open on the scale until its next reading: one *after*, or a *check*
    where nothing was meant to move. The photos `taken` are sealed with it or nothing is written.
    """
    with transaction.atomic(durable=True):
        entry = ledger.write(book, act, lambda draft: weighing.settle(draft, gross, role), kind=Entry.WEIGH)
        photos.add_taken(book, taken, line=entry)
        return entry


@one_entry(Entry.WEIGH)
def stock_take(draft: Draft, readings: Sequence[Gross]) -> None:
    """Write the readings of one round of the floor as one entry, each with its difference to the book."""
    if not readings:
        raise Refused("No cylinder was weighed. Enter at least one reading.")
    if len({gross.cylinder.pk for gross in readings}) != len(readings):
        raise Refused("A cylinder stands twice in this stock-take. Keep one reading of each.")
    for gross in readings:
        weighing.settle(draft, gross, Weighing.CHECK)
