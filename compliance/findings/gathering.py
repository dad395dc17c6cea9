"""The facts that the rules look at, read from the database: some twenty queries, however many lines there are.

Visits and lines of the last three years count, and whatever is not finished. A visit is read and its recovery proved
once as it stands, and remembered in the process. Times are in the workshop's zone; what is reversed is left out.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, F, Max, Min, Q, QuerySet
from django.db.models.functions import Coalesce

from compliance.rules import facts
from inventory import causes
from inventory.book.differences import into_unexplained_mg, left_mg
from inventory.gases import filling
from inventory.gases.catalogue import MIXED
from inventory.measure.codes import digest_of
from inventory.models import Consignment, Cylinder, Gauge, Movement, Photo, Scale, Tare, Weighing
from inventory.shelf import queries
from shop.models import Membership, Step, Visit, Workshop
from shop.visits import endings, proofs
from shop.visits import log as visitlog
from shop.visits.gas import answered, at_arrival
from shop.visits.inputs import CANNOT

WINDOW = timedelta(days=1_100)  # three years, as long as records are usually asked for
PHOTO_IN_TIME = timedelta(days=1)
DIFFERENCE = "weighing-difference"
IMPORTED = "import"  # the context of lines that were imported
FILLS = ("recovery", "recovery-through-machine", "transfer", "rig-cleared")

REMEMBERED = 20_000  # visits kept in the process; beyond it all are read anew
READ_AT_ONCE = 500

_visits_read: dict[int, tuple[str, facts.Visit]] = {}


def facts_of(workshop: Workshop, today: date) -> facts.Workshop:
    """Return what the rules look at, as of `today` in the workshop's zone."""
    zone = ZoneInfo(workshop.zone)
    since = _since(workshop, today)
    entries = _entries_of_visits(workshop)
    return facts.Workshop(
        jurisdiction=workshop.jurisdiction,
        today=today,
        has_address=bool(workshop.address.strip()),
        registration=workshop.registration,
        people=_people(workshop),
        visits=tuple(_visits(workshop, since, zone)),
        cylinders=tuple(_cylinders(workshop, since, zone)),
        readings=tuple(_readings(workshop, since, zone)),
        differences=tuple(_differences(workshop, since)),
        lines=tuple(_lines(workshop, since, zone, entries)),
        consignments=tuple(_consignments(workshop, since)),
        tares=tuple(_tares(workshop, since, zone)),
        instruments=tuple(_instruments(workshop, zone)),
    )


def mark_of(workshop: Workshop, today: date) -> str:
    """Return a mark of all that `facts_of` reads, in some ten short queries: another mark, other facts."""
    book = workshop.book
    book.refresh_from_db(fields=["head_seq", "head_digest"])
    since = _since(workshop, today)
    held = [f"user__certifications__{name}" for name in ("pk", *CERTIFICATE)]
    tables = (
        Membership.objects.filter(workshop=workshop).values_list("pk", "user", *MEMBER, *held),
        Cylinder.objects.filter(account__book=book).values_list("pk", *SHELVED),
        Scale.objects.filter(book=book).values_list("pk", "name", "calibrated_until", "retired"),
        Gauge.objects.filter(book=book).values_list("pk", "kind", "name", "calibrated_until", "retired"),
        _sent(workshop, since).values_list("pk", *SENT, "partner__address"),
    )
    own = (workshop.jurisdiction, workshop.address, workshop.registration)
    rows = [sorted(map(repr, table.order_by())) for table in tables]
    return _digest(
        (today, book.head_seq, book.head_digest, own, rows, sorted(_marks_of_visits(workshop, since).items()))
    )


# What stands beside the chain of a record and can be put right: a change of any of it is another fact.
MEMBER = ("role", "active", "is_trainee", "enrolled_on")
CERTIFICATE = ("scheme", "scope", "issued_on", "expires_on", "never_expires")
SHELVED = (
    "kind",
    "refrigerant",
    "grade",
    "state",
    "tare_mg",
    "water_capacity_m3",
    "requalify_by",
    "paper_number",
    "filling_limit_mg",
)
SENT = ("number", "purpose", "paper_number", "accepted_mg", "accepted_oil_mg")


def _since(workshop: Workshop, today: date) -> datetime:
    return datetime.combine(today - WINDOW, time(), ZoneInfo(workshop.zone))


def _digest(facts_read: object) -> str:
    return digest_of(repr(facts_read).encode())


