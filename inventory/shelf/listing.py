"""Lines that pages list: those of one account, and those of a book that a filter leaves. Masses in milligrams."""

import itertools
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.contrib.auth import get_user_model
from django.db.models import DateTimeField, ExpressionWrapper, F, Q, QuerySet, Sum

from inventory.models import Account, Book, Entry, Holding, Movement

LATE = timedelta(days=1)


@dataclass(frozen=True)
class AccountLine:
    """A movement as one account sees it: what it gained (negative: gave) and held afterwards, where that is known."""

    account: Account
    movement: Movement
    gained_mg: int
    held_mg: int | None

    @property
    def pk(self) -> int:
        """The key of the movement."""
        return self.movement.pk

    @property
    def entry(self) -> Entry:
        """The entry of the movement."""
        return self.movement.entry

    @property
    def other(self) -> Account:
        """The account at the other end."""
        return self.movement.source if _into(self.account, self.movement) else self.movement.target


def _into(account: Account, movement: Movement) -> bool:
    """Whether a movement ends in an account, or in one that is joined to it."""
    return account.pk in (movement.target_id, movement.target.joined_to_id)


def legs(account: Account, *, below: int | None = None, above: int | None = None, most: int = 50) -> list[Movement]:
    """Return up to `most` movements of an account and those joined to it, newest first: the union of limited legs.

    `below` and `above` are keys of movements; with `above` the ones next to it are taken, still newest first.
    """
    found: list[Movement] = []
    own = account.together().values_list("pk", flat=True)
    for end, pk in itertools.product(("source", "target"), own):  # each leg by its own index
        rows = Movement.objects.filter(**{end: pk}).select_related("entry__reversal", "source", "target", "scale")
        if below is not None:
            rows = rows.filter(pk__lt=below)
        if above is not None:
            rows = rows.filter(pk__gt=above)
        found += rows.order_by("pk" if above is not None else "-pk")[:most]
    found.sort(key=lambda movement: movement.pk, reverse=above is None)
    found = found[:most]
    return found if above is None else found[::-1]


def lines_of(account: Account, movements: Sequence[Movement]) -> list[AccountLine]:
    """Return movements (newest first, without a gap) as the account sees them, with what it held after each.

    What it held is known for an account of stock alone: another may hold several refrigerants. Two queries at most.
    """
    held = _held_after(account, movements[0].pk) if movements and account.kind in ("cylinder", "rig") else None
    found = []
    for movement in movements:
        mass = int(movement.mass_mg)
        gained = mass if _into(account, movement) else -mass
        found.append(AccountLine(account, movement, gained, held))
        held = None if held is None else held - gained
    return found


def _held_after(account: Account, key: int) -> int:
    """Return what a stock account held after the movement of this key."""
    now = Holding.objects.filter(account=account).aggregate(mass=Sum("mass_mg"))["mass"] or 0
    came = Movement.objects.filter(target=account, pk__gt=key).aggregate(mass=Sum("mass_mg"))["mass"] or 0
    went = Movement.objects.filter(source=account, pk__gt=key).aggregate(mass=Sum("mass_mg"))["mass"] or 0
    return int(now) - int(came) + int(went)


@dataclass(frozen=True)
class Wanted:
    """A filter on the lines of a book; whatever is empty does not narrow."""

    causes: Collection[str] = ()
    refrigerant: str = ""
    grade: str = ""
    since: date | None = None
    until: date | None = None
    account: Account | None = None
    late: bool = False
    reversed: bool = False
    kind: str = ""

    @property
    def days(self) -> Q:
        """The days that lines are to count for."""
        since = Q(booked_on__gte=self.since) if self.since else Q()
        return since & Q(booked_on__lte=self.until) if self.until else since

    @property
    def by_movement(self) -> bool:
        """Whether something of single movements was asked for."""
        return bool(self.causes or self.refrigerant or self.grade or self.account)


def movements(book: Book, wanted: Wanted) -> "QuerySet[Movement]":
    """Return the movements that a filter leaves."""
    asked = {"cause__in": wanted.causes, "refrigerant": wanted.refrigerant, "grade": wanted.grade}
    rows = Movement.objects.filter(wanted.days, book=book, **{name: value for name, value in asked.items() if value})
    if wanted.account is not None:
        own = wanted.account.together()
        ends = [Movement.objects.filter(**{f"{end}__in": own}).order_by() for end in ("source", "target")]
        rows = rows.filter(pk__in=ends[0].values("pk").union(ends[1].values("pk"), all=True))
    if wanted.late or wanted.reversed or wanted.kind:
        rows = rows.filter(entry__in=_of_entries(Entry.objects.filter(book=book), wanted).values("pk"))
    return rows


def entries(book: Book, wanted: Wanted) -> "QuerySet[Entry]":
    """Return the entries that a filter leaves, with what a list shows of them."""
    rows = _of_entries(Entry.objects.filter(wanted.days, book=book), wanted)
    if wanted.by_movement:
        rows = rows.filter(pk__in=movements(book, wanted).order_by().values("entry"))
    return rows.select_related("reversal", "reverses", "photo").prefetch_related(
        "movements__source", "movements__target", "weighings__account"
    )


def _of_entries(rows: "QuerySet[Entry]", wanted: Wanted) -> "QuerySet[Entry]":
    if wanted.late:
        limit = ExpressionWrapper(F("occurred_at") + LATE, output_field=DateTimeField())
        rows = rows.filter(recorded_at__gt=limit)
    if wanted.reversed:
        rows = rows.filter(Q(reversal__isnull=False) | Q(kind=Entry.REVERSE))
    if wanted.kind:
        rows = rows.filter(kind=wanted.kind)
    return rows


def sums(rows: "QuerySet[Movement]") -> list[tuple[str, int]]:
    """Return the mass of movements by refrigerant, in milligrams; reversals count negative."""
    found = rows.order_by("refrigerant").values_list("refrigerant").annotate(mass=Sum("mass_mg"))
    return [(code, int(mass)) for code, mass in found]


def names_of(handles: Iterable[str]) -> dict[str, str]:
    """Return the names of people by the handle that entries carry."""
    people = get_user_model().objects.filter(handle__in=set(handles))
    return {person.handle: str(person) for person in people}
