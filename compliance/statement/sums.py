"""The grouped queries of a statement: alike movements added up, mixed content, sent away by purpose, vehicles."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import (
    BigIntegerField,
    Case,
    Count,
    Exists,
    FloatField,
    IntegerField,
    OuterRef,
    QuerySet,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Cast, Coalesce

from compliance.statement import balance
from compliance.statement.balance import BEFORE, ENTERED, PERIOD
from compliance.statement.emissions import Composition, MixedContent
from compliance.statement.period import LISTED, Period
from inventory import causes
from inventory.gases.catalogue import MIXED
from inventory.models import Account, Analysis, Book, Movement

# The fields of a `balance.Sum` whose columns have another name.
_COLUMN_OF = {
    "source__kind": "source",
    "target__kind": "target",
    "scale_id": "scale",
    "source_id": "source_account",
    "target_id": "target_account",
}
PURPOSE_OF_CAUSE = {
    "sent-away": "purpose not entered",
    "heel-returned": "return to supplier",
    "passed-on": "sale",
    "moved-to-sister": "sister workshop",
}


@dataclass(frozen=True)
class Purpose:
    """Mass sent away for one purpose."""

    refrigerant: str
    purpose: str
    mass_mg: int
    lines: int


def summed(period: Period) -> list[balance.Sum]:
    """Return the movements up to the period's end, alike ones added up; no totals are kept anywhere."""
    return [sum_of(row) for row in measured(period.until_its_end, period.first)]


def by_day(period: Period) -> dict[date, list[balance.Sum]]:
    """Return the movements of the period by the day they count on, those of a day that are alike added up."""
    return _of_days(measured(period.movements, period.first, "booked_on"))


def mixed(period: Period) -> MixedContent:
    """Return mixed content by the accounts that it was moved between, and what analyses showed of each."""
    rows = groups(period.until_its_end.filter(refrigerant=MIXED), period.first, "source_id", "target_id")
    sums = tuple(sum_of(row) for row in rows)
    accounts = {pk for each in sums for pk in (each.source_account, each.target_account)}
    return MixedContent(sums, _compositions(accounts, period))


def mixed_by_day(period: Period) -> dict[date, list[balance.Sum]]:
    """Return the mixed content of the period by day and by the accounts that it was moved between."""
    rows = period.movements.filter(refrigerant=MIXED)
    return _of_days(groups(rows, period.first, "booked_on", "source_id", "target_id"))


def purposes(period: Period) -> tuple[Purpose, ...]:
    """Return what was sent away in the period, by refrigerant and purpose."""
    rows = (
        period.movements.filter(cause__in=sorted(PURPOSE_OF_CAUSE))
        .annotate(purpose=Coalesce("entry__consignment__purpose", "entry__reverses__consignment__purpose", Value("")))
        .values("refrigerant", "cause", "purpose")
        .annotate(mass=Sum("mass_mg"), count=Count("pk"))
        .order_by()
    )
    found: dict[tuple[str, str], tuple[int, int]] = {}
    for row in rows:
        key = (row["refrigerant"], row["purpose"] or PURPOSE_OF_CAUSE[row["cause"]])
        mass, lines = found.get(key, (0, 0))
        found[key] = (mass + int(row["mass"]), lines + row["count"])
    return tuple(Purpose(*key, *found[key]) for key in sorted(found))


def measured(rows: QuerySet[Movement], first: date, *more: str, **sums: Any) -> list[dict[str, Any]]:
    """Return movements grouped with their uncertainty, and by `more`.

    Squares are floats: their sum outgrows a 64-bit integer.
    """
    random, span = Cast("u_random_mg", FloatField()), Cast("u_span_mg", FloatField())
    uncertain = {
        "random_sq": Sum(random * random, output_field=FloatField()),
        "span_mg": Sum(Case(When(reversal=True, then=-span), default=span, output_field=FloatField())),
    }
    return groups(rows, first, "basis", "scale_id", *more, **uncertain, **sums)


def groups(rows: QuerySet[Movement], first: date, *more: str, **sums: Any) -> list[dict[str, Any]]:
    """Return alike movements added up, a row for each group."""
    return list(
        rows.annotate(phase=_phase(first))
        .values("phase", "refrigerant", "grade", "cause", "source__kind", "target__kind", *more)
        .annotate(mass_mg=Cast(Sum("mass_mg"), BigIntegerField()), lines=Count("pk"), **sums)
        .order_by()
    )


def sum_of(row: Mapping[str, Any]) -> balance.Sum:
    """Return a row of groups as a sum; what it has besides is to be taken out before."""
    return balance.Sum(**{_COLUMN_OF.get(name, name): value for name, value in row.items()})


def _of_days(rows: Iterable[dict[str, Any]]) -> dict[date, list[balance.Sum]]:
    found: dict[date, list[balance.Sum]] = {}
    for row in rows:
        found.setdefault(row.pop("booked_on"), []).append(sum_of(row))
    return dict(sorted(found.items()))


def _phase(first: date) -> Case:
    return Case(
        When(booked_on__lt=first, then=Value(BEFORE)),
        When(booked_on=first, cause="opening-stock", then=Value(ENTERED)),
        default=Value(PERIOD),
        output_field=IntegerField(),
    )


def _compositions(accounts: Iterable[int], period: Period) -> dict[int, Composition]:
    """The last analysis of each account, or of an entry that brought mixed content into it."""
    pks, head = sorted(accounts), period.head.entry_pk
    day_after = datetime.combine(period.last + timedelta(days=2), time.min, UTC)
    brought = Movement.objects.standing_at(head).filter(
        target__in=pks, refrigerant=MIXED, entry__analyses__isnull=False
    )
    own = Analysis.objects.standing_at(head).filter(account__in=pks, occurred_at__lt=day_after)
    found = [
        *brought.order_by("pk").values_list("target_id", "entry__analyses__parts"),
        *own.order_by("occurred_at", "pk").values_list("account_id", "parts"),
    ]
    return {account: {code: Decimal(str(share)) for code, share in parts.items()} for account, parts in found}


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
