"""What is stored about a person: handed out whole, and removed without touching the masses.

The book's chain names people by handle and visits by number; names, plates and free words stand beside it and can go.
Documents that were issued stay as issued, whoever holds them; the page says so.
"""

import re
from collections.abc import Callable, Iterable
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Model, Q, QuerySet
from django.utils import timezone

from inventory.book import ledger
from inventory.models import Account, Entry, Photo, Remark, kept
from inventory.shelf import photos
from shop.models import Customer, Membership, Step, User, Vehicle, Visit, Watch, Workshop
from shop.people.identity import COLUMNS

REMOVED = "removed"
# What is handed out of each record, by the names of its columns.
USER = ("handle", "username", "display_name", "email")
CUSTOMER = ("name", "phone", "email", "note", "removed_at")
_NAMED = ("registration", "vin", "make_model", "vehicle_class")
VEHICLE = (*_NAMED, "refrigerant", "original_refrigerant", "nameplate_mg", "first_registered", "type_approved")
VISIT = ("number", "opened_at", "closed_at", "purpose")
STEP = ("kind", "occurred_at", "data", "note")
WATCH = ("kind", "started_at", "planned_s", "data", "ended_at")
WATCH_READING = ("taken_at", "data", "dropped")
PHOTO = ("shows", "digest", "removed_at")
CERTIFICATE = ("scheme", "category", "number", "issuer", "issued_on", "expires_on", "never_expires", "scope")
OWN_WORDS = ("says", "declined")  # fields of steps that hold what the customer said


def customer_data(customer: Customer) -> dict[str, Any]:
    """Return all that is stored about a customer and their vehicles, as plain data for JSON."""
    return {**_facts(customer, CUSTOMER), "vehicles": [_vehicle(one) for one in _vehicles_of(customer)]}


def _vehicles_of(customer: Customer) -> QuerySet[Vehicle]:
    """Return the records of a customer's vehicles, also those that are joined to one of them."""
    own = Q(customer=customer) | Q(account__joined_to__vehicle__customer=customer)
    return Vehicle.objects.filter(own).select_related("account__book").order_by("pk")


def _visits_of(vehicle: Vehicle) -> QuerySet[Visit]:
    """Return the visits of a record, also those that went along to the one it is joined to."""
    return Visit.objects.filter(Q(vehicle=vehicle) | Q(joinings__vehicle=vehicle)).distinct().order_by("number")


def _vehicle(vehicle: Vehicle) -> dict[str, Any]:
    visits = _visits_of(vehicle).prefetch_related("steps", "watches__readings")
    shown = Photo.objects.filter(account=vehicle.account).select_related("entry").order_by("pk")
    return {
        "number": vehicle.account.number,
        **_facts(vehicle, VEHICLE),
        "visits": [_visit(one) for one in visits],
        "photos": [{"line": one.entry.seq, **_facts(one, PHOTO)} for one in shown],
    }


def _visit(visit: Visit) -> dict[str, Any]:
    return {
        **_facts(visit, VISIT),
        "steps": [_facts(one, STEP) for one in visit.steps.all()],
        "watches": [
            {**_facts(one, WATCH), "readings": [_facts(each, WATCH_READING) for each in one.readings.all()]}
            for one in visit.watches.all()
        ],
        **{name: value for more in MORE_OF_VISIT for name, value in more(visit).items()},
    }


MORE_OF_PERSON: list[Callable[[User, Workshop], dict[str, Any]]] = []
"""What floors above have stored about a person of a workshop: their `AppConfig.ready` appends to it."""


MORE_OF_VISIT: list[Callable[[Visit], dict[str, Any]]] = []
"""What floors above have stored about a visit of a customer's vehicle, handed out with it."""


FORGETTING: list[Callable[[list[int]], None]] = []
"""What floors above drop when customers' visits of these keys have lost their words: what they read of them before."""


def person_data(user: User, workshop: Workshop) -> dict[str, Any]:
    """Return all that one workshop has stored about a person who works there, as plain data for JSON."""
    member = Membership.objects.get(user=user, workshop=workshop)
    did = Step.objects.filter(Q(doer=user) | Q(answers=user), visit__workshop=workshop).select_related("visit", "doer")
    wrote = Entry.objects.filter(book=workshop.book, actor=user.handle).order_by("seq")
    held = user.certifications.order_by("pk")
    return {
        **_facts(user, USER),
        "last_sign_in": _plain(user.last_login),
        "role": member.role,
        "active": member.active,
        "trainee": member.is_trainee,
        "enrolled_on": _plain(member.enrolled_on),
        "certificates": [_facts(one, CERTIFICATE) for one in held],
        "steps": [
            {
                "visit": one.visit.number,
                "kind": one.kind,
                "occurred_at": _plain(one.occurred_at),
                "part": "did it" if one.doer_id == user.pk else "answers for it",
            }
            for one in did.order_by("occurred_at", "pk")
        ],
        "lines": list(wrote.values_list("seq", flat=True)),
        "watches": _watches_of(user, workshop),
        **{name: value for more in MORE_OF_PERSON for name, value in more(user, workshop).items()},
    }


