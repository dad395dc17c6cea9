"""The units of a person: pages speak by them, papers by the workshop's, and what is stored stays as it is."""

import json
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from compliance.documents import issuing
from inventory.book.clock import now
from shop.models import Membership, Workshop

HERE = "/w/port-ellery/"
OURS = {"mass": "lb oz", "pressure": "psi", "vacuum": "micron", "temperature": "F", "volume": "fl oz", "days": "mdy"}


@pytest.fixture
def in_ounces(owner: Any, owner_client: Client) -> Client:
    """The owner, who has chosen pounds and ounces in a workshop of grams."""
    assert owner_client.post(f"{HERE}units/", OURS).status_code == 303
    return owner_client


def text(client: Client, path: str) -> str:
    answer = client.get(HERE + path)
    assert answer.status_code == 200
    return answer.content.decode().replace("\N{NARROW NO-BREAK SPACE}", " ")


def test_what_is_chosen_is_kept_and_what_is_left_follows_the_workshop(
    in_ounces: Client, owner: Any, workshop: Workshop
) -> None:
    assert Membership.objects.get(user=owner).own_units == OURS
    assert in_ounces.post(f"{HERE}units/", {"pressure": "kPa"}).status_code == 303
    workshop.mass_unit = "lb"
    workshop.save()
    units = Membership.objects.get(user=owner).units
    assert (units.mass, units.pressure, units.temperature) == ("lb", "kPa", "C")


def test_what_is_no_choice_is_refused(owner_client: Client, owner: Any) -> None:
    assert owner_client.post(f"{HERE}units/", {"mass": "stone"}).status_code == 422
    assert Membership.objects.get(user=owner).own_units == {}


def test_two_people_read_one_cylinder_each_in_their_own_units(
    in_ounces: Client, technician_client: Client, cylinder: Any
) -> None:
    path = f"cylinders/{cylinder.account.number}/"
    theirs, ours = text(technician_client, path), text(in_ounces, path)
    assert "5.000 kg" in theirs
    assert "5.000 kg" not in ours
    assert "11 lb 0.4 oz" in ours
    today = timezone.localdate()
    assert f"{today:%b} {today.day}, {today.year}" in ours
    assert today.isoformat() in theirs


def test_a_form_begins_with_the_units_of_who_fills_it_in(
    in_ounces: Client, technician_client: Client, arrive: Callable[..., Any]
) -> None:
    visit = arrive()
    path = f"visits/{visit.number}/add/standing-pressure/"
    ours, theirs = (client.get(HERE + path).context["form"] for client in (in_ounces, technician_client))
    assert [ours.fields[name].default_unit for name in ("pressure", "coldest")] == ["psi", "F"]
    assert [theirs.fields[name].default_unit for name in ("pressure", "coldest")] == ["bar", "C"]


def test_a_paper_says_the_same_whoever_issues_it(
    in_ounces: Client, workshop: Workshop, owner: Any, technician: Any, cylinder: Any
) -> None:
    about = f"cylinder:{cylinder.account.number}"
    contents = []
    for person in (owner, technician):
        made = issuing.issue(workshop, "cylinder log", about, by=person, key=uuid4(), now=now())
        contents.append(json.loads(made.content)["blocks"])
    assert contents[0] == contents[1]
    assert "5.000" in json.dumps(contents[0])
    assert " lb" not in json.dumps(contents[0])
