"""Where a book's chain stood, told to somebody outside, and whether the book still is what they saw.

A chain proves order, not truth: whoever holds the server can put up another book, or cut off the last lines and set the
head back. They cannot change what left the house. A witness names book, line, digest and day, and holds no name.

NoWitness    a file is none; the text is a sentence
"""

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import date
from zoneinfo import ZoneInfo

from inventory.book import clock
from inventory.book.audit import Fault
from inventory.models import Book, Entry


class NoWitness(ValueError):
    """What was given is no witness; the text is a sentence for the person."""


@dataclass(frozen=True)
class Witness:
    """The head of a book as it was seen on a day: the number and digest of its last line."""

    book: str
    line: int
    digest: str
    day: str

    @property
    def as_json(self) -> str:
        return json.dumps(asdict(self), ensure_ascii=False, indent=1) + "\n"


def of(book: Book) -> Witness:
    """Return the head of a book as it stands, seen on the book's own day."""
    day = clock.now().astimezone(ZoneInfo(book.zone)).date()
    return Witness(book.name, int(book.head_seq), book.head_digest, day.isoformat())


def read(text: str) -> Witness:
    """Return the witness of a file's text; raises NoWitness."""
    try:
        found = json.loads(text)
        book, line, digest, day = (found[name] for name in ("book", "line", "digest", "day"))
        date.fromisoformat(day)
    except (ValueError, KeyError, TypeError):
        raise NoWitness("It is no witness: one is JSON with book, line, digest and day.") from None
    if not (type(line) is int and line >= 0 and isinstance(digest, str) and isinstance(book, str)):
        raise NoWitness("It is no witness: its line is a whole number, its digest and its book are text.")
    return Witness(book, line, digest, day)


def book_of(seen: Witness, using: str = "default") -> Book | None:
    """Return the book that a witness saw: the one that has its line still, however called, else that of its name.

    The digest of a line follows from the uid of its book, so no other book can have it.
    """
    if seen.line:
        entry = Entry.objects.using(using).filter(seq=seen.line, digest=seen.digest).select_related("book").first()
        if entry is not None:
            return entry.book
    return Book.objects.using(using).filter(name=seen.book).first()


def faults(seen: Witness, book: Book, using: str = "default") -> Iterator[Fault]:
    """Yield where a book is shorter than, or other than, what a witness saw; the chain itself is proved by `audit`."""
    head = Book.objects.using(using).values_list("head_seq", flat=True).get(pk=book.pk)
    at = f"line {seen.line}"
    if head < seen.line:
        yield Fault(at, f"was seen on {seen.day} and is not there: the book ends with line {head}, it was cut short")
        return
    if not seen.line:
        return
    found = Entry.objects.using(using).filter(book=book, seq=seen.line).values_list("digest", flat=True).first()
    if found is None:
        yield Fault(at, f"was seen on {seen.day} and is not there")
    elif found != seen.digest:
        yield Fault(
            at,
            f"is not the line that was seen on {seen.day}, with the digest {seen.digest[:16]}: this is another book, "
            "or it was written anew",
        )
