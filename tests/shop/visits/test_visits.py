"""Visits through their pages."""

from datetime import date
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from shop.models import Conversion, Step, Visit
from shop.visits import asked, kinds, steps
from shop.visits.spotcheck import SPOT_CHECK
from tests.answers import confirm
from tests.shop.visits.looking import Make

HOME = "/w/port-ellery/"


@pytest.fixture
def send(technician_client: Client) -> Make:
    """Send a form of a visit's page, of another person too, through the read-back page where one comes."""
    return lambda path, client=None, /, **fields: confirm(client or technician_client, HOME + path, fields)


@pytest.fixture
def handle(technician: Any) -> str:
    return str(technician.handle)


@pytest.fixture
def visit(send: Make, make_vehicle: Make, handle: str) -> Visit:
    make_vehicle("V1")
    response = send("visits/new/", registration="V1", state="runs", doer=handle)
    assert response.status_code == 303
    return Visit.objects.get()


def test_a_visit_starts_with_an_arrival_and_a_plate_not_seen_before_is_added(send: Make, handle: str) -> None:
    response = send("visits/new/", registration="AB 12 CDE", state="hose off", doer=handle)
    visit = Visit.objects.select_related("vehicle").get()
    assert response["Location"] == f"{HOME}visits/1/"
    assert visit.vehicle.registration == "AB 12 CDE"
    assert steps.text_of(visit.steps.get().data, "state") == "hose off"


def test_starting_twice_with_one_key_starts_once(send: Make, handle: str) -> None:
    key = str(uuid4())
    for _ in range(2):
        assert send("visits/new/", key=key, registration="TW 1", state="runs", doer=handle).status_code == 303
    assert Visit.objects.count() == 1


def test_a_visit_without_a_state_on_arrival_is_put_right_and_keeps_what_was_typed(send: Make, handle: str) -> None:
    response = send("visits/new/", registration="KEEP 1", doer=handle)
    assert response.status_code == 422
    assert "KEEP 1" in response.content.decode()
    assert not Visit.objects.exists()


SAMPLES: dict[str, Any] = {
    "mass": "550",
    "pressure": "4.7",
    "temperature": "20",
    "volume": "30",
    "duration": "20",
    "percent": "40",
    "number": "14",
    "rate": "0.1 oz a year",
    "distance": "120400",
    "look again": "in 12 months",
    "text": "as seen",
    "long text": "as seen",
    "photo": "P7",
    "when": "2025-03-03 10:00",
    "shares": "R-134a 99.2, air 0.8",
    "refrigerant": "R-134a",
}


def filled(kind: steps.StepKind, handle: str) -> dict[str, Any]:
    """Every field of a step filled in as a person would."""
    data: dict[str, Any] = {"doer": handle}
    for one in kind.fields:
        if one.choices:
            data[one.name] = one.choices[0]
        elif one.name == "barometer":
            data[one.name] = "1005 hPa"
        elif one.type == "person":
            data[one.name] = handle
        elif one.type in ("readings", "rises"):
            unit, values = ("psi", ("250", "251")) if one.type == "readings" else ("mbar", ("1.5", "4.5"))
            data |= {f"{one.name}_rows": "2", f"{one.name}_pressure_unit": unit}
            for row, (time, value) in enumerate(zip(("0", "20"), values, strict=True)):
                data |= {f"{one.name}_{row}_time": time, f"{one.name}_{row}_pressure": value}
                data |= {f"{one.name}_{row}_temperature": "22"} if one.type == "readings" else {}
        elif one.type != "instrument":
            data[one.name] = SAMPLES[one.type]
        if one.name in ("tolerance", "volume"):  # what is usual of a car
            data[one.name] = {"tolerance": "25", "volume": "2"}[one.name]
    if kind.name == "pulling vacuum":
        data |= {"lowest": "500", "lowest_unit": "micron"}
    return data


PLAIN = [kind for kind in kinds.KINDS if not kind.posts and kind.name != "hand-over"]


@pytest.mark.parametrize("kind", [kind for kind in PLAIN if kind.name != SPOT_CHECK], ids=lambda kind: kind.slug)
def test_every_step_is_entered_with_all_its_fields_and_stands_in_the_log(
    kind: steps.StepKind, visit: Visit, send: Make, handle: str, technician_client: Client
) -> None:
    path = f"visits/{visit.number}/add/{kind.slug}/"
    assert technician_client.get(HOME + path).status_code == 200
    response = send(path, **filled(kind, handle))
    assert response.status_code == 303, response.context["form"].errors
    step = Step.objects.filter(kind=kind.name).latest("id")
    open_fields = {one.name for one in asked.gaps(kind, step.data) if one.type != "instrument"}
    assert open_fields == set()
    assert kind.done in technician_client.get(f"{HOME}visits/{visit.number}/").content.decode()


