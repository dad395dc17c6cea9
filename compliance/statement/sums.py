"""The grouped queries of a statement: alike movements added up, mixed content, sent away by purpose, vehicles."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import (
    BigIntegerField,
    Case,
    Count,
    F,
    FloatField,
    IntegerField,
    Q,
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
from inventory.book import audit
from inventory.gases.catalogue import MIXED
from inventory.models import Account, Analysis, Book, Consignment, Holding, Movement, PeriodTotal

# The columns of a total that a `balance.Sum` calls otherwise.
_NAMES = {
    "source_kind": "source",
    "target_kind": "target",
    "scale_key": "scale",
    "source_key": "source_account",
    "target_key": "target_account",
    "mass": "mass_mg",
    "squares": "random_sq",
    "spans": "span_mg",
    "counted": "lines",
}
BY_SCALE, BY_ACCOUNT = ("basis", "scale_key"), ("source_key", "target_key")
OF_MIXED = Q(refrigerant=MIXED)
Measured = tuple[balance.Sum, dict[str, Any]]
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
    """Return what moved up to the period's end, alike movements added up."""
    return [_sum(row) for row in _totals(period, _until_its_end(period.first, period.last), *BY_SCALE)]


def summed_by_book(books: Iterable[int], first: date, last: date) -> dict[int, list[balance.Sum]]:
    """Return what moved up to `last` in each of the books, given by their keys, as the totals stand now."""
    chosen = _until_its_end(first, last) & Q(book__in=books)
    found: dict[int, list[balance.Sum]] = {}
    for row in _grouped(chosen, first, "book", *BY_SCALE):
        found.setdefault(row.pop("book"), []).append(_sum(row))
    return found


def by_day(period: Period) -> dict[date, list[balance.Sum]]:
    """Return what moved in the period by the day it counts on, alike movements of a day added up."""
    return _by_day(_totals(period, _days(period.first, period.last), "begins_on", *BY_SCALE))


def mixed(period: Period) -> MixedContent:
    """Return mixed content by the accounts that it was moved between, and what analyses showed of each."""
    rows = _totals(period, _until_its_end(period.first, period.last) & OF_MIXED, *BY_ACCOUNT)
    sums = tuple(_sum(row) for row in rows)
    accounts = {pk for each in sums for pk in (each.source_account, each.target_account)}
    return MixedContent(sums, _compositions(accounts, period))


def mixed_by_day(period: Period) -> dict[date, list[balance.Sum]]:
    """Return the mixed content of the period by day and by the accounts that it was moved between."""
    return _by_day(_totals(period, _days(period.first, period.last) & OF_MIXED, "begins_on", *BY_ACCOUNT))


def purposes(period: Period, found: Iterable[balance.Sum]) -> tuple[Purpose, ...]:
    """Return what was sent away in the period, by refrigerant and purpose; `found` as `summed` returns it.

    Papers name a purpose; what no paper names has the one that goes with its cause.
    """
    named = [*_by_paper(period, "entry"), *_by_paper(period, "entry__reversal")]
    rest: Counter[tuple[str, str]] = Counter()
    lines: Counter[tuple[str, str]] = Counter()
    sent = [each for each in found if each.phase == PERIOD and each.cause in PURPOSE_OF_CAUSE]
    whole = [(each.refrigerant, each.cause, PURPOSE_OF_CAUSE[each.cause], each.mass_mg, each.lines) for each in sent]
    taken = [(code, cause, PURPOSE_OF_CAUSE[cause], -mass, -count) for code, cause, _, mass, count in named]
    for code, _cause, purpose, mass, count in (*whole, *taken, *named):
        rest[code, purpose] += mass
        lines[code, purpose] += count
    return tuple(Purpose(*key, rest[key], lines[key]) for key in sorted(rest) if lines[key])


def _by_paper(period: Period, line: str) -> Iterable[tuple[str, str, str, int, int]]:
    """Return refrigerant, cause, purpose, mass and lines of what papers name, on their own lines or on reversals."""
    within = {f"{line}__booked_on__range": (period.first, period.last), f"{line}__pk__lte": period.head.entry_pk}
    movement = f"{line}__movements"
    causes_of = {f"{movement}__cause__in": sorted(PURPOSE_OF_CAUSE)}
    rows = Consignment.objects.filter(entry__book=period.book, **within, **causes_of).exclude(purpose="")
    groups = rows.values_list(f"{movement}__refrigerant", f"{movement}__cause", "purpose").order_by()
    for code, cause, purpose, mass, count in groups.annotate(mass=Sum(f"{movement}__mass_mg"), count=Count("pk")):
        yield code, cause, purpose, int(mass), count


def _totals(period: Period, chosen: Q, *more: str) -> list[dict[str, Any]]:
    """Return the chosen totals of the period's book."""
    return _grouped(chosen & Q(book=period.book), period.first, *more)


def _grouped(chosen: Q, first: date, *more: str) -> list[dict[str, Any]]:
    """Return the chosen totals of days and months, grouped by what is alike, by the phase they count in, and `more`."""
    groups = (
        PeriodTotal.objects.filter(chosen)
        .annotate(phase=_phase("begins_on", first))
        .values("phase", "refrigerant", "grade", "cause", "source_kind", "target_kind", *more)
        .annotate(
            mass=Cast(Sum("mass_mg"), BigIntegerField()),
            squares=Sum("random_sq"),
            spans=Cast(Sum("span_mg"), FloatField()),
            counted=Cast(Sum("lines"), BigIntegerField()),
        )
        .order_by()
    )
    return list(groups)