def _people(workshop: Workshop) -> dict[str, facts.Person]:
    rows = Membership.objects.filter(workshop=workshop).select_related("user").prefetch_related("user__certifications")
    return {
        one.user.handle: facts.Person(
            handle=one.user.handle,
            role=one.role,
            active=one.active,
            trainee=one.is_trainee,
            enrolled_on=one.enrolled_on,
            certificates=tuple(
                facts.Certificate(each.scheme, each.issued_on, each.expires_on, each.never_expires, each.scope)
                for each in one.user.certifications.all()
            ),
        )
        for one in rows
    }


# --- visits ---------------------------------------------------------------------------------------------------


def _visits(workshop: Workshop, since: datetime, zone: ZoneInfo) -> Iterable[facts.Visit]:
    """Read the visits that have changed since they were read last, and take the others as they are remembered."""
    marks = _marks_of_visits(workshop, since)
    remembered = {pk: _visits_read.get(pk, ("", None)) for pk in marks}
    found = {pk: visit for pk, (mark, visit) in remembered.items() if visit is not None and mark == marks[pk]}
    new = [pk for pk in marks if pk not in found]
    around = _Around(
        zone,
        workshop.air.pressure_pa,
        _photographed_steps(workshop),
        _charges(workshop),
    )
    for start in range(0, len(new), READ_AT_ONCE):
        for visit in visitlog.with_log(Visit.objects.filter(pk__in=new[start : start + READ_AT_ONCE])):
            visit.workshop = workshop  # as fetched already: its atmosphere is asked again and again
            found[visit.pk] = _visit(visit, around)
    if len(_visits_read) > REMEMBERED:
        _visits_read.clear()
    _visits_read.update({pk: (marks[pk], found[pk]) for pk in new})
    return sorted(found.values(), key=lambda visit: visit.number)


def _marks_of_visits(workshop: Workshop, since: datetime) -> dict[int, str]:
    """Return a mark of what is known of each visit, by key: another mark, other facts. Three queries."""
    wanted = Q(opened_at__gte=since) | Q(closed_at__gte=since) | ~Q(state=Visit.CLOSED)
    vehicle = (
        "account_id refrigerant original_refrigerant nameplate_mg nameplate_tolerance_mg vehicle_class "
        "first_registered volume_m3 volume_off_m3 oil_g"
    )
    fields = [f"vehicle__{name}" for name in vehicle.split()]
    rows = (
        Visit.objects.filter(wanted, workshop=workshop)
        .annotate(n=Count("steps"), last=Max("steps"), undone=Count("steps__entry__reversal"))
        .values("pk", "number", "opened_at", "closed_at", "state", "n", "last", "undone", *fields)
    )
    photos = Counter(context.partition("/")[0] for context in _photographed_steps(workshop))
    moved = _charges(workshop)
    shared = (workshop.book.uid, workshop.altitude_m, workshop.zone, workshop.inside_ranges)

    def mark(row: Mapping[str, Any]) -> str:
        account = row["vehicle__account_id"]
        beside = (photos[f"visit:{row['number']}"], len(moved.get(account, ())))
        return _digest((row, beside, shared))

    return {row["pk"]: mark(row) for row in rows}


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
        deeds=tuple(_deed(one.step, visit, around) for one in visitlog.log_of(visit) if one.stands),
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
        pk=step.pk,
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


def _photographed_steps(workshop: Workshop) -> dict[str, datetime]:
    """Return when the first photo of each step was written down, by the step's context."""
    rows = Photo.objects.filter(book=workshop.book, context__contains="/step:")
    return dict(rows.values_list("context").annotate(first=Min("entry__recorded_at")))


def _charges(workshop: Workshop) -> dict[int, list[datetime]]:
    found: dict[int, list[datetime]] = defaultdict(list)
    rows = Movement.objects.standing().filter(book=workshop.book, cause="charge")
    for account, when in rows.values_list(Coalesce("target__joined_to", "target"), "entry__occurred_at"):
        found[account].append(when)
    return found


# --- the shelf ------------------------------------------------------------------------------------------------


def _cylinders(workshop: Workshop, since: datetime, zone: ZoneInfo) -> Iterable[facts.Cylinder]:
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


def _readings(workshop: Workshop, since: datetime, zone: ZoneInfo) -> Iterable[facts.Reading]:
    entry = [f"entry__{name}" for name in ("seq", "occurred_at", "recorded_at", "actor")]
    masses = ("gross_mg", "tare_mg", "step_mg", "u_mg")
    rows = _weighings(workshop, since).order_by("entry__seq", "line")
    for seq, at, recorded_at, by, cylinder, scale, role, gross, tare, step, u in rows.values_list(
        *entry, "account__number", "scale__number", "role", *masses
    ):
        yield facts.Reading(
            line=seq,
            cylinder=cylinder,
            at=at.astimezone(zone),
            recorded_at=recorded_at.astimezone(zone),
            role=role,
            gross_mg=int(gross),
            tare_mg=int(tare),
            step_mg=int(step),
            u_mg=float(u),
            scale=scale,
            by=by,
        )


