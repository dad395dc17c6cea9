"""What people do while a hold or a pull is under way: start it, read, put a reading right, plan it longer, drop it.

Each is one transaction under the book's lock, and is done once however often it is sent. Every function raises
`LedgerError` with a sentence for the person. What ends a watch is the step itself: `end_with` runs in its transaction.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from inventory.book import ledger
from inventory.book.refusals import Refused, RequestKeyReused
from inventory.output.days import clock
from shop.models import Step, Visit, Watch, WatchReading
from shop.visits.watches import MOST_READINGS, WATCH_BY_NAME, WatchKind

Data = Mapping[str, Any]
USED = "This form was already used for something else. Open the page again."


def start(
    visit: Visit,
    kind: WatchKind,
    *,
    key: UUID,
    by: str,
    started_at: datetime,
    planned_s: float,
    data: Data,
    reading: Data,
) -> Watch:
    """Start the clock, with the first reading where one was taken; one of a kind runs at a visit at a time."""
    with transaction.atomic(durable=True):
        ledger.lock(visit.workshop.book)
        if (known := Watch.objects.filter(request_key=key).first()) is not None:
            if known.visit_id != visit.pk or known.kind != kind.name:
                raise RequestKeyReused(USED)
            return known
        if (other := visit.watches.filter(kind=kind.name, ended_at=None).first()) is not None:
            raise Refused(
                f"{kind.words.capitalize()}: one is under way at this visit since {clock(other.started_at)}. "
                "Enter its readings there, or drop that one first."
            )
        watch = Watch.objects.create(
            visit=visit,
            kind=kind.name,
            started_at=started_at,
            started_by=by,
            planned_s=planned_s,
            data=dict(data),
            request_key=key,
        )
        if reading:
            WatchReading.objects.create(
                watch=watch, taken_at=started_at, taken_by=by, data=dict(reading), request_key=key
            )
        return watch


def add_reading(watch: Watch, *, key: UUID, by: str, taken_at: datetime, data: Data) -> WatchReading:
    """Add a reading to what is under way."""
    with transaction.atomic(durable=True):
        running = _locked(watch)
        if (known := WatchReading.objects.filter(request_key=key).first()) is not None:
            if known.watch_id != watch.pk:
                raise RequestKeyReused(USED)
            return known
        _refuse_ended(running)
        _refuse_time(running, taken_at)
        if running.readings.filter(dropped=False).count() >= MOST_READINGS:
            raise Refused(f"{MOST_READINGS} readings stand already, as many as a step takes. Finish it, or drop one.")
        return WatchReading.objects.create(
            watch=running, taken_at=taken_at, taken_by=by, data=dict(data), request_key=key
        )


def put_reading_right(reading: WatchReading, *, taken_at: datetime, data: Data) -> None:
    """Change a reading that was mistyped: nothing of it counts yet, so nothing of the slip is kept."""
    with transaction.atomic(durable=True):
        running = _locked(reading.watch)
        _refuse_ended(running)
        _refuse_time(running, taken_at)
        WatchReading.objects.filter(pk=reading.pk).update(taken_at=taken_at, data=dict(data), dropped=False)


def drop_reading(reading: WatchReading) -> None:
    """Leave a reading out."""
    with transaction.atomic(durable=True):
        _refuse_ended(_locked(reading.watch))
        WatchReading.objects.filter(pk=reading.pk).update(dropped=True)


def plan(watch: Watch, planned_s: float) -> None:
    """Change how long it is meant to run."""
    with transaction.atomic(durable=True):
        _refuse_ended(_locked(watch))
        Watch.objects.filter(pk=watch.pk).update(planned_s=planned_s)


def drop(watch: Watch, *, by: str) -> None:
    """End it without a step; one that was dropped already stays so."""
    with transaction.atomic(durable=True):
        running = _locked(watch)
        if running.ended_at is None:
            Watch.objects.filter(pk=watch.pk).update(ended_at=timezone.now(), dropped_by=by)
        elif running.step_id is not None:
            _refuse_ended(running)


def end_with(step: Step, watch: int) -> None:
    """End a watch by the step that it has become, in the step's own transaction.

    One that was dropped meanwhile may still become a step: whoever wrote it had the readings before them.
    """
    found = Watch.objects.filter(pk=watch, visit=step.visit, kind=step.kind).first()
    if found is None:
        raise Refused("What was under way is none of this visit and step. Open the visit, and finish it from there.")
    if found.step_id is not None:
        _refuse_ended(found)
    Watch.objects.filter(pk=found.pk).update(ended_at=timezone.now(), step=step)


def _locked(watch: Watch) -> Watch:
    """Return the watch as it stands now, with the book locked."""
    ledger.lock(watch.visit.workshop.book)
    return Watch.objects.get(pk=watch.pk)


def _refuse_ended(watch: Watch) -> None:
    if watch.ended_at is None:
        return
    at, words = clock(watch.ended_at), WATCH_BY_NAME[watch.kind].words
    if watch.step_id is not None:
        raise Refused(f"This {words} was finished at {at} and stands in the log. Open the visit: enter the step anew.")
    raise Refused(f"This {words} was dropped at {at}. Start it again, or enter it as a step of the visit.")


def _refuse_time(watch: Watch, taken_at: datetime) -> None:
    if taken_at < watch.started_at:
        raise Refused(f"That is before it was started, at {clock(watch.started_at)}. Enter when it was read.")
