"""The forms of steps: what does not apply is neither kept nor said."""

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.models import Gauge
from shop.models import Certification, Step, Visit
from shop.visits.gas import identified_parts, label_of
from shop.visits.kinds import BY_NAME, KINDS
from shop.visits.log import log_of
from shop.visits.steps import applicable
from tests.answers import words
from tests.shop.visits.looking import Make, fetched

pytestmark = pytest.mark.django_db
HOME = "/w/port-ellery/"


@pytest.fixture
def identifier(book: Any) -> Gauge:
    return Gauge.objects.create(book=book, name="I1", kind="identifier", step=1.0)


@pytest.fixture
def visit(arrive: Any, make_vehicle: Any) -> Visit:
    return arrive(make_vehicle(refrigerant="R-134a", nameplate_mg=None), state="runs")


def kept(kind: str) -> dict[str, Any]:
    """Return the data of the newest step of a kind."""
    return dict(Step.objects.filter(kind=kind).latest("pk").data)


def test_no_identifier_here_keeps_no_instrument_though_one_was_chosen(enter: Make, identifier: Gauge) -> None:
    sent = {"result": "none here", "instrument": str(identifier.pk), "shares": "R-134a 99.2, air 0.8"}
    assert enter("identified", **sent).status_code == 303
    assert sorted(kept("identified")) == ["result"]
    assert enter("identified", **{**sent, "result": "used"}).status_code == 303
    assert sorted(kept("identified")) == ["instrument", "result", "shares"]


def test_no_label_keeps_nothing_of_a_label(enter: Make) -> None:
    sent = {"refrigerant": "R-12", "mass": "850", "mass_unit": "g", "lubricant": "mineral", "where": "strut"}
    assert enter("label-read", label="no label", **sent).status_code == 303
    assert sorted(kept("label read")) == ["label"]


def test_what_cannot_be_read_where_it_is_not_asked_for_stops_nothing(enter: Make) -> None:
    assert enter("label-read", label="no label", mass="heavy").status_code == 303
    assert enter("identified", result="none here", shares="a bit of both").status_code == 303
    assert enter("identified", result="used", shares="a bit of both").status_code == 422


def test_why_the_oil_differs_is_kept_where_it_differs_alone(enter: Make) -> None:
    sent = {"in": "30 mL", "type": "PAG 46", "why": "hose renewed"}
    assert enter("oil-balance", out="30 mL", **sent).status_code == 303
    assert "why" not in kept("oil balance")
    assert enter("oil-balance", out="20 mL", **sent).status_code == 303
    assert "why" in kept("oil balance")


def test_steps_written_before_say_nothing_that_does_not_apply(
    visit: Visit, technician: Any, technician_client: Client, now: datetime
) -> None:
    label = {"label": {"text": "no label"}, "refrigerant": {"text": "R-12"}, "mass": {"text": "850", "mg": 850_000}}
    found = {
        "result": {"text": "none here"},
        "instrument": {"text": "ID no. 1", "echo": "ID no. 1"},
        "shares": {"text": "R-12 99", "si": {"R-12": "0.99"}},
    }
    for kind, data in (("label read", label), ("identified", found)):
        Step.objects.create(visit=visit, kind=kind, occurred_at=now, doer=technician, data=data, request_key=uuid4())
    one = fetched(visit)
    assert [row.facts for row in log_of(one, one.workshop.units)[1:]] == [
        [("Label", "no label")],
        [("Identifier", "none here")],
    ]
    assert (label_of(one), identified_parts(one)) == (("R-134a", None), {})
    page = technician_client.get(f"{HOME}visits/{visit.number}/").content.decode()
    assert "ID no. 1" not in page
    assert "850" not in page


