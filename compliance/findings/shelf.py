"""The facts of the shelf: cylinders, their readings and empty masses, instruments. What was reversed is left out."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import F, Max, Min, QuerySet

from compliance.findings.lines import DIFFERENCE
from compliance.rules import facts
from inventory.gases import filling
from inventory.gases.catalogue import MIXED
from inventory.models import Gauge, Movement, Photo, Scale, Tare, Weighing
from inventory.shelf import queries
from shop.models import Workshop

FILLS = ("recovery", "recovery-through-machine", "transfer", "rig-cleared")


def cylinders_of(workshop: Workshop, since: datetime, zone: ZoneInfo) -> Iterable[facts.Cylinder]:
    book = workshop.book
    moved = Movement.objects.standing().filter(book=book).exclude(cause=DIFFERENCE).order_by()
    first_in = dict(moved.values_list("target").annotate(day=Min("booked_on")))
    filled = dict(moved.filter(cause__in=FILLS).values_list("target").annotate(day=Max("booked_on")))
    out = dict(moved.values_list("source").annotate(day=Max("booked_on")))
    most = _most_held(workshop, since)
    for one in queries.cylinders(book, workshop.jurisdiction):
        line, most_mg, when = most.get(one.account_id, (0, 0, None))
        weighed = one.last_weighed_at
        yield facts.Cylinder(
            number=one.account.number,
            kind=one.kind,
            refrigerant=one.code,
            grade=one.in_grade,
            state=one.state,
            held_mg=int(one.held_mg),
            limit_mg=None if one.limit_mg is None else int(one.limit_mg),
            limit_rule=_limit_rule(one, workshop.jurisdiction),
            requalify_by=one.requalify_by,
            paper_number=one.paper_number,
            first_in_on=first_in.get(one.account_id),
            last_weighed_on=weighed.astimezone(zone).date() if weighed else None,
            last_out_on=out.get(one.account_id),
            filled_on=filled.get(one.account_id),
            max_held_mg=most_mg,
            max_held_line=line,
            max_held_on=when,
            certified_on=one.certified_on,
            heel_removed_on=one.heel_removed_on,
            heel_stated=bool(one.heel_statement.strip()),
        )


def _limit_rule(one: Any, jurisdiction: str) -> str:
    """Return the id of the rule that governs how much a cylinder may hold; empty for a mixture, and where none does."""
    if one.limit_mg is None:
        return ""
    if one.limit_mg == one.filling_limit_mg:
        return filling.STAMPED
    try:
        return filling.governing(filling.limits(one.code, 1.0), jurisdiction).rule if one.code != MIXED else ""
    except filling.NoLimit:
        return ""


def _most_held(workshop: Workshop, since: datetime) -> dict[int, tuple[int, int, date | None]]:
    """Return (line, milligrams, day) of the most that a reading found in each cylinder since a moment."""
    found: dict[int, tuple[int, int, date | None]] = {}
    rows = _weighings(workshop, since).annotate(net=F("gross_mg") - F("tare_mg"))
    for account, net, seq, day in rows.values_list("account", "net", "entry__seq", "entry__booked_on"):
        if account not in found or net > found[account][1]:
            found[account] = (seq, int(net), day)
    return found


def _weighings(workshop: Workshop, since: datetime) -> QuerySet[Weighing]:
    return Weighing.objects.standing().filter(entry__book=workshop.book, entry__occurred_at__gte=since)


def readings_of(workshop: Workshop, since: datetime, zone: ZoneInfo) -> Iterable[facts.Reading]:
    entry = [f"entry__{name}" for name in ("seq", "occurred_at", "recorded_at", "actor")]
    masses = ("gross_mg", "step_mg", "u_mg")
    rows = _weighings(workshop, since).order_by("entry__seq", "line")
    for seq, at, recorded_at, by, cylinder, role, gross, step, u in rows.values_list(
        *entry, "account__number", "role", *masses
    ):
        yield facts.Reading(
            line=seq,
            cylinder=cylinder,
            at=at.astimezone(zone),
            recorded_at=recorded_at.astimezone(zone),
            role=role,
            gross_mg=int(gross),
            step_mg=int(step),
            u_mg=float(u),
            by=by,
        )


def tares_of(workshop: Workshop, since: datetime, zone: ZoneInfo) -> Iterable[facts.TareChange]:
    rows = Tare.objects.filter(cylinder__account__book=workshop.book).select_related("cylinder__account")
    plates = Photo.objects.filter(book=workshop.book, account__isnull=False)
    seen = {
        (account, when.astimezone(zone).date()) for account, when in plates.values_list("account", "entry__recorded_at")
    }
    before: dict[int, int] = {}
    for one in rows.order_by("cylinder_id", "since", "pk"):
        previous = before.get(one.cylinder_id)
        before[one.cylinder_id] = int(one.tare_mg)
        on = one.since.astimezone(zone).date()
        if previous is not None and one.since >= since:
            account = one.cylinder.account
            yield facts.TareChange(
                account.number, on, int(one.tare_mg) - previous, one.source, (account.pk, on) in seen
            )


def instruments_of(workshop: Workshop, zone: ZoneInfo) -> Iterable[facts.Instrument]:
    used = dict(
        Weighing.objects.filter(entry__book=workshop.book)
        .order_by()
        .values_list("scale")
        .annotate(last=Max("entry__occurred_at"))
    )
    for scale in Scale.objects.filter(book=workshop.book, retired=False):
        when = used.get(scale.pk)
        last = when.astimezone(zone).date() if when else None
        yield facts.Instrument("scale", scale.name, scale.calibrated_until, last)
    for gauge in Gauge.objects.filter(book=workshop.book, retired=False):
        yield facts.Instrument(gauge.kind, gauge.name, gauge.calibrated_until)
