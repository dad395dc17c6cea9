"""The facts of photos of steps: which vehicle, what they look like, when they were taken."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from compliance.rules import facts
from inventory.models import Photo
from shop.models import Step, Workshop

OF_STEP = "/step:"


def shots_of(workshop: Workshop, since: datetime, zone: ZoneInfo) -> Iterable[facts.Shot]:
    own = Photo.objects.filter(book=workshop.book, context__contains=OF_STEP, entry__occurred_at__gte=since)
    rows = list(own.select_related("entry").order_by("entry__seq"))
    keys = {int(one.context.partition(OF_STEP)[2]) for one in rows}
    steps = Step.objects.filter(visit__workshop=workshop).select_related("visit__vehicle__account").in_bulk(keys)
    for one in rows:
        step = steps.get(int(one.context.partition(OF_STEP)[2]))
        if step is None:
            continue
        account, minutes = step.visit.vehicle.account, one.taken_before_min
        taken = None if minutes is None else one.entry.occurred_at - timedelta(minutes=minutes)
        yield facts.Shot(
            line=one.entry.seq,
            visit=step.visit.number,
            vehicle=account.number,
            step=step.kind,
            step_at=step.occurred_at.astimezone(zone),
            by=one.entry.actor,
            shows=one.shows,
            digest=one.digest,
            look=one.look,
            taken_at=taken.astimezone(zone) if taken else None,
        )
