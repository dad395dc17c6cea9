"""What is entered in a visit's log, and the one way in which a step is written: with its line of the book, or alone.

A step and the entry it posts are written together or not at all, once per request key. Every function raises
`LedgerError` with a sentence for the person. What a label says goes into the vehicle's record where that has none;
where a line is reversed or written anew, its step goes with it, in the same transaction.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Max

from inventory.book import ledger
from inventory.book.draft import Build
from inventory.book.ledger import Act
from inventory.book.refusals import Refused, RequestKeyReused
from inventory.models import Book, Entry
from inventory.shelf import photos
from inventory.shelf.photos import Taken
from shop.models import Conversion, Step, User, Vehicle, Visit, Workshop
from shop.people.identity import vehicle_meant
from shop.people.vehicles import in_vehicle_mg, new_vehicle, set_content
from shop.visits.acts import inside, watching
from shop.visits.inputs import is_evacuated
from shop.visits.kinds import BY_NAME, MASS_STEPS
from shop.visits.questions import left_out
from shop.visits.seconds import check_refused
from shop.visits.spotcheck import DRAWN_BY, SPOT_CHECK
from shop.visits.steps import HELD_BACK_AS, Data, applicable, text_of

USED = "This form was already used for another step, with other figures."


@dataclass(frozen=True)
class StepFacts:
    """What a step holds beside its mass: doer, who answers for it, its fields, note, photos, what it replaces or ends.

    `watch` is the key of what was under way and becomes this step.
    """

    doer: User
    answers: User | None = None
    data: Mapping[str, Any] = field(default_factory=dict)
    note: str = ""
    replaces: Step | None = None
    photos: Sequence[Taken] = ()
    watch: int | None = None


def open_visit(
    workshop: Workshop,
    vehicle: Vehicle | str,
    *,
    opened_at: datetime,
    step_key: UUID,
    received: StepFacts,
    purpose: str = "",
) -> Visit:
    """Start a visit with its first step, *received*; a `vehicle` given as a plate is entered along with it.

    The arrival keeps what the book says of the vehicle now: later acts change it, and the proof needs it.
    """
    with transaction.atomic(durable=True):
        ledger.lock(workshop.book)
        if (known := Step.objects.filter(request_key=step_key).select_related("visit").first()) is not None:
            if known.visit.workshop_id != workshop.pk:
                raise RequestKeyReused(USED)
            _seal_photos(known, received)
            return known.visit
        if isinstance(vehicle, str):
            vehicle = vehicle_meant(workshop.book, vehicle) or new_vehicle(workshop, registration=vehicle)
        last = Visit.objects.filter(workshop=workshop).aggregate(last=Max("number"))["last"] or 0
        visit = Visit.objects.create(
            workshop=workshop, number=last + 1, vehicle=vehicle, opened_at=opened_at, purpose=purpose
        )
        kept = {**received.data, HELD_BACK_AS: _book_says(vehicle)}
        write_step(visit, "received", opened_at, step_key, replace(received, data=kept))
        return visit


def _book_says(vehicle: Vehicle) -> dict[str, Any]:
    held = {code: mass for code, mass in in_vehicle_mg(vehicle).items() if mass}
    return {"text": vehicle.content, "si": held, "refrigerant": vehicle.refrigerant}


def add_step(visit: Visit, kind: str, *, occurred_at: datetime, key: UUID, facts: StepFacts) -> Step:
    """Write a step that moves no mass."""
    with transaction.atomic(durable=True):
        ledger.lock(visit.workshop.book)
        _refuse_own_check(visit, kind, facts)
        return write_step(visit, kind, occurred_at, key, facts)


def amend_step(step: Step, *, occurred_at: datetime, key: UUID, facts: StepFacts) -> Step:
    """Enter a step anew: the new one replaces the old, keeps its line of the book, and both stay."""
    with transaction.atomic(durable=True):
        ledger.lock(step.visit.workshop.book)
        return _amended(step, occurred_at, key, facts)


def _amended(step: Step, occurred_at: datetime, key: UUID, facts: StepFacts) -> Step:
    known = Step.objects.filter(replaces=step).first()
    if known is not None and known.request_key != key:
        raise Refused("This step was entered anew already. Open the newer one.")
    if HELD_BACK_AS in step.data:
        facts = replace(facts, data={**facts.data, HELD_BACK_AS: step.data[HELD_BACK_AS]})
    _refuse_own_check(step.visit, step.kind, facts)
    return write_step(step.visit, step.kind, occurred_at, key, replace(facts, replaces=step), step.entry)


def _refuse_own_check(visit: Visit, kind: str, facts: StepFacts) -> None:
    """Raise `Refused` where somebody would check a visit that they worked at."""
    if kind == SPOT_CHECK and (why := check_refused(visit, facts.doer)):
        raise Refused(why)


def hand_over(visit: Visit, *, occurred_at: datetime, key: UUID, facts: StepFacts) -> Step:
    """Hand the vehicle over; what is still asked is listed on the paper, not forgotten.

    The step keeps the digest by which a second person looks at the visit or not, sent again the one it has.
    """
    with transaction.atomic(durable=True):
        ledger.lock(visit.workshop.book)
        known = Step.objects.filter(request_key=key).first()
        if known is None:
            visit.state, visit.closed_at = Visit.CLOSED, occurred_at
            visit.save(update_fields=["state", "closed_at"])
        drawn = (
            _draw(visit) if known is None else {name: known.data[name] for name in (DRAWN_BY,) if name in known.data}
        )
        return write_step(visit, "hand-over", occurred_at, key, replace(facts, data={**facts.data, **drawn}))


def _draw(visit: Visit) -> dict[str, Any]:
    """Return the head of the book's history, which says by now that the visit is over; nothing where none is asked."""
    shop = visit.workshop
    if "spot-check" in left_out(shop.not_asked, shop.jurisdiction):
        return {}
    return {DRAWN_BY: {"text": Book.objects.values_list("trace_digest", flat=True).get(pk=shop.book_id)}}


