"""The barometer in a visit's holds: gauge readings count from it, and an unlikely one is a question."""

import re

import pytest
from django.test import Client

from shop.models import Step, Visit
from shop.visits.inputs import hold_of, vacuum_of
from tests.shop.visits.looking import SEA_LEVEL_PA, Make

pytestmark = pytest.mark.django_db
HOME = "/w/port-ellery/"
IN_HG_PA = 3_386.389


@pytest.fixture
def visit(send_once: Make, make_vehicle: Make) -> Visit:
    make_vehicle("V1", volume_m3=0.002)
    assert send_once("visits/new/", registration="V1", state="runs").status_code == 303
    return Visit.objects.get()


def vacuum(*pressures: str, **more: str) -> dict[str, str]:
    rows = {f"readings_{row}_pressure": text for row, text in enumerate(pressures)}
    times = {f"readings_{row}_time": str(10 * row) for row in range(len(pressures))}
    whole = {"readings_rows": str(len(pressures)), "readings_pressure_unit": "inHg", "gauge_type": "relative"}
    return {**rows, **times, **whole, "coldest": "20", "coldest_unit": "C", **more}


def first_pa(step: Step) -> float:
    return float(step.data["readings"]["si"][0]["pressure_pa"])


@pytest.mark.parametrize(("barometer", "atmosphere_pa"), [({}, SEA_LEVEL_PA), ({"barometer": "1003 hPa"}, 100_300.0)])
def test_a_vacuum_below_the_atmosphere_counts_from_the_barometer(
    enter: Make, barometer: dict[str, str], atmosphere_pa: float
) -> None:
    assert enter("vacuum-hold", **vacuum("20 inHg below", "20 inHg below"), **barometer).status_code == 303
    step = Step.objects.get(kind="vacuum hold")
    assert first_pa(step) == pytest.approx(atmosphere_pa - 20 * IN_HG_PA, abs=20)
    assert vacuum_of(step, SEA_LEVEL_PA).atmosphere_pa == pytest.approx(atmosphere_pa, abs=5)


def test_an_absolute_reading_is_the_same_whatever_the_barometer_says(enter: Make) -> None:
    readings = vacuum("1.5 mbar abs", "1.7 mbar abs", barometer="1003 hPa")
    assert enter("vacuum-hold", **readings).status_code == 303
    assert first_pa(Step.objects.get(kind="vacuum hold")) == pytest.approx(150.0)


def test_a_vacuum_deeper_than_the_barometer_allows_is_put_right(enter: Make) -> None:
    answer = enter("vacuum-hold", **vacuum("29.8 inHg below", "29.8 inHg below", barometer="1000 hPa"))
    assert answer.status_code == 422
    assert answer.context["form"].errors["readings"]
    assert not Step.objects.filter(kind="vacuum hold").exists()


def test_an_unlikely_barometer_is_a_question_that_can_be_answered(enter: Make) -> None:
    readings = vacuum("20 inHg below", "20 inHg below", barometer="950 hPa")
    answer = enter("vacuum-hold", **readings)
    assert answer.status_code == 422
    choice = answer.context["form"]["barometer"].doubts[0]
    assert 'name="barometer_reading"' in answer.content.decode()
    assert enter("vacuum-hold", **readings, barometer_reading=choice.text).status_code == 303
    assert Step.objects.get(kind="vacuum hold").data["barometer"]["si"] == pytest.approx(95_000.0)


def test_a_barometer_that_no_weather_reaches_is_put_right(enter: Make) -> None:
    answer = enter("vacuum-hold", **vacuum("20 inHg below", "20 inHg below", barometer="700 hPa"))
    assert answer.status_code == 422
    assert "far from" in str(answer.context["form"].errors["barometer"])


def test_a_pressure_hold_counts_from_the_barometer_and_holds_with_the_gas_that_was_chosen(enter: Make) -> None:
    readings = {
        "readings_rows": "2",
        "readings_pressure_unit": "bar",
        "readings_temperature_unit": "C",
        **{f"readings_{row}_time": str(20 * row) for row in range(2)},
        **{f"readings_{row}_pressure": "17.2" for row in range(2)},
        **{f"readings_{row}_temperature": "20" for row in range(2)},
    }
    answer = enter("pressure-hold", **readings, gas="nitrogen with hydrogen", barometer="1003 hPa")
    assert answer.status_code == 303
    held = hold_of(Step.objects.get(kind="pressure hold"), SEA_LEVEL_PA)
    assert held.readings[0].pressure_pa == pytest.approx(17.2e5 + 100_300.0)
    assert (held.gas, held.atmosphere_pa) == ("nitrogen with hydrogen", 100_300.0)


ALLOWED = {"kind": "pressure", "name": "allowed", "allowed": "10", "allowed_unit": "bar"}


@pytest.mark.parametrize(
    ("typed", "pascal"),
    [
        ({}, 1e6 + SEA_LEVEL_PA),
        ({"barometer": "840", "barometer_unit": "mbar"}, 1e6 + 84_000),
        ({"barometer": "24.8", "barometer_unit": "inHg"}, 1e6 + 24.8 * IN_HG_PA),
        ({"barometer": "8o4", "barometer_unit": "mbar"}, 1e6 + SEA_LEVEL_PA),
    ],
)
def test_a_gauge_reading_is_echoed_from_the_barometer_that_is_typed_on_the_same_page(
    enter: Make, technician_client: Client, typed: dict[str, str], pascal: float
) -> None:
    echo = technician_client.get(f"{HOME}echo/", {**ALLOWED, **typed}).content.decode()
    [seen] = re.findall(r'value="allowed=([^"]+)"', echo)
    assert float(seen) == pytest.approx(pascal, abs=5)


def test_the_page_sends_the_barometer_to_the_echo_and_asks_anew_when_it_changes(
    enter: Make, technician_client: Client
) -> None:
    page = technician_client.get(f"{HOME}visits/1/add/pressure-hold/").content.decode()
    [block] = re.findall(r'<div class="quantity"[^>]*"name":"allowed"[^>]*>', page)
    assert 'hx-include="closest .quantity, [name^=barometer]"' in block
    assert "change from:[name^=barometer]" in block
