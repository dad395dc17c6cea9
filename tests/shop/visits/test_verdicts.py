"""What a step says on its pages, by the figures of the worked scenarios of the trade, through the pages.

Expected figures are worked by hand from the readings named beside them, with densities and saturation by CoolProp.
"""

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError
from django.test import Client

from shop.models import Step, Vehicle, Visit
from shop.visits.acts.entering import StepFacts, open_visit
from tests.shop.visits.looking import HOME, Make, verdicts


def acts_of(page: Any) -> list[Any]:
    return [*page.context["acts"], *(act for few in page.context["folded_acts"].values() for act in few)]


def test_a_running_test_says_its_findings_and_draws_the_cycle(
    start: Callable[..., Visit], step: Make, technician_client: Client
) -> None:
    visit = start(volume_m3=0.002)
    fields = {"air": "20", "humidity": "50", "low": "1.9", "high": "10.8", "low_unit": "bar", "high_unit": "bar"}
    assert step(visit, "running-test", vent="8", **fields).status_code == 303
    told = verdicts(visit)["running test"]
    assert told.sentence.startswith("Evaporating at")
    assert any("within the 7 to 10 C" in more for more in told.more)
    row = Step.objects.get(kind="running test")
    page = technician_client.get(f"{HOME}visits/{visit.number}/steps/{row.pk}/").content.decode()
    assert "into the compressor" in page


def test_a_step_of_another_visit_is_not_found(
    start: Callable[..., Visit], step: Make, technician_client: Client
) -> None:
    first = start(volume_m3=0.002)
    second = start(first.vehicle)
    row = Step.objects.get(visit=first)
    assert technician_client.get(f"{HOME}visits/{second.number}/steps/{row.pk}/").status_code == 404


def test_a_new_plate_and_its_visit_are_written_together_or_not_at_all(
    workshop: Any, technician: Any, now: datetime
) -> None:
    facts = {"opened_at": None, "step_key": uuid4(), "received": StepFacts(doer=technician)}
    with pytest.raises(IntegrityError):
        open_visit(workshop, "NEW 1", **facts)
    assert not Vehicle.objects.exists()
    visit = open_visit(workshop, "NEW 1", **{**facts, "opened_at": now})
    assert visit.vehicle.registration == "NEW 1"


def test_the_cylinder_page_leads_a_reader_to_the_check_for_air_with_what_is_known_of_it(
    technician_client: Client, reader_client: Client, make_cylinder: Make, workshop: Any
) -> None:
    c35 = make_cylinder(
        "C-35", kind="recovery", grade="recovered", mass_mg=5_060_000, tare_mg=6_360_000, water_capacity_m3=0.0119
    )
    of_who_writes = technician_client.get(f"{HOME}cylinders/{c35.account.number}/")
    own = next(one.href for one in acts_of(of_who_writes) if one.words == "Air in it")
    assert own == f"{HOME}cylinders/{c35.account.number}/air/"
    page = reader_client.get(f"{HOME}cylinders/{c35.account.number}/")
    air = next(one.href for one in acts_of(page) if one.words == "Air in it")
    form = reader_client.get(air)
    assert form.status_code == 200
    words = form.content.decode()
    assert 'value="5060 g"' in words
    assert 'value="11.9 L"' in words


def test_a_mixture_has_no_check_for_air(technician_client: Client, make_cylinder: Make, workshop: Any) -> None:
    mixed = make_cylinder("C-40", kind="recovery", refrigerant="MIXED", grade="suspect", mass_mg=465_000)
    page = technician_client.get(f"{HOME}cylinders/{mixed.account.number}/")
    assert "Air in it" not in [one.words for one in acts_of(page)]
