"""What a visit knows of its vehicle: gas and charge by the label, the inside volume as far as anybody knows it."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from shop.models import Step, Vehicle, Visit

HOME = "/w/port-ellery/"
LABEL = {"label": "label read", "refrigerant": "R-134a", "mass": "32", "mass_unit": "oz"}


@pytest.fixture
def visit(send_once: Callable[..., Any]) -> Visit:
    """A visit of a vehicle about which nothing is known but its plate."""
    assert send_once("visits/new/", registration="KX 4471", state="runs").status_code == 303
    return Visit.objects.get()


@pytest.fixture
def shown(technician_client: Client, visit: Visit) -> Callable[[], str]:
    """The visit's page as plain text, each space a plain one."""

    def look() -> str:
        page = technician_client.get(f"{HOME}visits/{visit.number}/").content.decode()
        return " ".join(page.replace("\N{NARROW NO-BREAK SPACE}", " ").replace("&#x27;", "'").split())

    return look


class TestLabel:
    def test_is_known_to_the_head_and_to_the_vehicles_record(self, us, visit, send_once, shown):
        assert "refrigerant and charge not known" in shown()
        assert send_once("visits/1/add/label-read/", **LABEL, tolerance="1", tolerance_unit="oz").status_code == 303
        page = shown()
        assert "R-134a, 2 lb 0.0 oz on the label" in page
        assert "Label: 32 oz R-134a, plus or minus 1 oz" in page
        assert "Label: label read" not in page
        vehicle = Vehicle.objects.get()
        assert (vehicle.refrigerant, vehicle.nameplate_mg, vehicle.nameplate_tolerance_mg) == (
            "R-134a",
            907_185,
            28_350,
        )

    def test_entered_anew_puts_right_what_it_had_put_into_the_record(self, visit, send_once):
        send_once("visits/1/add/label-read/", **LABEL)
        old = Step.objects.get(kind="label read")
        send_once(f"visits/1/add/label-read/?replaces={old.pk}", **{**LABEL, "refrigerant": "R-1234yf", "mass": "16"})
        vehicle = Vehicle.objects.get()
        assert (vehicle.refrigerant, vehicle.nameplate_mg) == ("R-1234yf", 453_592)

    def test_leaves_what_the_record_has(self, visit, send_once):
        Vehicle.objects.update(refrigerant="R-12", nameplate_mg=900_000)
        send_once("visits/1/add/label-read/", **LABEL)
        vehicle = Vehicle.objects.get()
        assert (vehicle.refrigerant, vehicle.nameplate_mg) == ("R-12", 900_000)

    def test_that_is_not_there_says_nothing(self, visit, send_once, shown):
        send_once("visits/1/add/label-read/", label="no label")
        assert "Label: none on the vehicle" in shown()
        assert Vehicle.objects.get().refrigerant == ""


class TestInsideVolume:
    def test_is_that_of_the_class_until_somebody_knows_more(self, visit, shown):
        page = shown()
        assert "Inside volume: 1.2 to 4 L" in page
        assert f"{HOME}visits/1/inside/" in page

    def test_is_written_to_the_vehicle_and_not_to_the_chain(self, visit, send_once, shown, book):
        head = book.head_seq
        answer = send_once(
            "visits/1/inside/", vehicle_class="van", volume="3.5", volume_unit="L", how="the maker’s figure"
        )
        assert (answer.status_code, answer["Location"]) == (303, f"{HOME}visits/1/")
        vehicle = Vehicle.objects.get()
        assert (vehicle.vehicle_class, vehicle.volume_m3, vehicle.volume_source) == (
            "van",
            0.0035,
            "the maker’s figure",
        )
        book.refresh_from_db()
        assert book.head_seq == head
        assert "Inside volume: 3.5 L" in shown()

    def test_by_the_class_alone(self, visit, send_once, shown):
        assert send_once("visits/1/inside/", vehicle_class="bus").status_code == 303
        assert "Inside volume: 10 to 80 L" in shown()

    def test_leads_back_to_the_step_it_mattered_for(self, visit, send_once):
        step = visit.steps.get()
        answer = send_once(f"visits/1/inside/?step={step.pk}", vehicle_class="car")
        assert answer["Location"] == f"{HOME}visits/1/#step-{step.pk}"

    @pytest.mark.parametrize(
        ("typed", "words"),
        [
            ({"volume": "20"}, "outside the 1.2 to 4 L"),
            ({"volume": "2000"}, "no inside volume of a vehicle"),
            ({"volume": "2.0", "how": ""}, "Say how the volume was found"),
            ({"volume": "2.0", "off": "3"}, "cannot be off by as much"),
            ({"volume": "two litres"}, "two litres"),
            ({"vehicle_class": "submarine"}, "Choose the class"),
        ],
    )
    def test_a_figure_that_cannot_be_is_put_right_beside_its_field(self, visit, send_once, typed, words):
        answer = send_once("visits/1/inside/", **{"vehicle_class": "car", "how": "measured", **typed})
        assert answer.status_code == 422
        assert words in answer.content.decode()
        assert typed.get("volume", "") in answer.content.decode()
        assert Vehicle.objects.get().volume_m3 is None

    def test_a_likely_slip_is_proposed_and_what_it_is_can_be_insisted_on(self, visit, send_once):
        fields = {"vehicle_class": "car", "how": "measured", "volume": "20", "volume_unit": "L"}
        assert "2 L" in send_once("visits/1/inside/", **fields).content.decode()
        assert send_once("visits/1/inside/", **fields, volume_reading="=20 L").status_code == 303
        assert Vehicle.objects.get().volume_m3 == 0.02

    def test_a_reader_may_not_change_it(self, visit, reader_client):
        assert reader_client.post(f"{HOME}visits/1/inside/", {"vehicle_class": "bus"}).status_code == 403


class TestRanges:
    def test_are_shown_as_estimates_and_changed_by_the_owner(self, workshop, owner_client, visit, shown):
        page = owner_client.get(f"{HOME}settings/").content.decode()
        assert "estimates without a source" in page
        assert "1.2 to 4 L" in page
        sent = {f"{name}_{end}": "" for name in ("car", "van", "machine", "bus") for end in ("low", "high")}
        sent |= {"car_low": "1.5", "car_high": "3"}
        assert owner_client.post(f"{HOME}settings/inside/", sent).status_code == 303
        workshop.refresh_from_db()
        assert workshop.inside_ranges == {"car": [0.0015, 0.003]}
        assert "Inside volume: 1.5 to 3 L" in shown()

    @pytest.mark.parametrize(
        ("low", "high", "words"),
        [("3", "2", "must be more than the least"), ("", "2", "both ends"), ("0", "2", "between 0.01 and 1000 L")],
    )
    def test_that_cannot_be_are_put_right(self, workshop, owner_client, low, high, words):
        answer = owner_client.post(f"{HOME}settings/inside/", {"car_low": low, "car_high": high})
        assert answer.status_code == 422
        assert words in answer.content.decode()
        workshop.refresh_from_db()
        assert workshop.inside_ranges == {}

    def test_a_technician_may_not_change_them(self, technician_client):
        assert technician_client.post(f"{HOME}settings/inside/", {}).status_code == 403
