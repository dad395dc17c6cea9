"""Whatever a rule may look at: a change of it is noticed, and another fact, while all that did not change is kept.

`CHANGES` has a change of the database for each field of every class of `compliance.rules.facts`; a field without one
fails the first test. What the chain seals cannot be changed: there another line is written.
"""

import dataclasses
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.db import transaction

from compliance.findings import changes, gathering, judging, noticing
from compliance.findings.changes import Change
from compliance.models import Judged, KeptVisit
from compliance.rules import facts
from inventory.acts import away, onscale, settling, undoing
from inventory.acts.away import Dispatch
from inventory.book import ledger
from inventory.book.draft import Line
from inventory.book.weighing import Gross
from inventory.gases.catalogue import MIXED
from inventory.models import Analysis, Consignment, Cylinder, Gauge, Movement, Partner, PartnerList, Photo, Scale, Tare
from inventory.shelf.camera import Picture
from inventory.shelf.photos import add_photo
from shop.models import Certification, Membership, Step, User, Vehicle, Visit, Workshop

pytestmark = pytest.mark.django_db

CLASSES = {name: kind for name, kind in vars(facts).items() if dataclasses.is_dataclass(kind)}
Values = Mapping[str, list[str]]
World = Any


def said(name: str, si: Any = None, **more: Any) -> dict[str, Any]:
    return {name: {"text": str(more.pop("text", si)), "si": si, "echo": "", **more}}


STOOD = {**said("pressure", 101_325.0), **said("air", 297.15), **said("coldest", 297.15), **said("warmest", 297.15)}
ENDED = {
    **said("pressure_after_wait", 60_000.0),
    **said("waited", 600.0),
    **said("coldest", 293.15),
    **said("stopped", text="done"),
}
# As the book had it on arrival: all that it had charged into an empty system.
KNOWN = said("book", {"R-134a": 600_000}, text="known", refrigerant="R-134a")


@pytest.fixture
def world(
    workshop: Workshop,
    book: Any,
    technician: Any,
    make_vehicle: Any,
    make_cylinder: Any,
    make_scale: Any,
    partner: Any,
    post: Any,
    act: Any,
    account: Any,
    now: datetime,
    tmp_path: Any,
    settings: Any,
) -> World:
    """A workshop with something of each kind: a car that was here twice, cylinders, a consignment, a difference."""
    settings.MEDIA_ROOT = tmp_path
    Workshop.objects.filter(pk=workshop.pk).update(jurisdiction="us")
    long_ago = now - timedelta(days=500)
    car, scale = make_vehicle("V1", nameplate_mg=700_000), make_scale()
    full, rig = make_cylinder("C-1", mass_mg=5_000_000), make_cylinder("R-1", kind="recovery", grade="recovered")
    post("charge", full, car, 700_000, at=long_ago)
    lost = post("lost-on-the-road", car, account("air"), 100_000, at=now - timedelta(days=100))
    post("charge", full, car, 600_000, at=now - timedelta(days=90))
    out = post("recovery", car, rig, 400_000, grade="recovered", at=now)
    visits = [
        Visit.objects.create(workshop=workshop, number=number, vehicle=car, opened_at=opened, state=state)
        for number, opened, state in ((1, long_ago, Visit.CLOSED), (2, now - timedelta(hours=1), Visit.OPEN))
    ]

    def step(visit: Visit, kind: str, at: datetime = now, **more: Any) -> Step:
        working = {"doer": technician, "request_key": uuid4(), **more}
        return Step.objects.create(visit=visit, kind=kind, occurred_at=at, **working)

    step(visits[1], "received", visits[1].opened_at, data=KNOWN)
    step(visits[1], "standing pressure", visits[1].opened_at, data=STOOD)
    step(visits[1], "recovery", data=ENDED, entry=out)
    Certification.objects.create(user=technician, scheme="S", number="1", expires_on=date(2040, 1, 1))
    Tare.objects.create(cylinder=rig, tare_mg=6_200_000, source="stamped", since=long_ago)
    Tare.objects.create(cylinder=rig, tare_mg=6_100_000, source="supplier", since=now)
    gone = make_cylinder("C-2", mass_mg=1_000_000)
    Gauge.objects.create(book=book, name="G1", kind="pressure gauge")
    dispatch = Dispatch(partner, "sent-away", "reclaim", "1")
    away.send_away(book, act(), Gross(gone, scale, gone.tare_mg + 1_000_000, "typed"), dispatch)
    onscale.weigh(book, act(), Gross(full, scale, full.tare_mg + 3_400_000, "typed"))
    return SimpleNamespace(
        workshop=workshop, book=book, car=car, full=full, rig=rig, scale=scale, visits=visits, step=step, post=post,
        act=act, account=account, now=now, technician=technician, partner=partner, make_cylinder=make_cylinder,
        make_vehicle=make_vehicle, make_scale=make_scale, context=lost.context, lost=lost,
    )  # fmt: skip


