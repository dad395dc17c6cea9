"""The page on which cylinders are chosen whose labels stand on one sheet."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from compliance.models import Document
from inventory.models import Cylinder
from shop.models import Conversion, Step
from shop.visits.acts import entering
from shop.visits.acts.entering import StepFacts

pytestmark = pytest.mark.django_db
PAGE = "/w/port-ellery/labels/"


def test_the_cylinders_on_the_floor_can_be_ticked(owner_client: Client, make_cylinder: Callable[..., Any]) -> None:
    here = make_cylinder("C-1", place="rack 2")
    gone = make_cylinder("C-2")
    Cylinder.objects.filter(pk=gone.pk).update(state="away")
    page = owner_client.get(f"{PAGE}?cylinder={here.account.number}").content.decode()
    assert "C-1, R-134a virgin, refillable, rack 2" in page
    assert "C-2" not in page
    assert f'value="{here.account.number}" id="id_cylinders_0" checked' in page


def test_what_is_ticked_leads_to_the_sheet_of_their_labels(
    owner_client: Client, make_cylinder: Callable[..., Any]
) -> None:
    numbers = [make_cylinder(serial).account.number for serial in ("C-1", "C-2", "C-3")]
    answer = owner_client.post(PAGE, {"cylinders": [numbers[0], numbers[2]]})
    sheet = f"/w/port-ellery/documents/issue/cylinder-labels/cylinders:{numbers[0]},{numbers[2]}/"
    assert (answer.status_code, answer["Location"]) == (303, sheet)
    shown = owner_client.get(sheet)
    assert shown.status_code == 200
    assert "C-3" in shown.content.decode()


def test_nothing_ticked_is_asked_for(owner_client: Client, make_cylinder: Callable[..., Any]) -> None:
    make_cylinder("C-1")
    answer = owner_client.post(PAGE, {})
    assert answer.status_code == 422
    assert "Choose at least one cylinder." in answer.content.decode()


def test_a_cylinder_that_is_not_here_is_refused(owner_client: Client, make_cylinder: Callable[..., Any]) -> None:
    make_cylinder("C-1")
    answer = owner_client.post(PAGE, {"cylinders": ["99"]})
    assert answer.status_code == 422
    assert "Cylinder 99 is not on the floor." in answer.content.decode()


def test_more_than_one_sheet_holds_is_said_with_how_many_fit_and_stays_ticked(
    owner_client: Client, make_cylinder: Callable[..., Any]
) -> None:
    numbers = [make_cylinder().account.number for _ in range(40)]
    answer = owner_client.post(PAGE, {"cylinders": numbers})
    page = answer.content.decode()
    assert answer.status_code == 422
    found = answer.context["form"].errors["cylinders"][0]
    most = int(found.split("at most ")[1].split(",")[0])
    assert found.startswith("40 are too many for one sheet.")
    assert page.count(" checked") == 40
    assert owner_client.post(PAGE, {"cylinders": numbers[:most]}).status_code == 303
    assert owner_client.post(PAGE, {"cylinders": numbers[: most + 1]}).status_code == 422


def test_an_empty_floor_says_so(owner_client: Client) -> None:
    assert "No cylinder stands here." in owner_client.get(PAGE).content.decode()


def test_a_reader_makes_no_labels(reader_client: Client) -> None:
    assert reader_client.get(PAGE).status_code == 403


def test_its_queries_do_not_grow_with_the_cylinders(owner_client: Client, make_cylinder: Callable[..., Any]) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            owner_client.get(PAGE)
        return len(found)

    make_cylinder()
    few = queries()
    for _ in range(5):
        make_cylinder()
    assert queries() == few


def converted(arrive: Callable[..., Any], make_vehicle: Callable[..., Any], owner: Any, now: Any) -> str:
    """Return the page that issues the label of a visit in which a vehicle was converted, and nothing else."""
    visit = arrive(make_vehicle(refrigerant="R-12"))
    facts = StepFacts(owner, data={"to": {"text": "R-134a"}, "lubricant": {"text": "ester, 150 mL"}})
    entering.convert(visit, occurred_at=now, key=uuid4(), facts=facts, to_refrigerant="R-134a")
    return f"/w/port-ellery/documents/issue/conversion-label/visit:{visit.number}/"


def test_what_a_conversion_label_lacks_is_asked_before_it_is_issued(
    owner_client: Client, owner: Any, arrive: Callable[..., Any], make_vehicle: Callable[..., Any], now: Any
) -> None:
    there = converted(arrive, make_vehicle, owner, now)
    page = owner_client.get(there)
    text = page.content.decode()
    assert "Trade name of the refrigerant" in text
    assert "Maker of the lubricant" in text
    assert "Lubricant and its amount" not in text  # it is entered
    assert "The charge is not entered" in text
    sent = {"key": str(uuid4()), "asked": "1", "trade_name": "Brisk 134"}
    refused = owner_client.post(there, sent)
    assert refused.status_code == 422
    assert "Enter who made the lubricant." in refused.content.decode()
    assert "Brisk 134" in refused.content.decode()
    assert Step.objects.filter(kind="conversion done").count() == 1
    sent["lubricant_maker"] = "Quay Oils"
    for _ in range(2):  # pressed twice it is entered once
        assert owner_client.post(there, sent)["Location"] == there
    after = owner_client.get(there).content.decode()
    assert "Trade name" not in after
    assert "The charge is not entered" in after
    standing = Step.objects.get(kind="conversion done", replaced_by__isnull=True)
    assert standing.data["trade_name"] == {"text": "Brisk 134"}
    assert standing.data["lubricant"] == {"text": "ester, 150 mL"}
    assert Conversion.objects.get().details["lubricant_maker"] == {"text": "Quay Oils"}
    assert not Document.objects.exists()


def test_the_address_is_asked_of_the_owner_alone(
    technician_client: Client,
    owner_client: Client,
    owner: Any,
    workshop: Any,
    arrive: Callable[..., Any],
    make_vehicle: Callable[..., Any],
    now: Any,
) -> None:
    workshop.address = ""
    workshop.save()
    there = converted(arrive, make_vehicle, owner, now)
    assert f"/w/port-ellery/settings/workshop/?back={there}" in owner_client.get(there).content.decode()
    assert "The owner enters it in the settings." in technician_client.get(there).content.decode()
