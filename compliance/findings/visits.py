"""The facts of visits. A visit is read, and its recovery proved, once for each state of what it is read from.

What a visit says rests on its own rows and on those of its vehicle: on other visits, charges and losses before it.
Times are in the workshop's zone; what was reversed or entered anew is left out.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Max, Min, Q, QuerySet
from django.db.models.functions import Coalesce

from compliance.findings.marks import as_text, mark, texts
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
REMEMBERED = 20_000  # visits kept in the process; beyond it all are read anew
READ_AT_ONCE = 500

# By the mark of all that a visit was read from: what stands under a mark is never another.
_remembered: dict[str, facts.Visit] = {}


def visits_of(workshop: Workshop, since: datetime) -> list[facts.Visit]:
    """Return the visits since a moment, and whatever is not handed over; the ones seen before are not read again."""
    photographed = _photographed_steps(workshop)
    marks = _marks(workshop, since, photographed)
    found = {pk: _remembered[each] for pk, each in marks.items() if each in _remembered}
    new = [pk for pk in marks if pk not in found]
    charges = _charges(workshop) if new else {}
    around = _Around(ZoneInfo(workshop.zone), workshop.air.pressure_pa, photographed, charges)
    for start in range(0, len(new), READ_AT_ONCE):
        for visit in visitlog.with_log(Visit.objects.filter(pk__in=new[start : start + READ_AT_ONCE])):
            visit.workshop = workshop  # as fetched already: its atmosphere is asked again and again
            found[visit.pk] = _visit(visit, around)
    if len(_remembered) > REMEMBERED:
        _remembered.clear()
    _remembered.update({marks[pk]: found[pk] for pk in new})
    return sorted(found.values(), key=lambda visit: visit.number)


def entries_of_visits(workshop: Workshop) -> dict[int, int]:
    """Return the number of the visit for each entry that a step of one wrote."""
    rows = Step.objects.filter(visit__workshop=workshop, entry__isnull=False)
    return dict(rows.values_list("entry_id", "visit__number"))


# What they are read from


def read(workshop: Workshop, since: datetime) -> Iterator[str]:
    """Yield what visits are read from beside the lines of the book; two queries."""
    yield from texts(*_rows(workshop, since).values())


def _rows(workshop: Workshop, since: datetime) -> dict[int, list[str]]:
    """Return the rows of the visits and steps of each vehicle that is looked at, by its account."""
    found: dict[int, list[str]] = defaultdict(list)
    vehicles = _wanted(workshop, since).values("vehicle")
    visits = Visit.objects.filter(vehicle__in=vehicles)
    own = "vehicle__account"
    for account, text in visits.values_list(_joined(own), as_text(Visit, "vehicle", own)):
        found[account].append(text)
    steps = Step.objects.filter(visit__vehicle__in=vehicles).order_by()
    beside = ("doer__handle", "answers__handle", "entry__reversal__id")
    for account, text in steps.values_list(_joined(f"visit__{own}"), as_text(Step, *beside)):
        found[account].append(text)
    return found


def _marks(workshop: Workshop, since: datetime, photographed: Mapping[str, datetime]) -> dict[int, str]:
    """Return a mark of all that each visit is read from, by its key."""
    of_vehicle = {account: mark(*sorted(rows)) for account, rows in _rows(workshop, since).items()}
    shared, lines = mark(as_read(workshop)), _last_lines(workshop)
    photos: dict[str, list[tuple[str, datetime]]] = defaultdict(list)
    for context, when in sorted(photographed.items()):
        photos[context.partition("/")[0]].append((context, when))
    rows = _wanted(workshop, since).values_list("pk", "number", _joined("vehicle__account"))
    return {
        pk: mark(pk, shared, of_vehicle[account], lines.get(account), photos[f"visit:{number}"])
        for pk, number, account in rows
    }


def as_read(workshop: Workshop) -> tuple[object, ...]:
    """Return the workshop's own row as the facts are read with it."""
    own = [getattr(workshop, field.attname) for field in workshop._meta.concrete_fields]
    return (*own, workshop.book.uid)


def _wanted(workshop: Workshop, since: datetime) -> QuerySet[Visit]:
    recent = Q(opened_at__gte=since) | Q(closed_at__gte=since) | ~Q(state=Visit.CLOSED)
    return Visit.objects.filter(recent, workshop=workshop)


def _joined(account: str) -> Coalesce:
    """Return the key of an account, or of the one that it is read as part of."""
    return Coalesce(f"{account}__joined_to", account)


def _last_lines(workshop: Workshop) -> dict[int, int]:
    """Return the last movement of each vehicle, by its account: a further one, a reversal too, has a higher key."""
    found: dict[int, int] = {}
    for end in ("source", "target"):
        rows = Movement.objects.filter(book=workshop.book, **{f"{end}__kind": causes.VEHICLE}).order_by()
        for account, last in rows.values_list(_joined(end)).annotate(last=Max("pk")):
            found[account] = max(last, found.get(account, 0))
    return found


def _photographed_steps(workshop: Workshop) -> dict[str, datetime]:
    """Return when the first photo of each step was written down, by the step's context."""
    rows = Photo.objects.filter(book=workshop.book, context__contains="/step:")
    return dict(rows.values_list("context").annotate(first=Min("entry__recorded_at")))


def _charges(workshop: Workshop) -> dict[int, list[datetime]]:
    found: dict[int, list[datetime]] = defaultdict(list)
    rows = Movement.objects.standing().filter(book=workshop.book, cause="charge")
    for account, when in rows.values_list(_joined("target"), "entry__occurred_at"):
        found[account].append(when)
    return found


# One visit


@dataclass(frozen=True)
class _Around:
    """What the facts of a visit need besides its own rows."""

    zone: ZoneInfo
    pressure_pa: float
    photographed: Mapping[str, datetime]
    charges: Mapping[int, list[datetime]]


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
