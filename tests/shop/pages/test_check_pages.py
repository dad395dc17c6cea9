"""The pages of checks: an answer has an address, readers may use them, nothing is written."""

from typing import Any

import pytest
from django.test import Client

from shop.checks import registry as checks
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


# Doubt is a question


def test_a_slip_of_a_unit_is_answered_by_a_button(reader_client: Client) -> None:
    slip = HOLD | {"readings_pressure_unit": "bar"}
    body = reader_client.get(f"{HOME}hold/", slip).content.decode()
    assert '<button name="readings_reading" value="unit: psi">All pressures in psi</button>' in body
    assert "as_read=yes" not in body
    meant = reader_client.get(f"{HOME}hold/", slip | {"readings_reading": "unit: psi"})
    assert meant.status_code == 200
    assert meant.context["answer"].sentence == reader_client.get(f"{HOME}hold/", HOLD).context["answer"].sentence


def test_that_it_does_read_so_can_be_said(reader_client: Client) -> None:
    little = HOLD | {"readings_0_pressure": "10", "readings_1_pressure": "10"}
    asked = reader_client.get(f"{HOME}hold/", little)
    assert asked.status_code == 422
    assert '<button name="readings_reading" value="=">It does read so</button>' in asked.content.decode()
    assert reader_client.get(f"{HOME}hold/", little | {"readings_reading": "="}).status_code == 200


def test_each_reading_of_a_doubtful_text_is_a_button(reader_client: Client) -> None:
    sent = {"refrigerant": "r134a", "temperature": "20 C", "pressure": "1,234 bar"}
    body = reader_client.get(f"{HOME}air/", sent).content.decode()
    assert '<button name="pressure_reading" value="1.234 bar">1.234 bar</button>' in body
    assert "Choices:" not in body
    meant = reader_client.get(f"{HOME}air/", sent | {"pressure_reading": "1.234 bar"})
    assert meant.status_code == 200
    assert 'value="1.234 bar"' in meant.content.decode()


def test_a_doubtful_row_is_answered_in_its_row(reader_client: Client) -> None:
    doubtful = HOLD | {"readings_1_pressure": "1,234 bar", "readings_0_pressure": "1.3 bar"}
    body = reader_client.get(f"{HOME}hold/", doubtful).content.decode()
    assert '<button name="readings_reading" value="2: 1.234 bar">1.234 bar</button>' in body
    meant = reader_client.get(f"{HOME}hold/", doubtful | {"readings_reading": "2: 1.234 bar"})
    assert meant.status_code == 200
    assert 'name="readings_1_pressure" value="1.234 bar"' in meant.content.decode()


# Taken along


@pytest.mark.parametrize(
    ("name", "typed", "step", "kept"),
    [
        ("identify", {"pressure": "4.7 bar", "temperature": "20 C"}, "standing-pressure", ["4.7 bar", "20 C"]),
        (
            "performance",
            {"refrigerant": "r134a", "low": "2 bar", "high": "14 bar", "ambient": "30 C", "humidity": "50 %"},
            "running-test",
            ["2 bar", "14 bar", "30 C", "50 %"],
        ),
    ],
)
def test_a_visit_takes_what_was_typed(
    technician_client: Client,
    workshop: Any,
    make_vehicle: Any,
    now: Any,
    name: str,
    typed: dict[str, str],
    step: str,
    kept: list[str],
) -> None:
    Visit.objects.create(workshop=workshop, vehicle=make_vehicle(), number=1, opened_at=now)
    ((_, address),) = technician_client.get(f"{HOME}{name}/", typed).context["copies"]
    assert f"/add/{step}/" in address
    page = technician_client.get(address).content.decode()
    assert all(f'value="{text}"' in page for text in kept)


def test_air_is_kept_with_a_cylinder_that_holds_that_gas(
    technician_client: Client, reader_client: Client, cylinder: Any, make_cylinder: Any
) -> None:
    make_cylinder("YF-1", refrigerant="R-1234yf", mass_mg=3_000_000)
    typed = {"refrigerant": "r134a", "pressure": "76 psi", "temperature": "70 F"}
    ((shown, address),) = technician_client.get(f"{HOME}air/", typed).context["cylinders"]
    assert shown == cylinder
    assert 'value="76 psi"' in technician_client.get(address).content.decode()
    assert reader_client.get(f"{HOME}air/", typed).context["cylinders"] == []


