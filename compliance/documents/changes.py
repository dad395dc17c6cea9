"""What was written in the book since a document was issued, and touches what it rests on."""

from dataclasses import dataclass
from datetime import date
from typing import cast

from django.db.models import Q, QuerySet

from compliance.models import Document
from compliance.statement.period import named_days
from inventory import causes
from inventory.models import Entry, Movement


@dataclass(frozen=True)
class Change:
    """Something written since the document was issued that touches what it rests on; `line` wrote it."""

    line: int
    day: date
    words: str

    def __str__(self) -> str:
        return f"{self.words} (line {self.line}, {self.day.isoformat()})."


def changes_of(document: Document) -> tuple[Change, ...]:
    """Return what was written since and touches the lines on which a document rests, in the order of the book."""
    book = document.workshop.book
    rests = _rests_on(document)
    reversed_since = rests.filter(reversal__seq__gt=document.head_seq)
    found = [
        Change(by, day, f"Line {seq}, on which it rests, was reversed")
        for seq, by, day in reversed_since.values_list("seq", "reversal__seq", "reversal__booked_on")
    ]
    explained = Movement.objects.using(document._state.db).filter(
        book=book, explains__entry__in=rests, entry__seq__gt=document.head_seq, reversal=False
    )
    for seq, by, day, cause in explained.values_list("explains__entry__seq", "entry__seq", "booked_on", "cause"):
        words = causes.CAUSES[cause].words if cause in causes.CAUSES else cause
        found.append(Change(by, day, f"The difference of line {seq} was followed by: {words}"))
    if (period := named_days(document.about)) is not None:
        written = _lines(document).filter(seq__gt=document.head_seq, booked_on__range=period[:2])
        rows = written.exclude(kind__in=(Entry.SEAL, Entry.CLOSE)).exclude(seq__in={change.line for change in found})
        words = "A line was written for its period since"
        found += [Change(seq, day, words) for seq, day in rows.values_list("seq", "booked_on")]
    return tuple(sorted(set(found), key=lambda change: (change.line, change.words)))


def _lines(document: Document) -> QuerySet[Entry]:
    return Entry.objects.using(document._state.db).filter(book=document.workshop.book)


def _rests_on(document: Document) -> QuerySet[Entry]:
    """Return the lines on which a document rests: those it names, and of a period all that counted for it."""
    named = Q(seq__in=cast("list[int]", document.lines))
    if (period := named_days(document.about)) is not None:
        named |= Q(booked_on__range=period[:2], seq__lte=document.head_seq)
    return _lines(document).filter(named)
