"""The book is closed through a day."""

from datetime import date
from zoneinfo import ZoneInfo

from django.utils import timezone

from inventory.acts.writing import one_entry
from inventory.book import ledger
from inventory.book.draft import Draft
from inventory.book.refusals import Refused
from inventory.models import Book, Entry


@one_entry(Entry.CLOSE)
def close_through(draft: Draft, day: date) -> None:
    """Close the book through a day: nothing counts for it any more; later corrections count on the day of writing."""
    closed_through = draft.book.closed_through
    if day >= timezone.now().astimezone(ZoneInfo(draft.book.zone)).date():
        raise Refused(f"{day} is not over yet: a book is closed through a day that has passed.")
    if closed_through is not None and day <= closed_through:
        raise Refused(f"The book is closed through {closed_through} already.")
    draft.context = f"{ledger.CLOSED}{day.isoformat()}"  # so that the chain holds the day
    draft.then(lambda _: _set_closed(draft.book, day))


def _set_closed(book: Book, day: date) -> None:
    book.closed_through = day
    book.save(update_fields=["closed_through"])