def convert(visit: Visit, *, occurred_at: datetime, key: UUID, facts: StepFacts, to_refrigerant: str) -> Step:
    """Write a conversion: from now on the vehicle is for another refrigerant, and holds the lubricant that went in."""
    vehicle = visit.vehicle
    with transaction.atomic(durable=True):
        ledger.lock(visit.workshop.book)
        if (known := Step.objects.filter(request_key=key).first()) is not None:
            if known.visit_id != visit.pk:
                raise RequestKeyReused(USED)
            return known
        step = write_step(visit, "conversion done", occurred_at, key, facts)
        Conversion.objects.create(
            vehicle=vehicle,
            visit=visit,
            done_on=occurred_at.astimezone(ZoneInfo(visit.workshop.zone)).date(),
            from_refrigerant=vehicle.refrigerant,
            to_refrigerant=to_refrigerant,
            details=dict(facts.data),
        )
        vehicle.original_refrigerant = vehicle.original_refrigerant or vehicle.refrigerant
        vehicle.refrigerant = to_refrigerant
        vehicle.lubricant = text_of(facts.data, "lubricant")[:80] or vehicle.lubricant
        vehicle.save(update_fields=["original_refrigerant", "refrigerant", "lubricant"])
        return step


def complete_conversion(step: Step, *, key: UUID, texts: Mapping[str, str], came_from: str = "") -> Step:
    """Enter a conversion anew with `texts` in the fields that its label lacks, and what the vehicle was for before."""
    data = {**step.data, **{name: {"text": text} for name, text in texts.items()}}
    facts = StepFacts(step.doer, step.answers, data, step.note)
    vehicle = step.visit.vehicle
    with transaction.atomic(durable=True):
        ledger.lock(step.visit.workshop.book)
        found = _amended(step, step.occurred_at, key, facts)
        kept = Conversion.objects.filter(visit=step.visit, to_refrigerant=text_of(step.data, "to"))
        kept.update(details=data)
        if came_from:
            kept.filter(from_refrigerant="").update(from_refrigerant=came_from)
            Vehicle.objects.filter(pk=vehicle.pk, original_refrigerant="").update(original_refrigerant=came_from)
        return found


def set_state(visit: Visit, state: str, waiting_for: str = "") -> None:
    """Say that a visit waits, goes on, or that the car is away unfinished."""
    visit.state, visit.waiting_for = state, waiting_for
    visit.save(update_fields=["state", "waiting_for"])


def add_late_photos(entry: Entry, taken: Sequence[Taken]) -> None:
    """Keep pictures that came only when a form was sent again: with the step that it wrote, else with its line."""
    with transaction.atomic(durable=True):
        step = Step.objects.filter(entry=entry, request_key=entry.request_key).first()
        if step is None:
            photos.add_taken(entry.book, taken, line=entry)
        else:
            _seal_photos(step, StepFacts(step.doer, photos=taken))


