"""A step is written and the next one asked is there at once; what was passed over is not insisted on."""

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from shop.visits.kinds import KINDS

HOME = "/w/port-ellery/"

pytestmark = pytest.mark.django_db


def send(client: Client, path: str, **fields: str) -> str:
    answer = client.post(f"{HOME}{path}", {"key": str(uuid4()), **fields})
    assert answer.status_code == 303, answer.content.decode()
    return str(answer.headers["Location"]).removeprefix(HOME)


@pytest.fixture
def visit(arrive: Any, make_vehicle: Any) -> Any:
    return arrive(make_vehicle(refrigerant="R-134a", nameplate_mg=500_000))


def test_without_the_second_button_it_is_the_visit(technician_client: Client, visit: Any, technician: Any) -> None:
    path = f"visits/{visit.number}/add/label-read/"
    assert send(technician_client, path, doer=technician.handle, label="no label") == f"visits/{visit.number}/"


def test_it_leads_to_what_is_asked_next_in_the_order_of_the_work(
    technician_client: Client, visit: Any, technician: Any
) -> None:
    went = send(
        technician_client,
        f"visits/{visit.number}/add/label-read/",
        doer=technician.handle,
        label="no label",
        then="next",
    )
    asked = technician_client.get(f"{HOME}visits/{visit.number}/").context["points"]
    assert went.startswith(f"visits/{visit.number}/add/")
    slug = went.rstrip("/").rpartition("/")[2]
    assert slug in {one.kind_slug for one in asked}
    assert slug != "label-read"
    assert technician_client.get(f"{HOME}{went}", follow=True).status_code == 200


def test_what_comes_later_in_the_work_goes_before_what_was_passed_over(
    technician_client: Client, visit: Any, technician: Any
) -> None:
    path = f"visits/{visit.number}/add/identified/"
    went = send(technician_client, path, doer=technician.handle, result="none here", then="next")
    asked = technician_client.get(f"{HOME}visits/{visit.number}/").context["points"]
    assert "label read" in {one.kind for one in asked}  # passed over, and still asked
    names = [kind.slug for kind in KINDS]
    assert names.index(went.rstrip("/").rpartition("/")[2]) > names.index("identified")


def test_either_button_is_the_same_request(technician_client: Client, visit: Any, technician: Any) -> None:
    path, key = f"visits/{visit.number}/add/label-read/", str(uuid4())
    sent = {"key": key, "doer": technician.handle, "label": "no label"}
    first = technician_client.post(f"{HOME}{path}", sent)
    again = technician_client.post(f"{HOME}{path}", {**sent, "then": "next"})
    assert first.status_code == again.status_code == 303
    assert visit.steps.filter(kind="label read").count() == 1


def test_the_kind_that_was_chosen_comes_next(technician_client: Client, visit: Any, technician: Any) -> None:
    path = f"visits/{visit.number}/add/label-read/"
    more = {"doer": technician.handle, "label": "no label", "then": "next"}
    assert send(technician_client, path, **more, then_to="flush") == f"visits/{visit.number}/add/flush/"
    assert send(technician_client, path, **more, then_to="nonsense").startswith(f"visits/{visit.number}/add/")
