"""Vehicles in a period: what the book shows inside each at its end, and how many were worked on."""

from collections import Counter
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet, Sum
from django.db.models.functions import Coalesce

from compliance.statement.period import LISTED, Period
from inventory import causes
from inventory.models import Account, Book


@dataclass(frozen=True)
class VehicleHolding:
    """What the book shows inside a vehicle at the end of the period; below zero: more came out than was put in."""

    number: int
    label: str
    refrigerant: str
    mass_mg: int


def vehicle_holdings(period: Period, *, limit: int | None = LISTED) -> tuple[VehicleHolding, ...]:
    """Return what the book shows inside each vehicle at the end of the period, in order of account number.

    Records that are joined count as the one they are joined to. `limit` is of vehicles; None for all.
    """
    accounts = _accounts(period.book)
    kept = dict(accounts.exclude(joined_to=None).values_list("pk", "joined_to"))
    held: Counter[tuple[int, str]] = Counter()
    for end, sign in (("source", -1), ("target", 1)):
        legs = period.until_its_end.filter(**{f"{end}__kind": causes.VEHICLE}).values_list(f"{end}_id", "refrigerant")
        for pk, refrigerant, mass in legs.annotate(mass=Sum("mass_mg")).order_by():
            held[kept.get(pk) or pk, refrigerant] += sign * int(mass)
    pks = sorted({pk for (pk, _), mass in held.items() if mass})[:limit]
    chosen = accounts if limit is None else accounts.filter(pk__in=pks)
    names = {pk: (number, label) for pk, number, label in chosen.values_list("pk", "number", "label")}
    found = (VehicleHolding(*names[pk], code, mass) for (pk, code), mass in held.items() if mass and pk in names)
    return tuple(sorted(found, key=lambda each: (each.number, each.refrigerant)))


def vehicles_touched(period: Period) -> int:
    """Return how many vehicles gas came out of or went into in the period."""
    lines = period.movements
    touched = Exists(lines.filter(source=OuterRef("pk"))) | Exists(lines.filter(target=OuterRef("pk")))
    return _accounts(period.book).filter(touched).values_list(Coalesce("joined_to", "pk")).distinct().count()


def _accounts(book: Book) -> QuerySet[Account]:
    return Account.objects.filter(book=book, kind=causes.VEHICLE)