# What is changed


def rows(model: Any, among: Mapping[str, Any] | None = None, /, **fields: Any) -> Callable[[World], None]:
    """Change columns of the rows of a table, of all or of those among."""
    return lambda _: model.objects.filter(**among or {}).update(**fields) and None


def another_user(world: World) -> User:
    user = User.objects.create_user("tess", password="a long password")
    Membership.objects.create(user=user, workshop=world.workshop, role="owner")
    return user


def another_doer(world: World) -> None:
    Step.objects.update(doer=another_user(world), answers=world.technician)


def another_certificate(world: World) -> None:
    Certification.objects.create(user=world.technician, scheme="T", number="2")


def bought(world: World) -> None:
    """A line of another person, gas, grade and cause into a new cylinder."""
    fresh = world.make_cylinder("C-3", refrigerant="R-12", grade="recycled")
    act = world.act(actor="p-other", at=world.now - timedelta(hours=30))
    line = Line("purchase", world.partner.account, fresh.account, "R-12", "recycled", 77_000, "single", 11, 3)
    ledger.write(world.book, act, lambda draft: draft.move(line))


def charged(world: World) -> None:
    """A charge in the visit, out of another cylinder than the recovery went into, of another gas and grade."""
    fresh = world.make_cylinder("C-4", refrigerant="R-1234yf", mass_mg=900_000)
    entry = world.post("charge", fresh, world.car, 200_000, refrigerant="R-1234yf", u_random_mg=17, basis="machine")
    world.step(world.visits[1], "charge", entry=entry)


def charged_before(world: World) -> None:
    world.post("charge", world.full, world.car, 10_000, at=world.now - timedelta(days=30))


def charge_reversed(world: World) -> None:
    """A charge of another time stands for one that is reversed: as many as before."""
    last = Movement.objects.filter(cause="charge").latest("entry__occurred_at").entry
    undoing.reverse(world.book, world.act(), last)
    world.post("charge", world.full, world.car, 600_000, at=world.now - timedelta(days=60))


def photo_of_step(world: World) -> None:
    step = Step.objects.get(kind="standing pressure")
    _photo(world, context=f"visit:2/step:{step.pk}")


def photo_of_cylinder(world: World) -> None:
    _photo(world, account=world.rig.account)


def _photo(world: World, **of: Any) -> None:
    picture = Picture(b"jpeg", 1, 1, "00ff00ff00ff00ff", YESTERDAY)
    add_photo(world.book, world.act(), picture, shows="gauge", **of)


def entered_anew(world: World) -> None:
    old = Step.objects.get(kind="standing pressure")
    world.step(old.visit, old.kind, old.occurred_at, data=old.data, replaces=old)


def of_another_car(world: World) -> None:
    Visit.objects.filter(number=2).update(vehicle=world.make_vehicle("V2"))


def repaired_then(world: World) -> None:
    """A repair at the visit before, entered now: from then on the old leak is none."""
    world.step(world.visits[0], "repair", world.now - timedelta(days=95))


def weighed(world: World) -> None:
    """A reading by another person on another scale, of another cylinder, long after the act."""
    other = world.make_scale("S2", step_mg=1_000)
    act = world.act(actor="p-other", at=world.now - timedelta(hours=30))
    onscale.weigh(world.book, act, Gross(world.rig, other, 6_700_000, "typed"), "single")


def filled(world: World) -> None:
    other = world.make_cylinder("R-2", kind="recovery", grade="recovered")
    world.post("recovery", world.car, other, 1_000, grade="recovered", at=world.now - timedelta(days=40))


def another_tare(world: World) -> None:
    for mg in (6_200_000, 6_100_000):
        Tare.objects.create(cylinder=world.full, tare_mg=mg, source="stamped", since=world.now)


def explained(world: World) -> None:
    difference = Movement.objects.filter(cause="weighing-difference").latest("pk")
    settling.explain(world.book, world.act(), difference, cause="loss-explained", mass_mg=40_000)