@pytest.mark.parametrize("kind", [kind for kind in KINDS if any(one.only_if for one in kind.fields)])
def test_what_depends_on_a_choice_stands_behind_it_and_is_marked(
    technician_client: Client, visit: Visit, kind: Any
) -> None:
    page = technician_client.get(f"{HOME}visits/{visit.number}/add/{kind.slug}/").content.decode()
    depends = [one for one in kind.fields if one.only_if is not None]
    decider, answers = depends[0].only_if
    assert all(one.only_if == (decider, answers) for one in depends)  # the style sheet knows one choice a form
    assert page.count("data-asks-for-more") == len(answers)
    for one in depends:
        block = re.search(rf'class="field depends"(?:(?!class="field).)*?name="{one.name}"', page, re.S)
        assert block is not None, one.name
        assert page.index(f'name="{decider}"') < block.start()


def test_an_answer_that_was_never_given_rules_nothing_out() -> None:
    data = {"mass": {"text": "850"}, "book": {"text": "known"}}
    assert applicable(BY_NAME["label read"], data) == data
    assert applicable(None, data) == data


@pytest.fixture
def certified(technician: Any) -> Certification:
    return Certification.objects.create(
        user=technician, scheme="section 609", number="T1", issued_on=date(2020, 1, 1), expires_on=date(2026, 5, 3)
    )


def certificate_words(client: Client, visit: Visit, kind: str = "circuit-opened", **sent: str) -> str:
    """Return what the form says of the doer's certificate."""
    at = f"{HOME}visits/{visit.number}/add/{kind}/"
    answer = client.post(at, {"key": str(uuid4()), **sent}) if sent else client.get(at)
    return str(answer.context["form"].certificate_words)


def test_a_certificate_that_ran_out_is_said_and_the_step_is_written(
    enter: Make, technician_client: Client, visit: Visit, certified: Certification, owner: Any
) -> None:
    answer = technician_client.get(f"{HOME}visits/{visit.number}/add/circuit-opened/")
    page = answer.content.decode()
    assert "Tomas Lind: certificate ran out on 2026-05-03. It is written as it was" in page
    assert re.search(r"<details open><summary>When, who, note", page)
    assert certificate_words(technician_client, visit, "repair") == ""
    assert enter("circuit-opened", what="hose").status_code == 303


def test_somebody_who_answers_for_it_and_holds_one_ends_the_question(
    technician_client: Client, technician: Any, visit: Visit, certified: Certification, owner: Any
) -> None:
    sent = {"doer": technician.handle, "what": ""}
    assert certificate_words(technician_client, visit, **sent) != ""
    Certification.objects.create(user=owner, scheme="section 609", number="O1", never_expires=True)
    assert certificate_words(technician_client, visit, **sent, answers=owner.handle) == ""
    assert certificate_words(technician_client, visit, **{**sent, "doer": owner.handle}) == ""


def test_the_day_of_the_step_decides_whether_a_certificate_held(
    technician_client: Client, technician: Any, visit: Visit, certified: Certification
) -> None:
    sent = {"doer": technician.handle, "what": ""}
    assert certificate_words(technician_client, visit, **sent, occurred_at="2026-05-03 17:00") == ""
    assert "ran out" in certificate_words(technician_client, visit, **sent, occurred_at="2026-05-04 08:00")
    assert "holds on that day" in certificate_words(technician_client, visit, **sent, occurred_at="2019-05-04 08:00")


@pytest.mark.parametrize(("jurisdiction", "said"), [("none", ""), ("us", "no certificate entered")])
def test_a_certificate_that_was_never_entered_is_missed_where_rules_ask_for_one(
    technician_client: Client, visit: Visit, workshop: Any, jurisdiction: str, said: str
) -> None:
    workshop.jurisdiction = jurisdiction
    workshop.save()
    assert said in certificate_words(technician_client, visit)
    assert bool(certificate_words(technician_client, visit)) == bool(said)


