"""What is unusual of a vehicle or a reading is asked about, with the likely slip; it can be insisted on."""

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from shop.bench import insides
from shop.models import Step, Vehicle, Visit
from shop.visits import usual
from tests.answers import words

HOME = "/w/port-ellery/"


@pytest.fixture
def visit(send_once: Any, make_vehicle: Any) -> Visit:
    make_vehicle("KX 4471", refrigerant="R-134a")
    assert send_once("visits/new/", registration="KX 4471", state="runs").status_code == 303
    return Visit.objects.get()


def offered(answer: Any, name: str) -> list[str]:
    return [one.text for one in answer.context["form"][name].doubts]


@pytest.mark.parametrize(
    ("kind", "name", "typed", "unit", "offer"),
    [
        ("standing-pressure", "air", "200", "C", "20.0 C"),
        ("standing-pressure", "air", "68", "C", "68 F"),
        ("standing-pressure", "coldest", "-86", "C", "-8.6 C"),
        ("running-test", "vent", "82", "C", "8.2 C"),
        ("running-test", "low", "25", "bar", "25 psi"),
        ("oil-balance", "out", "1200", "mL", "120.0 mL"),
        ("pulling-vacuum", "lowest", "500", "mbar", "500 micron"),
        ("label-read", "mass", "5.5", "kg", "0.55 kg"),
        ("label-read", "tolerance", "250", "g", "25.0 g"),
        ("pressure-hold", "volume", "20", "L", "2.0 L"),
    ],
)
def test_an_unlikely_reading_is_asked_about_once(
    send_once: Any, visit: Visit, kind: str, name: str, typed: str, unit: str, offer: str
) -> None:
    others = {
        "label": "label read",
        "mass": "550",
        "in": "100",
        "type": "PAG",
        "pressure": "5",
        "vent": "9",
        "air": "25",
    }
    others |= {"refrigerant": "R-134a"}
    path = f"visits/1/add/{kind}/"
    asked = send_once(path, **{**others, name: typed, f"{name}_unit": unit})
    assert asked.status_code == 422
    assert offer in offered(asked, name), asked.context["form"].errors
    assert offered(asked, name)[-1].startswith("=")
    assert f'value="{typed}"' in asked.content.decode(), "what was typed stays"
    insisted = send_once(
        path, **{**others, name: typed, f"{name}_unit": unit, f"{name}_reading": offered(asked, name)[-1]}
    )
    assert name not in (insisted.context["form"].errors if insisted.status_code == 422 else {})


def test_one_reading_above_another_is_asked_about(send_once: Any, visit: Visit) -> None:
    hot = send_once("visits/1/add/running-test/", air="20", vent="26", low="2", high="12")
    assert "Vent temperature: 26 C (78.8 F). Air temperature: 20 C (68 F). The first is above the second." in words(hot)
    swapped = send_once("visits/1/add/running-test/", air="20", vent="8", low="12", high="2")
    assert "Low-side pressure" in words(swapped)
    assert not Step.objects.filter(kind="running test").exists()


def test_carbon_dioxide_is_not_asked_about_for_being_what_it_is(send_once: Any, visit: Visit) -> None:
    Vehicle.objects.update(refrigerant="R-744")
    assert send_once("visits/1/add/standing-pressure/", pressure="56", pressure_unit="bar").status_code == 303


def test_a_vehicle_s_own_figures_are_asked_about_when_new(technician_client: Client, make_vehicle: Any) -> None:
    form = {"registration": "KX 1", "vehicle_class": "car", "evaporators": "1", "nameplate": "5500", "volume": "25 L"}
    asked = technician_client.post(HOME + "vehicles/new/", form)
    assert "Charge on its label: 5500 g is more than cars take (200 g to 1800 g)." in words(asked)
    assert offered(asked, "nameplate")[0] == "550.0 g"
    assert offered(asked, "volume")[0] == "2.5 L"
    form |= {"nameplate_reading": "=5500 g", "volume_reading": "=25 L"}
    assert technician_client.post(HOME + "vehicles/new/", form).status_code == 303
    one = Vehicle.objects.get()
    again = {**form, "nameplate_reading": "", "volume_reading": "", "nameplate": "5500 g", "make_model": "Wren"}
    path = f"{HOME}vehicles/{one.account.number}/edit/"
    assert technician_client.post(path, again).status_code == 303, "what stands in the record is not asked again"
    bus = {**form, "registration": "BUS 1", "vehicle_class": "bus", "nameplate_reading": "", "volume_reading": ""}
    assert technician_client.post(HOME + "vehicles/new/", bus).status_code == 303


