"""From an empty book to a leg: a cylinder is brought in where it is needed; what is odd about a charge is asked."""

import re
from collections.abc import Callable
from datetime import timedelta
from html import unescape
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Cylinder, Movement
from shop.models import Vehicle, Visit
from tests.answers import words

HOME = "/w/port-ellery/"
ANSWERS = {"tare_source": "stamped", "tare_limit": "50 g", "grade": "recovered"}


def link(response: Any, said: str) -> str:
    """Return the address of the link with these words."""
    found = re.search(rf'<a[^>]*href="([^"]*)"[^>]*>{said}</a>', response.content.decode())
    assert found is not None, f"no link {said!r}"
    return unescape(found[1])


@pytest.fixture
def open_visit(send: Callable[..., Any], make_vehicle: Callable[..., Any]) -> Callable[..., Visit]:
    def start(plate: str = "V1", **facts: Any) -> Visit:
        make_vehicle(plate, **facts)
        send("visits/new/", registration=plate, state="runs")
        return Visit.objects.select_related("vehicle__account").latest("number")

    return start


def readings(before: str, after: str, scale: Any, **more: Any) -> dict[str, Any]:
    units = {"before_unit": "kg", "after_unit": "kg"}
    return {"before": before, "after": after, "scale": scale.number, "stopped": "done", **units, **more}


# Nothing fits


def test_with_no_cylinder_at_all_a_recovery_still_comes_to_its_mass(
    technician_client: Client, open_visit: Callable[..., Visit], send: Callable[..., Any], scale: Any
) -> None:
    open_visit()
    page = technician_client.get(f"{HOME}visits/1/recover/")
    assert "No cylinder stands here." in words(page)
    at = link(page, "Bring in an empty cylinder")
    form = technician_client.get(at).context["form"]
    assert len(form.up_front) <= 6
    assert form.initial["refrigerant"] == "R-134a"
    back = send(
        at,
        **{"origin": "empty", "kind": "recovery", "serial": "R-1", "refrigerant": "R-134a", **ANSWERS},
        tare="6.36 kg",
        water_capacity="12 L",
    )
    assert back.status_code == 303
    leg = technician_client.get(back["Location"])
    assert "Recover into R-1" in words(leg)
    assert send(back["Location"], **readings("6.360", "6.900", scale)).status_code == 303
    assert Movement.objects.get(cause="recovery").mass_mg == 540_000


def test_gas_without_a_name_asks_for_a_cylinder_for_a_mixture(
    technician_client: Client, open_visit: Callable[..., Visit]
) -> None:
    open_visit(refrigerant="")
    form = technician_client.get(
        link(technician_client.get(f"{HOME}visits/1/recover/"), "Bring in an empty cylinder")
    ).context["form"]
    assert (form.initial["refrigerant"], form.initial["grade"]) == ("MIXED", "suspect")


def test_what_fits_comes_first_and_the_rest_is_folded_with_reason_and_way_out(
    technician_client: Client, open_visit: Callable[..., Visit], make_cylinder: Callable[..., Any], send: Any
) -> None:
    open_visit()
    make_cylinder("A-1", kind="single-trip", grade="virgin", mass_mg=0)
    make_cylinder("B-1", kind="recovery", grade="recovered", refrigerant="R-12", mass_mg=2_000_000)
    old = make_cylinder("C-1", kind="recovery", grade="recovered", mass_mg=0)
    Cylinder.objects.filter(pk=old.pk).update(requalify_by=timezone.localdate() - timedelta(days=9))
    make_cylinder("Z-9", kind="recovery", grade="recovered", mass_mg=0)
    page = technician_client.get(f"{HOME}visits/1/recover/")
    open_part, folded = words(page).split("3 that may not take it, and why")
    assert "Z-9" in open_part
    for serial in ("A-1", "B-1", "C-1"):
        assert serial not in open_part
        assert serial in folded
    assert link(page, "Move its gas into another").endswith("/transfer/")
    tested = link(page, "It was tested: enter the new date")
    edit = technician_client.get(tested).context["form"].initial
    answer = technician_client.post(
        tested,
        {
            **{name: edit[name] for name in ("serial", "kind", "refrigerant", "grade", "state")},
            "requalify_by": "2099-01-01",
        },
    )
    assert answer["Location"] == f"{HOME}visits/1/recover/"
    assert "C-1" in words(technician_client.get(answer["Location"])).split("2 that may not take it, and why")[0]


