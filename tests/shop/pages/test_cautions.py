"""Cautions: in full before the button until a person has read them, once in a visit; then one line that opens."""

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import uuid4

from django.test import Client

from inventory.gases.cautions import CAUTIONS, cautions_for
from inventory.models import Entry
from shop.models import Step, Visit
from tests.answers import words

HOME = "/w/port-ellery/"
OPEN = 'id="cautions-full"'
OF_A_CHARGE = cautions_for("charge", "charge-high-side", "charge-liquid-low-side")


def leg_of(cylinder: Any, number: int = 1) -> str:
    return f"{HOME}visits/{number}/charge/?source={cylinder.account.number}"


def press(client: Client, page: str, **typed: str) -> Any:
    """Press the button below the cautions that the page shows in full."""
    text = client.get(page).content.decode()
    sent = text.partition('<button name="go" value="cautions')[2].partition('"')[0]
    return client.post(page, {"go": f"cautions{sent}", **typed})


def test_unread_they_stand_in_full_between_the_fields_and_the_button(
    arrive: Callable[..., Visit], cylinder: Any, scale: Any, technician_client: Client
) -> None:
    arrive()
    text = words(technician_client.get(leg_of(cylinder)))
    first_field, button = text.index('class="field'), text.index('<button class="main"')
    for one in OF_A_CHARGE:
        assert text.index(one.heading) < first_field < text.index(one.sentence) < button


def test_read_they_fold_for_that_person_in_that_visit_with_what_was_typed(
    arrive: Callable[..., Visit],
    make_vehicle: Any,
    cylinder: Any,
    scale: Any,
    technician_client: Client,
    owner_client: Client,
    now: datetime,
) -> None:
    visit = arrive()
    Visit.objects.create(workshop=visit.workshop, number=2, vehicle=make_vehicle("V2"), opened_at=now)
    lines = Entry.objects.count()
    answer = press(technician_client, leg_of(cylinder), key=str(uuid4()), before="11.200", note="cold")
    assert answer.status_code == 200
    assert answer.context["form"]["note"].value() == "cold"
    assert "11.200" in answer.content.decode()
    text = words(technician_client.get(leg_of(cylinder)))
    assert "<summary>Cautions (5), read at " in text
    assert "Read, fold" not in text
    assert all(one.sentence in text for one in OF_A_CHARGE)
    assert "Read, fold them" in words(technician_client.get(leg_of(cylinder, 2)))
    assert "Read, fold them" in words(owner_client.get(leg_of(cylinder)))
    assert (Entry.objects.count(), Step.objects.filter(kind="charge").count()) == (lines, 0)


def test_one_that_is_new_for_the_act_comes_open(
    arrive: Callable[..., Visit], cylinder: Any, scale: Any, technician_client: Client
) -> None:
    arrive()
    press(technician_client, leg_of(cylinder), key=str(uuid4()))
    text = words(technician_client.get(f"{HOME}visits/1/add/leak-search/"))
    assert "<summary>Caution (1), read at " in text
    unread = text.partition(OPEN)[2]
    assert CAUTIONS["relieve"].sentence in unread
    assert CAUTIONS["decomposition"].sentence not in unread


def test_a_page_without_a_form_is_shown_again(
    arrive: Callable[..., Visit], make_vehicle: Any, technician_client: Client
) -> None:
    arrive(make_vehicle("V1", electric_compressor=True))
    answer = press(technician_client, f"{HOME}visits/1/")
    assert (answer.status_code, answer["Location"]) == (303, f"{HOME}visits/1/")
    assert "read at " in words(technician_client.get(f"{HOME}visits/1/"))


def test_outside_a_visit_they_are_read_once_a_day(cylinder: Any, scale: Any, technician_client: Client) -> None:
    page = f"{HOME}cylinders/{cylinder.account.number}/weigh/"
    press(technician_client, page, key=str(uuid4()))
    assert "<summary>Caution (1), read at " in words(technician_client.get(page))
    session = technician_client.session
    kept = session["cautions"]
    session["cautions"] = {"port-ellery 2020-01-01": next(iter(kept.values()))}
    session.save()
    assert "Read, fold it" in words(technician_client.get(page))


def test_what_is_unknown_is_not_kept(arrive: Callable[..., Visit], cylinder: Any, technician_client: Client) -> None:
    arrive()
    technician_client.post(leg_of(cylinder), {"go": f"cautions {'x' * 900} heat made-up"})
    technician_client.post(leg_of(cylinder), {"go": "cautions"})
    ((name, read),) = technician_client.session["cautions"].items()
    assert list(read) == ["heat"]
    assert len(name) < 100
