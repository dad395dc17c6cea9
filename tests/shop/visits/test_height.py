"""A workshop whose height nobody has entered: what is said, and what stays true once it is entered."""

from typing import Any

import pytest
from django.test import Client

from inventory.measure.atmosphere import air_at
from shop.checks.registry import reckon
from shop.checks.values import CheckFault
from shop.models import Step, Visit, Workshop
from shop.visits.steps import READ_AGAINST
from shop.visits.verdicts import around, told_of
from tests.shop.visits.looking import Make, asked, fetched

pytestmark = pytest.mark.django_db

HOME = "/w/port-ellery/"
SAID = "The height of the workshop is not entered; 750 to 1040 hPa is reckoned with."


@pytest.fixture
def visit(workshop: Workshop, make_vehicle: Make, now: Any) -> Visit:
    Workshop.objects.update(altitude_m=None)
    workshop.refresh_from_db()
    car = make_vehicle(refrigerant="R-12", volume_m3=0.002, oil_g=200.0)
    return Visit.objects.create(workshop=workshop, number=1, vehicle=car, opened_at=now)


@pytest.fixture
def stood(step: Make, visit: Visit, gauges: Any) -> Make:
    """Write a standing pressure of parts at 20 C, on a gauge in steps of 0.1 bar."""

    def write(pressure: str, **fields: Any) -> Any:
        typed = {
            "pressure": pressure,
            "pressure_unit": "bar",
            "coldest": "20",
            "warmest": "20",
            "gauge": gauges["G1"].pk,
        }
        return step(visit, "standing-pressure", **typed, **fields)

    return write


def told(visit: Visit) -> Any:
    found = fetched(visit)
    return told_of(around(found, found.workshop.units))[list(found.steps.all())[-1].pk]


def test_a_pressure_that_says_the_same_at_every_height_names_no_range(visit: Visit, stood: Make) -> None:
    assert stood("0").status_code == 303
    assert SAID not in " ".join(told(visit).more)


def test_the_range_is_said_once_for_the_whole_visit(visit: Visit, stood: Make, owner_client: Client) -> None:
    stood("0")
    stood("0")
    text = owner_client.get(f"{HOME}visits/1/").content.decode()
    assert text.count("750 to 1040 hPa is reckoned with") == 1
    step = Step.objects.first()
    assert "750 to 1040 hPa is reckoned with" in owner_client.get(f"{HOME}visits/1/steps/{step.pk}/").content.decode()


def test_a_pressure_that_height_decides_is_said_to_depend_on_it(visit: Visit, stood: Make) -> None:
    """R-12 at 20 C boils at 5.67 bar (CoolProp): 4.7 bar gauge is that at the sea, and 0.2 bar short at 2,500 m."""
    assert stood("4.7").status_code == 303
    assert told(visit).more[-1] == f"{SAID} What this pressure says depends on it."


def test_an_absolute_pressure_depends_on_no_height(visit: Visit, stood: Make) -> None:
    assert stood("5.7 bar absolute").status_code == 303
    assert SAID not in " ".join(told(visit).more)


def test_no_pressure_above_the_air_stays_none_when_a_height_is_entered(
    visit: Visit, stood: Make, owner_client: Client
) -> None:
    """At 1,600 m the air has 835 hPa: read as absolute, 0 on the gauge would then stand 0.18 bar above it."""
    stood("0")
    before, said = asked(visit), told(visit).sentence
    assert "ecover" not in before
    Workshop.objects.update(altitude_m=1_600.0)
    assert asked(visit) == before
    assert told(visit).sentence == said
    assert Step.objects.get().data[READ_AGAINST]["si"] == 101_325


def test_with_a_known_height_nothing_is_kept_beside_the_reading(visit: Visit, stood: Make) -> None:
    Workshop.objects.update(altitude_m=0.0)
    assert stood("0").status_code == 303
    assert READ_AGAINST not in Step.objects.get().data
    assert SAID not in told(visit).more


def test_the_owner_enters_the_height_from_the_form_and_comes_back(
    visit: Visit, owner_client: Client, technician_client: Client
) -> None:
    page = f"{HOME}visits/1/add/standing-pressure/"
    assert 'name="go" value="height"' in owner_client.get(page).content.decode()
    text = technician_client.get(page).content.decode()
    assert SAID in text
    assert 'value="height"' not in text
    away = owner_client.post(page, {"pressure": "29 inHg", "note": "warm", "go": "height"})["Location"]
    facts = {"name": "Port Ellery", "zone": "Europe/Athens", "height": "1500", "height_unit": "m"}
    back = owner_client.post(away, facts)["Location"]
    form = owner_client.get(back).context["form"]
    assert form["note"].value() == "warm"
    assert "750 to 1040" not in owner_client.get(back).content.decode()


def test_a_bench_check_says_the_range_until_a_height_or_a_barometer_is_entered() -> None:
    typed = {"pressure": "30.5 inHg", "temperature": "20 C", "candidates": "R-134a"}
    unknown = air_at(None)
    echoes = str(reckon("identify", typed, air=unknown).inputs)
    assert "750 to 1040 hPa is reckoned with" in echoes
    with pytest.raises(CheckFault, match="below zero absolute"):
        reckon("identify", typed)
    with pytest.raises(CheckFault, match="below zero absolute"):
        reckon("identify", {**typed, "altitude": "0 m"}, air=unknown)
