"""Vehicles, customers and the search box through their pages."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from shop.models import Customer, Vehicle
from tests.answers import read_back

HOME = "/w/port-ellery/"
FORM = {"registration": "KX 1", "vehicle_class": "car", "evaporators": "1", "nameplate": "550 g"}


def test_a_vehicle_is_entered_and_a_new_plate_changes_its_label(technician_client: Client, workshop: Any) -> None:
    made = technician_client.post(HOME + "vehicles/new/", FORM)
    assert made.status_code == 303
    assert technician_client.get(made["Location"]).status_code == 200
    edited = technician_client.post(made["Location"] + "edit/", {**FORM, "registration": "KX 2"})
    assert edited.status_code == 303
    one = Vehicle.objects.get()
    assert (one.account.label, one.nameplate_mg) == ("KX 2", 550_000)


@pytest.mark.parametrize("wrong", [{"registration": ""}, {"nameplate": "much"}, {"evaporators": "0"}])
def test_what_is_wrong_is_said_and_what_was_typed_stays(
    technician_client: Client, workshop: Any, wrong: dict[str, str]
) -> None:
    response = technician_client.post(HOME + "vehicles/new/", {**FORM, "make_model": "kept words", **wrong})
    assert response.status_code == 422
    assert "kept words" in response.content.decode()
    assert not Vehicle.objects.exists()


def test_a_vehicle_gone_for_good_leaves_nothing_in_the_book(
    technician_client: Client, make_vehicle: Callable[..., Any], cylinder: Any, post: Callable[..., Any], held: Any
) -> None:
    one = make_vehicle("V1")
    post("charge", cylinder, one.account, 400_000)
    path = f"vehicles/{one.account.number}/out-of-sight/"
    assert read_back(technician_client, HOME + path, why="scrapped")[1].status_code == 303
    assert held(one.account) == {}


def test_removing_personal_data_leaves_numbers(technician_client: Client, make_vehicle: Any, workshop: Any) -> None:
    person = Customer.objects.create(workshop=workshop, name="Ada Invented", phone="1")
    one = make_vehicle("V1", customer=person)
    assert read_back(technician_client, f"{HOME}customers/{person.pk}/remove/")[1].status_code == 303
    one.refresh_from_db()
    person.refresh_from_db()
    assert (person.name, person.phone) == ("removed", "")
    assert one.account.__class__.objects.get(pk=one.account_id).label == f"vehicle {one.account.number}"


def test_a_reader_sees_vehicles_but_no_customers(reader_client: Client, make_vehicle: Callable[..., Any]) -> None:
    make_vehicle("V1")
    assert reader_client.get(HOME + "vehicles/").status_code == 200
    assert reader_client.get(HOME + "customers/").status_code == 403
    assert reader_client.get(HOME + "vehicles/new/").status_code == 403


def test_the_list_asks_no_more_of_the_database_with_more_rows(
    technician_client: Client, make_vehicle: Callable[..., Any]
) -> None:
    counts = []
    for plates in (("A1", "A2"), ("B1", "B2", "B3", "B4")):
        for plate in plates:
            make_vehicle(plate)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            technician_client.get(HOME + "vehicles/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_the_label_of_a_converted_vehicle_is_named_by_the_refrigerant_it_was_built_for(
    reader_client: Client, make_vehicle: Callable[..., Any]
) -> None:
    own, converted = (
        make_vehicle(plate, refrigerant="R-134a", original_refrigerant=built_for, nameplate_mg=900_000)
        for plate, built_for in (("OWN 1", "R-134a"), ("OLD 1", "R-12"))
    )
    pages = [reader_client.get(f"{HOME}vehicles/{one.account.number}/").content.decode() for one in (own, converted)]
    assert ["of its label for R-12" in page for page in pages] == [False, True]
