"""The facts of visits. A visit is read, and its recovery proved, once, and kept until what it is read from has changed.

What a visit says rests on its own rows and on those of its vehicle: on other visits, charges and losses before it.
Times are in the workshop's zone; what was reversed or entered anew is left out.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec
from django.db.models import Min, Q, QuerySet

from compliance.findings import changes
from compliance.findings.changes import Change, Vehicles, joined, parts
from compliance.models import KeptVisit
from compliance.rules import facts
from inventory import causes
from inventory.models import Movement, Photo
from shop.models import Step, Visit, Workshop
from shop.visits import endings, proofs
from shop.visits import log as visitlog
from shop.visits.gas import answered, at_arrival, standing
from shop.visits.inputs import CANNOT
from shop.visits.kinds import BY_NAME

PHOTO_IN_TIME = timedelta(days=1)

_told = msgspec.json.Encoder()
_heard = msgspec.json.Decoder(facts.Visit)


def outdated(workshop: Workshop, vehicles: Vehicles) -> dict[int, list[int]]:
    """Return the visits that read otherwise now, by vehicle: all of it, or those opened from a moment on."""
    found: dict[int, list[int]] = {}
    for accounts in parts(vehicles):
        rows = Visit.objects.filter(workshop=workshop).annotate(account=joined("vehicle__account"))
        for pk, account, opened_at in rows.filter(account__in=accounts).values_list("pk", "account", "opened_at"):
            first = vehicles[account]
            if first is None or opened_at >= first:
                found.setdefault(account, []).append(pk)
    return found


def bring_up(workshop: Workshop, since: datetime, change: Change) -> Iterator[int]:
    """Read anew whatever visits have changed, and those that were never read by this code; yield how many by parts."""
    own = KeptVisit.objects.filter(visit__workshop=workshop)
    if change.of_whole_workshop:
        own.delete()
    for some in parts(pk for visits in outdated(workshop, change.vehicles).values() for pk in visits):
        own.filter(visit__in=some).delete()  # also of those that are looked at no more
    there = own.filter(code=changes.code()).values("visit")
    for some in parts(_wanted(workshop, since).exclude(pk__in=there).values_list("pk", flat=True)):
        read(workshop, some)
        yield len(some)


def read(workshop: Workshop, keys: Collection[int]) -> None:
    """Read visits anew and keep what they say."""
    rows = list(visitlog.with_log(Visit.objects.filter(pk__in=keys)))
    around = _around(workshop, rows)
    made = []
    for visit in rows:
        visit.workshop = workshop  # as fetched already: its atmosphere is asked again and again
        made.append(KeptVisit(visit=visit, facts=_told.encode(_visit(visit, around)).decode(), code=changes.code()))
    KeptVisit.objects.bulk_create(made, update_conflicts=True, unique_fields=["visit"], update_fields=["facts", "code"])


def forget(keys: Collection[int]) -> None:
    """Drop what was kept of visits whose words were removed: it is read anew when it is looked at."""
    for some in parts(keys):
        KeptVisit.objects.filter(visit__in=some).delete()


def kept(workshop: Workshop, since: datetime, accounts: Collection[int] | None = None) -> Iterator[facts.Visit]:
    """Yield the visits since a moment, and whatever is not handed over, by number; of all or of some vehicles."""
    rows = KeptVisit.objects.filter(visit__in=_wanted(workshop, since), code=changes.code()).order_by("visit__number")
    if accounts is not None:
        rows = rows.alias(account=joined("visit__vehicle__account")).filter(account__in=accounts)
    for text in rows.values_list("facts", flat=True).iterator():
        yield _heard.decode(text)


def vehicles(workshop: Workshop, since: datetime) -> list[int]:
    """Return the accounts of all vehicles that have a visit to be looked at."""
    return sorted(set(_wanted(workshop, since).values_list(joined("vehicle__account"), flat=True)))


def entries_of_visits(workshop: Workshop) -> dict[int, int]:
    """Return the number of the visit for each entry that a step of one wrote."""
    rows = Step.objects.filter(visit__workshop=workshop, entry__isnull=False)
    return dict(rows.values_list("entry_id", "visit__number"))


def _wanted(workshop: Workshop, since: datetime) -> QuerySet[Visit]:
    recent = Q(opened_at__gte=since) | Q(closed_at__gte=since) | ~Q(state=Visit.CLOSED)
    return Visit.objects.filter(recent, workshop=workshop)


@dataclass(frozen=True)
class _Around:
    """What the facts of visits need besides their own rows."""

    zone: ZoneInfo
    pressure_pa: float
    photographed: Mapping[str, datetime]
    charges: Mapping[int, list[datetime]]


def _around(workshop: Workshop, visits: Sequence[Visit]) -> _Around:
    accounts = {visit.vehicle.account.joined_to_id or visit.vehicle.account_id for visit in visits}
    zone = ZoneInfo(workshop.zone)
    return _Around(zone, workshop.air.pressure_pa, _photographed(workshop, visits), _charges(workshop, accounts))


def _photographed(workshop: Workshop, visits: Sequence[Visit]) -> dict[str, datetime]:
    """Return when the first photo of each step of some visits was written down, by the step's context."""
    steps = [step.context for visit in visits for step in visit.steps.all()]
    rows = Photo.objects.filter(book=workshop.book_id, context__in=steps)
    return dict(rows.values_list("context").annotate(first=Min("entry__recorded_at")))


