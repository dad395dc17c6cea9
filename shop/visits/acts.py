"""What people do with vehicles: one function per act, one transaction; the mass goes through the book's one door.

A step of a visit and the entry it posts are written together or not at all, once per request key. Masses in milligrams.
Every function raises `LedgerError` with a sentence for the person.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max, OuterRef, QuerySet, Subquery
from django.utils import timezone

from inventory import causes
from inventory.acts import cylinders as acts
from inventory.acts.cylinders import Refused
from inventory.book import ledger, weighing
from inventory.book.ledger import Act, Draft, Line
from inventory.book.weighing import Gross, parts_mg
from inventory.gases import filling
from inventory.gases.catalogue import MIXED
from inventory.measure import uncertainty
from inventory.models import Account, Cylinder, Entry, Movement, Weighing
from inventory.shelf import photos
from inventory.shelf.limits import filling_limit
from inventory.shelf.photos import Taken
from shop.models import Conversion, Step, User, Vehicle, Visit, Workshop
from shop.people.identity import COLUMNS, refuse_second, vehicle_meant
from shop.visits.inputs import is_evacuated
from shop.visits.labels import note_label
from shop.visits.steps import HELD_BACK_AS, text_of


@dataclass(frozen=True)
class StepFacts:
    """What a step holds beside its mass: doer, who answers for it, its fields, note, photos, what it replaces."""

    doer: User
    answers: User | None = None
    data: Mapping[str, Any] = field(default_factory=dict)
    note: str = ""
    replaces: Step | None = None
    photos: Sequence[Taken] = ()


# --- vehicles and visits --------------------------------------------------------------------------------------


def add_vehicle(workshop: Workshop, **facts: Any) -> Vehicle:
    """Enter a vehicle, with an account of its own in the book."""
    with transaction.atomic(durable=True):
        return _new_vehicle(workshop, **facts)


def _new_vehicle(workshop: Workshop, **facts: Any) -> Vehicle:
    ledger.lock(workshop.book)
    refuse_second(workshop.book, facts["registration"], facts.get("vin", ""))
    account = ledger.open_account(workshop.book, causes.VEHICLE, facts["registration"])
    return Vehicle.objects.create(account=account, **facts)


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
            _seal_photos(known, received)
            return known.visit
        if isinstance(vehicle, str):
            vehicle = vehicle_meant(workshop.book, vehicle) or _new_vehicle(workshop, registration=vehicle)
        last = Visit.objects.filter(workshop=workshop).aggregate(last=Max("number"))["last"] or 0
        visit = Visit.objects.create(
            workshop=workshop, number=last + 1, vehicle=vehicle, opened_at=opened_at, purpose=purpose
        )
        kept = {**received.data, HELD_BACK_AS: _book_says(vehicle)}
        _write_step(visit, "received", opened_at, step_key, replace(received, data=kept), None)
        return visit


def _book_says(vehicle: Vehicle) -> dict[str, Any]:
    held = {code: mass for code, mass in in_vehicle_mg(vehicle).items() if mass}
    return {"text": vehicle.content, "si": held, "refrigerant": vehicle.refrigerant}


def amend_step(step: Step, *, occurred_at: datetime, key: UUID, facts: StepFacts) -> Step:
    """Enter a step anew: the new one replaces the old, keeps its line of the book, and both stay."""
    with transaction.atomic(durable=True):
        ledger.lock(step.visit.workshop.book)
        known = Step.objects.filter(replaces=step).first()
        if known is not None and known.request_key != key:
            raise Refused("This step was entered anew already. Open the newer one.")
        if HELD_BACK_AS in step.data:
            facts = replace(facts, data={**facts.data, HELD_BACK_AS: step.data[HELD_BACK_AS]})
        newer = _write_step(step.visit, step.kind, occurred_at, key, replace(facts, replaces=step), step.entry)
        _note_evacuated(newer)
        note_label(newer)
        return newer


def add_step(visit: Visit, kind: str, *, occurred_at: datetime, key: UUID, facts: StepFacts) -> Step:
    """Write a step that moves no mass; a vacuum says that the vehicle is evacuated."""
    with transaction.atomic(durable=True):
        ledger.lock(visit.workshop.book)
        step = _write_step(visit, kind, occurred_at, key, facts, None)
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
        _set_content(visit.vehicle, "evacuated")


def _write_step(
    visit: Visit, kind: str, occurred_at: datetime, key: UUID, facts: StepFacts, entry: Entry | None
) -> Step:
    if (known := Step.objects.filter(request_key=key).first()) is not None:
        if known.visit_id != visit.pk or known.kind != kind or known.data != dict(facts.data):
            raise ledger.RequestKeyReused("This form was already used for another step, with other figures.")
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
    _seal_photos(step, facts)
    return step


def _seal_photos(step: Step, facts: StepFacts) -> None:
    photos.add_taken(step.visit.workshop.book, facts.photos, context=f"{step.visit.context}/step:{step.pk}")


def add_late_photos(entry: Entry, taken: Sequence[Taken]) -> None:
    """Keep pictures that came only when a form was sent again: with the step that it wrote, else with its line."""
    with transaction.atomic(durable=True):
        step = Step.objects.filter(entry=entry, request_key=entry.request_key).first()
        if step is None:
            photos.add_taken(entry.book, taken, line=entry)
        else:
            _seal_photos(step, StepFacts(step.doer, photos=taken))


def _with_step(visit: Visit, act: Act, kind: str, facts: StepFacts, build: ledger.Build) -> tuple[Entry, Step]:
    """Write an entry and the step it belongs to, in one transaction."""
    with transaction.atomic(durable=True):
        entry = ledger.write(visit.workshop.book, act, build)
        return entry, _write_step(visit, kind, entry.occurred_at, act.key, facts, entry)


def hand_over(visit: Visit, *, occurred_at: datetime, key: UUID, facts: StepFacts, state: str = Visit.CLOSED) -> Step:
    """Hand the vehicle over; what is still asked is listed on the paper, not forgotten."""
    with transaction.atomic(durable=True):
        ledger.lock(visit.workshop.book)
        step = _write_step(visit, "hand-over", occurred_at, key, facts, None)
        visit.state, visit.closed_at = state, occurred_at
        visit.save(update_fields=["state", "closed_at"])
        return step


def set_state(visit: Visit, state: str, waiting_for: str = "") -> None:
    """Say that a visit waits, goes on, or that the car is away unfinished."""
    visit.state, visit.waiting_for = state, waiting_for
    visit.save(update_fields=["state", "waiting_for"])


# --- gas out of a vehicle -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class FromVehicle:
    """What comes out of a vehicle: its designation and grade as known, the parts an identifier showed, if it did."""

    refrigerant: str
    grade: str = "recovered"
    parts: Mapping[str, str] | None = None


@dataclass(frozen=True)
class Room:
    """What one cylinder could take of a gas, before it flows: `room_mg` None where no limit is known.

    `refusal` is the sentence that says why it may not take this gas, and the way out; empty where it may.
    """

    cylinder: Cylinder
    content: tuple[str, str, int] | None
    limit: filling.Limit | None
    room_mg: int | None
    refusal: str = ""
    becomes: str = ""  # where it was entered for another refrigerant: what it is by this

    @property
    def held_mg(self) -> int:
        """What it holds now."""
        return self.content[2] if self.content else 0


def rooms(visit: Visit, gas: FromVehicle, jurisdiction: str, cylinders: Sequence[Cylinder]) -> list[Room]:
    """Return what each of `cylinders` could take of what is in a vehicle."""
    balances = ledger.Balances()
    balances.preload(cylinder.account for cylinder in cylinders)
    draft = Draft(visit.workshop.book, timezone.now(), balances)
    return [_room(draft, cylinder, gas, jurisdiction) for cylinder in cylinders]


def _room(draft: Draft, cylinder: Cylinder, gas: FromVehicle, jurisdiction: str) -> Room:
    content = draft.content(cylinder.account)
    if content is not None:
        limit = filling_limit(cylinder, content[0], jurisdiction)
    else:
        limit = filling_limit(cylinder, gas.refrigerant, jurisdiction, gas.parts or ())
    room_mg = None if limit is None else round(limit.max_net_g * 1000) - (content[2] if content else 0)
    try:
        if cylinder.kind == Cylinder.TANK:
            _refuse_tank(cylinder, content, gas.refrigerant)
        else:
            _refuse_target(draft, cylinder, gas, jurisdiction, happened=False)
            known = gas.parts or ()
            acts.refuse_filling(draft, cylinder, gas.refrigerant, 1, jurisdiction, happened=False, parts=known)
    except Refused as refused:
        return Room(cylinder, content, limit, room_mg, str(refused))
    return Room(cylinder, content, limit, room_mg, becomes=_becomes(cylinder, content, gas))


def _becomes(cylinder: Cylinder, content: tuple[str, str, int] | None, gas: FromVehicle) -> str:
    """Say that an empty cylinder was entered for another refrigerant than the one that goes into it now."""
    if content is not None or cylinder.refrigerant == gas.refrigerant:
        return ""
    what = "a cylinder for a mixture" if gas.refrigerant == MIXED else f"an {gas.refrigerant} cylinder"
    return f"entered for {cylinder.refrigerant}; it becomes {what} by this"


def recover(
    visit: Visit,
    act: Act,
    facts: StepFacts,
    *,
    gas: FromVehicle,
    before: Gross | None,
    after: Gross,
    jurisdiction: str = "",
    happened: bool = False,
) -> tuple[Entry, Step]:
    """Write one leg of a recovery into one cylinder, by the cylinder's readings before and after.

    Readings that show no gain are an entry with weighings and no movement: nothing was recovered.
    """
    target, vehicle = after.cylinder, visit.vehicle

    def build(draft: Draft) -> None:
        acts.optional_before(draft, before)
        _refuse_target(draft, target, gas, jurisdiction, happened=happened)
        code, grade = _as_held(draft, target, gas)
        mass_mg, u = weighing.passed(draft, after)
        if mass_mg < 0:
            raise Refused("By these readings the cylinder gave gas to the vehicle. Read the scale again.")
        if mass_mg == 0:
            return
        acts.refuse_filling(draft, target, code, mass_mg, jurisdiction, happened=happened, parts=gas.parts or ())
        acts.found_in_vehicle(draft, vehicle.account, code, grade, mass_mg, "pair", u)
        draft.move(
            Line(
                "recovery",
                vehicle.account,
                target.account,
                code,
                grade,
                mass_mg,
                "pair",
                *parts_mg(u),
                scale=after.scale,
            )
        )
        acts.become(target, code, grade)
        _set_content(vehicle, "part recovered")
        if gas.parts:
            parts = gas.parts
            draft.then(lambda entry: acts.note_parts(target.account, entry, parts))

    return _with_step(visit, act, "recovery", facts, build)


def _refuse_target(draft: Draft, target: Cylinder, gas: FromVehicle, jurisdiction: str, *, happened: bool) -> None:
    """Refuse, before anything flows, a cylinder that may not take this gas."""
    if happened:
        return
    held = draft.content(target.account)
    if target.kind in (Cylinder.SINGLE_TRIP, Cylinder.CANS):
        raise Refused(f"{target} is a single-trip cylinder: it is never filled. Use a recovery cylinder.")
    if held is None:
        acts.refuse_filling(draft, target, gas.refrigerant, 0, jurisdiction, happened=False)
        return
    if held[0] != gas.refrigerant:
        raise Refused(
            f"{target} holds {held[0]} {held[1]}; {gas.refrigerant} would be mixed into it. "
            "Use an empty recovery cylinder, or one marked suspect that holds the same."
        )
    if held[1] not in ("recovered", "suspect"):
        raise Refused(
            f"{target} holds {held[1]} gas; what comes out of a vehicle is {gas.grade}. Use a recovery cylinder."
        )
    if gas.grade == "suspect" and held[1] != "suspect":
        raise Refused(f"{target} holds {held[1]} gas; suspect gas goes into a cylinder marked suspect.")


def _as_held(draft: Draft, target: Cylinder, gas: FromVehicle) -> tuple[str, str]:
    """Return what the gas is in the target; a mixture that has happened makes the whole content MIXED, suspect."""
    held = draft.content(target.account)
    if held is None:
        return gas.refrigerant, gas.grade
    if held[0] == gas.refrigerant and held[1] in ("recovered", "suspect"):
        return held[0], held[1]
    if held[:2] != (MIXED, "suspect"):
        process = draft.account(causes.PROCESS)
        draft.move(Line("re-identified", target.account, process, *held, "rest"))
        draft.move(Line("re-identified", process, target.account, MIXED, "suspect", held[2], "rest"))
    return MIXED, "suspect"


def recover_by_machine(
    visit: Visit,
    act: Act,
    facts: StepFacts,
    *,
    tank: Cylinder,
    refrigerant: str,
    recovered_mg: int,
    purged_mg: int = 0,
) -> tuple[Entry, Step]:
    """Write what a machine shows as recovered into its tank, and what it purged off the top.

    A machine that recycles this refrigerant holds it as recycled; another holds it as recovered.
    """
    vehicle, u = visit.vehicle, uncertainty.machine((tank.machine_limit_mg or 0) / 1000)

    def build(draft: Draft) -> None:
        if tank.kind != Cylinder.TANK:
            raise Refused(f"{tank} is no machine tank: weigh it before and after instead.")
        _refuse_tank(tank, draft.content(tank.account), refrigerant)
        if recovered_mg <= 0:
            return
        grade = "recycled" if tank.recycles else "recovered"
        process, parts = draft.account(causes.PROCESS), parts_mg(u)
        acts.found_in_vehicle(draft, vehicle.account, refrigerant, "recovered", recovered_mg, "machine", u)
        for source, target, as_grade in (
            (vehicle.account, process, "recovered"),
            (process, tank.account, grade),
        ):
            draft.move(
                Line("recovery-through-machine", source, target, refrigerant, as_grade, recovered_mg, "machine", *parts)
            )
        if purged_mg > 0:
            air = draft.account(causes.AIR)
            draft.move(Line("purge", tank.account, air, refrigerant, grade, purged_mg, "computed"))
        _set_content(vehicle, "part recovered")

    return _with_step(visit, act, "recovery", facts, build)


def _refuse_tank(tank: Cylinder, content: tuple[str, str, int] | None, refrigerant: str) -> None:
    if content is not None and content[0] != refrigerant:
        raise Refused(f"{tank} holds {content[0]}; {refrigerant} would be mixed into it. Use a recovery cylinder.")


@dataclass(frozen=True)
class Remainder:
    """How what the book still has in a vehicle after recovery is split; milligrams, `residue_u_mg` standard."""

    residue_mg: int = 0
    residue_u_mg: int = 0
    road_mg: int = 0
    hands_mg: int = 0
    shortfall_mg: int = 0


def settle_remainder(
    visit: Visit, act: Act, facts: StepFacts, refrigerant: str, remainder: Remainder
) -> tuple[Entry, Step]:
    """Take what is left on a vehicle out of it: pumped out, lost on the road, lost in our hands, or not explained."""
    vehicle = visit.vehicle

    def build(draft: Draft) -> None:
        held_mg = draft.balances.together(vehicle.account).get((refrigerant, ""), 0)
        held_mg = max(held_mg, 0)  # less: a charge was reversed
        named_mg = remainder.residue_mg + remainder.road_mg + remainder.hands_mg + remainder.shortfall_mg
        if named_mg > held_mg:
            raise Refused(
                f"The book has {held_mg / 1000:.1f} g {refrigerant} left in {vehicle}; "
                f"{named_mg / 1000:.1f} g cannot be taken out of it."
            )
        air, unexplained = draft.account(causes.AIR), draft.account(causes.UNEXPLAINED)
        parts = (
            ("evacuated-residue", air, remainder.residue_mg, "computed", remainder.residue_u_mg),
            ("lost-on-the-road", air, remainder.road_mg, "rest", 0),
            ("lost-in-our-hands", air, remainder.hands_mg, "rest", 0),
            ("vehicle-shortfall", unexplained, remainder.shortfall_mg, "rest", 0),
        )
        for cause, target, mass_mg, basis, u_mg in parts:
            if mass_mg > 0:
                draft.move(Line(cause, vehicle.account, target, refrigerant, "recovered", mass_mg, basis, u_mg))
        _set_content(vehicle, "evacuated" if named_mg == held_mg else "part recovered")

    return _with_step(visit, act, "remainder settled", facts, build)


# --- gas into a vehicle ---------------------------------------------------------------------------------------


def charge(visit: Visit, act: Act, facts: StepFacts, *, before: Gross | None, after: Gross) -> tuple[Entry, Step]:
    """Write one leg of a charge, by the readings of the cylinder before and after.

    It has happened when it is entered, so a wrong gas is written too; findings show it.
    """

    def build(draft: Draft) -> None:
        acts.optional_before(draft, before)
        gained_mg, u = weighing.passed(draft, after)
        if gained_mg >= 0:
            raise Refused(
                "After weighs no less than before: by these readings nothing was charged. Read the scale again."
            )
        content = draft.content(after.account)
        assert content is not None  # noqa: S101 - it lost mass, so it held some
        draft.move(
            Line(
                "charge",
                after.account,
                visit.vehicle.account,
                content[0],
                content[1],
                -gained_mg,
                "pair",
                *parts_mg(u),
                scale=after.scale,
            )
        )
        _charged(visit.vehicle, content[0])

    return _with_step(visit, act, "charge", facts, build)


def charge_shown(
    visit: Visit, act: Act, facts: StepFacts, *, source: Cylinder, mass_mg: int, basis: str = "machine"
) -> tuple[Entry, Step]:
    """Write a charge by the figure of a charging machine, or by counted cans (`basis` *count*)."""

    def build(draft: Draft) -> None:
        content = draft.content(source.account)
        if content is None:
            raise Refused(f"The book has nothing in {source}.")
        u = uncertainty.machine((source.machine_limit_mg or 0) / 1000)
        draft.move(
            Line(
                "charge",
                source.account,
                visit.vehicle.account,
                content[0],
                content[1],
                mass_mg,
                basis,
                *parts_mg(u),
            )
        )
        _charged(visit.vehicle, content[0])

    return _with_step(visit, act, "charge", facts, build)


def _charged(vehicle: Vehicle, refrigerant: str) -> None:
    vehicle.content = "known" if vehicle.content in ("evacuated", "known") else "at least"
    if not vehicle.refrigerant:
        vehicle.refrigerant = refrigerant
    vehicle.save(update_fields=["content", "refrigerant"])


def _set_content(vehicle: Vehicle, content: str) -> None:
    vehicle.content = content
    vehicle.save(update_fields=["content"])


def convert(visit: Visit, *, occurred_at: datetime, key: UUID, facts: StepFacts, to_refrigerant: str) -> Step:
    """Write a conversion: from now on the vehicle is for another refrigerant, and holds the lubricant that went in."""
    vehicle = visit.vehicle
    with transaction.atomic(durable=True):
        ledger.lock(visit.workshop.book)
        if (known := Step.objects.filter(request_key=key).first()) is not None:
            return known
        step = _write_step(visit, "conversion done", occurred_at, key, facts, None)
        Conversion.objects.create(
            vehicle=vehicle,
            visit=visit,
            done_on=occurred_at.date(),
            from_refrigerant=vehicle.refrigerant,
            to_refrigerant=to_refrigerant,
            details=dict(facts.data),
        )
        vehicle.original_refrigerant = vehicle.original_refrigerant or vehicle.refrigerant
        vehicle.refrigerant = to_refrigerant
        vehicle.lubricant = text_of(facts.data, "lubricant")[:80] or vehicle.lubricant
        vehicle.save(update_fields=["original_refrigerant", "refrigerant", "lubricant"])
        return step


def in_vehicle_mg(vehicle: Vehicle) -> dict[str, int]:
    """Return what the book has in a vehicle by refrigerant, in milligrams."""
    return {code: mass for (code, _), mass in ledger.Balances().together(vehicle.account).items()}


def last_charge(vehicle: Vehicle) -> Movement | None:
    """Return the last charge of a vehicle that was not reversed."""
    return (
        Movement.objects.standing()
        .filter(target__in=vehicle.account.together(), cause="charge")
        .select_related("entry", "source")
        .order_by("-entry__occurred_at", "-id")
        .first()
    )


def on_the_scale(workshop: Workshop) -> QuerySet[Weighing]:
    """Return the weighings by which cylinders of the workshop stand open on a scale, newest first."""
    latest = Weighing.objects.standing().filter(account=OuterRef("pk")).order_by("-id").values("pk")
    accounts = Account.objects.filter(book=workshop.book, kind=causes.CYLINDER)
    last_ones = accounts.annotate(last=Subquery(latest[:1])).values("last")
    return (
        Weighing.objects.filter(pk__in=last_ones, role=Weighing.BEFORE)
        .select_related("account__cylinder", "scale", "entry")
        .order_by("-id")
    )


# --- what is kept of vehicles -------------------------------------------------------------------


def change_vehicle(vehicle: Vehicle, **facts: Any) -> None:
    """Put right what a vehicle is; a changed registration changes the label of its account too."""
    with transaction.atomic(durable=True):
        ledger.lock(vehicle.account.book)
        refuse_second(vehicle.account.book, facts.get("registration", ""), facts.get("vin", ""), vehicle)
        for name, value in facts.items():
            setattr(vehicle, name, value)
        vehicle.save(update_fields=[*facts, *COLUMNS.values()])
        Account.objects.filter(pk=vehicle.account_id).update(label=vehicle.registration)


def out_of_sight(vehicle: Vehicle, act: Act) -> Entry:
    """Take what the book has in a vehicle that is gone for good out of it, by the cause *out of sight*."""

    def build(draft: Draft) -> None:
        held = {code: mass for (code, _), mass in draft.balances.together(vehicle.account).items() if mass > 0}
        if not held:
            raise Refused(f"The book has nothing in {vehicle}.")
        opening = draft.account(causes.OPENING)
        for code, mass_mg in held.items():
            draft.move(Line("out-of-sight", vehicle.account, opening, code, "recovered", mass_mg, "rest"))
        _set_content(vehicle, "unknown")

    return ledger.write(vehicle.account.book, act, build)