@pytest.mark.parametrize("label_mg", [None, 550_000])
def test_a_leg_that_the_vehicle_cannot_hold_is_asked_about_and_read_back(
    send_once: Any, visit: Visit, make_cylinder: Any, scale: Any, label_mg: int | None
) -> None:
    """8.700 was typed for 10.700, after a charge out of a cylinder that weighed 11.250 kg."""
    Vehicle.objects.update(nameplate_mg=label_mg)
    bottle = make_cylinder("C-34", mass_mg=5_050_000)
    path = f"visits/1/charge/?source={bottle.account.number}"
    leg = {"before": "11.250", "before_unit": "kg", "after": "8.700", "after_unit": "kg", "scale": str(scale.number)}
    asked = send_once(path, **leg)
    than = "the label lets expect" if label_mg else "cars take"
    assert f"Charged in all by this: 2.550 kg is more than {than}" in words(asked)
    shown = send_once(path, **leg, after_reading="=8.700 kg")
    assert f"2.550 kg is more than {than}" in words(shown), "it stands in what is read back"
    assert "Nothing is written yet" in words(shown)
    honest = send_once(path, **{**leg, "after": "10.700"})
    assert "is more than" not in words(honest)


def test_a_recovery_that_the_vehicle_cannot_have_held_is_asked_about(
    send_once: Any, visit: Visit, make_cylinder: Any, scale: Any
) -> None:
    bottle = make_cylinder("W", kind="recovery", refrigerant="R-134a", grade="recovered")
    leg = {"before": "6.200", "before_unit": "kg", "after": "12.00", "after_unit": "kg", "scale": str(scale.number)}
    asked = send_once(f"visits/1/recover/?target={bottle.account.number}", **leg, stopped="done")
    assert "Recovered in all by this: 5.800 kg is more than the label lets expect" in words(asked)
    cold = send_once(
        f"visits/1/recover/?target={bottle.account.number}", **{**leg, "after": "6.9"}, stopped="done", coldest="68"
    )
    assert "68 F" in offered(cold, "coldest")


@pytest.mark.parametrize("capacity_m3", [0.012, None])
@pytest.mark.parametrize(
    ("before", "after", "slip", "offer"),
    [("83.55", "8.850", "before", "8.355 kg"), ("8.355", "88.50", "after", "8.850 kg")],
)
def test_a_slip_is_asked_about_beside_the_reading_that_slipped(
    send_once: Any,
    visit: Visit,
    make_cylinder: Any,
    scale: Any,
    capacity_m3: float | None,
    before: str,
    after: str,
    slip: str,
    offer: str,
) -> None:
    """A recovery into an empty cylinder, a charge out of one: by the cylinder where it tells, by the vehicle else."""
    into = make_cylinder("W", kind="recovery", grade="recovered", water_capacity_m3=capacity_m3, tare_mg=8_355_000)
    out = make_cylinder("C", mass_mg=650_000, water_capacity_m3=capacity_m3, tare_mg=8_200_000)
    recovery = (f"visits/1/recover/?target={into.account.number}", before, after)
    charge = (
        f"visits/1/charge/?source={out.account.number}",
        *{"before": ("88.50", "8.355"), "after": ("8.850", "83.55")}[slip],
    )
    offers = {"recovery": offer, "charge": {"before": "8.850 kg", "after": "8.355 kg"}[slip]}
    for kind, (path, first, second) in {"recovery": recovery, "charge": charge}.items():
        leg = {"before": first, "before_unit": "kg", "after": second, "after_unit": "kg", "scale": str(scale.number)}
        asked = send_once(path, **leg, stopped="done")
        assert asked.status_code == 422, kind
        errors = asked.context["form"].errors
        assert list(errors) == [slip], (kind, errors)
        assert offers[kind] in [one if one.endswith("kg") else f"{one} kg" for one in offered(asked, slip)], (
            kind,
            errors,
        )
        assert kind == "charge" or "Charged" not in words(asked)
        assert "000 g" not in words(asked)