def with_step(visit: Visit, act: Act, kind: str, facts: StepFacts, build: Build) -> tuple[Entry, Step]:
    """Write an entry and the step it belongs to, in one transaction."""
    with transaction.atomic(durable=True):
        entry = ledger.write(visit.workshop.book, act, build)
        return entry, write_step(visit, kind, entry.occurred_at, act.key, facts, entry)


def write_step(
    visit: Visit, kind: str, occurred_at: datetime, key: UUID, facts: StepFacts, entry: Entry | None = None
) -> Step:
    """Write a step under the book's lock, with its photos, once per request key; raises `RequestKeyReused`.

    A vacuum says that the vehicle is evacuated, a label what the vehicle's record did not have.
    """
    if (known := Step.objects.filter(request_key=key).first()) is not None:
        if known.visit_id != visit.pk or known.kind != kind or known.data != dict(facts.data):
            raise RequestKeyReused(USED)
        _seal_photos(known, facts)
        return known
    step = Step.objects.create(
        visit=visit,
        kind=kind,
        occurred_at=occurred_at,
        doer=facts.doer,
        answers=facts.answers,
        data=dict(facts.data),
        note=facts.note,
        entry=entry,
        request_key=key,
        replaces=facts.replaces,
    )
    if facts.watch is not None:
        watching.end_with(step, facts.watch)
    _seal_photos(step, facts)
    _note_evacuated(step)
    note_label(step)
    return step


def _note_evacuated(step: Step) -> None:
    """Note that nothing is in the vehicle, so that what is charged now is all there is.

    Not while the book still has something in it: a remainder is settled first, and a charge has come after the vacuum.
    """
    visit = step.visit
    if step.kind != "vacuum hold" or any(mass > 0 for mass in in_vehicle_mg(visit.vehicle).values()):
        return
    if is_evacuated(step, visit.workshop.air.pressure_pa):
        set_content(visit.vehicle, "evacuated")


def _seal_photos(step: Step, facts: StepFacts) -> None:
    photos.add_taken(step.visit.workshop.book, facts.photos, context=step.context)


LABEL_COLUMNS = ("refrigerant", "nameplate_mg", "nameplate_tolerance_mg", "lubricant")


def note_label(step: Step) -> None:
    """Keep refrigerant, charge, tolerance and lubricant of a label in the vehicle's record where that has none."""
    if step.kind != "label read":
        return
    vehicle, found = step.visit.vehicle, _columns(applicable(BY_NAME[step.kind], step.data))
    before = _columns(applicable(BY_NAME[step.kind], step.replaces.data)) if step.replaces else {}
    changed = [
        name
        for name in LABEL_COLUMNS
        if getattr(vehicle, name) != found[name]
        and (getattr(vehicle, name) in (None, "") or getattr(vehicle, name) == before.get(name))
    ]
    for name in changed:
        setattr(vehicle, name, found[name])
    if "nameplate_mg" in changed:
        vehicle.typed = {**vehicle.typed, "nameplate": _as_typed(step.data.get("mass"))}
    if changed:
        vehicle.save(update_fields=[*changed, "typed"])


def _columns(data: Data) -> dict[str, Any]:
    def mg(name: str) -> int | None:
        kept = data.get(name)
        return int(kept["mg"]) if kept and kept.get("mg") is not None else None

    return {
        "refrigerant": text_of(data, "refrigerant"),
        "nameplate_mg": mg("mass"),
        "nameplate_tolerance_mg": mg("tolerance"),
        "lubricant": text_of(data, "lubricant")[:80],
    }


def _as_typed(kept: Any) -> str:
    text, unit = str((kept or {}).get("text", "")), str((kept or {}).get("unit", ""))
    return text if not unit or any(char.isalpha() for char in text) else f"{text} {unit}"


def follow(entry: Entry, again: Entry | None) -> None:
    """Let the steps of a reversed line go with it: to the line written anew, else out of what counts."""
    for step in entry.steps.select_related("visit__vehicle").filter(replaced_by__isnull=True):
        if again is not None:
            _anew(step, again)
        elif step.kind in MASS_STEPS:
            inside.after_undoing(step)


def _anew(step: Step, again: Entry) -> None:
    """Write the step again with the corrected line; the old one stays, as replaced. A second time changes nothing."""
    facts = StepFacts(step.doer, step.answers, step.data, step.note, replaces=step)
    write_step(step.visit, step.kind, step.occurred_at, uuid5(step.request_key, f"line {again.seq}"), facts, again)
