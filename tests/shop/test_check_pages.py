"""The pages of checks: an answer has an address, readers may use them, nothing is written."""

from typing import Any

import pytest
from django.test import Client

from shop import checks
from shop.models import Visit

HOME = "/w/port-ellery/checks/"
HOLD = {
    "volume": "2 L",
    "refrigerant": "r134a",
    "readings_rows": "2",
    "readings_pressure_unit": "psi",
    "readings_temperature_unit": "C",
    "readings_0_time": "0",
    "readings_0_pressure": "250",
    "readings_0_temperature": "20",
    "readings_1_time": "20",
    "readings_1_pressure": "250",
    "readings_1_temperature": "20",
}

pytestmark = pytest.mark.django_db


def test_all_checks_stand_on_one_page(reader_client: Client) -> None:
    body = reader_client.get(HOME).content.decode()
    for one in checks.CHECKS.values():
        assert one.line in body


@pytest.mark.parametrize("name", checks.CHECKS)
def test_each_page_opens_without_anything_to_put_right(reader_client: Client, name: str) -> None:
    response = reader_client.get(f"{HOME}{name}/")
    assert response.status_code == 200
    assert b"to put right" not in response.content


def test_a_hold_is_answered_with_drawing_and_figures(reader_client: Client) -> None:
    response = reader_client.get(f"{HOME}hold/", HOLD)
    body = response.content.decode()
    assert response.status_code == 200
    assert "No leak larger than" in body
    assert "<svg" in body
    assert "The figures" in body
    assert "Copy into a visit" not in body


def test_one_more_reading_keeps_what_was_typed(reader_client: Client) -> None:
    response = reader_client.get(f"{HOME}hold/", HOLD | {"readings_more": "1"})
    body = response.content.decode()
    assert response.status_code == 200
    assert 'name="readings_2_time"' in body
    assert 'value="250"' in body


def test_a_slip_of_a_unit_is_asked_about_and_kept(reader_client: Client) -> None:
    response = reader_client.get(f"{HOME}hold/", HOLD | {"readings_pressure_unit": "bar"})
    assert response.status_code == 422
    assert "Did you mean 250 psi" in response.content.decode()
    assert 'value="250"' in response.content.decode()


def test_an_open_visit_takes_the_typed_values(
    technician_client: Client, workshop: Any, make_vehicle: Any, now: Any
) -> None:
    vehicle = make_vehicle()
    visit = Visit.objects.create(workshop=workshop, vehicle=vehicle, number=1, opened_at=now)
    response = technician_client.get(f"{HOME}hold/", HOLD)
    ((shown, address),) = response.context["copies"]
    assert shown == visit
    step = technician_client.get(address).content.decode()
    assert 'name="readings_0_pressure" value="250"' in step
    assert 'value="2 L"' in step


def test_a_vacuum_and_a_running_test_are_drawn(reader_client: Client) -> None:
    rise = {"temperature": "20 C", "readings_rows": "2", "readings_pressure_unit": "mbar"}
    rise |= {
        "readings_0_time": "0",
        "readings_0_pressure": "1.0",
        "readings_1_time": "10",
        "readings_1_pressure": "1.0",
    }
    running = {"refrigerant": "r134a", "low": "2 bar", "high": "14 bar"}
    for name, sent in (("vacuum", rise), ("performance", running)):
        response = reader_client.get(f"{HOME}{name}/", sent)
        assert response.status_code == 200, response.content.decode()
        assert b"<svg" in response.content


def test_an_unknown_check_is_not_found(reader_client: Client) -> None:
    assert reader_client.get(f"{HOME}wine/").status_code == 404
