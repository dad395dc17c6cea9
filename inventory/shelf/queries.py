"""What the pages of the inventory floor ask of the book: cylinders with what they hold, lines of an account, filters.

Every function runs a number of queries that does not grow with rows. Masses in milligrams.
"""

import itertools
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.contrib.auth import get_user_model
from django.db.models import (
    BigIntegerField,
    Case,
    CharField,
    DateTimeField,
    Exists,
    ExpressionWrapper,
    F,
    FloatField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce

from inventory.book.draft import Content
from inventory.gases import filling, fluids
from inventory.gases.catalogue import MIXED
from inventory.models import Account, Book, Cylinder, Entry, Holding, Movement, Weighing
from inventory.shelf.limits import WITHOUT_LIMIT, limit_mg_per_m3, mixed_limits_mg

HEEL_AT_K = 303.15
"""A heel: no more than vapour alone would fill the cylinder with on a warm day, 30 C."""
NEAR_LIMIT = 0.98
"""At its limit: less than a fiftieth of it is room."""
LATE = timedelta(days=1)

READY, ON_SCALE, HEEL, AT_LIMIT = "ready", "on the scale", "heel only", "at its limit"
STATE_WORDS = (READY, ON_SCALE, HEEL, AT_LIMIT, "suspect", "put aside", "away", "done with")


# --- cylinders ------------------------------------------------------------------------------------------------


def cylinders(book: Book, jurisdiction: str) -> Any:
    """Return the cylinders of a book with what they hold, their limit and the word for their state.

    Annotates ``held_mg``, ``code``, ``in_grade`` (of what is in it, else what it is meant for), ``limit_mg`` (None
    where no limit is known), ``last_role``, ``last_weighed_at`` and ``word``.
    """
    holding = Holding.objects.filter(account=OuterRef("account"), stock=True).exclude(mass_mg=0)
    weighed = Weighing.objects.standing().filter(account=OuterRef("account")).order_by("-id")
    rows = (
        Cylinder.objects.filter(account__book=book)
        .select_related("account")
        .annotate(
            held_mg=Coalesce(Subquery(holding.values("mass_mg")[:1]), 0, output_field=BigIntegerField()),
            code=Coalesce(Subquery(holding.values("refrigerant")[:1]), F("refrigerant")),
            in_grade=Coalesce(Subquery(holding.values("grade")[:1]), F("grade")),
            last_role=Subquery(weighed.values("role")[:1]),
            last_weighed_at=Subquery(weighed.values("entry__occurred_at")[:1]),
        )
    )
    return _with_word(_with_limit(rows, book, jurisdiction))


def _with_limit(rows: Any, book: Book, jurisdiction: str) -> Any:
    """Annotate ``limit_mg`` and ``heel_mg`` (vapour alone), both None where they are not known."""
    codes = set(Cylinder.objects.filter(account__book=book).values_list("refrigerant", flat=True).distinct())
    codes |= set(
        Holding.objects.filter(account__book=book, stock=True).values_list("refrigerant", flat=True).distinct()
    )
    holds = ~Q(kind__in=WITHOUT_LIMIT) & Q(water_capacity_m3__isnull=False)
    limits = [
        When(holds & Q(code=code), then=F("water_capacity_m3") * per_m3)
        for code in sorted(codes)
        if (per_m3 := limit_mg_per_m3(code, jurisdiction)) is not None
    ]
    holding = Holding.objects.filter(account__book=book, stock=True, refrigerant=MIXED).exclude(mass_mg=0)
    mixtures = Cylinder.objects.filter(account__in=holding.values("account"))
    mixed = [When(pk=pk, then=Value(mg)) for pk, mg in mixed_limits_mg(mixtures, jurisdiction).items()]
    heels = [
        When(holds & Q(code=code), then=F("water_capacity_m3") * per_m3)
        for code in sorted(codes)
        if (per_m3 := _vapour_mg_per_m3(code)) is not None
    ]
    stamped, by_capacity = F("filling_limit_mg"), F("capacity_limit_mg")
    return rows.annotate(
        capacity_limit_mg=Case(*mixed, *limits, default=None, output_field=FloatField()),
        limit_mg=Case(
            When(Q(kind__in=WITHOUT_LIMIT) | Q(filling_limit_mg__isnull=True), then=by_capacity),
            When(Q(capacity_limit_mg__isnull=True) | Q(filling_limit_mg__lt=by_capacity), then=stamped),
            default=by_capacity,
            output_field=FloatField(),
        ),
        heel_mg=Case(*heels, default=None, output_field=FloatField()),
    )


def _vapour_mg_per_m3(code: str) -> float | None:
    if code == MIXED or not fluids.has_data(code):
        return None
    try:
        return filling.vapour_only_g(code, water_capacity_m3=1.0, temperature_k=HEEL_AT_K) * 1000
    except fluids.FluidError:
        return None


def _with_word(rows: Any) -> Any:
    shelf = [When(state=word, then=Value(word)) for word in ("done with", "away", "put aside")]
    return rows.annotate(
        word=Case(
            *shelf,
            When(last_role=Weighing.BEFORE, then=Value(ON_SCALE)),
            When(Q(state="suspect") | Q(in_grade="suspect", held_mg__gt=0), then=Value("suspect")),
            When(limit_mg__isnull=False, held_mg__gte=F("limit_mg") * NEAR_LIMIT, then=Value(AT_LIMIT)),
            When(heel_mg__isnull=False, held_mg__gt=0, held_mg__lte=F("heel_mg"), then=Value(HEEL)),
            default=Value(READY),
            output_field=CharField(),
        )
    )


def standing_here(book: Book) -> "QuerySet[Cylinder]":
    """Return the cylinders on the floor, by place and number: not away, not done with."""
    found = Cylinder.objects.filter(account__book=book).exclude(state__in=Cylinder.GONE).select_related("account")
    return found.order_by("place", "serial", "pk")


def not_weighed_since(book: Book, since: datetime) -> "QuerySet[Any]":
    """Return the cylinders on the floor without a standing weighing since a moment."""
    recent = Weighing.objects.standing().filter(account=OuterRef("account"), entry__occurred_at__gte=since)
    return standing_here(book).filter(~Exists(recent))


def content_of(account: Account) -> Content | None:
    """Return (refrigerant, grade, milligrams) of a cylinder; None where the book has nothing in it."""
    return contents([account.pk]).get(account.pk)


def contents(accounts: Iterable[int]) -> dict[int, Content]:
    """Return (refrigerant, grade, milligrams) of stock accounts by key, without those that are empty."""
    rows = Holding.objects.filter(account__in=list(accounts), stock=True).exclude(mass_mg=0)
    return {row.account_id: (row.refrigerant, row.grade, int(row.mass_mg)) for row in rows}


# --- lines of one account -------------------------------------------------------------------------------------


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


# --- lines of the book ----------------------------------------------------------------------------------------


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
    def by_movement(self) -> bool:
        """Whether something of single movements was asked for."""
        return bool(self.causes or self.refrigerant or self.grade or self.account)


def movements(book: Book, wanted: Wanted) -> "QuerySet[Movement]":
    """Return the movements that a filter leaves."""
    rows = Movement.objects.filter(book=book)
    if wanted.causes:
        rows = rows.filter(cause__in=wanted.causes)
    if wanted.refrigerant:
        rows = rows.filter(refrigerant=wanted.refrigerant)
    if wanted.grade:
        rows = rows.filter(grade=wanted.grade)
    if wanted.since:
        rows = rows.filter(booked_on__gte=wanted.since)
    if wanted.until:
        rows = rows.filter(booked_on__lte=wanted.until)
    if wanted.account is not None:
        own = wanted.account.together()
        ends = [Movement.objects.filter(**{f"{end}__in": own}).order_by() for end in ("source", "target")]
        rows = rows.filter(pk__in=ends[0].values("pk").union(ends[1].values("pk"), all=True))
    if wanted.late or wanted.reversed or wanted.kind:
        rows = rows.filter(entry__in=_of_entries(Entry.objects.filter(book=book), wanted).values("pk"))
    return rows


def entries(book: Book, wanted: Wanted) -> "QuerySet[Entry]":
    """Return the entries that a filter leaves, with what a list shows of them."""
    rows = _of_entries(Entry.objects.filter(book=book), wanted)
    if wanted.since:
        rows = rows.filter(booked_on__gte=wanted.since)
    if wanted.until:
        rows = rows.filter(booked_on__lte=wanted.until)
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
