"""What each cylinder may hold: the one place from which acts refuse, and shelf and pages show."""

from collections.abc import Iterable
from decimal import Decimal

from django.db.models import QuerySet

from inventory.gases import filling
from inventory.gases.catalogue import MIXED
from inventory.models import Account, Analysis, Cylinder

WITHOUT_LIMIT = (Cylinder.TANK, Cylinder.CANS)
"""A machine minds its own tank, and cans are not filled."""


def filling_limit(cylinder: Cylinder, code: str, jurisdiction: str, parts: Iterable[str] = ()) -> filling.Limit | None:
    """Return the limit that governs a cylinder for a content; None where no limit is known.

    `parts` are those of a mixture that comes into an empty cylinder; else what was measured in it counts.
    """
    known = tuple(parts) or (measured_parts(cylinder.account) if code == MIXED else ())
    return _limit(cylinder, code, jurisdiction, known)


def mixed_limits_mg(cylinders: QuerySet[Cylinder], jurisdiction: str) -> dict[int, float]:
    """Return the limits of cylinders that hold a mixture, in milligrams by key, where one is known. Two queries."""
    found = list(cylinders)
    shown = parts_of(one.account_id for one in found)
    limits = ((one.pk, _limit(one, MIXED, jurisdiction, shown.get(one.account_id, ()))) for one in found)
    return {pk: limit.max_net_g * 1000 for pk, limit in limits if limit is not None}


def limit_mg_per_m3(code: str, jurisdiction: str) -> float | None:
    """Return the governing limit in milligrams for each cubic metre of water capacity; None where none is known."""
    if code == MIXED:
        return None
    try:
        return filling.governing(filling.limits(code, 1.0), jurisdiction).max_net_g * 1000
    except filling.NoLimit:
        return None


def measured_parts(account: Account) -> dict[str, Decimal]:
    """Return the mass fractions that an identifier last showed of an account's content; empty where never."""
    return parts_of([account.pk]).get(account.pk, {})


def parts_of(accounts: Iterable[int]) -> dict[int, dict[str, Decimal]]:
    """Return the mass fractions that an identifier last showed of each account's content, by key. One query."""
    shown = Analysis.objects.standing().filter(account__in=list(accounts)).order_by("occurred_at", "id")
    return {one.account_id: {code: Decimal(str(share)) for code, share in one.parts.items()} for one in shown}


def _limit(cylinder: Cylinder, code: str, jurisdiction: str, parts: Iterable[str]) -> filling.Limit | None:
    """Return the lesser of the limit by water capacity and the one that is stamped; None where neither is known."""
    if cylinder.kind in WITHOUT_LIMIT:
        return None
    by_capacity, stamped_mg = _by_capacity(cylinder, code, jurisdiction, parts), cylinder.filling_limit_mg
    if stamped_mg is None or (by_capacity is not None and by_capacity.max_net_g * 1000 <= stamped_mg):
        return by_capacity
    return filling.Limit(filling.STAMPED, stamped_mg / 1000, "the stamp on the cylinder", False)


def _by_capacity(cylinder: Cylinder, code: str, jurisdiction: str, parts: Iterable[str]) -> filling.Limit | None:
    if cylinder.water_capacity_m3 is None:
        return None
    try:
        if code == MIXED:
            gases = [part for part in parts if part != "air"]
            return filling.mixture_limit(gases, cylinder.water_capacity_m3, jurisdiction)
        return filling.governing(filling.limits(code, cylinder.water_capacity_m3), jurisdiction)
    except filling.NoLimit:
        return None
