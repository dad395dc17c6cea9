"""What the echo says of a quantity while it is typed is what would be stored, whichever unit is chosen beside it."""

import html
import itertools
import json
import re
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.pages.views.echo import FIELDS
from shop.models import Visit
from shop.pages.forms.stepfields import Making
from shop.pages.forms.visits import step_form
from shop.visits.kinds import KINDS

pytestmark = pytest.mark.django_db
QUANTITIES = ("mass", "pressure", "temperature", "volume", "duration", "percent")
HOME = "/w/port-ellery/"
BLOCK = re.compile(r'<div class="quantity"[^>]*? hx-get="([^"]+)".*?hx-vals=\'([^\']+)\'(.*?)</output>', re.S)
UNIT = re.compile(r'name="\w+_unit" value="([^"]+)"')
SEEN = re.compile(r'name="seen" value="([^"]+)"')


@pytest.fixture(params=["kg, bar, C", "lb, psi, F"], ids=["metric", "US"])
def visit(request: pytest.FixtureRequest, workshop: Any, arrive: Any) -> Visit:
    workshop.mass_unit, workshop.pressure_unit, workshop.temperature_unit = request.param.split(", ")
    workshop.save()
    return arrive()


@pytest.mark.parametrize(
    "kind", [kind for kind in KINDS if any(one.type in QUANTITIES for one in kind.fields)], ids=lambda kind: kind.slug
)
def test_the_echo_is_what_would_be_stored(technician_client: Client, visit: Visit, kind: Any) -> None:
    form = step_form(kind, Making(visit.workshop))
    access = technician_client.get(f"{HOME}visits/{visit.number}/").wsgi_request.access
    blocks = BLOCK.findall(str(form(access=access).as_div()))
    assert blocks
    for at, vals, block in blocks:
        sent = json.loads(html.unescape(vals))
        name = sent["name"]
        for unit, text in itertools.product(UNIT.findall(block), ("15", "2.5", "0", "-5")):
            typed = {name: text, f"{name}_unit": html.unescape(unit)}
            answer = technician_client.get(at, {**sent, **typed})
            assert answer.status_code == 200
            filled = form({**typed, "key": str(uuid4())}, access=access)
            filled.is_valid()
            stored = filled.quantities()
            seen = SEEN.findall(answer.content.decode())
            if name in stored:
                assert seen == [f"{name}={stored[name]}"], (kind.name, unit)
                assert html.escape(filled.step_data[name]["echo"]) in answer.content.decode()
            elif not filled[name].doubts:  # what is unlikely is read, and asked about
                assert seen == [], (kind.name, unit)


def test_a_volume_of_oil_is_echoed_in_the_unit_chosen(technician_client: Client, workshop: Any) -> None:
    for unit in ("mL", "cc", "fl oz", "L"):
        sent = {"kind": "volume", "name": "oil_in", "what": "oil put in", "oil_in": "15", "oil_in_unit": unit}
        assert technician_client.get(f"{HOME}echo/", sent).content.decode().startswith(f"15 {unit}")


def test_a_unit_of_another_kind_is_no_fault_of_the_server(technician_client: Client, workshop: Any) -> None:
    for kind, unit in itertools.product(FIELDS, ("furlong", "<b>", "lb oz", "%", "", "x" * 300)):
        answer = technician_client.get(f"{HOME}echo/", {"kind": kind, "name": "x", "x": "15", "x_unit": unit})
        assert answer.status_code == 200
        assert "<b>" not in answer.content.decode()
