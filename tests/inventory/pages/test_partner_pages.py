"""Pages of partners."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.acts import away
from inventory.acts.away import Dispatch
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Partner
from tests.answers import words

pytestmark = pytest.mark.django_db
BASE = "/w/port-ellery"


def test_a_partner_is_entered_once_and_edited(technician_client: Client) -> None:
    facts = {"name": "Harbour Gas", "kind": "supplier", "address": "4 Quay Row", "registration": "S-1"}
    answer = technician_client.post(f"{BASE}/partners/new/", facts)
    assert answer.status_code == 303
    again = technician_client.post(f"{BASE}/partners/new/", facts)
    assert again.status_code == 422
    assert "in the book already" in words(again)
    assert 'value="S-1"' in words(again)
    made = Partner.objects.get()
    edited = {**facts, "name": "Harbour Gases", "retired": "on"}
    assert technician_client.post(f"{BASE}/partners/{made.account.number}/edit/", edited).status_code == 303
    page = words(technician_client.get(answer["Location"]))
    assert "Harbour Gases" in page
    assert "no longer used" in page


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [({"name": ""}, "Enter the name."), ({"kind": ""}, "Choose the kind."), ({"name": "x" * 121}, "longer than 120")],
)
def test_what_cannot_be_is_said(technician_client: Client, fields: dict[str, str], sentence: str) -> None:
    answer = technician_client.post(f"{BASE}/partners/new/", {"name": "A", "kind": "supplier", **fields})
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert not Partner.objects.exists()


def test_a_partner_shows_its_lines_and_consignments(
    technician_client: Client, partner: Partner, cylinder: Cylinder, scale: Any, book: Any, act: Any, post: Any
) -> None:
    post("purchase", partner, cylinder, 1_000_000, basis="paper")
    reading = Gross(cylinder, scale, 12_200_000, "12.2")
    away.send_away(book, act(), reading, Dispatch(partner, "heel-returned", "return to supplier", "PE-1"))
    page = words(technician_client.get(f"{BASE}/partners/{partner.account.number}/"))
    for said in ("Bought to", "Heel returned from", "PE-1", "no paper yet", "return to supplier"):
        assert said in page


def test_the_list_does_not_grow(technician_client: Client, make_partner: Any) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as found:
            assert technician_client.get(f"{BASE}/partners/").status_code == 200
        return len(found)

    make_partner("First")
    few = count()
    for number in range(20):
        make_partner(f"Partner {number}")
    assert count() == few


def test_a_name_is_shown_as_text(technician_client: Client, make_partner: Any) -> None:
    make_partner("<b>bold</b>")
    assert "<b>bold</b>" not in technician_client.get(f"{BASE}/partners/").content.decode()
