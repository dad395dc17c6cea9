"""One vehicle, one record: how a plate was typed makes no second one, and what looks like it is asked about."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.book.refusals import LedgerError
from inventory.models import Cylinder, Partner
from inventory.models.likeness import fill
from shop.models import Vehicle, Visit
from shop.people import vehicles

HOME = "/w/port-ellery/"
NEW = {"vehicle_class": "car", "evaporators": "1"}


@pytest.fixture
def start(technician_client: Client, technician: Any) -> Callable[..., Any]:
    def post(plate: str, **more: str) -> Any:
        doer = technician.handle
        form = {"key": str(uuid4()), "registration": plate, "state": "runs", "doer": doer, **more}
        return technician_client.post(HOME + "visits/new/", form)

    return post


def test_a_visit_of_a_plate_typed_otherwise_is_of_the_same_vehicle(start: Any, make_vehicle: Any) -> None:
    one = make_vehicle("KX 4471")
    for plate in ("kx4471", "KX-4471", "КХ 4471"):
        assert start(plate).status_code == 303
    assert {visit.vehicle_id for visit in Visit.objects.all()} == {one.pk}
    assert Vehicle.objects.count() == 1


def test_a_plate_that_looks_like_another_is_asked_about(start: Any, make_vehicle: Any) -> None:
    one = make_vehicle("KX 4471")
    asked = start("KX 447I")
    words = asked.content.decode()
    assert asked.status_code == 422
    assert "Did you mean KX 4471 (not here in a visit yet)?" in words
    assert 'name="registration_reading" value="KX 4471"' in words
    assert 'name="registration_reading" value="=KX 447I"' in words
    assert not Visit.objects.exists()
    assert start("KX 447I", registration_reading="KX 4471").status_code == 303
    assert Visit.objects.get().vehicle_id == one.pk


def test_that_it_is_another_is_asked_once_and_holds_while_other_fields_are_put_right(
    start: Any, make_vehicle: Any
) -> None:
    make_vehicle("KX 4471")
    wrong = start("KX 447I", registration_reading="=KX 447I", state="")
    assert 'name="registration_sure" value="KX 447I"' in wrong.content.decode()
    assert start("KX 447I", registration_sure="KX 447I").status_code == 303
    assert Vehicle.objects.count() == 2
    assert start("kx447i").status_code == 303
    assert Vehicle.objects.count() == 2


def test_no_second_vehicle_is_entered_by_plate_or_number(technician_client: Client, make_vehicle: Any) -> None:
    one = make_vehicle("KX 4471", vin="1M8GDM9AXKP042788")
    path, page = HOME + "vehicles/new/", f'href="{HOME}vehicles/{one.account.number}/"'
    for fields, words in (
        ({"registration": "kx4471"}, "KX 4471 is in the book already."),
        ({"registration": "AB 1", "vin": "1m8gdm9axkp-042788"}, "1M8GDM9AXKP042788 is in the book already."),
        ({"registration": "AB 1", "vin": "1M8GDM9AXKPO42788"}, "Did you mean 1M8GDM9AXKP042788"),
        ({"registration": "KX 447l"}, "Did you mean KX 4471"),
    ):
        answer = technician_client.post(path, {**NEW, **fields})
        assert answer.status_code == 422
        assert words in answer.content.decode()
        assert page in answer.content.decode()
    assert Vehicle.objects.count() == 1


def test_a_vehicle_keeps_its_own_plate_in_another_writing_and_takes_no_other_s(
    technician_client: Client, make_vehicle: Any
) -> None:
    one, _ = make_vehicle("KX 4471"), make_vehicle("AB 1")
    path = f"{HOME}vehicles/{one.account.number}/edit/"
    assert technician_client.post(path, {**NEW, "registration": "kx-4471"}).status_code == 303
    assert technician_client.post(path, {**NEW, "registration": "ab1"}).status_code == 422
    one.refresh_from_db()
    assert (one.registration, one.registration_likeness) == ("kx-4471", "kx4471")


def test_the_act_itself_refuses_a_second_one(workshop: Any, make_vehicle: Any) -> None:
    make_vehicle("KX 4471")
    with pytest.raises(LedgerError, match="kx4471 is in the book already, as KX 4471"):
        vehicles.add_vehicle(workshop, registration="kx4471")


def test_two_old_records_of_one_plate_can_each_be_edited(technician_client: Client, make_vehicle: Any) -> None:
    for plate in ("KX 4471", "kx4471"):
        one = make_vehicle(plate)
        path = f"{HOME}vehicles/{one.account.number}/edit/"
        answer = technician_client.post(path, {**NEW, "registration": plate, "make_model": "Wren"})
        assert answer.status_code == 303
    assert list(Vehicle.objects.values_list("make_model", flat=True)) == ["Wren", "Wren"]


def test_search_finds_what_is_meant(technician_client: Client, make_vehicle: Any, make_cylinder: Any) -> None:
    one, bottle = make_vehicle("KX 4471"), make_cylinder("C-34")
    for said, there in (
        ("kx4471", f"vehicles/{one.account.number}/"),
        ("x44", f"vehicles/{one.account.number}/"),
        ("KX 447I", f"vehicles/{one.account.number}/"),
        ("c34", f"cylinders/{bottle.account.number}/"),
        ("C 3", f"cylinders/{bottle.account.number}/"),
    ):
        assert technician_client.get(HOME + "search/", {"q": said}).get("Location") == HOME + there, said
    for page in ("vehicles/?text=kx4471", "visits/?plate=kx4471", "cylinders/?text=c34", "weigh/?q=c34"):
        assert technician_client.get(HOME + page, follow=True).status_code == 200
    assert "KX 4471" in technician_client.get(HOME + "vehicles/?text=x447").content.decode()


def test_a_cylinder_that_is_here_is_not_received_again(technician_client: Client, make_cylinder: Any) -> None:
    bottle = make_cylinder("C-34")
    form = {"key": str(uuid4()), "kind": "recovery", "refrigerant": "R-134a", "grade": "recovered", "origin": "empty"}
    form |= {"tare": "8 kg", "tare_source": "stamped"}
    for serial, words in (("c34", "A cylinder numbered C-34 is on the shelf already."), ("C-3A4", "")):
        answer = technician_client.post(HOME + "cylinders/receive/", {**form, "serial": serial})
        assert words in answer.content.decode()
        assert (f"{HOME}cylinders/{bottle.account.number}/" in answer.content.decode()) == bool(words)
    make_cylinder("C-O1")
    assert (
        "Did you mean C-O1 (here)?"
        in technician_client.post(HOME + "cylinders/receive/", {**form, "serial": "C-01"}).content.decode()
    )
    assert Cylinder.objects.count() == 2


def test_a_partner_is_entered_once(technician_client: Client, partner: Any) -> None:
    path = HOME + "partners/new/"
    for name, words in ((partner.name.upper().replace(" ", "-"), "is in the book already"), (partner.name + "x", "")):
        answer = technician_client.post(path, {"name": name, "kind": partner.kind})
        assert (answer.status_code == 422) == bool(words)
        assert words in answer.content.decode()
    other = next(kind for kind in Partner.KINDS if kind != partner.kind)
    asked = technician_client.post(path, {"name": f"{partner.name}", "kind": other})
    assert asked.status_code == 303, "the same name as another kind of partner stands, as before"


def test_records_from_before_get_their_likeness(make_vehicle: Any, make_cylinder: Any) -> None:
    make_vehicle("KX 4471"), make_cylinder("C-34")
    Vehicle.objects.update(registration_likeness="")
    Cylinder.objects.update(likeness="")
    fill(Vehicle, "registration_likeness", "vin_likeness")
    fill(Cylinder, "likeness")
    assert Vehicle.objects.get().registration_likeness == "kx4471"
    assert Cylinder.objects.get().likeness == "c34"
