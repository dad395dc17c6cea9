"""Weighing differences that are beyond what their readings can tell, and small ones that all go one way.

A difference is a finding while more of it is open than its two readings can tell; what explanations and balances
after a correction leave of it counts, not what it once was. Masses in milligrams.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from django.db.models import Count, F, FloatField, Max, Q, QuerySet, Sum
from django.db.models.expressions import CombinedExpression
from django.db.models.functions import Cast

from inventory import causes
from inventory.measure.displays import small
from inventory.models import Account, Book, Entry, Movement, Weighing

FEWEST = 8  # differences of one cylinder, below which a run of them says nothing


@dataclass(frozen=True)
class OpenDifference:
    """One difference still open beyond what its readings can tell; `open_mg` positive is mass that went missing."""

    movement: Movement
    cylinder: Account
    open_mg: int

    @property
    def times(self) -> float:
        """How many times what the two readings can tell; infinite where they tell everything."""
        return abs(self.open_mg) / self.movement.can_tell_mg if self.movement.can_tell_mg else math.inf

    def said(self, unit: str = "kg") -> str:
        """Return such as "180 g, 19.7 times what the two readings can tell"; in a book of pounds in ounces."""
        mass = small(abs(self.open_mg), unit)
        if math.isinf(self.times):
            return f"{mass}, and the readings can tell everything"
        return f"{mass}, {self.times:.1f} times what the two readings can tell"


@dataclass(frozen=True)
class OneWay:
    """A run of small differences of one cylinder that adds up one way; `sum_mg` positive is mass gone missing."""

    cylinder: Account
    count: int
    sum_mg: int
    limit_mg: float
    since: date

    def said(self, unit: str = "kg") -> str:
        """Return such as "small losses all one way: 180 g in 60 weighings, where chance alone leaves 71 g"."""
        what = "losses" if self.sum_mg > 0 else "gains"
        return (
            f"small {what} all one way: {small(abs(self.sum_mg), unit)} in {self.count} weighings, "
            f"where chance alone leaves {small(round(self.limit_mg), unit)}"
        )


class Moved(Protocol):
    """A movement, written or still to be written."""

    @property
    def mass_mg(self) -> int: ...

    @property
    def target(self) -> Account: ...


def into_unexplained_mg(movement: Moved) -> int:
    """Return the mass of a movement to *unexplained* in milligrams, one from there below zero."""
    mass = int(movement.mass_mg)
    return mass if movement.target.kind == causes.UNEXPLAINED else -mass


def open_mg(difference: Movement) -> int:
    """Return what of a weighing difference is still unexplained, in milligrams; positive is mass that went missing.

    Nothing is left of a difference whose line was reversed. Balances after a correction and explanations count where
    they stand, in their direction to or from *unexplained*; a reversed one counts with its reversal, as nothing.
    """
    if Entry.objects.filter(reverses=difference.entry_id).exists():
        return 0
    return left_mg(difference, Movement.objects.filter(explains=difference).select_related("target"))


def left_mg(difference: Movement, parts: Iterable[Movement]) -> int:
    """Return the same of a difference whose line stands, from all that names it."""
    return into_unexplained_mg(difference) + sum(into_unexplained_mg(part) for part in parts)


def open_differences(book: Book) -> list[OpenDifference]:
    """Return the weighing differences of a book that are open beyond what their readings can tell, newest first.

    Four queries, however many lines the book has.
    """
    corrected = Movement.objects.filter(book=book, explains__isnull=False).values("explains")
    candidates = (
        _differences(book)
        .filter(Q(mass_mg__gt=F("can_tell_mg")) | Q(pk__in=corrected))
        .select_related("source", "target", "entry", "source__cylinder", "target__cylinder")
        .prefetch_related("explanations__target")
        .order_by("-entry__seq", "-line")
    )
    found = []
    for movement in candidates:
        open_now_mg = left_mg(movement, movement.explanations.all())
        if abs(open_now_mg) > movement.can_tell_mg:
            missing = movement.target.kind == causes.UNEXPLAINED
            found.append(OpenDifference(movement, movement.source if missing else movement.target, open_now_mg))
    return found


def one_way(book: Book) -> list[OneWay]:
    """Return the cylinders whose differences, each within what its readings can tell, add up beyond 2 sqrt(n) u.

    `u` is the root mean square of the standard uncertainties, `n` the number of readings that could differ. Cylinders
    with fewer than `FEWEST` differences are not judged. Three queries.
    """
    runs: dict[int, _Run] = {}
    small = _differences(book).filter(mass_mg__lte=F("can_tell_mg"))
    for end, sign in (("source", 1), ("target", -1)):
        squares = Sum(_square("u_random_mg") + _square("u_span_mg"))
        rows = (
            small.filter(**{f"{end}__kind": causes.CYLINDER})
            .values(end)
            .annotate(
                mass=Sum("mass_mg"),
                n=Count("pk"),
                last=Max("booked_on"),
                squares=squares,
            )
        )
        for row in rows:
            run = runs.setdefault(row[end], _Run())
            run.add(sign * int(row["mass"]), row["n"], float(row["squares"]), row["last"])
    wanted = {pk: run for pk, run in runs.items() if run.count >= FEWEST}
    accounts = Account.objects.in_bulk(wanted) if wanted else {}
    readings = _readings_of(wanted)
    found = [run.judged(accounts[pk], readings.get(pk, run.count)) for pk, run in wanted.items()]
    return [one for one in found if abs(one.sum_mg) > one.limit_mg]


class _Run:
    """The small differences of one cylinder as they are added up."""

    def __init__(self) -> None:
        self.sum_mg, self.count, self.squares, self.last = 0, 0, 0.0, date.min

    def add(self, mass_mg: int, count: int, squares: float, last: date) -> None:
        self.sum_mg += mass_mg
        self.count += count
        self.squares += squares
        self.last = max(self.last, last)

    def judged(self, cylinder: Account, readings: int) -> OneWay:
        n = max(readings, self.count)  # readings without any difference count too: they are evidence as well
        u_mg = math.sqrt(self.squares / self.count)
        return OneWay(cylinder, n, self.sum_mg, 2 * math.sqrt(n) * u_mg, self.last)


def _readings_of(accounts: Iterable[int]) -> dict[int, int]:
    """Return how many readings of each account stood by themselves, so that they could have shown a difference."""
    rows = (
        Weighing.objects.standing()
        .filter(account__in=list(accounts), role__in=(Weighing.BEFORE, Weighing.CHECK))
        .values("account")
        .annotate(n=Count("pk"))
    )
    return {row["account"]: row["n"] for row in rows}


def _differences(book: Book) -> QuerySet[Movement]:
    """Return the weighing differences of a book that were not reversed."""
    return Movement.objects.standing().filter(book=book, cause="weighing-difference")


def _square(name: str) -> CombinedExpression:
    return Cast(F(name), FloatField()) * Cast(F(name), FloatField())
