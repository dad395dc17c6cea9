"""The year of several workshops side by side, for whoever reads more than one book: one grouped query over totals."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from compliance.statement import balance, layout, sums
from compliance.statement.balance import Balance
from compliance.statement.files import masses_of
from compliance.statement.layout import Cell, Grid, Row
from inventory.measure.displays import column_said, columned, in_words
from inventory.output.files import csv_of
from shop.models import Workshop

CAME, LEFT = "came-from-sister", "moved-to-sister"
NAMES = ("workshop", "from", "to")


@dataclass(frozen=True)
class Share:
    """What one workshop had of a refrigerant."""

    workshop: Workshop
    balance: Balance

    def cells(self, unit: str) -> tuple[tuple[str, str], ...]:
        """Return the masses of its line, each with the head it stands under."""
        return tuple(zip(_line(self.balance, unit), HEADS, strict=True))


@dataclass(frozen=True)
class Chain:
    """The days, both included, the balances of all the workshops together, and what each had of them."""

    first: date
    last: date
    refrigerants: tuple[Balance, ...]
    shares: tuple[Share, ...]

    def shares_of(self, refrigerant: str) -> list[Share]:
        """Return what the workshops had of a refrigerant, in order of their names."""
        return [each for each in self.shares if each.balance.refrigerant == refrigerant]

    def overview(self, unit: str) -> Grid:
        """One row for each refrigerant, over all the workshops."""
        rows = tuple(Row(each.refrigerant, tuple(map(Cell, _line(each, unit)))) for each in self.refrigerants)
        return Grid(f"Stock of cylinders and rigs of all of them, {in_words(unit)}", "Refrigerant", HEADS, rows)

    def between(self, refrigerant: str, unit: str) -> str:
        """Say what moved between sister workshops, which the sums count as out and in; empty where nothing did."""
        found = [each for each in self.refrigerants if each.refrigerant == refrigerant]
        left, came = (sum(_part(each, cause) for each in found) for cause in (LEFT, CAME))
        if not left and not came:
            return ""
        said = f"{column_said(left, unit)} left for a sister workshop and {column_said(came, unit)} came from one"
        alike = "the same" if left == came else "not the same, as where a sister is not among these workshops"
        return f"{said}: {alike}. Both are counted in what went out and what came in."


HEADS = (*layout.ON_ONE_LINE, "to air in our hands")


def read_chain(workshops: Sequence[Workshop], first: date, last: date) -> Chain:
    """Return the balances of the workshops' books from `first` to `last`, by the days of each workshop."""
    found = sums.summed_by_book([each.book_id for each in workshops], first, last)
    shares = [
        Share(workshop, each)
        for workshop in sorted(workshops, key=lambda one: (one.name, one.pk))
        for each in balance.balances(found.get(workshop.book_id, ()), by_grade=False)
    ]
    together = balance.balances([one for each in found.values() for one in each], by_grade=False)
    return Chain(first, last, together, tuple(shares))


def as_csv(chain: Chain) -> Iterator[str]:
    """Yield one row for each workshop and refrigerant, in milligrams, with the columns of a statement's file."""
    days = chain.first, chain.last
    rows = [(each.workshop.name, *days, masses_of(each.balance)) for each in chain.shares]
    names = tuple(masses_of(chain.refrigerants[0])) if chain.refrigerants else ("refrigerant",)
    return csv_of((*NAMES, *names), ((*about, *masses.values()) for *about, masses in rows))


def _line(each: Balance, unit: str) -> tuple[str, ...]:
    return (*layout.on_one_line(each, unit), columned(each.workshop_air.mass_mg, unit))


def _part(each: Balance, cause: str) -> int:
    """Return what moved by a cause, without its sign."""
    return sum(abs(part.mass_mg) for flow in each.flows for part in flow.parts if part.cause == cause)
