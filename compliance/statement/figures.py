"""The annual usage report of any period, read from the mass book: queries in, frozen dataclasses out.

The head of the book is read first and bounds every query, so that the figures show one moment. No totals are kept
anywhere: the balance is one grouped query over the movements. It shows what the book shows and claims nothing else.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import (
    Case,
    Count,
    Exists,
    FloatField,
    Func,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Cast, Coalesce
from django.db.models.lookups import GreaterThan

from compliance.statement import balance, emissions
from compliance.statement.balance import BEFORE, ENTERED, PERIOD, Balance, balances
from compliance.statement.emissions import Impact, MixedContent, Source, Total
from inventory import causes
from inventory.gases.catalogue import GWP_BASES, MIXED
from inventory.models import Account, Analysis, Book, Entry, Movement
from shop.models import Certification, Workshop

LISTED = 100  # late lines, reversals and vehicles that a page or a paper lists; the rest is counted

EARLIEST, LATEST = date(1900, 1, 1), date(2999, 12, 31)

_PURPOSE_OF_CAUSE = {
    "sent-away": "purpose not entered",
    "heel-returned": "return to supplier",
    "passed-on": "sale",
    "moved-to-sister": "sister workshop",
}


class WrongPeriod(ValueError):
    """A period or basis that cannot be reported; the text is a sentence for the person."""


@dataclass(frozen=True)
class Head:
    """Where the book stood when the report was read."""

    seq: int
    digest: str
    entry_pk: int

    @property
    def short_digest(self) -> str:
        """The sixteen digits that are printed."""
        return self.digest[:16]


@dataclass(frozen=True)
class WorkshopFacts:
    """Whose report it is."""

    name: str
    address: str
    registration: str


@dataclass(frozen=True)
class Purpose:
    """Mass sent away for one purpose."""

    refrigerant: str
    purpose: str
    mass_mg: int
    lines: int


@dataclass(frozen=True)
class LateLine:
    """A line written more than a day after it happened, or counted on another day than it happened."""

    seq: int
    occurred_at: datetime
    recorded_at: datetime
    booked_on: date
    happened_on: date

    @property
    def happened(self) -> str:
        """When it happened, in the zone of the book."""
        return f"{self.occurred_at:%Y-%m-%d %H:%M}"

    @property
    def written(self) -> str:
        """When it was written, in the zone of the book."""
        return f"{self.recorded_at:%Y-%m-%d %H:%M}"


@dataclass(frozen=True)
class ReversalLine:
    """A reversal dated in the period, and the day for which the reversed line counted."""

    seq: int
    booked_on: date
    reverses_seq: int
    for_day: date


@dataclass(frozen=True)
class Correction:
    """A line that counts after the period but puts something of it right: a reversal, or what was written too late."""

    seq: int
    booked_on: date
    reverses_seq: int | None
    for_day: date

    @property
    def words(self) -> str:
        """What it does, in words."""
        if self.reverses_seq is not None:
            return f"reverses line {self.reverses_seq}, which counted on {self.for_day.isoformat()}"
        return f"happened on {self.for_day.isoformat()}, written when that day was closed"


@dataclass(frozen=True)
class Certificate:
    """A certificate that a person of the workshop held on at least one day of the period."""

    holder: str
    scheme: str
    number: str
    issued_on: date | None
    expires_on: date | None
    never_expires: bool

    @property
    def good_until(self) -> str:
        """The end of it in words."""
        if self.never_expires:
            return "does not run out"
        return "not entered" if self.expires_on is None else self.expires_on.isoformat()


@dataclass(frozen=True)
class VehicleHolding:
    """What the book shows inside a vehicle at the end of the period; below zero: more came out than was put in."""

    number: int
    label: str
    refrigerant: str
    mass_mg: int


@dataclass(frozen=True)
class Activity:
    """Counts of the period."""

    lines: int
    visits: int
    vehicles: int
    late: int
    reversals: int


@dataclass(frozen=True)
class Statement:
    """The whole report, ready to be shown; masses in milligrams over cylinders and rigs."""

    book: str
    workshop: WorkshopFacts | None
    first: date
    last: date
    basis: str
    closed_through: date | None
    head: Head
    refrigerants: tuple[Balance, ...]
    grades: tuple[Balance, ...]
    impacts: Mapping[str, Impact]
    ozone_totals: tuple[Total, ...]
    other_totals: tuple[Total, ...]
    sources: tuple[Source, ...]
    purposes: tuple[Purpose, ...]
    activity: Activity
    late: tuple[LateLine, ...]
    reversals: tuple[ReversalLine, ...]
    corrections: tuple[Correction, ...]  # that count later; a newer reading of the same period may have more
    certificates: tuple[Certificate, ...]

    @property
    def is_closed(self) -> bool:
        """Whether the whole period is closed, so that nothing more can count for it."""
        return self.closed_through is not None and self.closed_through >= self.last

    @property
    def notes(self) -> tuple[str, ...]:
        """What could not be computed, each said once."""
        return tuple(dict.fromkeys(note for each in self.impacts.values() for note in each.notes))

    def grades_of(self, refrigerant: str) -> tuple[Balance, ...]:
        """Return the balances of one refrigerant by grade."""
        return tuple(each for each in self.grades if each.refrigerant == refrigerant)

    def purposes_of(self, refrigerant: str) -> tuple[Purpose, ...]:
        """Return what was sent away of one refrigerant, by purpose."""
        return tuple(each for each in self.purposes if each.refrigerant == refrigerant)


def read_statement(book: Book, first: date, last: date, basis: str) -> Statement:
    """Return the report of a book from `first` to `last`, both included, by the workshop's days.

    The opening is the closing of the day before; opening stock entered on the first day itself was there before
    the book and counts into it. Raises WrongPeriod for a period that ends before it begins and for an unknown basis.
    """
    check_period(first, last, basis)
    book = Book.objects.get(pk=book.pk)
    head = _head(book)
    sums = _sums(book, head, first, last)
    by_refrigerant = balances(sums, by_grade=False)
    mixed = _mixed(book, head, first, last) if any(each.refrigerant == MIXED for each in sums) else None
    impacts = {each.refrigerant: emissions.impact(each, basis, mixed) for each in by_refrigerant}
    activity = _activity(book, head, first, last)
    return Statement(
        book=book.name,
        workshop=_workshop(book),
        first=first,
        last=last,
        basis=basis,
        closed_through=book.closed_through,
        head=head,
        refrigerants=by_refrigerant,
        grades=balances(sums, by_grade=True),
        impacts=impacts,
        ozone_totals=emissions.totals(tuple(impacts.values()), depletes_ozone=True),
        other_totals=emissions.totals(tuple(impacts.values()), depletes_ozone=False),
        sources=emissions.sources(impacts, basis),
        purposes=_purposes(book, head, first, last) if any(each.sent_away.lines for each in by_refrigerant) else (),
        activity=activity,
        late=late_lines(book, head, first, last) if activity.late else (),
        reversals=reversal_lines(book, head, first, last) if activity.reversals else (),
        corrections=corrections(book, head, first, last),
        certificates=_certificates(book, first, last),
    )


def check_period(first: date, last: date, basis: str) -> None:
    """Raise WrongPeriod where the report cannot be made."""
    if last < first:
        raise WrongPeriod(f"The period ends on {last.isoformat()}, before it begins on {first.isoformat()}.")
    if first < EARLIEST or last > LATEST:
        raise WrongPeriod(f"A period lies between {EARLIEST.isoformat()} and {LATEST.isoformat()}.")
    if basis not in GWP_BASES:
        raise WrongPeriod(f"{basis!r} is not a basis. The bases are {', '.join(GWP_BASES)}.")


def vehicle_holdings(statement: Statement, book: Book, *, limit: int | None = LISTED) -> tuple[VehicleHolding, ...]:
    """Return what the book shows inside each vehicle at the end of the period, in order of account number.

    Records that are joined count as the one they are joined to.
    """
    rows = _until(book, statement.head, statement.last)
    kept = dict(_vehicle_accounts(book).exclude(joined_to=None).values_list("pk", "joined_to"))
    held: dict[tuple[int, str], int] = {}
    for end, sign in (("source", -1), ("target", 1)):
        legs = rows.filter(**{f"{end}__kind": causes.VEHICLE}).values(f"{end}_id", "refrigerant")
        for leg in legs.annotate(mass=Sum("mass_mg")).order_by():
            pk = leg[f"{end}_id"]
            key = (kept.get(pk, pk), leg["refrigerant"])
            held[key] = held.get(key, 0) + sign * int(leg["mass"])
    filled = {key: mass for key, mass in held.items() if mass}
    return _labelled(book, filled, limit)


def _labelled(book: Book, held: Mapping[tuple[int, str], int], limit: int | None) -> tuple[VehicleHolding, ...]:
    pks = sorted({pk for pk, _ in held})
    accounts = _vehicle_accounts(book)
    if limit is not None:
        pks = pks[:limit]
        accounts = accounts.filter(pk__in=pks)
    names = {pk: (number, label) for pk, number, label in accounts.values_list("pk", "number", "label")}
    chosen = set(pks)
    return tuple(
        sorted(
            (VehicleHolding(*names[pk], refrigerant, mass) for (pk, refrigerant), mass in held.items() if pk in chosen),
            key=lambda each: (each.number, each.refrigerant),
        )
    )


def _vehicle_accounts(book: Book) -> QuerySet[Account]:
    return Account.objects.filter(book=book, kind=causes.VEHICLE)


def lines_of_period(statement: Statement, book: Book) -> QuerySet[Movement]:
    """Return the movements that count for the period, in the order of the book: the register beside the report."""
    return (
        _until(book, statement.head, statement.last)
        .filter(booked_on__gte=statement.first)
        .select_related("entry", "source", "target", "scale")
        .order_by("entry_id", "line")
    )


def _head(book: Book) -> Head:
    pk = Entry.objects.filter(book=book, seq=book.head_seq).values_list("pk", flat=True).first()
    return Head(book.head_seq, book.head_digest, pk or 0)


def _until(book: Book, head: Head, last: date) -> QuerySet[Movement]:
    """Movements that count up to a day, as the book stood at its head.

    Entries of one book are written under its lock, so their ids rise with their numbers.
    """
    return Movement.objects.filter(book=book, entry_id__lte=head.entry_pk, booked_on__lte=last)


def _phase(first: date) -> Case:
    return Case(
        When(booked_on__lt=first, then=Value(BEFORE)),
        When(booked_on=first, cause="opening-stock", then=Value(ENTERED)),
        default=Value(PERIOD),
        output_field=IntegerField(),
    )


def _sums(book: Book, head: Head, first: date, last: date) -> list[balance.Sum]:
    """The grouped query of the report. Squares are floats: their sum outgrows a 64-bit integer."""
    random, span = Cast("u_random_mg", FloatField()), Cast("u_span_mg", FloatField())
    groups = (
        _until(book, head, last)
        .annotate(phase=_phase(first))
        .values("phase", "refrigerant", "grade", "cause", "basis", "source__kind", "target__kind", "scale_id")
        .annotate(
            mass=Sum("mass_mg"),
            random_sq=Sum(random * random, output_field=FloatField()),
            span=Sum(Case(When(reversal=True, then=-span), default=span, output_field=FloatField())),
            lines=Count("pk"),
        )
        .order_by()
    )
    return [
        balance.Sum(
            refrigerant=row["refrigerant"],
            grade=row["grade"],
            cause=row["cause"],
            source=row["source__kind"],
            target=row["target__kind"],
            mass_mg=int(row["mass"]),
            phase=row["phase"],
            basis=row["basis"],
            scale=str(row["scale_id"] or ""),
            random_sq=float(row["random_sq"]),
            span_mg=float(row["span"]),
            lines=row["lines"],
        )
        for row in groups
    ]


def _mixed(book: Book, head: Head, first: date, last: date) -> MixedContent:
    groups = (
        _until(book, head, last)
        .filter(refrigerant=MIXED)
        .annotate(phase=_phase(first))
        .values("phase", "grade", "cause", "source__kind", "target__kind", "source_id", "target_id")
        .annotate(mass=Sum("mass_mg"), lines=Count("pk"))
        .order_by()
    )
    sums = tuple(
        balance.Sum(
            refrigerant=MIXED,
            grade=row["grade"],
            cause=row["cause"],
            source=row["source__kind"],
            target=row["target__kind"],
            mass_mg=int(row["mass"]),
            phase=row["phase"],
            lines=row["lines"],
            source_account=row["source_id"],
            target_account=row["target_id"],
        )
        for row in groups
    )
    accounts = {pk for each in sums for pk in (each.source_account, each.target_account)}
    return MixedContent(sums, _compositions(accounts, head, last))


def _compositions(accounts: Iterable[int], head: Head, last: date) -> dict[int, dict[str, Decimal]]:
    """The last analysis of each account, or of an entry that brought mixed content into it."""
    accounts = sorted(accounts)
    day_after = datetime(last.year, last.month, last.day, tzinfo=ZoneInfo("UTC")) + timedelta(days=2)
    found: dict[int, dict[str, Decimal]] = {}
    brought = Movement.objects.standing_at(head.entry_pk).filter(
        target__in=accounts, refrigerant=MIXED, entry__analyses__isnull=False
    )
    for target, parts in brought.order_by("pk").values_list("target_id", "entry__analyses__parts"):
        found[target] = _parts(parts)
    own = Analysis.objects.standing_at(head.entry_pk).filter(account__in=accounts, occurred_at__lt=day_after)
    for account, parts in own.order_by("occurred_at", "pk").values_list("account_id", "parts"):
        found[account] = _parts(parts)
    return found


def _parts(parts: Mapping[str, str]) -> dict[str, Decimal]:
    return {code: Decimal(str(share)) for code, share in parts.items()}


def _purposes(book: Book, head: Head, first: date, last: date) -> tuple[Purpose, ...]:
    rows = (
        _until(book, head, last)
        .filter(booked_on__gte=first, cause__in=sorted(_PURPOSE_OF_CAUSE))
        .annotate(purpose=Coalesce("entry__consignment__purpose", "entry__reverses__consignment__purpose", Value("")))
        .values("refrigerant", "cause", "purpose")
        .annotate(mass=Sum("mass_mg"), count=Count("pk"))
        .order_by()
    )
    found: dict[tuple[str, str], tuple[int, int]] = {}
    for row in rows:
        key = (row["refrigerant"], row["purpose"] or _PURPOSE_OF_CAUSE[row["cause"]])
        mass, lines = found.get(key, (0, 0))
        found[key] = (mass + int(row["mass"]), lines + row["count"])
    return tuple(Purpose(*key, *found[key]) for key in sorted(found))


def _workshop(book: Book) -> WorkshopFacts | None:
    shop = Workshop.objects.filter(book=book).first()
    return WorkshopFacts(shop.name, shop.address, shop.registration) if shop else None


class _Days(Func):
    """A day or moment as a number of days, computed by the database itself and not row by row in Python."""

    output_field = FloatField()

    def as_sqlite(self, compiler, connection, **extra):  # type: ignore[no-untyped-def]
        return self.as_sql(compiler, connection, template="julianday(%(expressions)s)", **extra)

    def as_postgresql(self, compiler, connection, **extra):  # type: ignore[no-untyped-def]
        template = "(EXTRACT(EPOCH FROM %(expressions)s) / 86400.0)"
        return self.as_sql(compiler, connection, template=template, **extra)


def _written_late() -> GreaterThan:
    """More than a day after it happened: the rule of `Entry.is_late`, for the database."""
    return GreaterThan(_Days("recorded_at") - _Days("occurred_at"), 1.0)


def _entries(book: Book, head: Head, first: date, last: date) -> QuerySet[Entry]:
    return Entry.objects.filter(book=book, seq__lte=head.seq, booked_on__range=(first, last))


def _activity(book: Book, head: Head, first: date, last: date) -> Activity:
    counts = _entries(book, head, first, last).aggregate(
        lines=Count("pk"),
        visits=Count("context", distinct=True, filter=Q(context__startswith="visit:")),
        late=Count("pk", filter=_written_late()),
        reversals=Count("pk", filter=Q(kind=Entry.REVERSE)),
    )
    moved = sum(1 for _ in _moved_days(book, head, first, last))
    return Activity(
        lines=counts["lines"],
        visits=counts["visits"],
        vehicles=_vehicles_touched(book, head, first, last),
        late=counts["late"] + moved,
        reversals=counts["reversals"],
    )


def _moved_days(book: Book, head: Head, first: date, last: date) -> Iterable[Entry]:
    """Lines written within a day that still count for another day, since the day they happened was closed.

    The database finds those that happened before the booked day by the clock furthest west that the zone knew;
    the exact day of these few is then looked at one by one.
    """
    if book.closed_through is None:
        return
    zone = ZoneInfo(book.zone)
    offset = min(_offset_days(zone, year, month) for year in (first.year, last.year) for month in range(1, 13))
    candidates = (
        _entries(book, head, first, last)
        .exclude(_written_late())
        .filter(GreaterThan(_Days("booked_on") - _Days("occurred_at"), offset + 1e-7))
        .order_by("seq")
    )
    for entry in candidates.iterator():
        if entry.occurred_at.astimezone(zone).date() != entry.booked_on:
            yield entry


def _offset_days(zone: ZoneInfo, year: int, month: int) -> float:
    offset = datetime(year, month, 1, tzinfo=zone).utcoffset() or timedelta(0)
    return offset / timedelta(days=1)


def late_lines(book: Book, head: Head, first: date, last: date, limit: int | None = LISTED) -> tuple[LateLine, ...]:
    """Return the late lines of the period in the order of the book, at most `limit`."""
    zone = ZoneInfo(book.zone)
    late = list(_entries(book, head, first, last).filter(_written_late()).order_by("seq")[:limit])
    late += _moved_days(book, head, first, last)
    return tuple(
        LateLine(
            seq=entry.seq,
            occurred_at=entry.occurred_at.astimezone(zone),
            recorded_at=entry.recorded_at.astimezone(zone),
            booked_on=entry.booked_on,
            happened_on=entry.occurred_at.astimezone(zone).date(),
        )
        for entry in sorted(late, key=lambda entry: entry.seq)[:limit]
    )


def reversal_lines(
    book: Book, head: Head, first: date, last: date, limit: int | None = LISTED
) -> tuple[ReversalLine, ...]:
    """Return the reversals dated in the period, at most `limit`."""
    rows = _entries(book, head, first, last).filter(kind=Entry.REVERSE).order_by("seq")
    fields = rows.values_list("seq", "booked_on", "reverses__seq", "reverses__booked_on")[:limit]
    return tuple(ReversalLine(*row) for row in fields)


def corrections(book: Book, head: Head, first: date, last: date, limit: int | None = LISTED) -> tuple[Correction, ...]:
    """Return the lines that count after the period and put something of it right, at most `limit`.

    Reversals of lines that count in the period, and lines of things that happened in it and were written when its days
    were closed. The report of the later period lists the same lines as its own reversals and late lines.
    """
    zone = ZoneInfo(book.zone)
    begin, end = (datetime(day.year, day.month, day.day, tzinfo=zone) for day in (first, last + timedelta(days=1)))
    later = Entry.objects.filter(book=book, seq__lte=head.seq, booked_on__gt=last)
    undone = Q(kind=Entry.REVERSE, reverses__booked_on__range=(first, last))
    late = ~Q(kind__in=(Entry.REVERSE, Entry.CLOSE, Entry.SEAL)) & Q(occurred_at__gte=begin, occurred_at__lt=end)
    rows = later.filter(undone | late).select_related("reverses").order_by("seq")[:limit]
    return tuple(
        Correction(
            seq=one.seq,
            booked_on=one.booked_on,
            reverses_seq=one.reverses.seq if one.reverses else None,
            for_day=one.reverses.booked_on if one.reverses else one.occurred_at.astimezone(zone).date(),
        )
        for one in rows
    )


def _vehicles_touched(book: Book, head: Head, first: date, last: date) -> int:
    lines = _until(book, head, last).filter(booked_on__gte=first)
    touched = Exists(lines.filter(source=OuterRef("pk"))) | Exists(lines.filter(target=OuterRef("pk")))
    found = _vehicle_accounts(book).filter(touched).values_list(Coalesce("joined_to", "pk"))
    return found.distinct().count()


def _certificates(book: Book, first: date, last: date) -> tuple[Certificate, ...]:
    """Certificates of the people of the workshop that held on at least one day of the period, as far as entered."""
    held = (
        Certification.objects.filter(user__memberships__workshop__book=book)
        .filter(Q(issued_on__isnull=True) | Q(issued_on__lte=last))
        .filter(Q(never_expires=True) | Q(expires_on__gte=first) | Q(expires_on__isnull=True))
        .select_related("user")
        .order_by("user__display_name", "user__username", "scheme", "number")
        .distinct()
    )
    return tuple(
        Certificate(
            holder=str(each.user),
            scheme=each.scheme,
            number=each.number,
            issued_on=each.issued_on,
            expires_on=each.expires_on,
            never_expires=each.never_expires,
        )
        for each in held
    )
