"""The facts that the rules look at, read from the database, and a mark of all that they are read from.

Some twenty queries, however many lines there are. Visits and lines of the last three years count, and whatever is not
finished. What the chain seals is marked by its head; of every other table that is read, each row counts whole.
"""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from compliance.findings import lines, shelf, visits
from compliance.findings.marks import mark, texts, whole
from compliance.rules import facts
from shop.models import Membership, Workshop

WINDOW = timedelta(days=1_100)  # three years, as long as records are usually asked for


def facts_of(workshop: Workshop, today: date) -> facts.Workshop:
    """Return what the rules look at, as of `today` in the workshop's zone."""
    zone, since = ZoneInfo(workshop.zone), _since(workshop, today)
    return facts.Workshop(
        jurisdiction=workshop.jurisdiction,
        today=today,
        has_address=bool(workshop.address.strip()),
        registration=workshop.registration,
        people=people_of(workshop),
        visits=tuple(visits.visits_of(workshop, since)),
        cylinders=tuple(shelf.cylinders_of(workshop, since, zone)),
        readings=tuple(shelf.readings_of(workshop, since, zone)),
        differences=tuple(lines.differences_of(workshop, since)),
        lines=tuple(lines.lines_of(workshop, since, zone, visits.entries_of_visits(workshop))),
        consignments=tuple(lines.consignments_of(workshop, since)),
        tares=tuple(shelf.tares_of(workshop, since, zone)),
        instruments=tuple(shelf.instruments_of(workshop, zone)),
    )


def mark_of(workshop: Workshop, today: date) -> str:
    """Return a mark of all that `facts_of` reads, in ten queries: another mark, other facts."""
    book, since = workshop.book, _since(workshop, today)
    book.refresh_from_db(fields=["head_seq", "head_digest"])
    return mark(
        today,
        book.head_seq,
        book.head_digest,
        visits.as_read(workshop),
        *_read_people(workshop),
        *shelf.read(workshop),
        *lines.read(workshop, since),
        *visits.read(workshop, since),
    )


def _since(workshop: Workshop, today: date) -> datetime:
    return datetime.combine(today - WINDOW, time(), ZoneInfo(workshop.zone))


def people_of(workshop: Workshop) -> dict[str, facts.Person]:
    """Return the people of a workshop by handle."""
    rows = Membership.objects.filter(workshop=workshop).select_related("user").prefetch_related("user__certifications")
    return {
        one.user.handle: facts.Person(
            handle=one.user.handle,
            role=one.role,
            active=one.active,
            trainee=one.is_trainee,
            enrolled_on=one.enrolled_on,
            certificates=tuple(
                facts.Certificate(each.scheme, each.issued_on, each.expires_on, each.never_expires, each.scope)
                for each in one.user.certifications.all()
            ),
        )
        for one in rows
    }


def _read_people(workshop: Workshop) -> Iterator[str]:
    """Yield what the facts of people are read from; one query."""
    yield from texts(whole(Membership.objects.filter(workshop=workshop), "user__handle", "user__certifications"))