def sent_more(world: World) -> None:
    fresh = world.make_cylinder("C-5", refrigerant="R-12", grade="recovered", mass_mg=300_000)
    gross = Gross(fresh, world.scale, fresh.tare_mg + 300_000, "typed")
    act = world.act(at=world.now - timedelta(hours=30))
    away.send_away(world.book, act, gross, Dispatch(world.partner, "sent-away", "sale", "2"))


def mixed_and_analysed(world: World) -> None:
    """Two analyses of a mixed content: the second stands beside the chain."""
    Analysis.objects.create(
        account=Cylinder.objects.get(serial="M-1").account,
        occurred_at=world.now,
        parts={"R-134a": "0.5", "R-12": "0.2", "R-22": "0.3"},
    )


def listed(world: World) -> None:
    PartnerList.objects.create(
        partner=world.partner,
        first=date(2024, 1, 1),
        last=date(2024, 12, 31),
        rows=[["2024-05-04", "R-12", "delivered", 900_000, "L-1", 2]],
        kept_at=world.now,
    )


def bought_of_who_is_asked(world: World) -> None:
    Partner.objects.update(lists_from=DAY)
    bought(world)


def opened(world: World) -> None:
    Visit.objects.create(workshop=world.workshop, number=3, vehicle=world.car, opened_at=world.now)