@pytest.mark.parametrize("kind", PLAIN, ids=lambda kind: kind.slug)
def test_an_empty_step_is_refused_with_a_sentence_for_each_thing_it_cannot_be_without(
    kind: steps.StepKind, visit: Visit, send: Make
) -> None:
    count = Step.objects.count()
    response = send(f"visits/{visit.number}/add/{kind.slug}/", doer="")
    assert response.status_code == 422
    required = {one.name for one in kind.fields if one.need == steps.REQUIRED and one.only_if is None}
    assert required <= set(response.context["form"].errors)
    assert Step.objects.count() == count


WRONG = {
    "mass": "heavy",
    "pressure": "4.7.1",
    "temperature": "warm",
    "volume": "-3",
    "duration": "later",
    "percent": "140",
    "number": "many",
    "rate": "small",
    "when": "yesterday",
    "shares": "R-134a 12",
    "refrigerant": "R-9999",
    "instrument": "99999",
    "person": "p-nobody",
    "choice": "something else",
    "yes-no": "perhaps",
}


@pytest.mark.parametrize("kind", PLAIN, ids=lambda kind: kind.slug)
def test_what_cannot_be_read_gets_a_sentence_beside_its_field_and_stays_typed(
    kind: steps.StepKind, visit: Visit, send: Make, handle: str
) -> None:
    wrong = {one.name: WRONG[one.type] for one in kind.fields if one.type in WRONG}
    if not wrong:
        pytest.skip("every text is a text")
    response = send(f"visits/{visit.number}/add/{kind.slug}/", **{**filled(kind, handle), **wrong})
    assert response.status_code == 422
    assert set(wrong) <= set(response.context["form"].errors)
    typed = [
        text for name, text in wrong.items() if kind.field(name).type in ("mass", "pressure", "temperature", "number")
    ]
    assert all(text in response.content.decode() for text in typed)


def test_a_fuel_is_refused_as_a_flush(visit: Visit, send: Make, handle: str) -> None:
    flush = filled(kinds.BY_NAME["flush"], handle)
    response = send(f"visits/{visit.number}/add/flush/", **{**flush, "agent": "some Petrol"})
    assert response.status_code == 422
    assert "never a flush" in response.content.decode()


def test_a_hold_at_250_bar_is_a_question(visit: Visit, send: Make, handle: str) -> None:
    hold = {**filled(kinds.BY_NAME["pressure hold"], handle), "readings_pressure_unit": "bar"}
    response = send(f"visits/{visit.number}/add/pressure-hold/", **hold)
    assert response.status_code == 422
    assert "250 psi" in response.content.decode()


def test_a_step_entered_anew_replaces_the_old_and_both_stay(
    visit: Visit, send: Make, handle: str, technician_client: Client
) -> None:
    path = f"visits/{visit.number}/add/repair/"
    send(path, joint="hose", what="crimped", doer=handle)
    old = Step.objects.get(kind="repair")
    page = technician_client.get(f"{HOME}{path}?replaces={old.pk}").content.decode()
    assert "crimped" in page
    assert send(f"{path}?replaces={old.pk}", joint="hose", what="renewed", doer=handle).status_code == 303
    again = send(f"{path}?replaces={old.pk}", joint="hose", what="painted", doer=handle)
    assert again.status_code == 422
    assert Step.objects.filter(kind="repair").count() == 2
    assert Step.objects.get(replaces=old).data["what"]["text"] == "renewed"


def test_a_step_pressed_twice_is_written_once(visit: Visit, send: Make, handle: str) -> None:
    key = str(uuid4())
    for _ in range(2):
        answer = send(f"visits/{visit.number}/add/repair/", key=key, joint="hose", what="crimped", doer=handle)
        assert answer.status_code == 303
    assert Step.objects.filter(kind="repair").count() == 1


def test_a_late_step_keeps_both_times(visit: Visit, send: Make, handle: str) -> None:
    when = "2025-04-14 09:00"
    send(f"visits/{visit.number}/add/repair/", joint="hose", what="crimped", doer=handle, occurred_at=when)
    step = Step.objects.get(kind="repair")
    assert step.occurred_at.isoformat() == "2025-04-14T07:00:00+00:00"  # two hours ahead of UTC
    assert step.recorded_at > step.occurred_at