def _tares(workshop: Workshop, since: datetime, zone: ZoneInfo) -> Iterable[facts.TareChange]:
    rows = Tare.objects.filter(cylinder__account__book=workshop.book).select_related("cylinder__account")
    plates = Photo.objects.filter(book=workshop.book, account__isnull=False, removed_at__isnull=True)
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


def _instruments(workshop: Workshop, zone: ZoneInfo) -> Iterable[facts.Instrument]:
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


# --- the lines ------------------------------------------------------------------------------------------------


def _entries_of_visits(workshop: Workshop) -> dict[int, int]:
    """Return the number of the visit for each entry that a step of one wrote."""
    rows = Step.objects.filter(visit__workshop=workshop, entry__isnull=False)
    return dict(rows.values_list("entry_id", "visit__number"))


def _differences(workshop: Workshop, since: datetime) -> Iterable[facts.Difference]:
    rows = (
        Movement.objects.standing()
        .filter(book=workshop.book, cause=DIFFERENCE, entry__occurred_at__gte=since)
        .select_related("entry", "source", "target")
        .prefetch_related("explanations__target")
        .order_by("entry__seq", "line")
    )
    for one in rows:
        missing = one.target.kind == causes.UNEXPLAINED
        yield facts.Difference(
            line=one.entry.seq,
            cylinder=(one.source if missing else one.target).number,
            on=one.booked_on,
            mass_mg=into_unexplained_mg(one),
            open_mg=left_mg(one, one.explanations.all()),
            can_tell_mg=int(one.can_tell_mg),
            u_mg=one.u_mg,
            by=one.entry.actor,
        )


def _lines(workshop: Workshop, since: datetime, zone: ZoneInfo, visit_of: Mapping[int, int]) -> Iterable[facts.Line]:
    own = ("cause", "basis", "refrigerant", "grade", "mass_mg", "u_random_mg", "u_span_mg")
    ends = ("source__kind", "source__number", "target__kind", "target__number")
    entry = [f"entry__{name}" for name in ("pk", "seq", "occurred_at", "recorded_at", "actor", "context")]
    rows = (
        Movement.objects.standing()
        .filter(book=workshop.book, entry__occurred_at__gte=since)
        .exclude(cause=DIFFERENCE)
        # What a person knows as one line: through a machine, gas passes an account that keeps nothing.
        .exclude(cause="recovery-through-machine", target__kind=causes.PROCESS)
        .order_by("entry__seq", "line")
        .values_list(*own, "booked_on", *ends, *entry)
    )
    for row in rows:
        cause, basis, code, grade, mass, random, span, on, from_kind, source, to_kind, target, *of_entry = row
        pk, seq, at, put, by, context = of_entry
        numbers = {from_kind: source, to_kind: target} if from_kind != to_kind else {from_kind: source}
        yield facts.Line(
            line=seq,
            on=on,
            at=at.astimezone(zone),
            # A year kept elsewhere is written when it is imported; how late it was written there nobody knows.
            recorded_at=(at if context == IMPORTED else put).astimezone(zone),
            cause=cause,
            basis=basis,
            refrigerant=code,
            grade=grade,
            mass_mg=int(mass),
            u_mg=math.hypot(random, span),
            cylinder=numbers.get(causes.CYLINDER),
            partner=numbers.get(causes.PARTNER),
            visit=visit_of.get(pk),
            by=by,
        )


def _sent(workshop: Workshop, since: datetime) -> QuerySet[Consignment]:
    return Consignment.objects.standing().filter(entry__book=workshop.book, entry__occurred_at__gte=since)


def _consignments(workshop: Workshop, since: datetime) -> Iterable[facts.Consignment]:
    rows = (
        _sent(workshop, since)
        .select_related("entry", "partner", "cylinder__account")
        .prefetch_related("entry__movements__target")
        .order_by("entry__seq")
    )
    for one in rows:
        sent = [line for line in one.entry.movements.all() if line.target.kind == causes.PARTNER]
        if not sent:
            continue
        yield facts.Consignment(
            line=one.entry.seq,
            number=one.number,
            on=one.entry.booked_on,
            cylinder=one.cylinder.account.number,
            has_address=bool(one.partner.address.strip()),
            purpose=one.purpose,
            refrigerant=sent[0].refrigerant,
            grade=sent[0].grade,
            mass_mg=sum(int(line.mass_mg) for line in sent),
            u_mg=sent[0].u_mg,
            accepted_mg=one.accepted_mg,
            oil_mg=one.accepted_oil_mg,
            paper_number=one.paper_number,
        )
