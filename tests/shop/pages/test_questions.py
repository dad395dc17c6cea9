"""Questions that a workshop leaves out: no longer listed at its visits; papers and other workshops have them all."""

from typing import Any

import pytest
from django.test import Client

from shop.models import Visit, Workshop
from shop.visits.log import asked_here, open_points
from tests.shop.visits.looking import HOME, fetched

PAGE = f"{HOME}settings/questions/"


@pytest.fixture
def visit(arrive: Any) -> Visit:
    made: Visit = arrive(state="runs")
    return made


def keys(points: Any) -> set[str]:
    return {one.key for one in points if one.step is None}


def test_all_is_asked_until_the_owner_chooses(workshop: Workshop, visit: Visit, owner_client: Client) -> None:
    assert workshop.not_asked == []
    assert asked_here(fetched(visit), workshop.units) == open_points(fetched(visit), workshop.units)
    assert "0 questions not asked" in owner_client.get(f"{HOME}settings/").content.decode()


def test_what_is_left_out_is_not_listed_and_goes_on_the_paper(
    workshop: Workshop, visit: Visit, owner_client: Client
) -> None:
    page = f"{HOME}visits/{visit.number}/"
    assert "arrival: odometer, what the customer says" in owner_client.get(page).content.decode()
    sent = {"received": ["received/odometer"], "label-read": ["label-read"], "csrf": "x"}
    assert owner_client.post(PAGE, sent).status_code == 303
    for place in (page, f"{page}hand-over/"):
        shown = owner_client.get(place).content.decode()
        assert "arrival: what the customer says" in shown
        assert "odometer, what" not in shown
    assert "goes on the paper as open too" in owner_client.get(f"{page}hand-over/").content.decode()
    workshop.refresh_from_db()
    here, all_of_it = (of(fetched(visit), workshop.units) for of in (asked_here, open_points))
    assert keys(all_of_it) - keys(here) == {"label-read"}
    assert any("odometer" in one.words for one in all_of_it)
    assert "2 questions not asked" in owner_client.get(f"{HOME}settings/").content.decode()
    assert owner_client.post(PAGE, {"csrf": "x"}).status_code == 303
    workshop.refresh_from_db()
    assert asked_here(fetched(visit), workshop.units) == all_of_it


@pytest.mark.parametrize(
    ("jurisdiction", "field", "key"),
    [
        ("none", "standing-pressure", "standing-pressure"),
        ("none", "circuit-opened", "circuit-opened/relieved"),
        ("us", "label-read", "label-read"),
        ("us", "conversion-done", "conversion-done/hoses"),
        ("eu", "leak-search", "leak-search"),
        ("none", "received", "no-such-question"),
    ],
)
def test_what_law_or_safety_asks_is_not_left_out_by_a_forged_form(
    workshop: Workshop, owner_client: Client, jurisdiction: str, field: str, key: str
) -> None:
    Workshop.objects.update(jurisdiction=jurisdiction)
    answer = owner_client.post(PAGE, {field: [key], "received": ["received/odometer", key]})
    assert answer.status_code == 422
    assert "That stays asked" in answer.content.decode()
    workshop.refresh_from_db()
    assert workshop.not_asked == []


def test_under_another_law_what_it_asks_is_asked_again(workshop: Workshop, visit: Visit) -> None:
    workshop.not_asked = ["label-read", "standing-pressure", "received/odometer"]
    workshop.save()
    assert "label-read" not in keys(asked_here(fetched(visit), workshop.units))
    assert "standing-pressure" in keys(asked_here(fetched(visit), workshop.units))  # as if it stood there by mistake
    workshop.jurisdiction = "us"
    workshop.save()
    assert "label-read" in keys(asked_here(fetched(visit), workshop.units))
    assert not any("odometer" in one.words for one in asked_here(fetched(visit), workshop.units))


def test_another_workshop_asks_as_before(
    workshop: Workshop, other_workshop: Workshop, owner_client: Client, stranger_client: Client
) -> None:
    owner_client.post(PAGE, {"received": ["received/odometer"]})
    other_workshop.refresh_from_db()
    assert other_workshop.not_asked == []
    assert "0 questions not asked" in stranger_client.get("/w/highmoor/settings/").content.decode()
    assert stranger_client.post(PAGE, {"received": ["received/says"]}).status_code == 404


def test_only_the_owner_chooses(technician_client: Client, reader_client: Client) -> None:
    assert technician_client.post(PAGE, {"received": ["received/says"]}).status_code == 403
    assert reader_client.get(PAGE).status_code == 403
