"""The lines that a statement lists and counts: late ones, reversals, and what was put right after the period."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count, FloatField, Func, Q
from django.db.models.lookups import GreaterThan

from compliance.statement.period import LISTED, Period
from compliance.statement.sums import vehicles_touched
from inventory.models import Entry


@dataclass(frozen=True)
class Activity:
    """Counts of the period."""

    lines: int
    visits: int
    vehicles: int
    late: int
    reversals: int


@dataclass(frozen=True)
class LateLine:
    """A line written more than a day after it happened, or counted on another day than it happened; in its zone."""

    seq: int
    occurred_at: datetime
    recorded_at: datetime
    booked_on: date


@dataclass(frozen=True)
class Correction:
    """A line that puts something right, `for_day`: a reversal, or (reversing none) what was written too late."""

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


def activity(period: Period) -> Activity:
    """Return how many lines, visits and vehicles a period has."""
    counts = period.entries.aggregate(
        lines=Count("pk"),
        visits=Count("context", distinct=True, filter=Q(context__startswith="visit:")),
        late=Count("pk", filter=_written_late()),
        reversals=Count("pk", filter=Q(kind=Entry.REVERSE)),
    )
    counts["late"] += sum(1 for _ in _moved_days(period))
    return Activity(vehicles=vehicles_touched(period), **counts)


def late_lines(period: Period) -> tuple[LateLine, ...]:
    """Return the late lines of the period in the order of the book, at most `LISTED`."""
    late = [*period.entries.filter(_written_late()).order_by("seq")[:LISTED], *_moved_days(period)]
    return tuple(
        LateLine(
            one.seq, one.occurred_at.astimezone(period.zone), one.recorded_at.astimezone(period.zone), one.booked_on
        )
        for one in sorted(late, key=lambda one: one.seq)[:LISTED]
    )


def reversals(period: Period) -> tuple[Correction, ...]:
    """Return the reversals dated in the period, at most `LISTED`; each is for the day of the line that it reverses."""
    rows = period.entries.filter(kind=Entry.REVERSE).order_by("seq")
    fields = rows.values_list("seq", "booked_on", "reverses__seq", "reverses__booked_on")[:LISTED]
    return tuple(Correction(*row) for row in fields)


def corrections(period: Period) -> tuple[Correction, ...]:
    """Return the lines that count after the period and put something of it right, at most `LISTED`.

    Reversals of lines that count in the period, and lines of things that happened in it and were written when its days
    were closed. The statement of the later period lists the same lines as its own reversals and late lines.
    """
    days = (period.first, period.last + timedelta(days=1))
    begin, end = (datetime.combine(day, time.min, period.zone) for day in days)
    later = Entry.objects.filter(book=period.book, seq__lte=period.head.seq, booked_on__gt=period.last)
    undone = Q(kind=Entry.REVERSE, reverses__booked_on__range=(period.first, period.last))
    late = ~Q(kind__in=(Entry.REVERSE, Entry.CLOSE, Entry.SEAL)) & Q(occurred_at__gte=begin, occurred_at__lt=end)
    return tuple(
        Correction(one.seq, one.booked_on, one.reverses.seq, one.reverses.booked_on)
        if one.reverses
        else Correction(one.seq, one.booked_on, None, one.occurred_at.astimezone(period.zone).date())
        for one in later.filter(undone | late).select_related("reverses").order_by("seq")[:LISTED]
    )


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


def _moved_days(period: Period) -> Iterator[Entry]:
    """Lines written within a day that still count for another day, since the day they happened was closed.

    The database finds those that happened before the booked day by the clock furthest west that the zone knew;
    the exact day of these few is then looked at one by one.
    """
    if period.book.closed_through is None:
        return
    years = (period.first.year, period.last.year)
    offset = min(_offset_days(period.zone, year, month) for year in years for month in range(1, 13))
    candidates = (
        period.entries.exclude(_written_late())
        .filter(GreaterThan(_Days("booked_on") - _Days("occurred_at"), offset + 1e-7))
        .order_by("seq")
    )
    for entry in candidates.iterator():
        if entry.occurred_at.astimezone(period.zone).date() != entry.booked_on:
            yield entry


def _offset_days(zone: ZoneInfo, year: int, month: int) -> float:
    offset = datetime(year, month, 1, tzinfo=zone).utcoffset() or timedelta(0)
    return offset / timedelta(days=1)