# What nobody knows


def test_a_hold_is_answered_with_nothing_but_its_pressures(reader_client: Client) -> None:
    bare = {key: text for key, text in HOLD.items() if key not in ("volume", "refrigerant")}
    bare |= {"readings_0_temperature": "", "readings_1_temperature": ""}
    response = reader_client.get(f"{HOME}hold/", bare)
    body = response.content.decode()
    assert response.status_code == 200
    assert "as cars have, which is assumed here" in body
    assert "The temperature was not taken" in body
    assert "<svg" in body


def test_a_class_is_chosen_from_a_list_and_nothing_else_is_taken(reader_client: Client) -> None:
    sent = HOLD | {"volume": ""}
    body = reader_client.get(f"{HOME}hold/", sent | {"vehicle_class": "bus"}).content.decode()
    assert '<option value="bus" selected>' in body
    assert "10 to 80 L, as buses have" in body
    refused = reader_client.get(f"{HOME}hold/", sent | {"vehicle_class": "ship"})
    assert refused.status_code == 422
    assert "There is no such class" in refused.content.decode()
    assert 'value="250"' in refused.content.decode()


def test_a_vacuum_without_a_temperature_is_drawn_without_water(reader_client: Client) -> None:
    rise = {
        "readings_rows": "2",
        "readings_pressure_unit": "mbar",
        "readings_0_time": "0",
        "readings_0_pressure": "1.0",
    }
    response = reader_client.get(f"{HOME}vacuum/", rise | {"readings_1_time": "10", "readings_1_pressure": "4.0"})
    body = response.content.decode()
    assert response.status_code == 200
    assert "<svg" in body
    assert "water&#x27;s vapour pressure" not in body
    assert "water's vapour pressure" not in body


def test_the_answer_of_a_circuit_is_in_the_units_of_the_workshop(reader_client: Client, workshop: Any) -> None:
    workshop.mass_unit, workshop.pressure_unit, workshop.temperature_unit = "lb", "psi", "F"
    workshop.vacuum_unit, workshop.volume_unit = "micron", "fl oz"
    workshop.save()
    bare = HOLD | {"volume": "", "vehicle_class": "car"}
    sentence = reader_client.get(f"{HOME}hold/", bare).context["answer"].sentence
    assert "It stood at 250 psi gauge at first" in sentence
    assert " bar" not in sentence
    out = {"refrigerant": "r134a", "expected": "2 lb", "recovered": "1.9 lb", "final_pressure": "18 inHg"}
    sentence = reader_client.get(f"{HOME}recovery/", out).context["answer"].sentence
    assert "Emptied" in sentence
    assert " oz is left" in sentence.replace("\u202f", " ")
    assert " g" not in sentence.replace(" gas", "")
    page = reader_client.get(f"{HOME}hold/").content.decode()
    assert 'value="psi" selected>' in page
    assert 'value="F" selected>' in page


def test_a_temperature_without_a_unit_is_in_the_one_of_who_types_it(reader_client: Client, reader: Any) -> None:
    asked = {"refrigerant": "R-409A", "temperature": "77"}
    assert "77.0 C is outside the range" in reader_client.get(f"{HOME}saturation/", asked).content.decode()
    reader.memberships.update(own_units={"temperature": "F", "pressure": "psi"})
    page = reader_client.get(f"{HOME}saturation/", asked)
    assert page.status_code == 200
    assert "R-409A at 77 F boils between 93.9 psi and 107.8 psi gauge, by an estimate" in page.content.decode()
    beyond = reader_client.get(f"{HOME}saturation/", asked | {"temperature": "200"}).content.decode()
    assert "200 F is outside the range for estimates of R-409A: at least \N{MINUS SIGN}40 F, at most 140 F." in beyond
