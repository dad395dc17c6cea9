"""Weighing differences that are beyond what their readings can tell.

A difference is a finding while more of it is open than its two readings can tell; what explanations and balances
after a correction leave of it counts, not what it once was. Masses in milligrams.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Protocol

from django.db.models import Case, Exists, F, OuterRef, Q, QuerySet, Subquery, Sum, When
from django.db.models.functions import Coalesce

from inventory import causes
from inventory.measure.displays import small
from inventory.models import Account, Book, Entry, Movement

DIFFERENCE = "weighing-difference"


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

    One query over those that were ever beyond it or were balanced since, which an index of their own holds.
    """
    beyond = Movement.objects.filter(book=book, cause=DIFFERENCE, mass_mg__gt=F("can_tell_mg"))
    balanced = Movement.objects.filter(_of(book), explains__isnull=False)
    ever = beyond.order_by().values("pk").union(balanced.order_by().values("explains"))
    rows = (
        Movement.objects.standing()
        .filter(_of(book), pk__in=ever, cause=DIFFERENCE)
        .annotate(left=_into_unexplained() + Coalesce(Subquery(_parts(OuterRef("pk"))), 0))
        .filter(Q(left__gt=F("can_tell_mg")) | Q(left__lt=-F("can_tell_mg")))
        .select_related("source", "target", "entry", "source__cylinder", "target__cylinder")
        .order_by("-entry__seq", "-line")
    )
    return [OpenDifference(one, one.source if _is_loss(one) else one.target, int(one.left)) for one in rows]


def _is_loss(difference: Movement) -> bool:
    return difference.target.kind == causes.UNEXPLAINED


def _into_unexplained() -> Case:
    """Return the same as `into_unexplained_mg`, for the database."""
    return Case(When(target__kind=causes.UNEXPLAINED, then=F("mass_mg")), default=-F("mass_mg"))


def _parts(difference: OuterRef) -> QuerySet[Any, Any]:
    """Return what all that names a difference comes to."""
    rows = Movement.objects.filter(explains=difference).order_by().values("explains")
    return rows.annotate(sum=Sum(_into_unexplained())).values("sum")


def _of(book: Book) -> Exists:
    """Which movements are of a book, in words that do not lead a database to look at all of the book for it."""
    return Exists(Book.objects.filter(pk=book.pk).filter(pk=OuterRef("book")))
