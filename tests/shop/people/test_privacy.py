"""What is stored about a person: handed out whole, removed without touching the masses.

Every book is audited after each test, so that a broken chain would be found.
"""

import json
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Remark
from shop.models import Customer, Step
from shop.people import privacy

pytestmark = pytest.mark.django_db
HOME = "/w/port-ellery/"


@pytest.fixture
def customer(workshop: Any) -> Customer:
    return Customer.objects.create(
        workshop=workshop, name="Ansel Quill", phone="0150 333", email="ansel@quill.example", note="pays late"
    )


@pytest.fixture
def vehicle(customer: Customer, make_vehicle: Callable[..., Any]) -> Any:
    return make_vehicle("PE 14 ABC", customer=customer, vin="1M8GDM9AXKP042788")


@pytest.fixture
def visit(vehicle: Any, arrive: Any, technician: Any, post: Any, cylinder: Any) -> Any:
    """A visit with what the customer said, a note that names him and a charge with a remark."""
    note = "Mr ansel quill waits outside"
    made = arrive(vehicle, says="It hums", state="runs", note=note)
    charge = post("charge", cylinder, vehicle.account, 500_000)
    Remark.objects.create(entry=charge, text="PE 14 ABC was charged twice, first line was wrong")
    Step.objects.create(
        visit=made, kind="charge", occurred_at=timezone.now(), doer=technician, entry=charge, request_key=uuid4()
    )
    return made


def everything(customer: Customer) -> str:
    return json.dumps(privacy.customer_data(customer))


def test_all_that_is_stored_about_a_customer_is_handed_out(customer: Customer, visit: Any) -> None:
    found = everything(customer)
    for words in (
        "Ansel Quill",
        "0150 333",
        "ansel@quill.example",
        "pays late",
        "PE 14 ABC",
        "It hums",
        "waits outside",
    ):
        assert words in found


def test_removing_takes_names_and_words_and_leaves_masses_and_the_chain(
    customer: Customer, visit: Any, vehicle: Any, book: Any, held: Any
) -> None:
    before = held(vehicle.account)
    book.refresh_from_db()
    head = book.head_digest

    privacy.remove_customer(customer)

    customer.refresh_from_db()
    vehicle.account.refresh_from_db()
    left = everything(customer) + " ".join(Remark.objects.values_list("text", flat=True)) + vehicle.account.label
    for words in ("quill", "0150 333", "pays late", "14 ABC", "1M8GDM9AXKP042788", "hums"):
        assert words.lower() not in left.lower(), words
    assert "was charged twice, first line was wrong" in left  # a reason stays
    assert held(vehicle.account) == before
    book.refresh_from_db()
    assert book.head_digest == head


def test_removing_takes_the_photos_of_the_vehicle(
    customer: Customer, vehicle: Any, visit: Any, technician_client: Client, tmp_path: Any, settings: Any
) -> None:
    from io import BytesIO

    from django.core.files.uploadedfile import SimpleUploadedFile
    from PIL import Image

    from inventory.models import Photo

    settings.MEDIA_ROOT = tmp_path
    picture = BytesIO()
    Image.new("RGB", (60, 40), "grey").save(picture, "JPEG")
    sent = {
        "key": str(uuid4()),
        "shows": "plate",
        "photo": SimpleUploadedFile("plate.jpg", picture.getvalue(), "image/jpeg"),
    }
    technician_client.post(f"{HOME}vehicles/{vehicle.account.number}/photo/", sent)
    assert Photo.objects.count() == 1
    assert len(list(tmp_path.rglob("*.jpg"))) == 1
    privacy.remove_customer(customer)
    assert Photo.objects.get().removed_at is not None


def test_removing_twice_changes_nothing_more(customer: Customer, visit: Any) -> None:
    privacy.remove_customer(customer)
    customer.refresh_from_db()
    once = customer.removed_at
    privacy.remove_customer(customer)
    customer.refresh_from_db()
    assert customer.removed_at == once


def test_the_file_is_for_those_who_write(
    customer: Customer, visit: Any, technician_client: Client, reader_client: Client, stranger_client: Client
) -> None:
    address = f"{HOME}customers/{customer.pk}/data/"
    answer = technician_client.get(address)
    assert answer.json()["name"] == "Ansel Quill"
    assert answer["Cache-Control"] == "no-store"
    assert reader_client.get(address).status_code == 403
    assert stranger_client.get(address).status_code == 404


def test_a_person_gets_their_own_data_and_the_owner_anybodys(
    visit: Any, technician: Any, owner: Any, technician_client: Client, owner_client: Client
) -> None:
    own = technician_client.get(f"{HOME}people/{technician.handle}/data/").json()
    assert own["handle"] == technician.handle
    assert [(one["kind"], one["part"]) for one in own["steps"]] == [("received", "did it"), ("charge", "did it")]
    assert technician_client.get(f"{HOME}people/{owner.handle}/data/").status_code == 403
    assert owner_client.get(f"{HOME}people/{technician.handle}/data/").status_code == 200
