"""A partner's lists as they are kept, and the lines of the book that passed the gate to or from the partner."""

import hashlib
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import Q

from compliance.matching.pairs import DELIVERED, TAKEN_BACK, Ours, Theirs
from compliance.matching.sheet import Sheet
from inventory.book import clock, ledger
from inventory.models import Movement, Partner, PartnerList

CAME = ("purchase", "returned-reclaimed", "came-back", "customer-gas-in")
WENT = ("sent-away", "heel-returned", "passed-on")
LONGEST_NAME = 120


def keep(
    partner: Partner, sheet: Sheet, content: bytes, *, name: str, first: date, last: date, actor: str
) -> PartnerList:
    """Keep what a list says of a period; the very same one is kept once."""
    digest = hashlib.sha256(content).hexdigest()
    with transaction.atomic():
        ledger.lock(partner.account.book)
        newest = PartnerList.objects.filter(partner=partner, withdrawn=False, first=first, last=last).first()
        if newest is not None and newest.digest == digest:
            return newest
        return PartnerList.objects.create(
            partner=partner,
            first=first,
            last=last,
            rows=[_kept(one) for one in sheet.rows],
            said=list(sheet.said),
            file_name=name[-LONGEST_NAME:],
            digest=digest,
            actor=actor,
            kept_at=clock.now(),
        )


def withdraw(one: PartnerList) -> None:
    """Let a list count no more; what it said stays."""
    with transaction.atomic():
        ledger.lock(one.partner.account.book)
        one.withdrawn = True
        one.save(update_fields=["withdrawn"])


def _kept(one: Theirs) -> list[Any]:
    return [one.on.isoformat(), one.refrigerant, one.direction, one.mass_mg, one.paper, one.row]


def said_by(lists: Iterable[PartnerList]) -> tuple[list[Theirs], list[tuple[date, date]]]:
    """Return what lists, the newest first, say together, each day by the newest; and the periods that they cover."""
    rows: list[Theirs] = []
    covered: list[tuple[date, date]] = []
    for one in lists:
        for on, *rest in one.rows:
            day = date.fromisoformat(on)
            if one.first <= day <= one.last and not is_within(day, covered):
                rows.append(Theirs(day, *rest))
        covered.append((one.first, one.last))
    return rows, covered


def is_within(day: date, periods: Sequence[tuple[date, date]]) -> bool:
    return any(first <= day <= last for first, last in periods)


def ours_of(partner: Partner, first: date, last: date) -> list[Ours]:
    """Return the lines of the book with a partner from `first` to `last`, what is reversed left out."""
    own = set(partner.account.together().values_list("pk", flat=True))
    gate = Q(source__in=own, cause__in=CAME) | Q(target__in=own, cause__in=WENT)
    rows = (
        Movement.objects.standing()
        .filter(gate, book=partner.account.book, booked_on__range=(first, last))
        .select_related("entry__consignment", "target__cylinder", "source")
        .order_by("entry__seq", "line")
    )
    return [_line(one, one.source_id in own) for one in rows]


def _line(one: Movement, came: bool) -> Ours:
    cylinder = getattr(one.target, "cylinder", None) if came else None
    consignment = getattr(one.entry, "consignment", None)
    sent = (consignment.accepted_paper or consignment.paper_number or consignment.number) if consignment else ""
    paper = cylinder.paper_number if cylinder else sent
    direction = DELIVERED if came else TAKEN_BACK
    return Ours(one.booked_on, one.refrigerant, direction, int(one.mass_mg), paper, one.entry.seq, one.u_mg)
