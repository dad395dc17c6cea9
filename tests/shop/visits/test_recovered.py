"""What arrived, what came out and what was left, by the figures of the trade's worked scenarios, through the pages.

Expected figures are worked by hand from the readings named beside them, with densities and saturation by CoolProp.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from compliance.models import Finding
from inventory.models import Movement
from shop.models import Step, Vehicle, Visit
from tests.shop.visits.looking import CLASS_D, ENDED, HOME, LABEL, Make, held_vacuum, stood, verdicts


@pytest.fixture
def r12_car(start: Callable[..., Visit]) -> Visit:
    return start(refrigerant="R-12", volume_m3=0.002, oil_g=200.0)


def test_a_recovery_32_g_short_of_900_is_accounted_for(
    r12_car: Visit, step: Make, leg: Make, make_cylinder: Make, scale: Any, gauges: Any
) -> None:
    step(r12_car, "label-read", **LABEL)
    step(r12_car, "standing-pressure", **stood("4.7", "20", gauges))
    c12 = make_cylinder(
        "C-12", kind="recovery", refrigerant="R-12", grade="recovered", mass_mg=2_490_000, tare_mg=6_850_000
    )
    assert leg(r12_car, c12, scale, "9.340", "10.208", coldest="20", **ENDED).status_code == 303
    told = verdicts(r12_car)["recovery"]
    assert told.answer is not None
    assert told.answer.verdict == "accounted for"
    figures = dict(told.answer.workings)
    assert figures["Limit"] == "48.0 g"  # 8.9 g of vapour, 10 g in the oil, 29.2 g of label and readings
    assert figures["Give or take of label and readings"] == "29.2 g"
    assert "32.0 g short" in told.sentence
    assert any("would be short" in more for more in told.more)


def test_r12_at_4_7_bar_cannot_be_told_from_r134a_and_holds_at_least_64_g(
    r12_car: Visit, step: Make, gauges: Any
) -> None:
    step(r12_car, "standing-pressure", **stood("4.7", "20", gauges))
    told = verdicts(r12_car)["standing pressure"]
    assert "at least 64 g" in told.sentence
    which = next(more for more in told.more if more.startswith("By the pressure alone"))
    assert "fits: R-12, R-134a" in which
    assert "does not fit: R-1234yf, R-22, R-290" in which
    assert any("never replaces an identifier" in more for more in told.more)


def test_a_car_at_nothing_with_a_photo_arrived_empty_with_evidence_a(
    start: Callable[..., Visit], step: Make, gauges: Any
) -> None:
    visit = start(refrigerant="R-12", volume_m3=0.0022, oil_g=200.0)
    assert step(visit, "standing-pressure", **stood("0", "24", gauges, photo="P7", empty="yes")).status_code == 303
    told = verdicts(visit)["standing pressure"]
    assert told.sentence.startswith("Arrived empty; what speaks for it: standing pressure read and photographed")
    assert "11.7 g of vapour" in told.sentence
    assert not Movement.objects.filter(cause="evacuated-residue").exists()


def test_arrived_empty_is_refused_where_5_3_bar_say_at_least_78_g(
    start: Callable[..., Visit], step: Make, gauges: Any
) -> None:
    visit = start(refrigerant="R-12", volume_m3=0.0022, oil_g=200.0)
    response = step(visit, "standing-pressure", **stood("5.3", "24", gauges, empty="yes"))
    assert response.status_code == 422
    assert "at least 78 g" in response.content.decode()
    assert Step.objects.filter(kind="standing pressure").count() == 0
    assert step(visit, "standing-pressure", **stood("5.3", "24", gauges)).status_code == 303
    step(visit, "circuit-opened", what="condenser")
    opened = verdicts(visit)["circuit opened"].sentence
    assert opened.startswith("Opened with no recovery before it.")
    assert "at least 78 g" in opened


def test_two_bar_is_neither_full_nor_empty(
    start: Callable[..., Visit], step: Make, gauges: Any, technician_client: Client
) -> None:
    visit = start(refrigerant="R-12", volume_m3=0.0022, oil_g=200.0)
    step(visit, "standing-pressure", **stood("2.0", "24", gauges))
    sentence = verdicts(visit)["standing pressure"].sentence
    assert "34" in sentence
    assert "recovery is owed" in sentence
    assert step(visit, "standing-pressure", **stood("2.0", "24", gauges, empty="yes")).status_code == 422


def test_a_standing_pressure_written_40_days_late_is_evidence_d_at_best(
    start: Callable[..., Visit], step: Make, gauges: Any, now: datetime
) -> None:
    visit = start(refrigerant="R-12", volume_m3=0.0022, oil_g=200.0)
    when = (now - timedelta(days=40)).strftime("%Y-%m-%d %H:%M")
    assert step(visit, "standing-pressure", **stood("0", "24", gauges, photo="P7", occurred_at=when)).status_code == 303
    told = verdicts(visit)["standing pressure"]
    assert told.sentence.startswith("Arrived empty; what speaks for it: the customer’s word")
    assert any("40 days late" in more for more in told.more)


@pytest.fixture
def back_weak(
    start: Callable[..., Visit],
    step: Make,
    leg: Make,
    make_cylinder: Make,
    cylinder: Any,
    scale: Any,
    make_scale: Make,
    gauges: Any,
) -> Visit:
    """784 g charged after a vacuum that held, 274 days ago; now 640 g come out."""
    visit = start(volume_m3=0.002, oil_g=200.0)
    readings = held_vacuum([("0", "1.5"), ("15", "1.5"), ("30", "1.5")], gauges)
    assert step(visit, "vacuum-hold", **readings).status_code == 303
    s2 = make_scale("S2", step_mg=2_000)
    assert leg(visit, cylinder, s2, "11.200", "10.416").status_code == 303
    assert Vehicle.objects.get().content == "known"
    charged = Movement.objects.get(cause="charge").entry
    later = start(visit.vehicle)
    Visit.objects.filter(pk=later.pk).update(opened_at=charged.occurred_at + timedelta(days=274))
    c35 = make_cylinder("C-35", kind="recovery", grade="recovered", mass_mg=5_060_000, tare_mg=6_360_000)
    assert leg(later, c35, scale, "11.420", "12.060", coldest="15", **ENDED).status_code == 303
    later.refresh_from_db()
    return later


def test_what_is_expected_is_the_books_own_charge(back_weak: Visit) -> None:
    told = verdicts(back_weak)["recovery"]
    assert told.answer is not None
    assert told.answer.verdict == "short"
    assert "640 g of 784 g came out, 144 g short" in told.sentence
    assert "Expected: charged here by the book." in told.more


def test_the_remainder_comes_filled_in_and_is_never_more_than_its_bound(
    back_weak: Visit, step: Make, technician_client: Client
) -> None:
    path = f"{HOME}visits/{back_weak.number}/add/remainder-settled/"
    page = technician_client.get(path).content.decode()
    assert 'value="17.6"' in page  # 7.6 g of vapour and 10 g in the oil
    evidence = CLASS_D
    over = step(back_weak, "remainder-settled", evidence=evidence, bound="30", rest="road")
    assert over.status_code == 422
    assert "at most" in over.content.decode()
    assert step(back_weak, "remainder-settled", evidence=evidence, bound="17.6", rest="road").status_code == 303
    assert Movement.objects.get(cause="evacuated-residue").mass_mg == 8_800
    assert Movement.objects.get(cause="lost-on-the-road").mass_mg == 135_200


def test_what_was_charged_since_is_no_remainder_of_the_recovery(
    back_weak: Visit, leg: Make, cylinder: Any, technician_client: Client
) -> None:
    s2 = Movement.objects.get(cause="charge").scale
    assert leg(back_weak, cylinder, s2, "10.416", "9.646").status_code == 303
    page = technician_client.get(f"{HOME}visits/{back_weak.number}/add/remainder-settled/")
    assert "Of 144 g left" in page.content.decode()
    initial = page.context["form"].initial
    assert (initial["shortfall"].text, initial["rest"]) == ("135.2", "stays")


def test_with_nothing_to_show_for_it_nothing_is_lost_on_the_road(back_weak: Visit, step: Make) -> None:
    response = step(back_weak, "remainder-settled", evidence="E: nothing", bound="17.6", rest="road")
    assert response.status_code == 422
    assert not Movement.objects.filter(cause="lost-on-the-road").exists()


def test_the_leak_between_visits_stands_with_its_yardstick(back_weak: Visit, step: Make) -> None:
    step(back_weak, "remainder-settled", evidence=CLASS_D, bound="17.6", rest="road")
    told = verdicts(back_weak)["remainder settled"]
    # 784 - 640 - 8.8 = 135.2 g in 274 days; the residue counts with half its bound
    assert "135 g" in told.sentence
    assert "180 g a year" in told.sentence
    assert any("not a limit for a used one" in more for more in told.more)


def test_of_content_that_is_not_known_no_rate_is_given(
    start: Callable[..., Visit], leg: Make, cylinder: Any, make_cylinder: Any, scale: Any, step: Any
) -> None:
    visit = start(volume_m3=0.002)
    leg(visit, cylinder, scale, "11.200", "10.400")
    later = start(visit.vehicle)
    c35 = make_cylinder("C-35", kind="recovery", grade="recovered", mass_mg=5_060_000, tare_mg=6_360_000)
    leg(later, c35, scale, "11.420", "12.060", coldest="15", **ENDED)
    step(later, "remainder-settled", evidence=CLASS_D, rest="road")
    assert verdicts(later)["remainder settled"].sentence.startswith("No leak rate")


def test_a_label_for_another_refrigerant_than_is_inside_is_no_expectation(
    start: Callable[..., Visit], step: Make, leg: Make, make_cylinder: Any, scale: Any
) -> None:
    visit = start(refrigerant="R-134a", original_refrigerant="R-12", nameplate_mg=900_000, volume_m3=0.002)
    c35 = make_cylinder("C-35", kind="recovery", grade="recovered", mass_mg=5_060_000, tare_mg=6_360_000)
    leg(visit, c35, scale, "11.420", "12.060", coldest="15", **ENDED)
    assert "The label is for R-12" in verdicts(visit)["recovery"].sentence


def test_two_legs_add_their_span_errors_linearly_and_the_bus_is_short(
    start: Callable[..., Visit], step: Make, leg: Make, make_cylinder: Make, scale: Any
) -> None:
    visit = start(registration="V-BUS", vehicle_class="bus", volume_m3=0.012, oil_g=600.0)
    step(visit, "label-read", **{**LABEL, "refrigerant": "R-134a", "mass": "7000", "tolerance": "100"})
    c41 = make_cylinder("C-41", kind="recovery", grade="recovered", mass_mg=8_050_000, tare_mg=7_000_000)
    c42 = make_cylinder("C-42", kind="recovery", grade="recovered", tare_mg=13_600_000)
    assert leg(visit, c41, scale, "15.050", "17.495", stopped="target full").status_code == 303
    assert verdicts(visit)["recovery"].sentence.startswith("No proof yet: this leg stopped")
    final = {"stopped": "done", "pressure_after_wait": "0.50 bar absolute", "waited": "5", "coldest": "25"}
    assert leg(visit, c42, scale, "13.600", "17.925", **final).status_code == 303
    told = verdicts(visit)["recovery"]
    assert told.answer is not None
    assert told.answer.verdict == "short"
    figures = dict(told.answer.workings)
    assert figures["Recovered"].endswith("give or take 9.72 g")
    assert figures["Limit"] == "170.8 g"  # 24.9 g of vapour, 30 g in the oil, 115.9 g of label and readings
    assert "All 2 legs together." in told.more


def test_what_the_customer_said_stands_where_the_remainder_is_settled(
    start: Callable[..., Visit],
    send: Make,
    leg: Make,
    cylinder: Any,
    scale: Any,
    make_vehicle: Make,
    technician_client: Client,
) -> None:
    make_vehicle("V6", volume_m3=0.002)
    send("visits/new/", registration="V6", state="runs", says="weak since spring")
    visit = Visit.objects.get()
    leg(visit, cylinder, scale, "11.200", "10.400")
    page = technician_client.get(f"{HOME}visits/{visit.number}/add/remainder-settled/").content.decode()
    assert "weak since spring" in page
    assert "Nothing bounds what was left" in page


def test_the_old_label_is_named_as_such_after_a_conversion(
    start: Callable[..., Visit], technician_client: Client
) -> None:
    visit = start(refrigerant="R-134a", original_refrigerant="R-12", nameplate_mg=900_000, volume_m3=0.002)
    page = technician_client.get(f"{HOME}visits/{visit.number}/").content.decode()
    assert "old label 0.900\N{NARROW NO-BREAK SPACE}kg R-12" in page


def test_evidence_can_be_entered_where_the_book_has_nothing_left_to_settle(
    start: Callable[..., Visit], step: Make, leg: Make, make_cylinder: Make, scale: Any, technician_client: Client
) -> None:
    """860 of 1,000 g come out of a car that was never here: what is short was never in the book."""
    visit = start(refrigerant="R-134a", nameplate_mg=1_000_000, volume_m3=0.002, oil_g=200.0)
    at = f"{HOME}visits/{visit.number}/add/remainder-settled/"
    assert "there is nothing to settle" in technician_client.get(at).content.decode()
    target = make_cylinder("C-36", kind="recovery", grade="recovered", mass_mg=2_000_000, tare_mg=6_360_000)
    assert leg(visit, target, scale, "8.360", "9.220", coldest="20", **ENDED).status_code == 303
    assert verdicts(visit)["recovery"].answer.verdict == "short"
    owed = technician_client.get(f"{HOME}findings/").content.decode()
    assert "The recovery is short" in owed
    assert "settle what is left with its evidence" in Finding.objects.get(rule="book-recovery-proof").way_out
    assert "no mass is written" in technician_client.get(at).content.decode()
    content, lines = Vehicle.objects.get().content, Movement.objects.count()
    assert step(visit, "remainder-settled", evidence=CLASS_D, note="It hissed for a week.").status_code == 303
    assert (Vehicle.objects.get().content, Movement.objects.count()) == (content, lines)
    technician_client.get(f"{HOME}findings/")
    assert {one.state for one in Finding.objects.filter(rule="book-recovery-proof")} == {"met"}
    for page in ("", "add/remainder-settled/"):
        assert technician_client.get(f"{HOME}visits/{visit.number}/{page}").status_code == 200