def _watches_of(user: User, workshop: Workshop) -> list[dict[str, Any]]:
    """Return what was started, read or dropped by a person while it was under way."""
    handle = user.handle
    own = Q(started_by=handle) | Q(dropped_by=handle) | Q(readings__taken_by=handle)
    rows = Watch.objects.filter(own, visit__workshop=workshop).select_related("visit").prefetch_related("readings")
    return [
        {
            "visit": one.visit.number,
            **_facts(one, ("kind", "started_at")),
            "started": one.started_by == handle,
            "dropped": one.dropped_by == handle,
            "read_at": [_plain(each.taken_at) for each in one.readings.all() if each.taken_by == handle],
        }
        for one in rows.distinct().order_by("started_at", "pk")
    ]


def _facts(row: Model, names: Iterable[str]) -> dict[str, Any]:
    return {name: _plain(getattr(row, name)) for name in names}


def _plain(value: Any) -> Any:
    """Return a value as JSON holds it: a moment to the second, a day, else as it is."""
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    return value.isoformat() if isinstance(value, date) else value


def remove_customer(customer: Customer) -> None:
    """Remove what is known of a person: name and ways to reach them, plates, VINs, their words, photos of vehicles.

    Vehicles keep their numbers, visits their steps and figures, and nothing in the book changes. Notes stay, since they
    may be the reason of an act, without the names that are removed.
    """
    with transaction.atomic(durable=True):
        book = ledger.lock(customer.workshop.book)
        own = [customer.name, customer.phone, customer.email]
        customer.name, customer.phone, customer.email, customer.note = REMOVED, "", "", ""
        customer.removed_at = customer.removed_at or timezone.now()
        customer.save()
        vehicles = list(_vehicles_of(customer))
        own += [name for vehicle in vehicles for name in (vehicle.registration, vehicle.vin)]
        for vehicle in vehicles:
            _forget_vehicle(vehicle, own)
        kept.forget(book.pk, since=book.trace_seq)


def _forget_vehicle(vehicle: Vehicle, names: Iterable[str]) -> None:
    words = f"vehicle {vehicle.account.number}"
    Account.objects.filter(pk=vehicle.account_id).update(label=words)
    vehicle.registration, vehicle.vin = words, ""
    vehicle.save(update_fields=["registration", "vin", *COLUMNS.values()])
    gone, visits = _finder(names), _visits_of(vehicle).select_related("workshop").prefetch_related("steps")
    for visit in visits:
        _forget_words(visit, gone)
    for forget in FORGETTING:
        forget([visit.pk for visit in visits])
    for photo in Photo.objects.filter(account=vehicle.account, removed_at__isnull=True).select_related("book"):
        photos.remove_file(photo)


def _finder(names: Iterable[str]) -> re.Pattern[str] | None:
    """Return what finds the names in a text, whole words in any case; None where there are none."""
    wanted = sorted({name.strip() for name in names if name.strip() not in ("", REMOVED)}, key=len, reverse=True)
    return re.compile(rf"(?<!\w)({'|'.join(map(re.escape, wanted))})(?!\w)", re.IGNORECASE) if wanted else None


def _forget_words(visit: Visit, gone: re.Pattern[str] | None) -> None:
    """Take what the customer said out of a visit's steps, and the names out of its notes; figures stay."""

    def without(text: str) -> str:
        return gone.sub(REMOVED, text) if gone else text

    visit.purpose = without(visit.purpose)
    visit.save(update_fields=["purpose"])
    for step in visit.steps.all():
        step.data = {name: _forgotten(value) if name in OWN_WORDS else value for name, value in step.data.items()}
        step.note = without(step.note)
        step.save(update_fields=["data", "note"])
    notes = Remark.objects.filter(entry__book=visit.workshop.book)
    for remark in notes.filter(Q(entry__context=visit.context) | Q(entry__steps__visit=visit)).distinct():
        remark.text = without(remark.text)
        remark.save(update_fields=["text"])


def _forgotten(value: Any) -> Any:
    return {**value, "text": REMOVED, "echo": REMOVED} if isinstance(value, dict) and value.get("text") else value
