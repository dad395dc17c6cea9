"""Air in a cylinder, kept with the cylinder: the page, the words, and that it is kept once."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from inventory.book.refusals import LedgerError, RequestKeyReused
from inventory.gases import purity
from inventory.models import AirCheck, Cylinder, Entry, Gauge
from inventory.shelf import airchecks
from tests.answers import read_back, words

pytestmark = pytest.mark.django_db
G = 1_000
AT_25_C = 298.15
SATURATED_PA = 665_400.0  # R-134a at 25 C by the property data that the module itself uses


def reading(**changed: Any) -> airchecks.AirReading:
    fields: dict[str, Any] = {
        "pressure_pa": SATURATED_PA + 60_000,
        "temperature_k": AT_25_C,
        "waited_s": 14 * 3600.0,
        "shaded": True,
        "gauge": None,
        "typed": {"pressure": "6.2 bar"},
    }
    return airchecks.AirReading(**{**fields, **changed})


def sent(**changed: str) -> dict[str, str]:
    fields = {
        "key": str(uuid4()),
        "pressure": "6.3",
        "pressure_unit": "bar",
        "temperature": "25",
        "temperature_unit": "C",
        "waited": "14",
        "waited_unit": "h",
        "shaded": "yes",
        "gauge": "",
    }
    return {**fields, **changed}


def address(cylinder: Cylinder) -> str:
    return f"/w/port-ellery/cylinders/{cylinder.account.number}/"


def test_a_reading_is_read_back_and_then_kept_with_the_cylinder(technician_client: Client, cylinder: Cylinder) -> None:
    at = address(cylinder)
    data = sent()
    back = words(technician_client.post(f"{at}air/", data))
    assert "Read this back" in back
    assert "Before it is bled: each gram of air" in back
    assert not AirCheck.objects.exists()
    _, answer = read_back(technician_client, f"{at}air/", data)
    assert answer.status_code == 303
    check = AirCheck.objects.get()
    assert (check.account_id, check.held_mg, check.refrigerant) == (cylinder.account_id, 5_000 * G, "R-134a")
    page = words(technician_client.get(at))
    assert "Air in it" in page
    assert " ".join(check.words.split()) in page


def test_the_same_form_sent_twice_is_kept_once(technician_client: Client, cylinder: Cylinder) -> None:
    at, data = f"{address(cylinder)}air/", sent()
    assert read_back(technician_client, at, data)[1].status_code == 303
    again = technician_client.post(at, data)
    assert again.status_code == 303
    assert AirCheck.objects.count() == 1
    assert "Already kept, once." in words(technician_client.get(again.url))


def test_the_same_form_with_another_reading_is_refused(technician_client: Client, cylinder: Cylinder) -> None:
    at, data = f"{address(cylinder)}air/", sent()
    read_back(technician_client, at, data)
    assert technician_client.post(at, {**data, "pressure": "6.9"}).status_code == 409
    assert AirCheck.objects.count() == 1


def test_a_check_moves_nothing(technician_client: Client, cylinder: Cylinder) -> None:
    lines = Entry.objects.count()
    read_back(technician_client, f"{address(cylinder)}air/", sent())
    assert Entry.objects.count() == lines


def test_a_reader_cannot_keep_one(reader_client: Client, cylinder: Cylinder) -> None:
    assert reader_client.post(f"{address(cylinder)}air/", sent()).status_code == 403
    assert not AirCheck.objects.exists()


def test_what_was_typed_stays_beside_what_is_to_be_put_right(technician_client: Client, cylinder: Cylinder) -> None:
    answer = technician_client.post(f"{address(cylinder)}air/", sent(temperature="warm"))
    assert answer.status_code == 422
    assert 'value="warm"' in words(answer)
    assert 'value="6.3"' in words(answer)


def test_a_pressure_that_can_only_be_psi_is_a_question(technician_client: Client, cylinder: Cylinder) -> None:
    answer = technician_client.post(f"{address(cylinder)}air/", sent(pressure="250"))
    assert answer.status_code == 422
    assert 'name="pressure_reading"' in words(answer)


def test_the_air_is_that_of_the_vapour_space(cylinder: Cylinder) -> None:
    judged = airchecks.judge(cylinder, ("R-134a", "virgin", 5_000 * G), reading(gauge=Gauge(step=1_000.0)))
    # by hand: 12 L less 5 kg of liquid at 1.207 kg/L leaves 8.1 L with its vapour; 0.6 bar of air at 25 C is 0.70 g/L
    assert judged.air_ppm == pytest.approx(1_130, rel=0.05)
    assert "ppm by mass" in judged.words


def test_saturation_is_no_air_to_speak_of(cylinder: Cylinder) -> None:
    judged = airchecks.judge(cylinder, ("R-134a", "virgin", 5_000 * G), reading(pressure_pa=SATURATED_PA))
    assert "No more than about" in judged.words
    assert "bled" not in judged.words


@pytest.mark.parametrize(
    ("content", "changed", "why"),
    [
        (("MIXED", "suspect", 5_000 * G), {}, airchecks.IS_MIXED),
        (("R-134a", "suspect", 5_000 * G), {}, airchecks.IS_SUSPECT),
        (("R-134a", "virgin", 5_000 * G), {"waited_s": None}, airchecks.NOT_SAID_WAITED),
        (("R-134a", "virgin", 5_000 * G), {"waited_s": 7200.0}, "It stood 2 hours, and 12 are asked"),
        (("R-134a", "virgin", 5_000 * G), {"shaded": None}, airchecks.NOT_SAID_SHADED),
        (("R-134a", "virgin", 5_000 * G), {"shaded": False}, airchecks.NOT_SHADED),
        (("R-134a", "virgin", 100 * G), {}, "There is no liquid"),
        (("R-134a", "virgin", 5_000 * G), {"pressure_pa": 300_000.0}, "below saturation"),
    ],
)
def test_where_there_is_no_verdict_it_says_why(
    cylinder: Cylinder, content: airchecks.Content, changed: dict[str, Any], why: str
) -> None:
    judged = airchecks.judge(cylinder, content, reading(**changed))
    assert judged.verdict == purity.NO_VERDICT
    assert judged.words.startswith(why) or why in judged.words
    assert judged.air_ppm is None


def test_a_refrigerant_without_property_data_has_no_verdict(make_cylinder: Callable[..., Cylinder]) -> None:
    found = make_cylinder(refrigerant="R-426A", mass_mg=5_000 * G)
    judged = airchecks.judge(found, ("R-426A", "virgin", 5_000 * G), reading())
    assert judged.verdict == purity.NO_VERDICT
    assert "no property data" in judged.words.lower()


def test_an_empty_cylinder_has_nothing_to_judge(make_cylinder: Callable[..., Cylinder]) -> None:
    empty = make_cylinder()
    with pytest.raises(LedgerError, match="nothing in it"):
        airchecks.note_air_check(empty, reading(), key=uuid4(), actor="p", occurred_at=timezone.now())


def test_a_key_serves_one_cylinder(cylinder: Cylinder, make_cylinder: Callable[..., Cylinder]) -> None:
    key, other = uuid4(), make_cylinder(mass_mg=3_000 * G)
    airchecks.note_air_check(cylinder, reading(), key=key, actor="p", occurred_at=timezone.now())
    with pytest.raises(RequestKeyReused):
        airchecks.note_air_check(other, reading(), key=key, actor="p", occurred_at=timezone.now())


def test_older_checks_stay_listed(technician_client: Client, cylinder: Cylinder) -> None:
    for pressure in ("6.3", "5.7"):
        read_back(technician_client, f"{address(cylinder)}air/", sent(pressure=pressure))
    page = words(technician_client.get(address(cylinder)))
    assert all(" ".join(check.words.split()) in page for check in AirCheck.objects.all())
