"""Which vehicle is meant by a plate or an identification number, so that one vehicle has one record."""

from django.db.models import Max, QuerySet

from inventory.book.refusals import Refused
from inventory.measure.marks import same
from inventory.models import Book
from inventory.models.likeness import alike, exactly
from shop.models import Vehicle

COLUMNS = {"registration": "registration_likeness", "vin": "vin_likeness"}


def all_of(book: Book) -> QuerySet[Vehicle]:
    """Return all vehicles of a book, also those that are joined to another."""
    return Vehicle.objects.filter(account__book=book).select_related("account__joined_to__vehicle")


def vehicles_like(book: Book, said: str, own: Vehicle | None = None, *, by: str = "registration") -> list[Vehicle]:
    """Return the vehicles that may be meant by a plate (or, `by` "vin", by that), the same ones first; not `own`.

    One that is joined to another is among them: its plate is another writing of that one's.
    """
    rows = all_of(book).annotate(seen_at=Max("visits__opened_at"))
    found = alike(rows, by, said, COLUMNS[by])
    return [one for one in found if own is None or kept(one).pk != own.pk]


def kept(vehicle: Vehicle) -> Vehicle:
    """Return the record under which a vehicle goes on: its own, or the one it is joined to."""
    to = vehicle.account.joined_to
    return to.vehicle if to is not None else vehicle


def vehicle_meant(book: Book, plate: str) -> Vehicle | None:
    """Return the vehicle whose plate is the same but for case, spaces and signs."""
    return next((kept(one) for one in vehicles_like(book, plate) if same(one.registration, plate)), None)


def twins_of(vehicle: Vehicle) -> list[Vehicle]:
    """Return the other records that have this vehicle's plate or identification number, and are not joined to it."""
    book = vehicle.account.book
    found = [
        one
        for by, like in COLUMNS.items()
        for one in exactly(all_of(book).filter(account__joined_to=None), by, getattr(vehicle, by), like)
    ]
    return list({one.pk: one for one in found if one.pk != vehicle.pk}.values())


def refuse_second(book: Book, plate: str, vin: str, own: Vehicle | None = None) -> None:
    """Refuse, under the book's lock, a plate or an identification number that another vehicle has; not its own one."""
    for by, said in (("registration", plate), ("vin", vin)):
        if own is not None and same(getattr(own, by), said):
            continue
        for one in vehicles_like(book, said, own, by=by):
            if same(getattr(one, by), said):
                raise Refused(f"{said} is in the book already, as {kept(one)}. Open that vehicle.")
