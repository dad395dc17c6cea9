"""The instrument of a step, entered from its own form or said to be none of those here; its lists, times and way on."""

from html import unescape
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
from django.test import Client

from inventory.models import Gauge
from shop.models import Step, Visit
from shop.visitlog import open_points, with_log

pytestmark = pytest.mark.django_db

HOME = "/w/port-ellery/"
FORM = f"{HOME}visits/1/add/standing-pressure/"
NOT_HERE = "one that is not entered here"
TYPED = {"pressure": "70", "pressure_unit": "psi", "note": "in the shade"}


@pytest.fixture
def visit(workshop: Any, make_vehicle: Any, now: Any) -> Visit:
    return Visit.objects.create(workshop=workshop, number=1, vehicle=make_vehicle(refrigerant="R-12"), opened_at=now)


def test_a_gauge_is_entered_from_the_step_and_what_was_typed_stays(owner_client: Client, visit: Visit) -> None:
    assert "Enter a gauge" in owner_client.get(FORM).content.decode()
    away = owner_client.post(FORM, {**TYPED, "go": "gauge gauge"})["Location"]
    assert urlsplit(away).path == f"{HOME}settings/instruments/new/"
    short = owner_client.get(away).context["form"]
    assert short["kind"].value() == "pressure gauge"
    assert [field.name for field in short.up_front] == ["name", "kind", "step"]
    assert not short.set_aside_open
    back = owner_client.post(away, {"name": "G1", "kind": "pressure gauge", "step": "1 psi"})["Location"]
    form = owner_client.get(back).context["form"]
    assert form["gauge"].value() == str(Gauge.objects.get(name="G1").pk)
    assert form["pressure"].value().text == "70"
    assert form["note"].value() == "in the shade"
    assert not Step.objects.exists()


@pytest.mark.parametrize(
    ("page", "words"),
    [
        ("identified", "an identifier"),
        ("leak-search", "a leak detector"),
        ("pressure-hold", "a thermometer"),
        ("vacuum-hold", "a gauge"),
    ],
)
def test_each_instrument_is_offered_by_its_name(owner_client: Client, visit: Visit, page: str, words: str) -> None:
    text = owner_client.get(f"{HOME}visits/1/add/{page}/").content.decode()
    assert f"Enter {words}</button>" in text
    assert f">{NOT_HERE}</option>" in text


def test_a_technician_is_told_who_enters_a_gauge_while_there_is_none(
    technician_client: Client, owner: Any, visit: Visit, book: Any
) -> None:
    said = f"A gauge is entered by the owner: {owner}."
    text = unescape(technician_client.get(FORM).content.decode())
    assert said in text
    assert "Enter a gauge" not in text
    Gauge.objects.create(book=book, name="G1", kind="pressure gauge")
    assert said not in technician_client.get(FORM).content.decode()


def asked(visit: Visit) -> str:
    found = with_log(Visit.objects.filter(pk=visit.pk)).select_related("workshop__book").get()
    return " ".join(point.words for point in open_points(found, found.workshop))


def test_a_gauge_that_is_not_entered_here_is_an_answer_and_is_asked_no_more(
    technician_client: Client, technician: Any, visit: Visit
) -> None:
    sent = {**TYPED, "coldest": "20", "coldest_unit": "C", "doer": technician.handle}
    assert technician_client.post(FORM, {**sent, "key": str(uuid4())}).status_code == 303
    assert "gauge" in asked(visit)
    anew = f"{FORM}?replaces={Step.objects.get().pk}"
    assert technician_client.post(anew, {**sent, "key": str(uuid4()), "gauge": NOT_HERE}).status_code == 303
    step = Step.objects.latest("pk")
    assert step.data["gauge"]["text"] == NOT_HERE
    assert "gauge" not in asked(visit)
    text = technician_client.get(f"{HOME}visits/1/").content.decode()
    assert "No gauge with a known step is entered" in text
    again = technician_client.get(f"{FORM}?replaces={step.pk}").context["form"]
    assert again["gauge"].value() == NOT_HERE


def test_the_time_of_a_reading_says_its_unit_and_takes_another(
    technician_client: Client, technician: Any, visit: Visit
) -> None:
    page = f"{HOME}visits/1/add/pressure-hold/"
    assert "</span>Time, min</label>" in technician_client.get(page).content.decode()
    rows = {"readings_rows": "2", "readings_pressure_unit": "psi"}
    for row, time in enumerate(("0", "20 min")):
        rows |= {f"readings_{row}_time": time, f"readings_{row}_pressure": "150"}
    sent = {"key": str(uuid4()), "doer": technician.handle, "gas": "dry nitrogen", **rows}
    assert technician_client.post(page, sent).status_code == 303
    assert [row["time_s"] for row in Step.objects.get().data["readings"]["si"]] == [0, 1200]


def test_refrigerants_of_vehicles_and_of_this_book_stand_first(
    owner_client: Client, visit: Visit, make_vehicle: Any
) -> None:
    make_vehicle("SECOND", refrigerant="R-450A")
    choices = dict(owner_client.get(f"{HOME}vehicles/new/").context["form"]["refrigerant"].field.choices)
    first = [code for code, _ in choices["in vehicles, or here"]]
    assert first == ["R-134a", "R-1234yf", "R-12", "R-744", "R-152a", "R-450A"]
    others = [code for code, _ in choices["all others"]]
    assert "R-410A" in others
    assert not set(first) & set(others)
    for page, name in (
        (f"{HOME}visits/1/add/label-read/", "refrigerant"),
        (f"{HOME}visits/1/add/conversion-done/", "to"),
    ):
        assert dict(owner_client.get(page).context["form"][name].field.choices)["in vehicles, or here"]


def test_a_long_visit_leads_to_its_newest_entry_and_to_the_next_step_from_its_head(
    technician_client: Client, technician: Any, visit: Visit
) -> None:
    for _ in range(2):
        sent = {**TYPED, "key": str(uuid4()), "doer": technician.handle, "coldest": "20", "coldest_unit": "C"}
        assert technician_client.post(FORM, sent).status_code == 303
    text = technician_client.get(f"{HOME}visits/1/").content.decode()
    for name in ("next-step", "newest", "asked"):
        assert text.count(f'id="{name}"') == 1
        assert text.index(f'href="#{name}"') < text.index('class="lines visit-log"')
    assert text.count('class="main"') == 1
