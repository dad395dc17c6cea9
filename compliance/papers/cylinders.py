"""What the papers of cylinders share: a cylinder with what the book has in it and what it may hold, in words."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from compliance.papers.paper import NothingToIssue
from compliance.papers.wording import Wording
from inventory.gases import filling
from inventory.gases.catalogue import refrigerant
from inventory.gases.cautions import cautions_for, places_of
from inventory.models import Cylinder
from inventory.shelf import queries
from inventory.shelf.limits import filling_limit
from shop.models import Workshop

NOT_WEIGHED = "not weighed"
FLAMMABLE, SUSPECT, NEVER_REFILL = "FLAMMABLE", "SUSPECT", "SINGLE-TRIP: NEVER REFILL"
NO_LIMIT, TAKES_NOTHING = "no filling limit known", "nothing: a single-trip container is never filled"


@dataclass(frozen=True)
class Shelved:
    """A cylinder with what the book has in it and what it may hold."""

    cylinder: Cylinder
    content: tuple[str, str, int] | None
    jurisdiction: str

    @property
    def code(self) -> str:
        """What is in it, else what it is meant for."""
        return self.content[0] if self.content else self.cylinder.refrigerant

    @property
    def grade(self) -> str:
        """The grade of what is in it, else that which it is meant for."""
        return self.content[1] if self.content else self.cylinder.grade

    @property
    def held_mg(self) -> int:
        """What the book has in it."""
        return self.content[2] if self.content else 0

    @property
    def never_refilled(self) -> bool:
        """Whether it is made for one trip."""
        return self.cylinder.kind in (Cylinder.SINGLE_TRIP, Cylinder.CANS)

    @property
    def suspect(self) -> bool:
        """Whether the shelf or the book calls it suspect."""
        return "suspect" in (self.cylinder.state, self.grade)

    @cached_property
    def limit(self) -> filling.Limit | None:
        """The limit that governs it; None for one that is never filled, and where no limit is known."""
        if self.never_refilled:
            return None
        return filling_limit(self.cylinder, self.code, self.jurisdiction)

    @property
    def limit_mg(self) -> int | None:
        """The most that it may hold."""
        return self.limit.max_net_mg if self.limit else None

    @property
    def most_gross_mg(self) -> int | None:
        """The most that the scale may show with it."""
        unknown = self.limit_mg is None or self.cylinder.lacks_tare
        return None if unknown else self.cylinder.tare_mg + (self.limit_mg or 0)

    @property
    def marks(self) -> tuple[str, ...]:
        """The words that are set off on a label."""
        return (*marks_of(self.code, suspect=self.suspect), *([NEVER_REFILL] if self.never_refilled else []))

    def most_said(self, wording: Wording) -> str:
        """Return the most that the scale may show, with the rule that says so."""
        if self.never_refilled:
            return TAKES_NOTHING
        if self.limit is None or self.most_gross_mg is None:
            return NO_LIMIT
        return f"{wording.mass(self.most_gross_mg)}, {self.limit.words}"


def marks_of(code: str, *, suspect: bool) -> tuple[str, ...]:
    """Return the words that are set off for a gas: that it burns, that it is suspect."""
    return (*([FLAMMABLE] if refrigerant(code).flammable else []), *([SUSPECT] if suspect else []))


def on_the_shelf(workshop: Workshop, numbers: Sequence[int]) -> list[Shelved]:
    """Return cylinders by the numbers of their accounts, in the order asked for; raises NothingToIssue."""
    rows = Cylinder.objects.filter(account__book=workshop.book, account__number__in=numbers)
    found = {one.account.number: one for one in rows.select_related("account")}
    for number in numbers:
        if number not in found:
            raise NothingToIssue(f"This book has no cylinder {number}.")
    held = queries.contents(one.account_id for one in found.values())
    return [
        Shelved(one, held.get(one.account_id), workshop.jurisdiction) for one in (found[number] for number in numbers)
    ]


def cautions_of(codes: Collection[str]) -> tuple[str, ...]:
    """Return what is to be minded of these gases: that one burns, that one stands under high pressure."""
    return tuple(one.sentence for one in cautions_for(*places_of(codes)))


def tare_said(cylinder: Cylinder, wording: Wording) -> str:
    """Return the empty mass and where it is from."""
    if cylinder.lacks_tare:
        return "not known until its first weighing"
    return f"{wording.mass(cylinder.tare_mg)}, {cylinder.tare_source}"


def applying(cylinder: Cylinder, rows: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Return the rows without those that say nothing of its kind: cans have no empty mass, a single trip no test."""
    of_scale = () if cylinder.is_weighed else ("Empty mass", "Empty mass now", "Water capacity", "Scale at most")
    never = (*of_scale, *(() if cylinder.is_filled else ("Test date",)))
    return tuple(row for row in rows if row[0] not in never)


def test_date_said(cylinder: Cylinder, today: date, wording: Wording) -> str:
    """Return until when it may be filled without a test, and whether that day has passed."""
    gone = ", gone by: takes nothing until it is tested" if cylinder.is_past_requalification(today) else ""
    return wording.on(cylinder.requalify_by) + gone
