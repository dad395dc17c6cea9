"""The digest that chains each entry of a book to the one before it. `audit` recomputes it by code of its own."""

import hashlib
import json
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Any, TypeVar

from inventory.book.draft import Moved, Read
from inventory.models import Book, Entry

VERSION = "tarebook-1"

T = TypeVar("T")
Numbered = tuple[int, T]
"""A line of an entry with its number there: still to be written, or as it stands."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)
# One encoder for all, since making one costs as much as using it.
_encode = json.JSONEncoder(ensure_ascii=True, separators=(",", ":"), sort_keys=True, default=str).encode


def entry_digest(
    book: Book,
    previous: str,
    entry: Entry,
    movements: Iterable[Numbered[Moved]],
    weighings: Iterable[Numbered[Read]],
) -> str:
    """Return the SHA-256 that chains an entry to the one before it; integers and strings in fixed order."""
    return sha256_of(
        [
            VERSION,
            previous,
            str(book.uid),
            entry.seq,
            entry.kind,
            _ms(entry.occurred_at),
            _ms(entry.recorded_at),
            entry.booked_on.isoformat(),
            entry.actor,
            entry.context,
            str(entry.request_key),
            entry.request_digest,
            entry.reverses.seq if entry.reverses else 0,
            entry.seals,
            [_movement_facts(*movement) for movement in movements],
            [_weighing_facts(*weighing) for weighing in weighings],
            *((entry.traced,) if entry.traced else ()),  # lines from before the history have the digest they had
        ]
    )


def standing_digest(book: Book, previous: str, entry: Entry) -> str:
    """Return the digest of an entry from its rows as they stand."""
    movements = entry.movements.select_related("source", "target", "scale", "explains__entry").order_by("line")
    weighings = entry.weighings.select_related("account", "scale").order_by("line")
    return entry_digest(
        book, previous, entry, [(row.line, row) for row in movements], [(row.line, row) for row in weighings]
    )


def _movement_facts(number: int, row: Moved) -> list[object]:
    explains = row.explains
    return [
        number,
        row.cause,
        row.basis,
        row.source.reference,
        row.target.reference,
        row.refrigerant,
        row.grade,
        int(row.mass_mg),
        int(row.u_random_mg),
        int(row.u_span_mg),
        row.scale.number if row.scale else 0,
        int(row.can_tell_mg),
        int(row.reversal),
        f"{explains.entry.seq}:{explains.line}" if explains else "",
    ]


def _weighing_facts(number: int, row: Read) -> list[object]:
    return [
        number,
        row.account.reference,
        row.role,
        int(row.gross_mg),
        int(row.tare_mg),
        int(row.u_mg),
        int(row.step_mg),
        row.scale.number,
        row.typed,
        *((row.raw,) if row.raw else ()),  # lines of scales that were read by eye have the digest they always had
    ]


def _ms(moment: datetime) -> int:
    """Milliseconds since 1970, by whole-number arithmetic."""
    return (moment - _EPOCH) // _MILLISECOND


def sha256_of(facts: list[Any]) -> str:
    """Return the SHA-256 of facts in their order, as JSON without blanks, in ASCII."""
    return hashlib.sha256(_encode(facts).encode("ascii")).hexdigest()
