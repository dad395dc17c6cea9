"""A reading is judged by the gas that the vehicle had or was for when it was taken, not by one it was turned to."""

from collections.abc import Callable
from typing import Any

from django.test import Client

from shop.models import Step, Vehicle, Visit
from shop.visits.gas import gas_at, gas_of
from shop.visits.log import open_points, with_log
from shop.visits.verdicts import around, told_of
from tests.answers import words

HOME = "/w/port-ellery/"
RUN = {"air": "25", "vent": "9", "low": "2", "high": "12"}
RISES = {
    "readings_rows": "2",
    "readings_0_time": "0",
    "readings_0_pressure": "1.5",
    "readings_1_time": "20",
    "readings_1_pressure": "1.5",
    "readings_pressure_unit": "mbar",
    "gauge_type": "absolute",
    "coldest": "20",
    "coldest_unit": "C",
}


def gases(visit: Visit, kind: str) -> list[str]:
    """The gas of each step of a kind, by a log as pages fetch it."""
    found = with_log(Visit.objects.filter(pk=visit.pk)).get()
    return [gas_at(step) for step in found.steps.all() if step.kind == kind]


def said_of(visit: Visit) -> str:
    """What the log says of the vacuum hold of a visit."""
    found = with_log(Visit.objects.filter(pk=visit.pk)).get()
    told = told_of(around(found, found.workshop.units))
    return " ".join(told[step.pk].sentence for step in found.steps.all() if step.kind == "vacuum hold")


def test_what_was_read_before_a_conversion_is_judged_by_the_old_gas(start: Any, step: Any) -> None:
    first = start(refrigerant="R-134a")
    assert step(first, "running-test", **RUN).status_code == 303
    assert step(first, "conversion-done", to="R-1234yf").status_code == 303
    assert step(first, "running-test", **RUN).status_code == 303
    assert Vehicle.objects.get().refrigerant == "R-1234yf"
    assert gases(first, "running test") == ["R-134a", "R-1234yf"]


def test_a_hold_says_what_the_gas_to_come_would_leak_in_its_own_visit_alone(start: Any, step: Any) -> None:
    first = start(refrigerant="R-134a")
    assert step(first, "vacuum-hold", **RISES).status_code == 303
    assert "kg a year of R-134a" in said_of(first)
    later = start(Vehicle.objects.get())
    assert step(later, "vacuum-hold", **RISES).status_code == 303
    assert step(later, "conversion-done", to="R-1234yf").status_code == 303
    assert "kg a year of R-1234yf" in said_of(later)
    assert "kg a year of R-134a" in said_of(first)


def test_a_conversion_of_a_later_visit_does_not_reach_back(start: Any, step: Any) -> None:
    first = start(refrigerant="R-134a")
    assert step(first, "running-test", **RUN).status_code == 303
    assert step(first, "hand-over").status_code in (303, 404)
    later = start(Vehicle.objects.get())
    assert step(later, "conversion-done", to="R-1234yf").status_code == 303
    assert gases(first, "running test") == ["R-134a"]


def test_a_later_conversion_asks_nothing_of_the_visits_before(
    start: Any, step: Any, leg: Any, make_cylinder: Callable[..., Any], scale: Any
) -> None:
    first = start(refrigerant="R-134a", content="evacuated")
    assert leg(first, make_cylinder("A", mass_mg=5_000_000), scale, "11.200", "10.700").status_code == 303
    later = start(Vehicle.objects.get())
    assert step(later, "conversion-done", to="R-1234yf").status_code == 303
    found = with_log(Visit.objects.filter(pk=first.pk)).get()
    assert "conversion done" not in {one.kind for one in open_points(found, found.workshop.units)}


def test_what_comes_out_after_a_conversion_was_entered_is_what_came_in(start: Any, step: Any) -> None:
    visit = start(refrigerant="R-134a")
    assert step(visit, "conversion-done", to="R-1234yf").status_code == 303
    assert gas_of(with_log(Visit.objects.all()).get()).refrigerant == "R-134a"


def test_what_was_charged_is_what_a_running_test_is_judged_by(
    start: Any, step: Any, leg: Any, make_cylinder: Callable[..., Any], scale: Any
) -> None:
    visit = start(refrigerant="R-134a", content="evacuated")
    source = make_cylinder("YF", refrigerant="R-1234yf", mass_mg=5_000_000)
    assert leg(visit, source, scale, "11.200", "10.700").status_code == 303
    assert step(visit, "running-test", **RUN).status_code == 303
    assert gases(visit, "running test") == ["R-1234yf"]


def test_it_can_burn_is_said_where_the_gas_of_the_act_does(
    start: Any, leg: Any, make_cylinder: Callable[..., Any], scale: Any, technician_client: Client
) -> None:
    visit = start(refrigerant="R-134a", content="evacuated")
    said = "It can burn"
    assert said not in words(technician_client.get(f"{HOME}visits/{visit.number}/add/identified/"))
    assert said in words(technician_client.get(f"{HOME}visits/{visit.number}/add/conversion-done/"))
    calm, burning = (
        make_cylinder("A", mass_mg=5_000_000),
        make_cylinder("YF", refrigerant="R-1234yf", mass_mg=5_000_000),
    )
    for source, burns in ((calm, False), (burning, True)):
        page = technician_client.get(f"{HOME}visits/{visit.number}/charge/?source={source.account.number}")
        assert (said in words(page)) is burns
    assert leg(visit, calm, scale, "11.200", "10.700").status_code == 303
    assert said not in words(technician_client.get(f"{HOME}visits/{visit.number}/add/conversion-done/"))
    assert Step.objects.filter(kind="charge").exists()
