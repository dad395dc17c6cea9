"""Charge through its pages: sources, the difference from the target, machines and cans."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.models import Account, Movement
from shop.models import Step, Visit
from shop.visits.kinds import ONTO
from shop.visits.scale import Target, target_said
from tests.answers import words

HOME = "/w/port-ellery/"


@pytest.fixture
def visit(send: Callable[..., Any], make_vehicle: Callable[..., Any]) -> Visit:
    make_vehicle("V1", nameplate_tolerance_mg=15_000)
    send("visits/new/", registration="V1", state="runs")
    return Visit.objects.select_related("vehicle__account").get()


def readings(before: str, after: str, scale: Any, **more: Any) -> dict[str, Any]:
    return {"before": before, "after": after, "before_unit": "kg", "after_unit": "kg", "scale": scale.number, **more}


def test_the_sources_say_what_they_hold_and_which_is_not_for_this_vehicle(
    visit: Visit, cylinder: Any, make_cylinder: Callable[..., Any], technician_client: Client
) -> None:
    make_cylinder("YF-1", refrigerant="R-1234yf", mass_mg=3_000_000)
    page = technician_client.get(f"{HOME}visits/1/charge/").content.decode()
    assert page.index(str(cylinder)) < page.index("YF-1")
    assert "not what the vehicle is for" in page


def test_the_label_is_the_target_until_another_is_typed(
    visit: Visit, cylinder: Any, scale: Any, technician_client: Client
) -> None:
    form = technician_client.get(f"{HOME}visits/1/charge/?source={cylinder.account.number}").context["form"]
    assert form.initial["target"].text == "550"
    assert form.initial["tolerance"].text == "15"


def test_a_leg_is_written_with_what_surrounds_it(
    visit: Visit,
    cylinder: Any,
    scale: Any,
    send: Callable[..., Any],
    held: Callable[..., Any],
    technician_client: Client,
) -> None:
    path = f"visits/1/charge/?source={cylinder.account.number}"
    response = send(path, **readings("11.200", "10.650", scale, target="550", tolerance="15", phase="liquid"))
    assert response.status_code == 303, response.context["form"].errors
    assert held(visit.vehicle) == {("R-134a", ""): 550_000}
    step = Step.objects.get(kind="charge")
    assert step.data["target"]["mg"] == 550_000
    assert "Charged 0.550" in technician_client.get(f"{HOME}visits/1/").content.decode().replace("&#x202f;", " ")


def test_several_sources_are_several_lines(
    visit: Visit, make_cylinder: Callable[..., Any], scale: Any, send: Callable[..., Any], held: Callable[..., Any]
) -> None:
    for serial, grams in (("A-1", "10.900"), ("A-2", "10.950")):
        source = make_cylinder(serial, mass_mg=5_000_000)
        send(f"visits/1/charge/?source={source.account.number}", **readings("11.200", grams, scale))
    assert Movement.objects.filter(cause="charge").count() == 2
    assert held(visit.vehicle) == {("R-134a", ""): 550_000}


def test_the_echo_says_the_difference_from_the_target(
    visit: Visit, cylinder: Any, scale: Any, technician_client: Client
) -> None:
    path = f"{HOME}visits/1/leg/{cylinder.account.number}/echo/"
    sent = readings("11.200", "10.640", scale, target="550", target_unit="g", tolerance="15", tolerance_unit="g")
    echo = technician_client.get(path, sent).content.decode().replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert "0.560 kg out" in echo
    assert "10 g over, within 535 g to 565 g" in echo


def test_a_scale_changed_in_mid_charge_cannot_show_that_it_is_within_the_tolerance() -> None:
    said = target_said(546_000, 14_240, Target(550_000, 15_000), "kg").replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert "cannot show that it is within 535 g to 565 g" in said
    assert "518 g to 574 g" in said


def test_after_that_weighs_no_less_is_refused_beside_the_reading(
    visit: Visit, cylinder: Any, scale: Any, send: Callable[..., Any]
) -> None:
    response = send(f"visits/1/charge/?source={cylinder.account.number}", **readings("11.200", "11.200", scale))
    assert response.status_code == 422
    assert "nothing was charged" in str(response.context["form"].errors["after"])
    assert not Step.objects.filter(kind="charge").exists()


def test_a_machine_figure_is_charged_from_its_tank(
    visit: Visit, make_cylinder: Callable[..., Any], send: Callable[..., Any], held: Callable[..., Any]
) -> None:
    tank = make_cylinder("T-1", kind="machine tank", grade="recycled", mass_mg=5_200_000, machine_limit_mg=15_000)
    assert send(f"visits/1/charge/?source={tank.account.number}", shown="545").status_code == 303
    assert held(tank) == {("R-134a", "recycled"): 4_655_000}
    assert Movement.objects.get(cause="charge").basis == "machine"


def test_cans_are_counted(
    visit: Visit, make_cylinder: Callable[..., Any], send: Callable[..., Any], held: Callable[..., Any]
) -> None:
    lot = make_cylinder("LOT", kind="can lot", mass_mg=4_080_000, can_count=12, can_content_mg=340_000)
    assert send(f"visits/1/charge/?source={lot.account.number}", cans="2").status_code == 303
    assert held(lot) == {("R-134a", "virgin"): 3_400_000}
    assert Movement.objects.get(cause="charge").basis == "count"


def test_more_than_a_machine_tank_holds_is_refused(
    visit: Visit, make_cylinder: Callable[..., Any], send: Callable[..., Any]
) -> None:
    tank = make_cylinder("T-1", kind="machine tank", mass_mg=300_000)
    response = send(f"visits/1/charge/?source={tank.account.number}", shown="545")
    assert response.status_code == 422
    assert "cannot leave it" in response.content.decode()


def test_a_charge_pressed_twice_is_one_line(visit: Visit, cylinder: Any, scale: Any, send: Callable[..., Any]) -> None:
    key = str(uuid4())
    for _ in range(2):
        path = f"visits/1/charge/?source={cylinder.account.number}"
        assert send(path, key=key, **readings("11.200", "10.650", scale)).status_code == 303
    assert Movement.objects.filter(cause="charge").count() == 1


def test_the_facts_of_a_charge_are_entered_anew_without_touching_its_mass(
    visit: Visit, cylinder: Any, scale: Any, send: Callable[..., Any], held: Callable[..., Any]
) -> None:
    send(f"visits/1/charge/?source={cylinder.account.number}", **readings("11.200", "10.650", scale))
    old = Step.objects.get(kind="charge")
    assert send(f"visits/1/add/charge/?replaces={old.pk}", phase="vapour").status_code == 303
    newer = Step.objects.get(replaces=old)
    assert newer.entry == old.entry
    assert held(visit.vehicle) == {("R-134a", ""): 550_000}


def test_a_reader_does_not_charge(visit: Visit, reader_client: Client) -> None:
    assert reader_client.get(f"{HOME}visits/1/charge/").status_code == 403
    assert reader_client.post(f"{HOME}visits/1/charge/").status_code == 403


@pytest.mark.parametrize(
    ("fields", "words"),
    [({"grade": "suspect"}, "R-134a that is suspect"), ({"refrigerant": "MIXED", "grade": "suspect"}, "a mixture")],
)
def test_a_suspect_source_is_asked_about_before_it_is_written_and_never_refused(
    visit: Visit,
    make_cylinder: Callable[..., Any],
    scale: Any,
    technician: Any,
    technician_client: Client,
    fields: dict[str, Any],
    words: str,
) -> None:
    source = make_cylinder("DOUBT", mass_mg=5_000_000, **fields)
    at = f"{HOME}visits/1/charge/?source={source.account.number}"
    assert f"DOUBT holds {words}" in technician_client.get(at).content.decode()
    full = (source.tare_mg + 5_000_000) / 1e6
    seen = [f"before={source.tare_mg + 5_000_000}", f"after={source.tare_mg + 4_500_000}"]
    sent = readings(f"{full:.3f}", f"{full - 0.5:.3f}", scale, key=str(uuid4()), doer=technician.handle, seen=seen)
    back = technician_client.post(at, sent)
    assert "Is it this cylinder that was charged from?" in back.content.decode()
    assert not Step.objects.filter(kind="charge").exists()
    assert technician_client.post(at, {**sent, "read_back": back.context["signature"]}).status_code == 303
    assert Movement.objects.filter(cause="charge").count() == 1


def test_gas_that_is_certain_is_not_asked_about(visit: Visit, cylinder: Any, technician_client: Client) -> None:
    page = technician_client.get(f"{HOME}visits/1/charge/?source={cylinder.account.number}").content.decode()
    assert "was charged from?" not in page


def test_both_readings_without_a_cylinder_ask_for_it_at_its_field_and_keep_what_was_typed(
    send: Callable[..., Any],
    make_vehicle: Callable[..., Any],
    make_cylinder: Callable[..., Any],
    technician_client: Client,
) -> None:
    make_vehicle("V1")
    send("visits/new/", registration="V1", state="runs")
    make_cylinder("C-1", mass_mg=5_000_000)
    make_cylinder("C-2", mass_mg=5_000_000)
    sent = {"go": "both", "gross": "11.2", "gross_unit": "kg"}
    answer = technician_client.post(f"{HOME}visits/1/charge/", sent)
    assert answer.status_code == 422
    assert answer.context["form"].errors["cylinder"] == ["Choose the cylinder that stands on the scale."]
    assert 'value="11.2"' in answer.content.decode()
    assert "Caution" in answer.content.decode()


@pytest.fixture
def topped(visit: Visit, make_cylinder: Callable[..., Any], post: Callable[..., Any]) -> Any:
    """The vehicle with 300 g by the book, and a cylinder beside it."""
    source = make_cylinder("FULL", mass_mg=5_000_000)
    post("charge", source.account, visit.vehicle.account, 300_000)
    return source


def test_a_charge_past_the_label_onto_what_is_inside_is_asked_about_with_both_masses(
    visit: Visit, topped: Any, scale: Any, send: Callable[..., Any], technician_client: Client
) -> None:
    path = f"visits/1/charge/?source={topped.account.number}"
    assert "By the book 300" in words(technician_client.get(HOME + path))
    asked = send(path, **readings("10.900", "10.400", scale, target="500"))
    assert asked.status_code == 422
    question = str(asked.context["form"].errors["onto"]).replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert "has 300 g R-134a in it. With 500 g more it has 800 g, and its label says 550 g." in question
    assert 'value="10.400"' in asked.content.decode(), "what was typed stays"
    assert not Step.objects.filter(kind="charge").exists()
    assert send(path, **readings("10.900", "10.400", scale, target="500", onto=ONTO[0])).status_code == 303
    assert ONTO[0] in words(technician_client.get(f"{HOME}visits/1/"))


def test_a_charge_onto_what_is_inside_within_the_label_is_not_asked_about(
    visit: Visit, topped: Any, scale: Any, send: Callable[..., Any]
) -> None:
    path = f"visits/1/charge/?source={topped.account.number}"
    assert send(path, **readings("10.900", "10.650", scale)).status_code == 303


def test_nothing_is_asked_of_what_is_inside_where_nothing_is(
    visit: Visit, cylinder: Any, technician_client: Client
) -> None:
    form = technician_client.get(f"{HOME}visits/1/charge/?source={cylinder.account.number}").context["form"]
    assert "onto" not in form.fields


@pytest.mark.parametrize(("jurisdiction", "asked"), [("us", True), ("eu", True), ("none", False)])
def test_gas_that_nobody_cleaned_is_asked_about_where_a_rule_speaks_of_it_and_said_everywhere(
    workshop: Any,
    visit: Visit,
    make_vehicle: Callable[..., Any],
    make_cylinder: Callable[..., Any],
    post: Callable[..., Any],
    scale: Any,
    technician: Any,
    technician_client: Client,
    jurisdiction: str,
    asked: bool,
) -> None:
    workshop.jurisdiction = jurisdiction
    workshop.save()
    other, source = make_vehicle("V2"), make_cylinder("REC", kind="recovery", grade="recovered")
    opening = Account.objects.get(book=source.account.book, kind="opening")
    post("found-in-vehicle", opening, other.account, 900_000, grade="recovered", basis="pair")
    post("recovery", other.account, source.account, 900_000, grade="recovered", basis="pair")
    at = f"{HOME}visits/1/charge/?source={source.account.number}"
    assert "came at least in part out of another vehicle" in words(technician_client.get(at))
    seen = ["before=7100000", "after=6600000"]
    sent = readings("7.100", "6.600", scale, key=str(uuid4()), doer=technician.handle, seen=seen)
    answer = technician_client.post(at, sent)
    assert (answer.status_code == 200) is asked
    assert Step.objects.filter(kind="charge").exists() is not asked
    if asked:
        assert "is recycled or reclaimed before it is charged" in words(answer)
        assert technician_client.post(at, {**sent, "read_back": answer.context["signature"]}).status_code == 303


@pytest.mark.parametrize(("kind", "offered"), [("single-trip", False), ("refillable", True)])
def test_a_cylinder_that_is_never_filled_is_not_offered_to_recover_into(
    visit: Visit,
    make_cylinder: Callable[..., Any],
    scale: Any,
    send: Callable[..., Any],
    technician_client: Client,
    kind: str,
    offered: bool,
) -> None:
    source = make_cylinder("ONE", kind=kind, mass_mg=5_000_000)
    begun = {"cylinder": source.account.number, "gross": "11.200", "gross_unit": "kg", "scale": scale.number}
    assert send("visits/1/charge/", **begun).status_code == 303
    page = words(technician_client.get(f"{HOME}visits/1/charge/{source.account.number}/"))
    assert "Nothing moved: put it back" in page
    assert ("Recover into it instead" in page) is offered


def test_what_a_leg_is_asked_about_stands_open_before_the_rest(
    visit: Visit, cylinder: Any, make_cylinder: Callable[..., Any], technician_client: Client
) -> None:
    make_cylinder("REC", kind="recovery", grade="recovered")
    number = make_cylinder("REC-2", kind="recovery", grade="recovered").account.number
    charging = technician_client.get(f"{HOME}visits/1/charge/?source={cylinder.account.number}").context["form"]
    recovering = technician_client.get(f"{HOME}visits/1/recover/?target={number}").context["form"]
    assert {"target", "tolerance"} <= {field.name for field in charging.up_front}
    first = {field.name for field in recovering.up_front}
    assert {"final_pressure", "waited", "pressure_after_wait", "stopped"} <= first
    assert {"engine_run", "heat", "oil_out"}.isdisjoint(first)


def test_the_readings_of_the_line_before_are_asked_about_once_more(
    visit: Visit, make_cylinder: Callable[..., Any], scale: Any, send: Callable[..., Any], send_once: Callable[..., Any]
) -> None:
    source = make_cylinder("FULL", mass_mg=5_000_000)
    path = f"visits/1/charge/?source={source.account.number}"
    assert send(path, **readings("11.200", "10.920", scale)).status_code == 303
    again = {"key": str(uuid4()), **readings("11.200", "10.920", scale)}
    asked = send_once(path, **again)
    assert asked.status_code == 200
    line = Step.objects.get(kind="charge").entry.seq
    assert f"These are the readings of line {line} once more." in words(asked)
    assert send_once(path, **again, read_back=asked.context["signature"]).status_code == 303