def _until_its_end(first: date, last: date) -> Q:
    """Which totals make up all days to the period's end: whole months, and single days where a month is cut.

    The month of the first day is always taken by its days: what was opened with on that day counts apart.
    """
    month, after = first.replace(day=1), last + timedelta(days=1)
    cut = after.replace(day=1)  # the month that the period ends within, or the one after its end
    next_month = (month + timedelta(days=31)).replace(day=1)
    months = Q(begins_on__lt=month) | Q(begins_on__gte=next_month, begins_on__lt=cut)
    days = _days(month, min(next_month - timedelta(days=1), last)) | _days(max(cut, next_month), last)
    return (Q(whole_month=True) & months) | days


def _days(first: date, last: date) -> Q:
    return Q(whole_month=False, begins_on__gte=first, begins_on__lte=last)


def measured(
    rows: QuerySet[Movement], first: date, *more: str, **sums: Any
) -> list[tuple[balance.Sum, dict[str, Any]]]:
    """Return movements themselves added up, by `more` too; each sum with what it was grouped by or given besides.

    Squares are floats: their sum outgrows a 64-bit integer.
    """
    random, span = Cast("u_random_mg", FloatField()), Cast("u_span_mg", FloatField())
    groups = (
        rows.annotate(phase=_phase("booked_on", first), source_kind=F("source__kind"), target_kind=F("target__kind"))
        .annotate(scale_key=F("scale_id"))
        .values("phase", "refrigerant", "grade", "cause", "source_kind", "target_kind", *BY_SCALE, *more)
        .annotate(
            mass=Cast(Sum("mass_mg"), BigIntegerField()),
            squares=Sum(random * random, output_field=FloatField()),
            spans=Sum(Case(When(reversal=True, then=-span), default=span, output_field=FloatField())),
            counted=Count("pk"),
            **sums,
        )
        .order_by()
    )
    asked = {*more, *sums}
    return [
        (_sum({name: value for name, value in row.items() if name not in asked}), {name: row[name] for name in asked})
        for row in groups
    ]


def _sum(row: Mapping[str, Any]) -> balance.Sum:
    return balance.Sum(**{_NAMES.get(name, name): value for name, value in row.items()})


def _by_day(rows: Iterable[dict[str, Any]]) -> dict[date, list[balance.Sum]]:
    found: dict[date, list[balance.Sum]] = {}
    for row in rows:
        found.setdefault(row.pop("begins_on"), []).append(_sum(row))
    return dict(sorted(found.items()))


def _phase(day: str, first: date) -> Case:
    return Case(
        When(**{f"{day}__lt": first}, then=Value(BEFORE)),
        When(**{day: first}, cause="opening-stock", then=Value(ENTERED)),
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

    Records that are joined count as the one they are joined to. `limit` is of vehicles; None for all. What each holds
    now, less what counts later: so it costs what was written since, and not what was before; with a limit no more
    vehicles are looked at than it takes to find so many that hold something.
    """
    found: list[VehicleHolding] = []
    with audit.snapshot():  # no line is to come between what is held and what counts later
        for some in _vehicles(period.book, limit):
            found += _held_by(period, some)
            if limit is not None and len({one.number for one in found}) >= limit:
                break
    numbers = list(dict.fromkeys(one.number for one in found))[:limit]
    return tuple(
        sorted((one for one in found if one.number in set(numbers)), key=lambda one: (one.number, one.refrigerant))
    )


def _vehicles(book: Book, limit: int | None) -> Iterator[QuerySet[Account]]:
    """Yield the vehicles of a book, each with those joined to it: all at once or, with a limit, part by part."""
    kept = _accounts(book).filter(joined_to=None).order_by("pk")
    if limit is None:
        yield _accounts(book)
        return
    last = 0
    while some := list(kept.filter(pk__gt=last).values_list("pk", flat=True)[: 2 * limit]):
        yield _accounts(book).filter(Q(pk__in=some) | Q(joined_to__in=some))
        last = some[-1]


def _held_by(period: Period, vehicles: QuerySet[Account]) -> Iterator[VehicleHolding]:
    """Yield what some vehicles held at the end of the period, in the order of their keys."""
    rows = list(vehicles.values_list("pk", "joined_to", "number", "label"))
    kept = {pk: joined_to or pk for pk, joined_to, _, _ in rows}
    names = {pk: (number, label) for pk, _, number, label in rows}
    held: Counter[tuple[int, str]] = Counter()
    now = Holding.objects.filter(account__in=vehicles).values_list("account_id", "refrigerant", "mass_mg")
    for pk, code, mass in now:
        held[kept[pk], code] += int(mass)
    for end, sign in (("source", 1), ("target", -1)):
        later = period.after_its_end.filter(**{f"{end}__in": vehicles}).order_by()
        for pk, code, mass in later.values_list(f"{end}_id", "refrigerant").annotate(mass=Sum("mass_mg")):
            held[kept[pk], code] += sign * int(mass)
    for (pk, code), mass in sorted(held.items()):
        if mass and pk in names:
            yield VehicleHolding(*names[pk], code, mass)


def vehicles_touched(period: Period) -> int:
    """Return how many vehicles gas came out of or went into in the period.

    The period's lines are read twice, whatever the number of vehicles: asked vehicle by vehicle, a database without
    statistics reads them all for each.
    """
    lines = period.movements
    touched = Q(pk__in=lines.values("source")) | Q(pk__in=lines.values("target"))
    return _accounts(period.book).filter(touched).values_list(Coalesce("joined_to", "pk")).distinct().count()


def _accounts(book: Book) -> QuerySet[Account]:
    return Account.objects.filter(book=book, kind=causes.VEHICLE)
