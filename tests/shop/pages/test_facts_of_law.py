"""Facts that one law asks of a record: their fields stand where that law is chosen, and judge what is typed."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inventory.book import changed
from inventory.models import Cylinder, Trace
from shop.models import Certification, Vehicle
from tests.answers import words

BASE = "/w/port-ellery"
TANK = {"serial": "T-1", "kind": "machine tank", "state": "ready", "machine_limit": "15 g"}


@pytest.fixture
def law(workshop: Any) -> Any:
    def choose(jurisdiction: str) -> None:
        workshop.jurisdiction = jurisdiction
        workshop.save()

    return choose


@pytest.fixture
def car(make_vehicle: Any) -> Vehicle:
    found: Vehicle = make_vehicle("AB 123", vehicle_class="car")
    return found


def of_car(**more: str) -> dict[str, str]:
    return {"registration": "AB 123", "vehicle_class": "car", "evaporators": "1", **more}


def edit_at(car: Vehicle) -> str:
    return f"{BASE}/vehicles/{car.account.number}/edit/"


@pytest.mark.parametrize("jurisdiction", ["us", "in", "none"])
def test_elsewhere_nobody_is_asked_for_a_type_approval(
    technician_client: Client, car: Vehicle, law: Any, jurisdiction: str
) -> None:
    law(jurisdiction)
    assert "type_approved" not in technician_client.get(edit_at(car)).context["form"].fields
    assert technician_client.post(edit_at(car), of_car(type_approved="2010-01-04")).status_code == 303
    car.refresh_from_db()
    assert car.type_approved is None


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"type_approved": "1949-12-31"}, "The year 1949 is before 1950. Look at its figures."),
        ({"first_registered": "1949-12-31"}, "The year 1949 is before 1950. Look at its figures."),
        ({"type_approved": "+1"}, "That day is still to come. Enter the day on which it was done."),
        ({"first_registered": "+1"}, "That day is still to come. Enter the day on which it was done."),
        (
            {"type_approved": "2013-05-02", "first_registered": "2013-05-01"},
            "A type is approved before a vehicle of it is registered. Look at both days.",
        ),
        (
            {"type_approved": "2010-05-02", "vehicle_class": "bus"},
            "The type approval is asked of cars and vans alone. Leave it empty, or look at the class.",
        ),
    ],
)
def test_what_a_type_approval_cannot_be(
    technician_client: Client, car: Vehicle, law: Any, typed: dict[str, str], sentence: str
) -> None:
    law("eu")
    tomorrow = (timezone.localdate() + timedelta(days=1)).isoformat()
    typed = {name: tomorrow if value == "+1" else value for name, value in typed.items()}
    answer = technician_client.post(edit_at(car), of_car(**typed))
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert all(
        f'value="{value}"' in answer.content.decode() for name, value in typed.items() if name != "vehicle_class"
    )
    car.refresh_from_db()
    assert (car.type_approved, car.first_registered) == (None, None)


def test_a_type_approval_is_kept_shown_and_in_the_history(technician_client: Client, car: Vehicle, law: Any) -> None:
    law("eu")
    typed = {"type_approved": "17.6.2010", "first_registered": "2014-10-07"}
    assert technician_client.post(edit_at(car), of_car(**typed)).status_code == 303
    assert "Type approved</dt><dd>2010-06-17" in words(technician_client.get(edit_at(car).removesuffix("edit/")))
    assert '"type_approved":"2010-06-17"' in Trace.objects.filter(model="vehicle", record=car.pk).latest("seq").said
    assert list(changed.faults(car.account.book)) == []


def test_the_class_of_a_certificate_is_one_of_the_law(
    owner_client: Client, technician: Any, workshop: Any, law: Any
) -> None:
    at = f"{BASE}/people/{technician.handle}/certificate/"
    assert "category" not in owner_client.get(at).context["form"].fields
    law("us")
    offered = dict(owner_client.get(at).context["form"].fields["category"].choices)
    assert set(offered) == {"", "section 609", "section 608"}
    typed = {"scheme": "Technician", "number": "7", "never_expires": "on", "category": "M1"}
    assert "Choose the class." in words(owner_client.post(at, typed))
    assert owner_client.post(at, {**typed, "category": "section 609"}).status_code == 303
    held = Certification.objects.get(user=technician)
    assert held.category == "section 609"
    law("eu")  # a class of another law is kept until another is chosen
    again = owner_client.get(f"{BASE}/people/{technician.handle}/certificate/{held.pk}/")
    assert again.context["form"]["category"].value() == "section 609"
    assert "class section 609" in words(owner_client.get(f"{BASE}/people/{technician.handle}/"))


def test_a_machine_says_when_it_was_certified(technician_client: Client, make_cylinder: Any, law: Any) -> None:
    tank = make_cylinder("T-1", kind=Cylinder.TANK)
    at = f"{BASE}/cylinders/{tank.account.number}/edit/"
    assert "certified_on" not in technician_client.get(at).context["form"].fields
    law("us")
    typed = {**TANK, "refrigerant": "R-134a", "grade": "recycled", "certified_on": "2019-05-14"}
    assert technician_client.post(at, typed).status_code == 303
    tank.refresh_from_db()
    assert str(tank.certified_on) == "2019-05-14"
    answer = technician_client.post(at, {**typed, "certified_on": "2091-05-14"})
    assert "That day is still to come" in words(answer)


def test_a_single_trip_cylinder_leaves_with_the_statement_of_its_heel(
    technician_client: Client, make_cylinder: Any, law: Any
) -> None:
    spent = make_cylinder("D-1", kind=Cylinder.SINGLE_TRIP)
    at = f"{BASE}/cylinders/{spent.account.number}/done/"
    assert technician_client.get(at).context["form"].fields == {}
    law("us")
    half = technician_client.post(at, {"heel_removed_on": "2020-03-04"})
    assert "Enter the number of the statement, or who signed it." in words(half)
    assert "Enter the day on which the heel was removed." in words(
        technician_client.post(at, {"heel_statement": "HS-1"})
    )
    assert "longer than 120 characters" in words(
        technician_client.post(at, {"heel_removed_on": "2020-03-04", "heel_statement": "x" * 121})
    )
    spent.refresh_from_db()
    assert spent.state == "ready"
    both = {"heel_removed_on": "2020-03-04", "heel_statement": "HS-1"}
    assert technician_client.post(at, both).status_code == 303
    spent.refresh_from_db()
    assert (spent.state, str(spent.heel_removed_on), spent.heel_statement) == ("done with", "2020-03-04", "HS-1")


def test_a_state_licence_is_asked_in_the_united_states_alone(owner_client: Client, workshop: Any, law: Any) -> None:
    at = f"{BASE}/settings/workshop/"
    assert "state_licence" not in owner_client.get(at).context["form"].fields
    law("us")
    typed = {"name": "Port Ellery", "zone": "UTC"}
    refusals = {
        "A licence is entered, or the state asks for none. Take one away.": {
            "state_licence": "RS-1",
            "no_state_licence": "on",
        },
        "Enter the number of the licence that is good until then.": {"state_licence_until": "2031-01-01"},
        "The year 1931 is before 1950.": {"state_licence": "RS-1", "state_licence_until": "1931-01-01"},
    }
    for sentence, more in refusals.items():
        assert sentence in words(owner_client.post(at, {**typed, **more}))
    kept = {**typed, "state_licence": "RS-1", "state_licence_until": "2031-01-01"}
    assert owner_client.post(at, kept).status_code == 303
    workshop.refresh_from_db()
    assert (workshop.state_licence, str(workshop.state_licence_until)) == ("RS-1", "2031-01-01")
    assert "RS-1, good until" in words(owner_client.get(f"{BASE}/settings/"))