def test_only_the_reading_before_is_entered_from_the_leg_and_nothing_typed_is_lost(
    technician_client: Client, send_once: Any, visit: Visit, make_cylinder: Any, scale: Any
) -> None:
    into = make_cylinder("W", kind="recovery", grade="recovered", tare_mg=8_355_000)
    at = f"visits/1/recover/?target={into.account.number}"
    typed = {"before": "8.355", "before_unit": "kg", "scale": str(scale.number), "note": "cold"}
    missed = send_once(at, **typed)
    assert "Then press “Only the reading before now”" in words(missed)
    assert 'value="8.355"' in missed.content.decode()
    away = send_once(at, **typed, go="before")
    assert away.status_code == 303
    page = technician_client.get(away["Location"])
    assert "Weigh: before" in words(page)
    assert 'value="8.355"' in page.content.decode()
    there = away["Location"].removeprefix(HOME)
    sent = {"key": str(uuid4()), "gross": "8.355", "gross_unit": "kg", "scale": str(scale.number)}
    shown = send_once(there, **sent)
    back = send_once(there, **sent, read_back=shown.context["signature"])
    leg = technician_client.get(back["Location"])
    assert "Before 8.355 kg on S1" in words(leg)
    assert "cold" in leg.content.decode()
    assert "before" not in leg.context["form"].fields


@pytest.mark.parametrize(
    ("leg", "cylinder"),
    [
        ("recover/?target", {"kind": "recovery", "grade": "recovered", "tare_mg": 8_355_000}),
        ("charge/?source", {"mass_mg": 5_000_000}),
    ],
)
def test_the_ounces_of_the_reading_before_go_along(
    technician_client: Client,
    send: Any,
    visit: Visit,
    make_cylinder: Any,
    scale: Any,
    leg: str,
    cylinder: dict[str, Any],
) -> None:
    one = make_cylinder("W", **cylinder)
    typed = {"before": "37 3.2", "before_unit": "lb oz", "scale": str(scale.number), "stopped": "done"}
    away = send(f"visits/1/{leg}={one.account.number}", **typed, go="before")
    gross = technician_client.get(away["Location"]).context["form"]["gross"].value()
    assert (gross.text, gross.unit) == ("37 3.2", "lb oz")


def test_an_empty_cylinder_entered_for_another_gas_says_so_and_comes_after(
    technician_client: Client, send_once: Any, visit: Visit, make_cylinder: Any, scale: Any
) -> None:
    Vehicle.objects.update(refrigerant="R-12")
    other = make_cylinder("A-1", kind="recovery", grade="recovered", refrigerant="R-134a")
    make_cylinder("Z-9", kind="recovery", grade="recovered", refrigerant="R-12")
    becomes = "entered for R-134a; it becomes an R-12 cylinder by this"
    page = words(technician_client.get(f"{HOME}visits/1/recover/"))
    assert page.index("Z-9") < page.index("A-1") < page.index(becomes)
    assert page.count(becomes) == 1
    at = f"visits/1/recover/?target={other.account.number}"
    assert becomes in words(technician_client.get(HOME + at))
    readings = {"before": "6.200", "before_unit": "kg", "after": "6.900", "after_unit": "kg", "stopped": "done"}
    shown = send_once(at, **readings, scale=str(scale.number), seen=["before=6200000", "after=6900000"])
    assert "Nothing is written yet" in words(shown)
    assert f"A-1, {becomes}" in words(shown)


def test_the_page_of_a_cylinder_asks_the_same(send_once: Any, visit: Visit, make_cylinder: Any, scale: Any) -> None:
    bottle = make_cylinder("C-34", mass_mg=5_050_000)
    path = f"cylinders/{bottle.account.number}/weigh/"
    first = {"gross": "11.250", "gross_unit": "kg", "scale": str(scale.number)}
    shown = send_once(path, **first)
    key = shown.context["key"]
    assert send_once(path, **first, key=key, read_back=shown.context["signature"]).status_code == 303
    asked = send_once(path, gross="8.700", gross_unit="kg", scale=str(scale.number), went="visit-1")
    assert asked.status_code == 422
    assert "Charged in all by this: 2.550 kg is more than the label lets expect" in words(asked)


def test_an_entered_volume_bounds_the_charge_by_liquid() -> None:
    inside = insides.entered(0.0005)
    than = usual.of_vehicle("car", inside=inside, refrigerant="R-134a")
    assert than.high_kg == pytest.approx(0.0005 * 1207, rel=0.01)  # liquid R-134a at 25 C, CoolProp
    assert usual.of_vehicle("car", inside=insides.of_class("car"), refrigerant="R-134a") == usual.of_class("car")
