"""An invented workshop before its first day: its people, partners and instruments."""

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction

from inventory.book import ledger
from inventory.models import Book, Gauge, Partner
from shop.demo.cast import TRAINEE
from shop.demo.places import Place
from shop.models import Certification, Membership, User, Workshop


@transaction.atomic
def open_workshop(place: Place, root: UUID, *, trained_since: date, checked_until: Mapping[str, date]) -> Workshop:
    """Create it all and return the workshop; nobody has a password yet."""
    book = ledger.open_book(place.name, place.zone, root)
    facts: dict[str, Any] = dict(place.workshop)
    workshop = Workshop.objects.create(book=book, slug=place.slug, name=place.name, zone=place.zone, **facts)
    _people(workshop, place, trained_since)
    for name, (kind, address, registration) in place.partners.items():
        account = ledger.open_account(book, "partner", name)
        Partner.objects.create(account=account, name=name, kind=kind, address=address, registration=registration)
    _instruments(book, place, checked_until)
    return workshop


def _people(workshop: Workshop, place: Place, trained_since: date) -> None:
    for user_name, (name, role) in place.people.items():
        trainee = user_name == TRAINEE
        user = User(username=user_name, display_name=name, handle=f"p-{user_name}")
        user.set_unusable_password()
        user.save()
        enrolled = trained_since if trainee else None
        Membership.objects.create(user=user, workshop=workshop, role=role, is_trainee=trainee, enrolled_on=enrolled)
        for held in place.certificates.get(user_name, ()):
            Certification.objects.create(user=user, **held)


def _instruments(book: Book, place: Place, until: Mapping[str, date]) -> None:
    for name, step, capacity_mg in place.scales:
        shown = {} if step.unit == "g" else {"step_number": str(step.number), "step_unit": step.unit}
        facts = {"step_mg": round(step.mg), "capacity_mg": capacity_mg, "calibrated_until": until[name], **shown}
        ledger.open_scale(book, name=name, **facts)
    for name, (kind, resolution, typed, absolute, accuracy) in place.gauges.items():
        Gauge.objects.create(
            book=book,
            name=name,
            kind=kind,
            step=resolution,
            absolute=absolute,
            accuracy=accuracy,
            typed={"step": typed},
            calibrated_until=until[name],
        )
