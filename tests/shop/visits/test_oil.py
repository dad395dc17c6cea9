"""The oil balance begins with what the log holds, and says from where."""

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from shop.models import Step, Visit

pytestmark = pytest.mark.django_db

FORM = "/w/port-ellery/visits/1/add/oil-balance/"
OUNCES = {"text": "1", "unit": "fl oz", "si": 2.95735295625e-05, "echo": "1 fl oz"}  # exact: 231 cubic inches / 128


@pytest.fixture
def visit(workshop: Any, make_vehicle: Any, now: Any) -> Visit:
    return Visit.objects.create(workshop=workshop, number=1, vehicle=make_vehicle(), opened_at=now)


@pytest.fixture
def add(visit: Visit, technician: Any, now: Any) -> Any:
    def added(kind: str, **data: Any) -> Step:
        facts = {"kind": kind, "doer": technician, "occurred_at": now, "data": data}
        return Step.objects.create(visit=visit, request_key=uuid4(), **facts)

    return added


def ml(text: str) -> dict[str, Any]:
    return {"text": text, "unit": "mL", "si": float(text) / 1e6, "echo": f"{text} mL"}


def test_the_balance_begins_with_the_oil_of_recovery_and_parts(owner_client: Client, visit: Visit, add: Any) -> None:
    add("recovery", oil_out=ml("15"))
    add("part out", part={"text": "compressor"}, oil_found=ml("20"))
    add("part in", part={"text": "compressor"}, oil_in=OUNCES)
    form = owner_client.get(FORM).context["form"]
    assert (form["out"].value().text, form["out"].value().unit) == ("35", "mL")
    assert (form["in"].value().text, form["in"].value().unit) == ("1", "fl oz")
    assert form["out"].help_text == (
        "Taken from the log: recovery 15 mL, part out (compressor) 20 mL. Change it where it differs."
    )
    assert "part in (compressor) 1 fl oz" in form["in"].help_text


def test_two_units_are_added_in_millilitres(owner_client: Client, visit: Visit, add: Any) -> None:
    add("recovery", oil_out=ml("15"))
    add("part out", part={"text": "hose"}, oil_found=OUNCES)
    assert owner_client.get(FORM).context["form"]["out"].value().text == "44.57"


def test_what_the_log_does_not_hold_stays_empty(owner_client: Client, visit: Visit, add: Any) -> None:
    add("part out", part={"text": "hose"})
    form = owner_client.get(FORM).context["form"]
    assert not form["out"].value()
    assert form["out"].help_text == ""


def test_a_replaced_step_counts_no_more(owner_client: Client, visit: Visit, add: Any) -> None:
    first = add("part out", part={"text": "hose"}, oil_found=ml("20"))
    anew = add("part out", part={"text": "hose"}, oil_found=ml("5"))
    Step.objects.filter(pk=anew.pk).update(replaces=first)
    assert owner_client.get(FORM).context["form"]["out"].value().text == "5"
