"""The facts that the rules look at, read from the database.

Some twenty queries, however many lines there are. Visits and lines of the last three years count, and whatever is not
finished.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from compliance.findings import changes, lines, partners, shelf, shots, visits
from compliance.models import Judged
from compliance.rules import facts
from shop.models import Membership, Workshop

WINDOW = timedelta(days=1_100)  # three years, as long as records are usually asked for


def facts_of(workshop: Workshop, today: date) -> facts.Workshop:
    """Return what the rules look at, as of `today` in the workshop's zone."""
    seq = Judged.objects.filter(workshop=workshop).values_list("seq", flat=True).first() or 0
    list(visits.bring_up(workshop, since(workshop, today), changes.since(workshop, seq)))
    return facts_of_book(workshop, today)


def facts_of_book(workshop: Workshop, today: date) -> facts.Workshop:
    """Return the same where the visits that have changed were read anew already."""
    zone, begins = ZoneInfo(workshop.zone), since(workshop, today)
    return replace(
        facts_alone(workshop, today, list(visits.kept(workshop, begins))),
        cylinders=tuple(shelf.cylinders_of(workshop, begins, zone)),
        readings=tuple(shelf.readings_of(workshop, begins, zone)),
        differences=tuple(lines.differences_of(workshop, begins)),
        lines=tuple(lines.lines_of(workshop, begins, zone, visits.entries_of_visits(workshop))),
        consignments=tuple(lines.consignments_of(workshop, begins)),
        tares=tuple(shelf.tares_of(workshop, begins, zone)),
        instruments=tuple(shelf.instruments_of(workshop, zone)),
        shots=tuple(shots.shots_of(workshop, begins, zone)),
        listed=tuple(partners.listed(workshop, begins, zone, today)),
    )


def facts_alone(workshop: Workshop, today: date, found: Sequence[facts.Visit]) -> facts.Workshop:
    """Return the facts of some visits, with the workshop and its people, and nothing else of its book."""
    return facts.Workshop(
        jurisdiction=workshop.jurisdiction,
        today=today,
        has_address=bool(workshop.address.strip()),
        registration=workshop.registration,
        state_licence=facts.StateLicence(
            bool(workshop.state_licence.strip()), workshop.state_licence_until, workshop.no_state_licence
        ),
        people=people_of(workshop),
        visits=tuple(found),
    )


def since(workshop: Workshop, today: date) -> datetime:
    """Return from when on visits and lines are looked at."""
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
                facts.Certificate(
                    each.scheme, each.issued_on, each.expires_on, each.never_expires, each.scope, each.category
                )
                for each in one.user.certifications.all()
            ),
        )
        for one in rows
    }