YESTERDAY = datetime(2024, 5, 4, 12).astimezone()
DAY = date(2031, 2, 3)
CHANGES: Sequence[tuple[Callable[[World], None], str]] = (
    (rows(Certification, scheme="Section 609"), "Certificate.scheme Person.certificates Workshop.people"),
    (rows(Certification, scope="M1"), "Certificate.scope"),
    (rows(Certification, issued_on=DAY), "Certificate.issued_on"),
    (rows(Certification, expires_on=DAY), "Certificate.expires_on"),
    (rows(Certification, never_expires=True), "Certificate.never_expires"),
    (rows(Certification, category="M1"), "Certificate.category"),
    (another_certificate, "Person.certificates"),
    (rows(User, handle="p-new"), "Person.handle Deed.doer"),
    (rows(Membership, role="reader"), "Person.role"),
    (rows(Membership, active=False), "Person.active"),
    (rows(Membership, is_trainee=True), "Person.trainee"),
    (rows(Membership, enrolled_on=DAY), "Person.enrolled_on"),
    (charged, "Moved.cause Moved.basis Moved.refrigerant Moved.grade Moved.mass_mg Moved.u_mg Moved.cylinder"),
    (charged, "Moved.line Deed.line Deed.moved Line.visit Visit.deeds Workshop.visits"),
    (entered_anew, ""),
    (rows(Step, {"kind": "standing pressure"}, kind="circuit opened"), "Deed.kind"),
    (rows(Step, {"kind": "standing pressure"}, occurred_at=YESTERDAY), "Deed.at"),
    (rows(Step, {"kind": "standing pressure"}, recorded_at=YESTERDAY), "Deed.recorded_at"),
    (another_doer, "Deed.doer Deed.answers"),
    (rows(Step, {"kind": "standing pressure"}, data={}), "Deed.data"),
    (photo_of_step, "Deed.photographed"),
    (of_another_car, "Vehicle.number Visit.vehicle"),
    (rows(Vehicle, vehicle_class="bus"), "Vehicle.vehicle_class"),
    (rows(Vehicle, refrigerant="R-12"), "Vehicle.refrigerant"),
    (rows(Vehicle, original_refrigerant="R-12"), "Vehicle.original_refrigerant"),
    (rows(Vehicle, nameplate_mg=1), "Vehicle.nameplate_mg"),
    (rows(Vehicle, first_registered=DAY), "Vehicle.first_registered"),
    (rows(Vehicle, type_approved=DAY), "Vehicle.type_approved"),
    (rows(Vehicle, volume_m3=0.009, oil_g=900.0), "Visit.missing_mg"),
    (rows(Visit, {"number": 2}, number=77), "Visit.number"),
    (rows(Visit, opened_at=YESTERDAY), "Visit.opened_at"),
    (rows(Visit, {"number": 2}, closed_at=YESTERDAY), "Visit.closed_at"),
    (rows(Visit, {"number": 2}, state=Visit.WAITING), "Visit.state"),
    (rows(Step, {"kind": "recovery"}, data={}), "Visit.proof Visit.emptied"),
    (repaired_then, "Visit.missing_mg"),
    (rows(Step, {"kind": "received"}, data={}), "Visit.held_mg"),
    (charged_before, "Visit.previous_charge_on Visit.missing_mg"),
    (charge_reversed, "Visit.previous_charge_on"),
    (opened, "Workshop.visits"),
    (rows(Workshop, altitude_m=1_500.0), "Visit.atmosphere_pa"),
    (bought, "Cylinder.number Cylinder.held_mg Cylinder.first_in_on Workshop.cylinders"),
    (rows(Cylinder, {"serial": "C-1"}, kind="single-trip"), "Cylinder.kind"),
    (rows(Cylinder, {"serial": "E-1"}, refrigerant="R-12"), "Cylinder.refrigerant"),
    (rows(Cylinder, {"serial": "E-1"}, grade="recycled"), "Cylinder.grade"),
    (rows(Cylinder, {"serial": "C-1"}, state="put aside"), "Cylinder.state"),
    (rows(Cylinder, {"serial": "C-1"}, water_capacity_m3=0.02), "Cylinder.limit_mg"),
    (rows(Cylinder, {"serial": "C-1"}, filling_limit_mg=1_000), "Cylinder.limit_mg Cylinder.limit_rule"),
    (mixed_and_analysed, "Cylinder.limit_mg"),
    (rows(Cylinder, {"serial": "C-1"}, requalify_by=DAY), "Cylinder.requalify_by"),
    (rows(Cylinder, {"serial": "C-1"}, paper_number="P-1"), "Cylinder.paper_number"),
    (rows(Cylinder, {"serial": "C-1"}, certified_on=DAY), "Cylinder.certified_on"),
    (rows(Cylinder, {"serial": "C-1"}, heel_removed_on=DAY), "Cylinder.heel_removed_on"),
    (rows(Cylinder, {"serial": "C-1"}, heel_statement="HS-1"), "Cylinder.heel_stated"),
    (weighed, "Cylinder.last_weighed_on Cylinder.max_held_mg Cylinder.max_held_line Cylinder.max_held_on"),
    (sent_more, "Cylinder.last_out_on"),
    (filled, "Cylinder.filled_on"),
    (weighed, "Reading.line Reading.cylinder Reading.at Reading.recorded_at Reading.role Reading.gross_mg"),
    (weighed, "Reading.step_mg Reading.u_mg Reading.by Workshop.readings"),
    (weighed, "Instrument.last_used_on"),
    (weighed, "Difference.line Difference.cylinder Difference.on Difference.mass_mg Difference.open_mg Difference.by"),
    (weighed, "Difference.can_tell_mg Difference.u_mg"),
    (explained, "Difference.open_mg Workshop.differences"),
    (bought, "Line.line Line.on Line.at Line.recorded_at Line.cause Line.basis Line.refrigerant Line.grade"),
    (bought, "Line.mass_mg Line.u_mg Line.cylinder Line.by Workshop.lines"),
    (sent_more, "Consignment.line Consignment.on Consignment.cylinder Consignment.refrigerant Consignment.grade"),
    (sent_more, "Consignment.mass_mg Consignment.u_mg Workshop.consignments"),
    (rows(Partner, address="Kiln Lane 1"), "Consignment.has_address"),
    (rows(Consignment, number="2"), "Consignment.number"),
    (rows(Consignment, purpose="sale"), "Consignment.purpose"),
    (rows(Consignment, accepted_mg=5), "Consignment.accepted_mg"),
    (rows(Consignment, accepted_oil_mg=5), "Consignment.oil_mg"),
    (rows(Consignment, paper_number="A-1"), "Consignment.paper_number"),
    (rows(Tare, tare_mg=1), "TareChange.change_mg Workshop.tares"),
    (another_tare, "TareChange.cylinder"),
    (rows(Tare, source="measured evacuated"), "TareChange.source"),
    (rows(Tare, since=YESTERDAY), "TareChange.on"),
    (photo_of_cylinder, "TareChange.photographed"),
    (rows(Gauge, kind="thermometer"), "Instrument.kind"),
    (rows(Gauge, name="G2"), "Instrument.name Workshop.instruments"),
    (rows(Gauge, calibrated_until=DAY), "Instrument.good_until"),
    (rows(Gauge, retired=True), "Workshop.instruments"),
    (rows(Scale, calibrated_until=DAY), "Instrument.good_until"),
    (rows(Scale, name="S9"), "Instrument.name"),
    (rows(Workshop, jurisdiction="eu"), "Workshop.jurisdiction"),
    (rows(Workshop, address=" "), "Workshop.has_address"),
    (rows(Workshop, registration="R-1"), "Workshop.registration"),
    (photo_of_step, "Shot.line Shot.visit Shot.vehicle Shot.step Shot.step_at Shot.by Workshop.shots"),
    (photo_of_step, "Shot.shows Shot.digest Shot.look Shot.taken_at"),
    (listed, "Listed.rows Listed.covered Workshop.listed"),
    (listed, "Theirs.on Theirs.refrigerant Theirs.direction Theirs.mass_mg Theirs.paper Theirs.row"),
    (rows(Partner, lists_from=DAY), "Listed.partner Listed.asked_from"),
    (bought_of_who_is_asked, "Listed.lines Ours.on Ours.refrigerant Ours.direction Ours.mass_mg Ours.paper"),
    (bought_of_who_is_asked, "Ours.line Ours.u_mg"),
    (rows(Workshop, state_licence="RS-1"), "StateLicence.entered Workshop.state_licence"),
    (rows(Workshop, state_licence_until=DAY), "StateLicence.until"),
    (rows(Workshop, no_state_licence=True), "StateLicence.not_asked"),
    (rows(Workshop, zone="Pacific/Kiritimati"), "Deed.at Reading.at Visit.opened_at"),
)