def test_a_certificate_that_is_missing_is_entered_from_there_or_the_page_says_who_can(
    technician_client: Client, owner_client: Client, visit: Visit, certified: Certification, owner: Any
) -> None:
    at = f"{HOME}visits/{visit.number}/add/circuit-opened/"
    sent = {"key": str(uuid4()), "doer": certified.user.handle, "what": "hose at the drier", "change": "1"}
    button = f'name="go" value="certificate {certified.user.handle}"'
    assert button in owner_client.post(at, sent).content.decode()
    own = technician_client.post(at, sent)
    assert "A certificate is entered by the owner: Olga Moreau." in words(own)
    assert 'value="certificate ' not in own.content.decode()
    others = technician_client.post(at, {**sent, "doer": owner.handle})
    assert others.context["form"].certificate_words == ""  # of the owner none was entered, and none is asked for
    Certification.objects.create(user=owner, scheme="section 609", number="O1", expires_on=date(2026, 5, 3))
    others = technician_client.post(at, {**sent, "doer": owner.handle})
    assert "A certificate is entered by the owner: Olga Moreau." in words(others)
    assert 'value="certificate ' not in others.content.decode()

    there = owner_client.post(at, {**sent, "go": f"certificate {certified.user.handle}"}).headers["Location"]
    assert there.startswith(f"{HOME}people/{certified.user.handle}/certificate/?back=")
    held = {"scheme": "section 609", "number": "T2", "never_expires": "on"}
    back = owner_client.post(there, held).headers["Location"]
    assert back.startswith(at)
    again = owner_client.get(back)
    assert "hose at the drier" in words(again)
    assert again.context["form"].certificate_words == ""


def test_who_is_meant_by_a_certificate_must_be_somebody_an_address_can_name(
    technician_client: Client, visit: Visit
) -> None:
    at = f"{HOME}visits/{visit.number}/add/circuit-opened/"
    for name in ("", "a/b"):
        answer = technician_client.post(at, {"key": str(uuid4()), "go": f"certificate {name}", "change": "1"})
        assert answer.status_code == 200


def test_a_time_ahead_of_the_clock_is_answered_by_now(enter: Make) -> None:
    ahead = (datetime.now(UTC) + timedelta(minutes=10)).isoformat()
    refused = enter("repair", joint="drier", what="seal", occurred_at=ahead)
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "That time is still to come: it is " in page
    assert '<button name="occurred_at_reading" value="now">Now, ' in page
    assert 'value="seal"' in page
    assert enter("repair", joint="drier", what="seal", occurred_at=ahead, occurred_at_reading="now").status_code == 303
    assert abs(Step.objects.get(kind="repair").occurred_at - datetime.now(UTC)) < timedelta(minutes=5)


def test_numbers_name_their_unit_and_an_absolute_pressure_is_not_below_the_air(
    technician_client: Client, visit: Visit
) -> None:
    page = technician_client.get(f"{HOME}visits/{visit.number}/add/leak-search/").content.decode()
    assert "Smallest leak it shows" in page
    assert "g a year" in page
    assert "below atmosphere" in page
    page = technician_client.get(f"{HOME}visits/{visit.number}/add/pulling-vacuum/").content.decode()
    assert "below atmosphere" not in page


def test_a_step_entered_anew_keeps_the_units_it_was_typed_in(enter: Make, technician_client: Client, us: Any) -> None:
    rows = {"readings_rows": "2", "readings_pressure_unit": "bar", "readings_temperature_unit": "C"}
    for row, time in enumerate(("0", "20")):
        rows |= {f"readings_{row}_time": time, f"readings_{row}_pressure": "10.3"}
    assert enter("pressure-hold", gas="dry nitrogen", allowed="12", allowed_unit="bar", **rows).status_code == 303
    step = Step.objects.get(kind="pressure hold")
    page = technician_client.get(f"{HOME}visits/{step.visit.number}/add/pressure-hold/?replaces={step.pk}")
    form = page.context["form"]
    assert form.initial["allowed"].unit == "bar"
    assert [row["pressure_unit"] for row in form.initial["readings"]] == ["bar", "bar"]


def test_a_label_that_was_read_says_something(enter: Make) -> None:
    said = enter("label-read", label="label read", where="strut")
    assert said.status_code == 422
    assert "Enter what the label says" in str(said.context["form"].errors["refrigerant"])
    assert enter("label-read", label="cannot be read").status_code == 303
    assert enter("label-read", label="label read", refrigerant="R-134a").status_code == 303
