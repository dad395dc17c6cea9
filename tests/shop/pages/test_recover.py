"""Recovery through its pages: rooms beforehand, refusals with a way out, legs, what is left."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.models import Movement
from shop.models import Step, Visit

HOME = "/w/port-ellery/"
LEG = {"stopped": "done"}


@pytest.fixture
def visit(send: Callable[..., Any], make_vehicle: Callable[..., Any]) -> Visit:
    make_vehicle("V1")
    send("visits/new/", registration="V1", state="runs")
    return Visit.objects.select_related("vehicle__account").get()


@pytest.fixture
def recovery(make_cylinder: Callable[..., Any]) -> Any:
    return make_cylinder("C-35", kind="recovery", grade="recovered", mass_mg=5_060_000, tare_mg=6_360_000)


def readings(before: str, after: str, scale: Any) -> dict[str, Any]:
    return {"before": before, "after": after, "before_unit": "kg", "after_unit": "kg", "scale": scale.number, **LEG}


def causes_of(cause: str) -> list[int]:
    return [int(mass) for mass in Movement.objects.filter(cause=cause).order_by("id").values_list("mass_mg", flat=True)]


def test_each_cylinder_shows_its_room_and_its_rule_beforehand(
    visit: Visit, recovery: Any, technician_client: Client
) -> None:
    page = technician_client.get(f"{HOME}visits/1/recover/").content.decode()
    assert "can take" in page
    assert "rule" in page


def test_a_refused_target_names_the_way_out_and_a_fact_may_still_be_entered(
    visit: Visit, cylinder: Any, technician_client: Client
) -> None:
    path = f"{HOME}visits/1/recover/?target={cylinder.account.number}"
    refused = technician_client.get(path)
    assert refused.status_code == 422
    assert "Use a recovery cylinder" in refused.content.decode()
    assert technician_client.get(f"{path}&happened=1").status_code == 200


def test_a_single_trip_cylinder_is_refused(
    visit: Visit, make_cylinder: Callable[..., Any], technician_client: Client
) -> None:
    single = make_cylinder("ST-1", kind="single-trip")
    refused = technician_client.get(f"{HOME}visits/1/recover/?target={single.account.number}")
    assert "never filled" in refused.content.decode()


def test_a_leg_is_one_line_with_what_was_found(
    visit: Visit, recovery: Any, scale: Any, send: Callable[..., Any]
) -> None:
    response = send(f"visits/1/recover/?target={recovery.account.number}", **readings("11.420", "12.060", scale))
    assert response.status_code == 303, response.context["form"].errors
    assert causes_of("recovery") == [640_000]
    assert causes_of("found-in-vehicle") == [640_000]
    assert Step.objects.get(kind="recovery").entry is not None


def test_two_legs_into_two_cylinders_are_two_lines(
    visit: Visit, recovery: Any, make_cylinder: Callable[..., Any], scale: Any, send: Callable[..., Any]
) -> None:
    second = make_cylinder("C-42", kind="recovery", grade="recovered", tare_mg=13_600_000, water_capacity_m3=0.025)
    full = {**readings("11.420", "12.060", scale), "stopped": "target full"}
    send(f"visits/1/recover/?target={recovery.account.number}", **full)
    send(f"visits/1/recover/?target={second.account.number}", **readings("13.600", "13.800", scale))
    assert causes_of("recovery") == [640_000, 200_000]


def test_a_reading_that_shows_a_loss_is_refused_and_writes_nothing(
    visit: Visit, recovery: Any, scale: Any, send: Callable[..., Any]
) -> None:
    response = send(f"visits/1/recover/?target={recovery.account.number}", **readings("11.420", "11.000", scale))
    assert response.status_code == 422
    assert "after" in response.context["form"].errors
    assert not Step.objects.filter(kind="recovery").exists()


def test_two_readings_left_out_are_told_apart(
    visit: Visit, recovery: Any, scale: Any, send: Callable[..., Any]
) -> None:
    response = send(f"visits/1/recover/?target={recovery.account.number}", **readings("", "", scale))
    assert response.context["form"].errors["before"] == ["Enter the gross mass before."]
    assert (
        response.context["form"].errors["after"][0].startswith("Enter the gross mass after. Has the gas not moved yet?")
    )


def test_a_leg_pressed_twice_is_one_line(visit: Visit, recovery: Any, scale: Any, send: Callable[..., Any]) -> None:
    key = str(uuid4())
    for _ in range(2):
        path = f"visits/1/recover/?target={recovery.account.number}"
        assert send(path, key=key, **readings("11.420", "12.060", scale)).status_code == 303
    assert causes_of("recovery") == [640_000]


def test_what_a_machine_shows_goes_into_its_tank(
    visit: Visit, make_cylinder: Callable[..., Any], send: Callable[..., Any], held: Callable[..., Any]
) -> None:
    tank = make_cylinder(
        "T-1", kind="machine tank", grade="recycled", mass_mg=5_200_000, recycles=True, machine_limit_mg=15_000
    )
    response = send(f"visits/1/recover/?target={tank.account.number}", shown="520", purged="6", **LEG)
    assert response.status_code == 303, response.context["form"].errors
    assert held(tank) == {("R-134a", "recycled"): 5_714_000}


def test_below_98_percent_it_is_a_mixture_for_a_cylinder_of_its_own(
    visit: Visit, recovery: Any, make_cylinder: Callable[..., Any], scale: Any, send: Callable[..., Any], held: Any
) -> None:
    send("visits/1/add/identified/", result="used", shares="R-1234yf 91.5, R-134a 8.0, air 0.5")
    empty = make_cylinder("C-40", kind="recovery", grade="recovered", tare_mg=5_300_000, water_capacity_m3=0.006)
    assert send(f"visits/1/recover/?target={recovery.account.number}", **LEG).status_code == 422
    response = send(f"visits/1/recover/?target={empty.account.number}", **readings("5.300", "5.765", scale))
    assert response.status_code == 303
    assert held(empty) == {("MIXED", "suspect"): 465_000}


def test_what_was_charged_since_it_was_identified_is_what_comes_out_again(
    visit: Visit, cylinder: Any, scale: Any, send: Callable[..., Any], technician_client: Client
) -> None:
    send("visits/1/add/identified/", result="used", shares="R-12 99.5, air 0.5")
    assert "Taken as R-12, recovered." in technician_client.get(f"{HOME}visits/1/recover/").content.decode()
    charge = readings("11.200", "10.650", scale) | {"stopped": ""}
    assert send(f"visits/1/charge/?source={cylinder.account.number}", **charge).status_code == 303
    assert "Taken as R-134a, recovered." in technician_client.get(f"{HOME}visits/1/recover/").content.decode()


@pytest.fixture
def left(visit: Visit, recovery: Any, scale: Any, send: Callable[..., Any], cylinder: Any) -> Visit:
    """A vehicle that the book had 784 g in, of which 640 g came out."""
    charge = {"before": "11.200", "after": "10.416", "before_unit": "kg", "after_unit": "kg", "scale": scale.number}
    # 784 g lies between the steps of a 5 g scale and is more than the label says, and the person insists on both
    charge |= {"before_reading": "=11.200 kg", "after_reading": "=10.416 kg"}
    assert send(f"visits/1/charge/?source={cylinder.account.number}", **charge).status_code == 303
    send(f"visits/1/recover/?target={recovery.account.number}", **readings("11.420", "12.060", scale))
    return visit


def test_what_is_left_is_split_with_half_the_bound_as_residue(left: Visit, send: Callable[..., Any]) -> None:
    response = send(
        "visits/1/add/remainder-settled/",
        evidence="C: leak found and photographed after recovery",
        bound="17.6",
        rest="road",
    )
    assert response.status_code == 303, response.context["form"].errors
    assert causes_of("evacuated-residue") == [8_800]
    assert causes_of("lost-on-the-road") == [135_200]
    residue = Movement.objects.get(cause="evacuated-residue")
    assert residue.u_random_mg == 5_081  # 17.6 g / sqrt(12)


def test_more_than_is_left_is_refused(left: Visit, send: Callable[..., Any]) -> None:
    response = send("visits/1/add/remainder-settled/", evidence="E: nothing", road="500", rest="stays")
    assert response.status_code == 422
    assert not Movement.objects.filter(cause="lost-on-the-road").exists()


def test_to_air_is_always_read_back(left: Visit, technician_client: Client, technician: Any) -> None:
    said = "D: the customer’s word, or a reading without a photo"
    fields = {"evidence": said, "rest": "road", "doer": technician.handle, "key": str(uuid4())}
    response = technician_client.post(f"{HOME}visits/1/add/remainder-settled/", fields)
    assert "Read this back" in response.content.decode()


def test_a_reader_does_not_recover(visit: Visit, reader_client: Client) -> None:
    assert reader_client.get(f"{HOME}visits/1/recover/").status_code == 403
    assert reader_client.post(f"{HOME}visits/1/recover/").status_code == 403


def test_what_an_empty_cylinder_has_too_much_before_is_of_the_gas_that_comes(
    send: Callable[..., Any],
    make_vehicle: Callable[..., Any],
    make_cylinder: Callable[..., Any],
    scale: Any,
    technician_client: Client,
) -> None:
    """Entered for another refrigerant and half an ounce over its empty mass: it takes the gas all the same."""
    make_vehicle("V1", refrigerant="R-12")
    send("visits/new/", registration="V1", state="runs")
    bottle = make_cylinder(
        "C-9", kind="recovery", grade="recovered", mass_mg=0, tare_mg=6_360_000, refrigerant="R-134a"
    )
    number = bottle.account.number
    send("visits/1/recover/", cylinder=str(number), gross="6.370", gross_unit="kg", scale=scale.number)
    home = technician_client.get(f"{HOME}cylinders/").content.decode()
    assert f"{HOME}visits/1/recover/{number}/" in home  # the open weighing goes on with the recovery
    assert list(Movement.objects.values_list("refrigerant", "mass_mg")) == [("R-12", 10_000)]
    send(f"visits/1/recover/{number}/", after="6.870", after_unit="kg", scale=scale.number, **LEG)
    assert causes_of("recovery") == [500_000]
    assert {one.refrigerant for one in Movement.objects.all()} == {"R-12"}
