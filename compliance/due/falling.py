"""What falls due: one function for the first page, for mails, for calendars and for what lies ahead. Pure.

A day is the last one on which something still holds: the day after, it is past.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

CERTIFICATE, SCALE, INSTRUMENT, CYLINDER = "certificate", "scale", "instrument", "cylinder"
CONSIGNMENT, CLOSING = "consignment", "closing"
KINDS = (CYLINDER, SCALE, INSTRUMENT, CERTIFICATE, CONSIGNMENT, CLOSING)

PAST, TODAY, NEAR, AHEAD = "past its day", "today", "within a week", "ahead"
A_WEEK = timedelta(days=7)
CLOSED_BY = (3, 31)  # of the year after: common practice, no source
CLOSING_SOON = timedelta(days=90)


@dataclass(frozen=True)
class Thing:
    """Something with a day.

    `key` tells it from all others of its book and stays when the day changes. `name` is what the workshop calls it;
    `code` names it where nobody's name, plate or partner may stand. `soon` is how long before its day it is listed.
    """

    kind: str
    key: str
    name: str
    code: str
    on: date
    soon: timedelta
    of: str = ""  # what of it has the day: the scheme of a certificate, to whom a consignment went
    place: str = ""  # what the address of its page ends with: a number, a handle
    mass_mg: int = 0  # of a consignment


@dataclass(frozen=True)
class Due:
    """A thing that falls due, as of a day."""

    thing: Thing
    left: timedelta

    @property
    def on(self) -> date:
        """The last day on which it still holds."""
        return self.thing.on

    @property
    def is_past(self) -> bool:
        """Whether its day is over."""
        return self.left < timedelta(0)

    @property
    def stage(self) -> str:
        """How near it is: one of four words, so that somebody who was told hears of it again when that changes."""
        if self.is_past:
            return PAST
        if not self.left:
            return TODAY
        return NEAR if self.left <= A_WEEK else AHEAD


def falling_due(things: Iterable[Thing], today: date, *, ahead: timedelta | None = None) -> tuple[Due, ...]:
    """Return what is past its day or falls due within `ahead`, the longest past first.

    Without `ahead` each thing is listed as early as its own kind asks.
    """
    due = (Due(one, one.on - today) for one in things)
    listed = (one for one in due if one.left <= (one.thing.soon if ahead is None else ahead))
    return tuple(sorted(listed, key=lambda one: (one.on, KINDS.index(one.thing.kind), one.thing.key)))


def closing_of(first_on: date | None, closed_through: date | None, today: date) -> Thing | None:
    """Return the closing that comes next: of the year before `today`, else of this one; None of an empty book."""
    if first_on is None:
        return None
    year = today.year - 1
    if first_on.year > year or (closed_through is not None and closed_through >= date(year, 12, 31)):
        year += 1
    by = date(year + 1, *CLOSED_BY)
    return Thing(CLOSING, f"closing:{year}", f"The year {year}", f"The year {year}", by, CLOSING_SOON)
