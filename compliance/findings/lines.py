"""The facts of single lines of the book: differences, movements, consignments. What was reversed is left out."""

import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from compliance.rules import facts
from inventory import causes
from inventory.book.differences import into_unexplained_mg, left_mg
from inventory.models import Consignment, Movement
from shop.models import Workshop

DIFFERENCE = "weighing-difference"
IMPORTED = "import"  # the context of lines that were imported


def differences_of(workshop: Workshop, since: datetime) -> Iterable[facts.Difference]:
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


def lines_of(workshop: Workshop, since: datetime, zone: ZoneInfo, visit_of: Mapping[int, int]) -> Iterable[facts.Line]:
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
            visit=visit_of.get(pk),
            by=by,
        )


def _sent(workshop: Workshop, since: datetime) -> QuerySet[Consignment]:
    return Consignment.objects.standing().filter(entry__book=workshop.book, entry__occurred_at__gte=since)


def consignments_of(workshop: Workshop, since: datetime) -> Iterable[facts.Consignment]:
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
            paper_number=one.accepted_paper or one.paper_number,
        )
