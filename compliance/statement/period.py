"""Which lines count for a statement: those of a book as it stood at its head, from a first day to a last.

The head is read first and bounds every query, so that all figures show one moment.
"""

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from inventory.models import Book, Entry, Movement

LISTED = 100  # late lines, reversals and vehicles that a page or a paper lists; the rest is counted
EARLIEST, LATEST = date(1900, 1, 1), date(2999, 12, 31)


class WrongPeriod(ValueError):
    """A period or basis that cannot be reported; the text is a sentence for the person."""


@dataclass(frozen=True)
class Head:
    """Where the book stood when the statement was read."""

    seq: int
    digest: str
    entry_pk: int

    @property
    def short_digest(self) -> str:
        """The sixteen digits that are printed."""
        return self.digest[:16]


@dataclass(frozen=True)
class Period:
    """The days of a statement, both included, of a book up to its head."""

    book: Book
    first: date
    last: date
    head: Head

    @property
    def zone(self) -> ZoneInfo:
        """The zone in which the book counts its days."""
        return ZoneInfo(self.book.zone)

    @property
    def is_closed(self) -> bool:
        """Whether the whole period is closed, so that nothing more can count for it."""
        return self.book.closed_through is not None and self.book.closed_through >= self.last

    @property
    def until_its_end(self) -> QuerySet[Movement]:
        """The movements that count up to the last day.

        Entries of one book are written under its lock, so their ids rise with their numbers.
        """
        return Movement.objects.filter(book=self.book, entry_id__lte=self.head.entry_pk, booked_on__lte=self.last)

    @property
    def after_its_end(self) -> QuerySet[Movement]:
        """All other movements: those that count later, and those of lines after its head."""
        return Movement.objects.filter(Q(booked_on__gt=self.last) | Q(entry_id__gt=self.head.entry_pk), book=self.book)

    @property
    def movements(self) -> QuerySet[Movement]:
        """The movements that count from the first day to the last."""
        return self.until_its_end.filter(booked_on__gte=self.first)

    @property
    def entries(self) -> QuerySet[Entry]:
        """The lines that count from the first day to the last."""
        return Entry.objects.filter(book=self.book, seq__lte=self.head.seq, booked_on__range=(self.first, self.last))


def period_of(book: Book, first: date, last: date) -> Period:
    """Return the period of a book as it stands now; raises WrongPeriod."""
    check_days(first, last)
    book = Book.objects.get(pk=book.pk)
    pk = Entry.objects.filter(book=book, seq=book.head_seq).values_list("pk", flat=True).first()
    return Period(book, first, last, Head(book.head_seq, book.head_digest, pk or 0))


def day_in(text: str) -> date | None:
    """Return the day that a text is, in the plain form alone: 2026-03-04."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if day.isoformat() == text else None


def named_days(about: str) -> tuple[date, date, str] | None:
    """Return first day, last day and basis (empty: the workshop's) of ``period:2025-01-01:2025-12-31:AR4``."""
    kind, *rest = about.split(":")
    days = [day for day in map(day_in, rest[:2]) if day]
    return (days[0], days[1], "".join(rest[2:])) if kind == "period" and len(days) == 2 and len(rest) <= 3 else None


def check_days(first: date, last: date) -> None:
    """Raise WrongPeriod where a period cannot be reported."""
    if last < first:
        raise WrongPeriod(f"The period ends on {last.isoformat()}, before it begins on {first.isoformat()}.")
    if first < EARLIEST or last > LATEST:
        raise WrongPeriod(f"A period lies between {EARLIEST.isoformat()} and {LATEST.isoformat()}.")
