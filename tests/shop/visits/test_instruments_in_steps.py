"""The instrument of a step, entered from its own form or said to be none of those here; its lists, times and way on."""

from html import unescape
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
from django.test import Client

from inventory.models import Gauge
from shop.models import Step, Visit
from tests.shop.visits.looking import asked

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
    log = text.index('class="lines visit-log"')
    for name in ("next-step", "newest", "asked"):
        assert text.count(f'id="{name}"') == 1
    for before in ('href="#newest"', 'id="next-step"', 'id="asked"'):
        assert text.index(before) < log
    assert text.count('class="main"') == 1


NEW = f"{HOME}settings/instruments/new/"
PSI_PA, OZ_G = 6_894.757, 28.349523


@pytest.mark.parametrize(
    ("kind", "typed", "unit", "si"),
    [
        ("leak detector", "0.25 oz a year", "", 0.25 * OZ_G),
        ("leak detector", "0.25", "", 0.25 * OZ_G),
        ("leak detector", "0.1 oz/yr", "", 0.1 * OZ_G),
        ("leak detector", "5 g per year", "oz a year", 5.0),
        ("leak detector", "3 g/a", "", 3.0),
        ("leak detector", "5", "g a year", 5.0),
        ("pressure gauge", "1", "", PSI_PA),
        ("pressure gauge", "1", "bar", 100_000.0),
        ("pressure gauge", "1 psig", "", PSI_PA),
        ("pressure gauge", "0.5 inHg", "", 0.5 * 3_386.389),
        ("pressure gauge", "± 2 psi", "", 2 * PSI_PA),
        ("vacuum gauge", "1", "", 0.1333224),
        ("vacuum gauge", "0.1 mbar", "", 10.0),
        ("thermometer", "1", "", 5 / 9),
        ("thermometer", "1", "psi", 5 / 9),  # a unit that was shown before the kind was chosen
        ("thermometer", "0.5 °C", "F", 0.5),
        ("thermometer", "+/- 2 F", "", 10 / 9),
        ("identifier", "1 %", "", 1.0),
    ],
)
def test_each_kind_reads_what_such_instruments_state(
    owner_client: Client, in_pounds: Any, kind: str, typed: str, unit: str, si: float
) -> None:
    sent = {"name": "G1", "kind": kind, "step": typed, "accuracy": typed, "step_unit": unit, "accuracy_unit": unit}
    answer = owner_client.post(NEW, sent)
    assert answer.status_code == 303, answer.context["form"].errors
    one = Gauge.objects.get(name="G1")
    assert one.step == pytest.approx(si, rel=1e-5)
    assert one.accuracy == pytest.approx(si, rel=1e-5)
    again = owner_client.post(f"{HOME}settings/instruments/{one.pk}/", {**sent, **one.typed})
    assert again.status_code == 303
    one.refresh_from_db()
    assert one.step == pytest.approx(si, rel=1e-5)


@pytest.mark.parametrize(
    ("kind", "field", "typed", "words"),
    [
        ("pressure gauge", "accuracy", "1 %", "1 % of 300 psi is 3 psi"),
        ("vacuum gauge", "accuracy", "10 %", "Write the limit of error such as 1 micron."),
        ("thermometer", "accuracy", "1 %", "Write the limit of error such as 1 F."),
        ("leak detector", "accuracy", "10 %", "Write the limit of error such as 0.25 oz a year."),
        ("pressure gauge", "step", "1 %", "smallest change that it shows"),
        ("thermometer", "step", "1 psi", "“psi” is no unit for the step of a thermometer. Write the step such as 1 F."),
        ("leak detector", "step", "5 ppm", "“ppm” is no unit for the step of a leak detector."),
        ("pressure gauge", "step", "fine", "“fine” is no step that can be read here. Write the step such as 1 psi."),
        ("pressure gauge", "step", "-1 psi", "no step that can be read here"),
        ("pressure gauge", "accuracy", "0 psi", "A limit of error of nothing at all cannot be."),
    ],
)
def test_what_cannot_be_read_is_said_of_its_own_field_with_what_to_write(
    owner_client: Client, in_pounds: Any, kind: str, field: str, typed: str, words: str
) -> None:
    answer = owner_client.post(NEW, {"name": "G1", "kind": kind, field: typed})
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert list(errors) == [field]
    assert words in errors[field][0]
    assert answer.context["form"][field].value().text == typed
    assert not Gauge.objects.exists()


def test_the_units_of_the_kind_stand_beside_the_step_with_the_books_own_chosen(
    owner_client: Client, in_pounds: Any
) -> None:
    page = owner_client.get(f"{NEW}?kind=leak+detector").content.decode()
    assert '<option value="oz a year" selected' in page
    assert '<option value="psi"' not in page
    assert "A number alone is in oz a year." in page
    all_kinds = owner_client.get(NEW).content.decode()
    assert '<option value="psi">' in all_kinds  # none chosen before the kind is
    assert "psi of a pressure gauge, micron of a vacuum gauge" in all_kinds