def _charges(workshop: Workshop, accounts: Collection[int]) -> dict[int, list[datetime]]:
    """Return when vehicles were charged, by their account or the one that it is joined to."""
    found: dict[int, list[datetime]] = defaultdict(list)
    rows = Movement.objects.standing().filter(Q(target__in=accounts) | Q(target__joined_to__in=accounts))
    charges = rows.filter(book=workshop.book_id, cause="charge")
    for account, when in charges.values_list(joined("target"), "entry__occurred_at"):
        found[account].append(when)
    return found


def _visit(visit: Visit, around: _Around) -> facts.Visit:
    proof, missing_mg = _proof(visit, around.pressure_pa)
    zone, charges = around.zone, around.charges.get(visit.vehicle.account_id, ())
    before = [when for when in charges if when < visit.opened_at]
    return facts.Visit(
        number=visit.number,
        vehicle=_vehicle(visit),
        opened_at=visit.opened_at.astimezone(zone),
        closed_at=visit.closed_at.astimezone(zone) if visit.closed_at else None,
        state=visit.state,
        deeds=tuple(_deed(step, visit, around) for step in standing(visit) if step.kind in BY_NAME),
        proof=proof,
        atmosphere_pa=around.pressure_pa,
        missing_mg=missing_mg,
        emptied=endings.is_emptied(visit, around.pressure_pa),
        previous_charge_on=max(before).astimezone(zone).date() if before else None,
        held_mg=at_arrival(visit).held_mg,
    )


def _vehicle(visit: Visit) -> facts.Vehicle:
    one = visit.vehicle
    return facts.Vehicle(
        number=one.account.number,
        vehicle_class=one.vehicle_class,
        refrigerant=one.refrigerant,
        original_refrigerant=one.original_refrigerant,
        nameplate_mg=one.nameplate_mg,
        first_registered=one.first_registered,
        type_approved=one.type_approved,
    )


def _deed(step: Step, visit: Visit, around: _Around) -> facts.Deed:
    found = [around.photographed.get(f"{visit.context}/step:{one.pk}") for one in proofs.with_replaced(step)]
    taken = min((at for at in found if at is not None), default=None)
    moved = step.entry.movements.all() if step.entry else ()
    return facts.Deed(
        kind=step.kind,
        at=step.occurred_at.astimezone(around.zone),
        recorded_at=step.recorded_at.astimezone(around.zone),
        doer=step.doer.handle,
        answers=step.answers.handle if step.answers else "",
        data=answered(step),
        line=step.entry.seq if step.entry else None,
        moved=tuple(_moved(one, step.entry.seq if step.entry else 0) for one in moved),
        photographed=taken is not None and taken - step.occurred_at <= PHOTO_IN_TIME,
    )


def _moved(one: Movement, seq: int) -> facts.Moved:
    numbers = [end.number for end in (one.source, one.target) if end.kind == causes.CYLINDER]
    return facts.Moved(
        cause=one.cause,
        basis=one.basis,
        refrigerant=one.refrigerant,
        grade=one.grade,
        mass_mg=int(one.mass_mg),
        u_mg=one.u_mg,
        cylinder=numbers[0] if numbers else None,
        line=seq,
    )


def _proof(visit: Visit, pressure_pa: float) -> tuple[str, int]:
    """Return the verdict of a visit's recovery and what is missing beyond its limit, in milligrams."""
    try:
        proof = proofs.proof_of(visit, pressure_pa)
    except CANNOT:
        return "", 0
    if proof is None:
        return "", 0
    limit_g = proof.answer.limit_g or 0.0
    return proof.answer.verdict, max(0, round((proof.answer.missing_g - limit_g) * 1000))