# How it is seen


def values(one: Any) -> Values:
    """Every value of every field, wherever it stands, by "Class.field"."""
    found: dict[str, list[str]] = defaultdict(list)
    for name, value in _walked(one):
        found[name].append(repr(value))
    return {name: sorted(each) for name, each in found.items()}


def _walked(one: Any) -> Iterator[tuple[str, Any]]:
    if type(one).__name__ in CLASSES:
        for field in dataclasses.fields(one):
            value = getattr(one, field.name)
            yield f"{type(one).__name__}.{field.name}", value
            yield from _walked(value)
    elif isinstance(one, tuple | list):
        for each in one:
            yield from _walked(each)
    elif isinstance(one, dict):
        yield from _walked(tuple(one.values()))


def test_every_field_that_a_rule_may_look_at_has_a_change() -> None:
    named = {name for _, names in CHANGES for name in names.split()}
    fields = {f"{name}.{field.name}" for name, kind in CLASSES.items() for field in dataclasses.fields(kind)}
    assert fields - named == {"Workshop.today"}  # the clock's, and tested below
    assert named <= fields


def test_whatever_is_changed_is_noticed_and_another_fact_at_once(world: World) -> None:
    """All in one book that was judged, each change taken back again, so that whatever is kept is tried."""
    day, unseen = world.now.date(), []

    def seen() -> tuple[Change, Values]:
        workshop = Workshop.objects.get()
        change = changes.since(workshop, Judged.objects.get(workshop=workshop).seq)
        return change, values(gathering.facts_of(workshop, day))

    _mix(world)
    judging.refresh(Workshop.objects.get())
    nothing, before = seen()
    for change, names in CHANGES:
        here = transaction.savepoint()  # no block of its own, since some acts want the outermost one
        change(world)
        noticed, after = seen()
        anew = _read_anew(day)
        transaction.savepoint_rollback(here)
        unseen += [f"{names}: not noticed"] * (not noticed)
        unseen += [name for name in names.split() if after.get(name) == before.get(name)]
        unseen += [f"{names}: kept {name}" for name in anew if after.get(name) != anew[name]]
    assert unseen == []
    assert not nothing
    assert seen() == (nothing, before)


def _read_anew(day: date) -> Values:
    """Every value where nothing was kept."""
    KeptVisit.objects.all().delete()
    return values(gathering.facts_of(Workshop.objects.get(), day))


def _mix(world: World) -> None:
    world.make_cylinder("E-1")
    mixed = world.make_cylinder("M-1", refrigerant=MIXED, grade="suspect", kind="recovery", mass_mg=50_000)
    parts = {"R-134a": "0.5", "R-12": "0.5"}
    Analysis.objects.create(account=mixed.account, occurred_at=world.now, parts=parts)


def test_on_another_day_all_is_judged_again(world: World, clock: Callable[[datetime], None]) -> None:
    judging.refresh(world.workshop)
    clock(world.now + timedelta(days=1))
    assert judging.look(world.workshop).changed
    assert not judging.look(world.workshop).changed


def test_the_triggers_that_notice_stand_after_any_migration() -> None:
    assert noticing.missing() == []


def test_a_photo_of_a_plate_that_was_removed_was_still_taken(world: World) -> None:
    """As with a step's: the file is gone, the digest and its day stay."""
    photo_of_cylinder(world)
    Photo.objects.update(removed_at=world.now)
    seen = gathering.facts_of(world.workshop, world.now.date())
    assert [one.photographed for one in seen.tares] == [True]
