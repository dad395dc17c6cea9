"""What has a day in a workshop: certificates, instruments, cylinders, consignments, the closing.

The number of queries does not grow with what is found.
"""

from collections.abc import Iterator
from datetime import date, timedelta

from django.db.models import Exists, OuterRef, Q

from compliance.due.falling import (
    CERTIFICATE,
    CONSIGNMENT,
    CYLINDER,
    INSTRUMENT,
    SCALE,
    Due,
    Thing,
    closing_of,
    falling_due,
)
from compliance.rules.book.gate import PAPER_DUE, TO_BE_WEIGHED
from inventory.causes import PARTNER
from inventory.models import Consignment, Cylinder, Entry, Scale
from shop.models import Certification, Workshop
from shop.people.instruments import SOON, in_use

CERTIFICATES_SOON = timedelta(days=60)
CONSIGNMENTS_SOON = timedelta(days=14)


def due_of(workshop: Workshop, today: date, *, ahead: timedelta | None = None) -> tuple[Due, ...]:
    """Return what falls due in a workshop, as `falling_due` has it."""
    return falling_due(things_of(workshop, today), today, ahead=ahead)


def things_of(workshop: Workshop, today: date) -> Iterator[Thing]:
    """Yield all that has a day in a workshop and is not settled."""
    yield from _cylinders(workshop)
    yield from _instruments(workshop)
    yield from _certificates(workshop)
    yield from _consignments(workshop)
    first = Entry.objects.filter(book=workshop.book).order_by("booked_on").values_list("booked_on", flat=True).first()
    if (closing := closing_of(first, workshop.book.closed_through, today)) is not None:
        yield closing


def _cylinders(workshop: Workshop) -> Iterator[Thing]:
    here = Cylinder.objects.filter(account__book=workshop.book, requalify_by__isnull=False)
    for one in here.exclude(state__in=Cylinder.GONE).select_related("account"):
        if one.requalify_by is not None:
            number = one.account.number
            code = f"Cylinder {one.label}"
            yield Thing(CYLINDER, f"cylinder:{number}", str(one), code, one.requalify_by, SOON, place=str(number))


def _instruments(workshop: Workshop) -> Iterator[Thing]:
    for one in in_use(workshop.book):
        if one.until is None:
            continue
        own = one.instrument
        kind, place = (SCALE, own.number) if isinstance(own, Scale) else (INSTRUMENT, own.pk)
        key, name = one.key.replace("-", ":"), one.name
        yield Thing(kind, key, name, name, one.until, SOON, of=str(own), place=str(place))


def _certificates(workshop: Workshop) -> Iterator[Thing]:
    """Yield of each person and scheme the certificate that ends last; one that never ends settles the others."""
    people = Q(user__memberships__workshop=workshop, user__memberships__active=True)
    rows = Certification.objects.filter(people).select_related("user").order_by("never_expires", "expires_on", "pk")
    latest = {(one.user_id, one.scheme): one for one in rows}
    for (user, scheme), one in latest.items():
        if one.expires_on is not None and not one.never_expires:
            key, handle = f"certificate:{user}:{scheme}", one.user.handle
            name, soon = str(one.user), CERTIFICATES_SOON
            yield Thing(CERTIFICATE, key, name, "A certificate", one.expires_on, soon, of=scheme, place=handle)


def _consignments(workshop: Workshop) -> Iterator[Thing]:
    """Yield what was sent to be weighed by its receiver, and of which the receiver has not said the mass."""
    ours = Exists(Entry.objects.filter(pk=OuterRef("entry"), book=workshop.book))  # no walk over the lines of the book
    waiting = Consignment.objects.standing().filter(ours, accepted_mg__isnull=True, purpose__in=TO_BE_WEIGHED)
    for one in waiting.select_related("entry", "partner").prefetch_related("entry__movements__target"):
        seq, by = one.entry.seq, one.entry.booked_on + PAPER_DUE
        yield Thing(
            CONSIGNMENT,
            f"consignment:{seq}",
            f"Consignment {one.number}",
            f"The consignment of line {seq}",
            by,
            CONSIGNMENTS_SOON,
            of=str(one.partner),
            place=str(seq),
            mass_mg=sum(int(line.mass_mg) for line in one.entry.movements.all() if line.target.kind == PARTNER),
        )
