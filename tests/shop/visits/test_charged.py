"""How a charge stands to its target, by the figures of the worked scenarios of the trade, through the pages.

Expected figures are worked by hand from the readings named beside them, with densities and saturation by CoolProp.
"""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.models import Movement
from shop.models import Visit
from tests.shop.visits.looking import ENDED, HOME, LABEL, Make, verdicts


def test_readings_on_two_scales_cannot_show_550_g_and_nothing_is_written_until_it_is_said(
    start: Callable[..., Visit],
    cylinder: Any,
    scale: Any,
    make_scale: Make,
    technician_client: Client,
    technician: Any,
    leg: Make,
    send: Make,
) -> None:
    s2 = make_scale("S2", step_mg=2_000)
    visit = start(registration="V4", volume_m3=0.0016)
    weigh = f"cylinders/{cylinder.account.number}/weigh/"
    assert send(weigh, gross="11.196", gross_unit="kg", scale=s2.number).status_code == 303
    path = f"{HOME}visits/{visit.number}/charge/?source={cylinder.account.number}"
    fields = {"key": str(uuid4()), "doer": technician.handle, "target": "550", "tolerance": "15"}
    fields |= {"after": "10.650", "after_unit": "kg", "scale": str(scale.number)}
    seen = [f"{name}={value}" for name, value in (("target", 550_000), ("tolerance", 15_000), ("after", 10_650_000))]
    asked = technician_client.post(path, {**fields, "seen": seen})
    words = asked.content.decode()
    assert asked.status_code == 200
    assert "cannot show that it is within" in words
    assert "The step stays open" in words
    assert not Movement.objects.filter(cause="charge").exists()
    again = {**fields, "key": str(uuid4()), "after": "10.642", "scale": str(s2.number), "restarted": "on"}
    answer = technician_client.post(path, {**again, "seen": [*seen[:2], "after=10642000"]})
    assert answer.status_code == 303  # 554 g, u 1.85 g: within, so nothing more is asked
    told = verdicts(visit)["charge"]
    assert told.answer is not None
    assert told.answer.verdict == "within"
    assert Movement.objects.get(cause="charge").u_mg == pytest.approx(1_850, abs=10)


def test_the_legs_of_a_charge_are_judged_together(
    start: Callable[..., Visit], cylinder: Any, make_scale: Make, leg: Make
) -> None:
    s2 = make_scale("S2", step_mg=2_000)
    visit = start(registration="V4", volume_m3=0.0016)
    aim = {"target": "550", "tolerance": "15"}
    assert leg(visit, cylinder, s2, "11.200", "10.900", **aim).status_code == 303
    assert leg(visit, cylinder, s2, "10.900", "10.646", **aim).status_code == 303
    told = verdicts(visit)["charge"]
    assert told.sentence.startswith("554 g charged")
    assert "All 2 legs together." in told.more


def test_a_machine_good_to_15_g_is_wider_than_a_band_of_15_g_and_says_so(
    start: Callable[..., Visit], make_cylinder: Make, send: Make, step: Make
) -> None:
    visit = start(registration="V5", volume_m3=0.0016, oil_g=130.0)
    tank = make_cylinder(
        "T-1", kind="machine tank", grade="recycled", recycles=True, mass_mg=5_200_000, machine_limit_mg=15_000
    )
    step(visit, "label-read", **{**LABEL, "refrigerant": "R-134a", "mass": "550", "tolerance": "15"})
    out = {"shown": "520", "purged": "6", "coldest": "20", **ENDED}
    assert send(f"visits/{visit.number}/recover/?target={tank.account.number}", **out).status_code == 303
    proof = verdicts(visit)["recovery"]
    assert proof.answer is not None
    assert proof.answer.verdict == "accounted for"
    shown = {"shown": "545", "target": "550", "tolerance": "15"}
    assert send(f"visits/{visit.number}/charge/?source={tank.account.number}", **shown).status_code == 303
    told = verdicts(visit)["charge"]
    assert told.answer is not None
    assert told.answer.verdict == "cannot-show"
    assert any("narrower than these readings can show (+-17.3 g)" in more for more in told.more)


def test_after_a_conversion_the_old_label_gives_an_estimate_and_no_target(
    start: Callable[..., Visit], step: Make, cylinder: Any, scale: Any, technician_client: Client
) -> None:
    visit = start(refrigerant="R-12", volume_m3=0.002, nameplate_mg=900_000)
    page = technician_client.get(f"{HOME}visits/{visit.number}/charge/?source={cylinder.account.number}")
    words = page.content.decode()
    assert "720 to 810 g" in words
    assert "Common practice" in words
    assert "target" not in page.context["form"].initial
    assert "A metre of hose" in words


def test_a_filling_over_the_limit_is_written_from_the_scale_when_it_has_happened(
    start: Callable[..., Visit], make_cylinder: Make, scale: Any, send: Make
) -> None:
    visit = start(registration="V9", volume_m3=0.002)
    small = make_cylinder(
        "C-S", kind="recovery", grade="recovered", mass_mg=900_000, tare_mg=2_000_000, water_capacity_m3=0.001
    )
    path = f"cylinders/{small.account.number}/weigh/"
    assert send(path, gross="2.900", gross_unit="kg", scale=scale.number).status_code == 303
    after = {"gross": "3.400", "gross_unit": "kg", "scale": scale.number, "went": f"visit-{visit.number}"}
    refused = send(path, **after)
    assert refused.status_code == 422
    assert "It has happened already" in refused.content.decode()
    assert send(path, **after, happened="on").status_code == 303
    assert Movement.objects.get(cause="recovery").mass_mg == 500_000