def test_a_refusal_offers_an_empty_cylinder(
    technician_client: Client, open_visit: Callable[..., Visit], cylinder: Any
) -> None:
    open_visit()
    page = technician_client.get(f"{HOME}visits/1/recover/?target={cylinder.account.number}")
    assert page.status_code == 422
    assert "target%3DNEW" in link(page, "Bring in an empty cylinder")


def test_with_no_cylinder_of_its_gas_a_charge_still_comes_to_its_mass(
    technician_client: Client,
    open_visit: Callable[..., Visit],
    send: Callable[..., Any],
    scale: Any,
    partner: Any,
    make_cylinder: Callable[..., Any],
) -> None:
    make_cylinder("X-1", refrigerant="R-1234yf", mass_mg=3_000_000)
    open_visit()
    page = technician_client.get(f"{HOME}visits/1/charge/")
    assert "No cylinder here holds R-134a that may be charged." in words(page)
    assert "X-1" in words(page).split("1 with another gas, or one in doubt")[1]
    chooser = technician_client.get(link(page, "Receive a cylinder"))
    assert "It comes empty" not in words(chooser)
    at = f"{HOME}cylinders/receive/{link(chooser, 'Single-trip cylinder')}"
    assert technician_client.get(at).context["form"].initial["refrigerant"] == "R-134a"
    back = send(
        at,
        **{"origin": "purchase", "kind": "single-trip", "serial": "N-1", "refrigerant": "R-134a", **ANSWERS},
        partner=partner.account.number,
        tare="2.700 kg",
        gross="16.300 kg",
        scale=scale.number,
    )
    assert "Charge from N-1" in words(technician_client.get(back["Location"]))
    assert send(back["Location"], **readings("16.300", "15.750", scale)).status_code == 303
    assert Movement.objects.get(cause="charge").mass_mg == 550_000


# What is odd is asked


@pytest.fixture
def charged_from(
    send: Callable[..., Any], technician_client: Client, scale: Any, technician: Any
) -> Callable[..., Any]:
    """Weigh a cylinder before and after on its own page; return what answers the second reading, all of it echoed."""

    def weigh(cylinder: Any, went: str = "visit-1") -> tuple[str, dict[str, Any], Any]:
        path = f"{HOME}cylinders/{cylinder.account.number}/weigh/"
        assert send(path, gross="11.200", gross_unit="kg", scale=scale.number).status_code == 303
        sent = {"key": str(uuid4()), "gross": "10.750", "gross_unit": "kg", "scale": scale.number, "went": went}
        sent |= {"seen": "gross=10750000"}
        return path, sent, technician_client.post(path, sent)

    return weigh


@pytest.mark.parametrize(
    ("facts", "question"),
    [
        ({"refrigerant": "", "nameplate_mg": None}, "Nothing says which refrigerant V1 is for"),
        ({"refrigerant": "R-1234yf", "content": "evacuated"}, "V1 is for R-1234yf. C-34 holds R-134a."),
        ({}, "What was in V1 before is not known"),
    ],
)
def test_a_charge_from_the_cylinders_page_into_a_doubtful_vehicle_is_asked_about(
    technician_client: Client,
    open_visit: Callable[..., Visit],
    make_cylinder: Callable[..., Any],
    charged_from: Callable[..., Any],
    facts: dict[str, Any],
    question: str,
) -> None:
    open_visit(**facts)
    path, sent, asked = charged_from(make_cylinder("C-34", mass_mg=5_000_000))
    assert asked.status_code == 200
    assert question in words(asked)
    assert not Movement.objects.filter(cause="charge").exists()
    echoed = technician_client.get(f"{path}echo/", {**sent, "kind": "mass", "name": "gross"})
    assert question in words(echoed)
    answer = technician_client.post(path, {**sent, "read_back": asked.context["signature"]})
    assert answer.status_code == 303
    assert Movement.objects.get(cause="charge").mass_mg == 450_000


def test_a_charge_of_the_right_gas_after_a_vacuum_is_not_asked_about(
    open_visit: Callable[..., Visit], make_cylinder: Callable[..., Any], charged_from: Callable[..., Any]
) -> None:
    open_visit(content="evacuated")
    assert charged_from(make_cylinder("C-34", mass_mg=5_000_000))[2].status_code == 303
    assert Movement.objects.get(cause="charge").mass_mg == 450_000


