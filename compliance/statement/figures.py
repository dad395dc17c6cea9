"""The statement of any period, read from the mass book: queries in, frozen dataclasses out.

The balance is one grouped query over the totals of months and days, so it costs the same however old the book is. It
shows what the book shows and claims nothing else.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet

from compliance.statement import emissions, lines, stock, sums
from compliance.statement.balance import Balance, balances
from compliance.statement.emissions import Impact, Source, Total
from compliance.statement.lines import Activity, Correction, LateLine
from compliance.statement.period import Period, WrongPeriod, check_days, period_of
from compliance.statement.standing import stood
from compliance.statement.stock import WHOLE, Exactness, Row
from compliance.statement.sums import Purpose
from inventory.book import audit
from inventory.gases.catalogue import MIXED
from inventory.gases.potentials import GWP_BASES
from inventory.models import Book, Movement
from shop.models import Certification, Workshop


@dataclass(frozen=True)
class Certificate:
    """A certificate that a person of the workshop held on at least one day of the period."""

    holder: str
    scheme: str
    number: str
    issued_on: date | None
    good_until: str  # in words


@dataclass(frozen=True)
class Statement(Period):
    """The whole statement, ready to be shown; masses in milligrams over cylinders and rigs."""

    workshop: Workshop | None
    basis: str
    refrigerants: tuple[Balance, ...]
    grades: tuple[Balance, ...]
    exact: Mapping[Row, Exactness]  # how exact the stock of each is, and `WHOLE` for all together
    impacts: Mapping[str, Impact]
    ozone_totals: tuple[Total, ...]
    other_totals: tuple[Total, ...]
    sources: tuple[Source, ...]
    purposes: tuple[Purpose, ...]
    activity: Activity
    late: tuple[LateLine, ...]
    reversals: tuple[Correction, ...]
    corrections: tuple[Correction, ...]  # that count later; a newer reading of the same period may have more
    certificates: tuple[Certificate, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """What could not be computed, each said once."""
        return tuple(dict.fromkeys(note for each in self.impacts.values() for note in each.notes))

    def exactness_of(self, each: Balance | None) -> Exactness:
        """Return how exact one balance is, or all refrigerants together."""
        return self.exact[(each.refrigerant, each.grade) if each else WHOLE]

    def grades_of(self, refrigerant: str) -> tuple[Balance, ...]:
        """Return the balances of one refrigerant by grade."""
        return tuple(each for each in self.grades if each.refrigerant == refrigerant)


def read_statement(book: Book, first: date, last: date, basis: str) -> Statement:
    """Return the statement of a book from `first` to `last`, both included, by the workshop's days.

    The opening is the closing of the day before; opening stock entered on the first day itself was there before
    the book and counts into it. Raises WrongPeriod for a period that ends before it begins and for an unknown basis.
    """
    check_period(first, last, basis)
    with audit.snapshot():  # the totals stand at the head that is read with them
        return _read(period_of(book, first, last), basis)


def _read(period: Period, basis: str) -> Statement:
    found = sums.summed(period)
    by_refrigerant = balances(found, by_grade=False)
    mixed = sums.mixed(period) if any(each.refrigerant == MIXED for each in found) else None
    impacts = {each.refrigerant: emissions.impact(each, basis, mixed) for each in by_refrigerant}
    by_grade = balances(found, by_grade=True)
    rests = stood(period, found)
    activity = lines.activity(period)
    return Statement(
        **vars(period),
        workshop=Workshop.objects.filter(book=period.book).first(),
        basis=basis,
        refrigerants=by_refrigerant,
        grades=by_grade,
        exact=stock.exactness((*by_refrigerant, *by_grade), found, rests.opening, rests.closing, rests.passages),
        impacts=impacts,
        ozone_totals=emissions.totals(tuple(impacts.values()), depletes_ozone=True),
        other_totals=emissions.totals(tuple(impacts.values()), depletes_ozone=False),
        sources=emissions.sources(impacts, basis),
        purposes=sums.purposes(period, found) if any(each.sent_away.lines for each in by_refrigerant) else (),
        activity=activity,
        late=lines.late_lines(period) if activity.late else (),
        reversals=lines.reversals(period) if activity.reversals else (),
        corrections=lines.corrections(period),
        certificates=_certificates(period),
    )


def check_period(first: date, last: date, basis: str) -> None:
    """Raise WrongPeriod where the statement cannot be made."""
    check_days(first, last)
    if basis not in GWP_BASES:
        raise WrongPeriod(f"{basis!r} is not a basis. The bases are {', '.join(GWP_BASES)}.")


def lines_of_period(period: Period) -> QuerySet[Movement]:
    """Return the movements that count for the period, in the order of the book: the register beside the statement."""
    return period.movements.select_related("entry", "source", "target", "scale").order_by("entry_id", "line")


def _certificates(period: Period) -> tuple[Certificate, ...]:
    """Certificates of the people of the workshop that held on at least one day of the period, as far as entered."""
    held = (
        Certification.objects.filter(user__memberships__workshop__book=period.book)
        .filter(Q(issued_on__isnull=True) | Q(issued_on__lte=period.last))
        .filter(Q(never_expires=True) | Q(expires_on__gte=period.first) | Q(expires_on__isnull=True))
        .select_related("user")
        .order_by("user__display_name", "user__username", "scheme", "number")
        .distinct()
    )
    return tuple(
        Certificate(str(each.user), each.scheme, each.number, each.issued_on, _good_until(each)) for each in held
    )


def _good_until(one: Certification) -> str:
    if one.never_expires:
        return "does not run out"
    return "not entered" if one.expires_on is None else one.expires_on.isoformat()
