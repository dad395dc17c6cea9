"""A statement's period month by month, and its stock day by day: the same sums, grouped by the day they count on.

Nothing is reckoned anew: months are balances of the days they have, so that their columns add up to the statement's,
and the stock runs from the statement's opening to its closing.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from compliance.statement import emissions, sums
from compliance.statement.balance import PERIOD, Balance, Flow, Sum, balances
from compliance.statement.emissions import Impact, MixedContent, Total
from compliance.statement.figures import Statement
from compliance.statement.period import Period
from inventory.gases.catalogue import MIXED


@dataclass(frozen=True)
class Month:
    """The days of a period that lie in one month; openings and closings of its balances say nothing alone."""

    first: date
    last: date
    refrigerants: tuple[Balance, ...]
    impacts: Mapping[str, Impact]

    def flows(self, name: str) -> tuple[Flow, ...]:
        """Return one column of each refrigerant."""
        return tuple(getattr(each, name) for each in self.refrigerants)

    def mass_mg(self, name: str) -> int:
        """Return one column over all refrigerants."""
        return sum(flow.mass_mg for flow in self.flows(name))

    def total(self, measure: str, *, depletes_ozone: bool) -> Total:
        """Return what one measure is worth, with the refrigerants that have no figure; of one of the two totals."""
        found = emissions.totals(tuple(self.impacts.values()), depletes_ozone=depletes_ozone)
        return next(one for one in found if one.measure == measure)

    def of(self, refrigerant: str) -> "Month":
        """Return the month with one refrigerant alone."""
        chosen = tuple(each for each in self.refrigerants if each.refrigerant == refrigerant)
        return replace(
            self, refrigerants=chosen, impacts={each.refrigerant: self.impacts[each.refrigerant] for each in chosen}
        )


@dataclass(frozen=True)
class Stock:
    """What cylinders and rigs held of one refrigerant: at the start, after each day that changed it, and at the end."""

    refrigerant: str
    points: tuple[tuple[date, int], ...]


@dataclass(frozen=True)
class Course:
    """How a period went."""

    months: tuple[Month, ...]
    stocks: tuple[Stock, ...]


def course_of(statement: Statement) -> Course:
    """Return how the period of a statement went, of its refrigerants; one query, one more where content is mixed."""
    days = sums.by_day(statement)
    blends = sums.mixed_by_day(statement) if MIXED in statement.impacts else {}
    mixed = sums.mixed(statement) if blends else None
    months = tuple(_month(statement, *ends, days, blends, mixed) for ends in months_in(statement))
    return Course(months, tuple(_stock(statement, each, days) for each in statement.refrigerants))


def months_in(period: Period) -> Iterator[tuple[date, date]]:
    """Yield the first and the last day of each month of a period, as far as they lie in it."""
    first = period.first
    while first <= period.last:
        following = (first.replace(day=1) + timedelta(days=31)).replace(day=1)
        yield first, min(following - timedelta(days=1), period.last)
        first = following


def _month(
    statement: Statement,
    first: date,
    last: date,
    days: Mapping[date, Sequence[Sum]],
    blends: Mapping[date, Sequence[Sum]],
    mixed: MixedContent | None,
) -> Month:
    found = balances(_between(days, first, last), by_grade=False)
    content = MixedContent(tuple(_between(blends, first, last)), mixed.compositions) if mixed else None
    impacts = {each.refrigerant: emissions.impact(each, statement.basis, content) for each in found}
    return Month(first, last, found, impacts)


def _between(days: Mapping[date, Sequence[Sum]], first: date, last: date) -> Iterable[Sum]:
    return (each for day, found in days.items() if first <= day <= last for each in found)


def _stock(statement: Statement, each: Balance, days: Mapping[date, Sequence[Sum]]) -> Stock:
    held_mg, points = each.opening_mg, [(statement.first, each.opening_mg)]
    for day, found in days.items():
        own = (one for one in found if one.refrigerant == each.refrigerant and one.phase == PERIOD)
        if change_mg := sum(one.stock_mg for one in own):
            held_mg += change_mg
            points.append((day, held_mg))
    return Stock(each.refrigerant, (*points, (statement.last, held_mg)))