def test_gas_without_a_name_that_comes_out_is_asked_about_on_the_cylinders_page(
    technician_client: Client,
    open_visit: Callable[..., Visit],
    make_cylinder: Callable[..., Any],
    send: Callable[..., Any],
    scale: Any,
) -> None:
    open_visit(refrigerant="")
    target = make_cylinder("C-41", kind="recovery", grade="suspect", mass_mg=0)
    path = f"{HOME}cylinders/{target.account.number}/weigh/"
    assert send(path, gross="6.200", gross_unit="kg", scale=scale.number).status_code == 303
    sent = {"key": str(uuid4()), "gross": "6.600", "gross_unit": "kg", "scale": scale.number, "went": "visit-1"}
    asked = technician_client.post(path, {**sent, "seen": "gross=6600000"})
    assert "has no name: it is written as MIXED, suspect" in words(asked)
    assert not Movement.objects.filter(cause="recovery").exists()


def test_gas_that_is_suspect_is_asked_about_on_the_cylinders_page_too(
    open_visit: Callable[..., Visit], make_cylinder: Callable[..., Any], charged_from: Callable[..., Any]
) -> None:
    open_visit(content="evacuated")
    _, _, asked = charged_from(make_cylinder("C-34", kind="recovery", grade="suspect", mass_mg=5_000_000))
    assert "into no vehicle" in words(asked)


def test_a_leg_of_another_gas_in_the_visit_is_asked_about(
    technician_client: Client,
    open_visit: Callable[..., Visit],
    make_cylinder: Callable[..., Any],
    scale: Any,
    technician: Any,
) -> None:
    open_visit(refrigerant="R-1234yf", content="evacuated")
    source = make_cylinder("C-34", mass_mg=5_000_000)
    path = f"{HOME}visits/1/charge/?source={source.account.number}"
    assert "V1 is for R-1234yf. C-34 holds R-134a." in words(technician_client.get(path))
    sent = {"key": str(uuid4()), "doer": technician.handle, **readings("11.200", "10.750", scale)}
    asked = technician_client.post(path, {**sent, "seen": ["before=11200000", "after=10750000"]})
    assert "Is it this gas and this vehicle?" in words(asked)
    assert not Movement.objects.filter(cause="charge").exists()


def test_a_visit_is_started_from_the_cylinders_page_and_the_reading_stays(
    technician_client: Client, technician: Any, make_cylinder: Callable[..., Any], send: Callable[..., Any], scale: Any
) -> None:
    path = f"{HOME}cylinders/{make_cylinder('C-34', mass_mg=5_000_000).account.number}/weigh/"
    send(path, gross="11.200", gross_unit="kg", scale=scale.number)
    typed = {"key": str(uuid4()), "gross": "10.750", "gross_unit": "kg", "scale": scale.number}
    away = technician_client.post(path, {**typed, "go": "visit went"})
    assert away.status_code == 303
    started = send(away["Location"], registration="NEW 22", state="runs")
    assert Vehicle.objects.get().registration == "NEW 22"
    back = technician_client.get(started["Location"])
    assert 'value="10.750"' in back.content.decode()
    assert back.context["form"]["went"].value() == f"visit-{Visit.objects.get().number}"
    assert not Movement.objects.filter(cause="charge").exists()


@pytest.mark.parametrize(
    ("meant", "asked"), [("R-1234yf", "V1 is for R-1234yf."), ("", "Nothing says"), ("R-134a", "")]
)
def test_a_charge_that_nobody_wrote_down_is_asked_about_where_the_difference_is_explained(
    technician_client: Client,
    make_vehicle: Callable[..., Any],
    make_cylinder: Callable[..., Any],
    send: Callable[..., Any],
    scale: Any,
    meant: str,
    asked: str,
) -> None:
    vehicle = make_vehicle("V1", refrigerant=meant)
    cylinder = make_cylinder("C-34", mass_mg=5_000_000)
    at = f"{HOME}cylinders/{cylinder.account.number}/weigh/?check"
    assert send(at, gross="10.750", gross_unit="kg", scale=scale.number, gross_reading="=10.750 kg").status_code == 303
    seq = Movement.objects.get(cause="weighing-difference").entry.seq
    sent = {"key": str(uuid4()), "cause": "late-charge", "vehicle": vehicle.account.number, "reason": "by the diary"}
    page = f"{HOME}lines/{seq}/explain/"
    sent["difference"] = technician_client.get(page).context["form"].initial["difference"]
    shown = words(technician_client.post(page, sent))
    assert "Both lines stay" in shown
    assert asked in shown
    assert ("Was it charged so?" in shown) == bool(asked)
    assert send(page, **sent).status_code == 303
    assert Movement.objects.get(cause="late-charge").mass_mg == 450_000