@pytest.mark.parametrize(("typed", "kept"), [("ester 100, 30 mL", "ester 100, 30 mL"), ("", "mineral oil")])
def test_a_conversion_makes_the_vehicle_one_for_the_new_refrigerant_and_its_lubricant(
    make_vehicle: Make, send: Make, handle: str, typed: str, kept: str
) -> None:
    vehicle = make_vehicle("OLD 1", refrigerant="R-12", lubricant="mineral oil")
    send("visits/new/", registration="OLD 1", state="runs", doer=handle)
    send("visits/1/add/conversion-done/", to="R-134a", lubricant=typed, doer=handle)
    vehicle.refresh_from_db()
    assert (vehicle.original_refrigerant, vehicle.refrigerant) == ("R-12", "R-134a")
    assert vehicle.lubricant == kept


def test_a_conversion_late_at_night_is_of_the_workshops_day(make_vehicle: Make, send: Make, handle: str) -> None:
    make_vehicle("OLD 1", refrigerant="R-12")
    send("visits/new/", registration="OLD 1", state="runs", doer=handle)
    send("visits/1/add/conversion-done/", to="R-134a", doer=handle, occurred_at="2025-04-14 00:30")  # 22:30 UTC
    assert Conversion.objects.get().done_on == date(2025, 4, 14)


def test_hand_over_lists_what_is_still_asked_and_happens_once(
    visit: Visit, send: Make, handle: str, technician_client: Client
) -> None:
    path = f"visits/{visit.number}/hand-over/"
    assert "standing pressure" in technician_client.get(HOME + path).content.decode()
    assert send(path, doer=handle, documents="invoice", signed="yes").status_code == 303
    visit.refresh_from_db()
    assert visit.state == Visit.CLOSED
    assert "handed over with" in technician_client.get(f"{HOME}visits/{visit.number}/").content.decode()
    assert send(path, doer=handle).status_code == 422


def test_a_visit_that_waits_says_for_what(visit: Visit, technician_client: Client) -> None:
    path = f"{HOME}visits/{visit.number}/"
    technician_client.post(path, {"state": "waiting", "waiting_for": "a condenser"})
    assert "waiting for a condenser" in technician_client.get(path).content.decode()


def test_a_reader_sees_visits_and_writes_nothing(visit: Visit, reader_client: Client, stranger_client: Client) -> None:
    number = visit.number
    assert reader_client.get(f"{HOME}visits/").status_code == 200
    assert reader_client.get(f"{HOME}visits/{number}/").status_code == 200
    for path in ("visits/new/", f"visits/{number}/add/repair/", f"visits/{number}/hand-over/"):
        assert reader_client.get(HOME + path).status_code == 403
        assert reader_client.post(HOME + path, {}).status_code == 403
    assert reader_client.post(f"{HOME}visits/{number}/", {"state": "waiting"}).status_code == 403
    assert stranger_client.get(f"{HOME}visits/{number}/").status_code == 404


@pytest.mark.parametrize("path", ["visits/999/", "visits/1/add/no-such-step/", "visits/1/add/repair/?replaces=x"])
def test_what_does_not_exist_is_not_found(path: str, visit: Visit, technician_client: Client) -> None:
    assert technician_client.get(HOME + path).status_code == 404


def test_the_list_filters_exports_and_costs_the_same_for_many(
    send: Make, handle: str, technician_client: Client
) -> None:
    def queries() -> int:
        technician_client.get(f"{HOME}visits/")
        with CaptureQueriesContext(connection) as caught:
            technician_client.get(f"{HOME}visits/")
        return len(caught)

    send("visits/new/", registration="P 0", state="runs", doer=handle)
    few = queries()
    for number in range(1, 12):
        send("visits/new/", registration=f"P {number}", state="runs", doer=handle)
    assert queries() == few
    only = technician_client.get(f"{HOME}visits/?plate=P 11").content.decode()
    assert "P 11" in only
    assert "P 7" not in only
    body = b"".join(technician_client.get(f"{HOME}visits/?format=csv"))
    assert body.count(b"\n") == 13


def test_the_log_costs_the_same_for_many_steps(
    visit: Visit, send: Make, handle: str, technician_client: Client
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            technician_client.get(f"{HOME}visits/{visit.number}/")
        return len(caught)

    send(f"visits/{visit.number}/add/repair/", joint="hose", what="crimped", doer=handle)
    few = queries()
    for _ in range(10):
        send(f"visits/{visit.number}/add/repair/", joint="hose", what="crimped", doer=handle)
    assert queries() == few
