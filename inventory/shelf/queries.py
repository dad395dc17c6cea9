"""What the pages of the inventory floor ask of the book: cylinders with what they hold, and what they may.

Every function runs a number of queries that does not grow with rows. Masses in milligrams.
"""

from collections.abc import Iterable
from datetime import datetime
from functools import cache
from typing import Any

from django.db import connection
from django.db.models import (
    BigIntegerField,
    Case,
    CharField,
    Exists,
    F,
    FloatField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.utils import timezone

from inventory.book.holdings import Content
from inventory.causes import CYLINDER
from inventory.gases import filling, fluids
from inventory.gases.catalogue import MIXED
from inventory.models import Account, Book, Cylinder, Holding, Scale, Weighing
from inventory.shelf.limits import WITHOUT_LIMIT, limit_mg_per_m3, mixed_limits_mg

HEEL_AT_K = 303.15
"""A heel: no more than vapour alone would fill the cylinder with on a warm day, 30 C."""
NEAR_LIMIT = 0.98
"""At its limit: less than a fiftieth of it is room."""

READY, ON_SCALE, HEEL, AT_LIMIT, PAST = "ready", "on the scale", "heel only", "at its limit", "past its test date"
_ANY_BOOK = -1
STATE_WORDS = (READY, ON_SCALE, HEEL, AT_LIMIT, PAST, "suspect", "put aside", "away", "done with")


def cylinders(book: Book, jurisdiction: str) -> Any:
    """Return the cylinders of a book with what they hold, their limit and the word for their state.

    Annotates ``held_mg``, ``code``, ``in_grade`` (of what is in it, else what it is meant for), ``limit_mg`` (None
    where no limit is known), ``last_role``, ``last_dropped`` (the line that dropped it), ``last_weighed_at``, ``word``.
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
            last_dropped=Subquery(weighed.values("begun__dropped")[:1]),
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
    tested = Q(kind__in=(Cylinder.REFILLABLE, Cylinder.RECOVERY))
    return rows.annotate(
        word=Case(
            *shelf,
            When(last_role=Weighing.BEFORE, last_dropped__isnull=True, then=Value(ON_SCALE)),
            When(Q(state="suspect") | Q(in_grade="suspect", held_mg__gt=0), then=Value("suspect")),
            When(tested & Q(requalify_by__lt=timezone.localdate()), then=Value(PAST)),
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


def on_the_scale(book: Book) -> "QuerySet[Weighing]":
    """Return the weighings by which cylinders of a book stand open on a scale, newest first."""
    text, values = _open_readings()
    with connection.cursor() as cursor:
        cursor.execute(text, [book.pk if one == _ANY_BOOK else one for one in values])
        found = [pk for (pk,) in cursor.fetchall()]
    if not found:
        return Weighing.objects.none()
    return (
        Weighing.objects.filter(pk__in=found)
        .select_related("account__cylinder", "scale", "entry", "begun")
        .order_by("-id")
    )


@cache
def _open_readings() -> tuple[str, tuple[Any, ...]]:
    """Return the query for the keys of open readings, compiled once: that takes longer than its answer, on each page.

    In its values `_ANY_BOOK` stands for the book.
    """
    latest = Weighing.objects.standing().filter(account=OuterRef("pk")).order_by("-id").values("pk")
    accounts = Account.objects.filter(book=_ANY_BOOK, kind=CYLINDER)
    last_ones = accounts.annotate(last=Subquery(latest[:1])).values("last")
    rows = Weighing.objects.filter(pk__in=last_ones, role=Weighing.BEFORE, begun__dropped__isnull=True)
    text, values = rows.values("pk").query.sql_with_params()
    return text, tuple(values)


def not_weighed_since(book: Book, since: datetime) -> "QuerySet[Any]":
    """Return the cylinders on the floor without a standing weighing since a moment."""
    recent = Weighing.objects.standing().filter(account=OuterRef("account"), entry__occurred_at__gte=since)
    return standing_here(book).filter(~Exists(recent))


def scales_of(book: Book) -> list[Scale]:
    """Return the scales of a book that are in use, by name."""
    return list(Scale.objects.filter(book=book, retired=False).order_by("name"))


def content_of(account: Account) -> Content | None:
    """Return (refrigerant, grade, milligrams) of a cylinder; None where the book has nothing in it."""
    return contents([account.pk]).get(account.pk)


def contents(accounts: Iterable[int]) -> dict[int, Content]:
    """Return (refrigerant, grade, milligrams) of stock accounts by key, without those that are empty."""
    rows = Holding.objects.filter(account__in=list(accounts), stock=True).exclude(mass_mg=0)
    return {row.account_id: (row.refrigerant, row.grade, int(row.mass_mg)) for row in rows}
