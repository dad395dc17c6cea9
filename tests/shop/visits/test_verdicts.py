"""The verdicts of a visit's steps, by the figures of the worked scenarios of the trade, through the pages.

Expected figures are worked by hand from the readings named beside them, with densities and saturation by CoolProp.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError
from django.test import Client

from inventory.models import Gauge, Movement
from shop.models import Step, Vehicle, Visit
from shop.visits.acts.entering import StepFacts, open_visit
from shop.visits.verdicts.all import around, told_of
from shop.visits.verdicts.told import Told
from tests.shop.visits.looking import SEA_LEVEL_PA, Make, fetched

HOME = "/w/port-ellery/"
CLASS_D = "D: the customer’s word, or a reading without a photo"
MARCH = datetime(2025, 3, 3, 9, 0, tzinfo=UTC)


@pytest.fixture
def send(technician_client: Client, technician: Any, gauges: Any) -> Make:
    """Send a form, through the read-back page where one comes."""

    def post(path: str, **fields: Any) -> Any:
        fields = {"key": str(uuid4()), "doer": technician.handle, **fields}
        response = technician_client.post(HOME + path, fields)
        if response.status_code == 200 and b'name="read_back"' in response.content:
            response = technician_client.post(HOME + path, {**fields, "read_back": response.context["signature"]})
        return response

    return post


@pytest.fixture
def gauges(book: Any) -> dict[str, Gauge]:
    """A gauge in steps of 0.1 bar, one of 1 psi, a vacuum gauge of 0.1 mbar."""
    return {
        "G1": Gauge.objects.create(book=book, name="G1", kind="pressure gauge", step=10_000.0),
        "G9": Gauge.objects.create(book=book, name="G9", kind="pressure gauge", step=6_894.757),
        "G2": Gauge.objects.create(book=book, name="G2", kind="vacuum gauge", absolute=True, step=10.0),
    }


@pytest.fixture
def start(send: Make, make_vehicle: Make) -> Callable[..., Visit]:
    """Open a visit of a vehicle that has not been here before."""

    def make(vehicle: Vehicle | None = None, state: str = "runs", **fields: Any) -> Visit:
        car = vehicle or make_vehicle(**{"registration": "V1", "nameplate_mg": None, **fields})
        assert send("visits/new/", registration=car.registration, state=state).status_code == 303
        return Visit.objects.order_by("-number").first()  # type: ignore[return-value]

    return make


@pytest.fixture
def step(send: Make) -> Make:
    """Write a step that moves no mass."""

    def write(visit: Visit, kind: str, **fields: Any) -> Any:
        return send(f"visits/{visit.number}/add/{kind}/", **fields)

    return write


@pytest.fixture
def leg(send: Make) -> Make:
    """Write a leg by two readings in kilograms."""

    def write(visit: Visit, cylinder: Any, scale: Any, before: str, after: str, **fields: Any) -> Any:
        way, name = ("recover", "target") if "stopped" in fields else ("charge", "source")
        readings = {"before": before, "after": after, "before_unit": "kg", "after_unit": "kg", "scale": scale.number}
        insist = {"before_reading": f"={before} kg", "after_reading": f"={after} kg"}
        path = f"visits/{visit.number}/{way}/?{name}={cylinder.account.number}"
        return send(path, **readings, **insist, **fields)

    return write


def verdicts(visit: Visit) -> dict[str, Told]:
    """The verdict of the last step of each kind that has one."""
    found = fetched(visit)
    told = told_of(around(found, SEA_LEVEL_PA))
    return {step.kind: told[step.pk] for step in found.steps.all() if step.pk in told}


def stood(pressure: str, celsius: str, gauges: dict[str, Gauge], **fields: Any) -> dict[str, Any]:
    """A standing pressure with all parts alike."""
    return {
        "pressure": pressure,
        "pressure_unit": "bar",
        "coldest": celsius,
        "warmest": celsius,
        "gauge": str(gauges["G1"].pk),
        **fields,
    }


ENDED = {
    "stopped": "done",
    "final_pressure": "-4",
    "final_pressure_unit": "inHg",
    "pressure_after_wait": "-4",
    "pressure_after_wait_unit": "inHg",
    "waited": "5",
}


@pytest.fixture
def r12_car(start: Callable[..., Visit]) -> Visit:
    return start(refrigerant="R-12", volume_m3=0.002, oil_g=200.0)


LABEL = {"label": "label read", "refrigerant": "R-12", "mass": "900", "tolerance": "25"}


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
    assert figures["Label and readings, 2 u"] == "29.2 g"
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
    assert told.sentence.startswith("Arrived empty, evidence A")
    assert "11.7 g of vapour" in told.sentence
    assert not Movement.objects.filter(cause="evacuated-residue").exists()


def test_arrived_empty_is_refused_where_5_3_bar_say_at_least_79_g(
    start: Callable[..., Visit], step: Make, gauges: Any
) -> None:
    visit = start(refrigerant="R-12", volume_m3=0.0022, oil_g=200.0)
    response = step(visit, "standing-pressure", **stood("5.3", "24", gauges, empty="yes"))
    assert response.status_code == 422
    assert "at least 79 g" in response.content.decode()
    assert Step.objects.filter(kind="standing pressure").count() == 0
    assert step(visit, "standing-pressure", **stood("5.3", "24", gauges)).status_code == 303
    step(visit, "circuit-opened", what="condenser")
    opened = verdicts(visit)["circuit opened"].sentence
    assert opened.startswith("Opened with no recovery before it.")
    assert "at least 79 g" in opened


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
    assert told.sentence.startswith("Arrived empty, evidence D")
    assert any("40 days late" in more for more in told.more)


# --- the car that comes back weak -----------------------------------------------------------------------------------


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


def held_vacuum(rows: list[tuple[str, str]], gauges: Any, coldest: str = "17") -> dict[str, Any]:
    fields = {
        "readings_rows": str(len(rows)),
        "readings_pressure_unit": "mbar",
        "coldest": coldest,
        "gauge": str(gauges["G2"].pk),
        "gauge_type": "absolute",
    }
    for row, (minute, mbar) in enumerate(rows):
        fields |= {f"readings_{row}_time": minute, f"readings_{row}_pressure": mbar}
    return fields


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


WET = [("0", "1.5"), ("5", "9.8"), ("10", "14.3"), ("15", "16.7"), ("20", "17.9"), ("30", "19.0")]
LEAK = [("0", "1.5"), ("10", "2.5"), ("20", "3.5"), ("30", "4.5")]


@pytest.mark.parametrize(("rows", "verdict", "again"), [(WET, "moisture", "pull again"), (LEAK, "leak", "repair it")])
def test_a_vacuum_that_rises_is_pulled_again_and_the_vehicle_is_not_called_empty(
    rows: Any, verdict: str, again: str, start: Callable[..., Visit], step: Make, gauges: Any, technician_client: Client
) -> None:
    visit = start(volume_m3=0.002)
    assert step(visit, "vacuum-hold", **held_vacuum(rows, gauges)).status_code == 303
    told = verdicts(visit)["vacuum hold"]
    assert told.answer is not None
    assert told.answer.verdict == verdict
    assert any(again in more for more in told.more)
    assert Vehicle.objects.get().content == "unknown"
    row = Step.objects.get(kind="vacuum hold")
    page = technician_client.get(f"{HOME}visits/{visit.number}/steps/{row.pk}/").content.decode()
    assert "<svg" in page
    assert "water" in page


def test_a_gauge_that_nobody_entered_is_said(start: Callable[..., Visit], step: Make) -> None:
    visit = start(volume_m3=0.002)
    fields = held_vacuum([("0", "1.5"), ("30", "1.5")], {"G2": Gauge(pk=0)})
    fields["gauge"] = ""
    assert step(visit, "vacuum-hold", **fields).status_code == 303
    assert any("steps of 0.1 mbar are assumed" in more for more in verdicts(visit)["vacuum hold"].more)


# --- hold and search ------------------------------------------------------------------------------------------------


@pytest.fixture
def held(start: Callable[..., Visit], step: Make, gauges: Any) -> Visit:
    """250 psi at 22 C, 251 psi at 23 C after 20 minutes, in two litres."""
    visit = start(volume_m3=0.002)
    fields = {"readings_rows": "2", "readings_pressure_unit": "psi", "gauge": str(gauges["G9"].pk)}
    for row, (minute, psi, celsius) in enumerate((("0", "250", "22.0"), ("20", "251", "23.0"))):
        fields |= {f"readings_{row}_time": minute, f"readings_{row}_pressure": psi}
        fields |= {f"readings_{row}_temperature": celsius}
    assert step(visit, "pressure-hold", gas="dry nitrogen", **fields).status_code == 303
    return visit


def test_a_hold_of_20_minutes_sees_only_kilograms_a_year(held: Visit, technician_client: Client) -> None:
    told = verdicts(held)["pressure hold"]
    assert "5.4 kg a year" in told.sentence
    row = Step.objects.get(kind="pressure hold")
    page = technician_client.get(f"{HOME}visits/{held.number}/steps/{row.pk}/").content.decode()
    assert "<svg" in page
    assert "JCGM 100:2008" in page


SEARCH = {"method": "electronic", "sensitivity": "5", "gas": "refrigerant", "pressure": "5", "pressure_unit": "bar"}


def test_a_search_is_said_together_with_the_hold(held: Visit, step: Make) -> None:
    step(held, "leak-search", joints="14", leaking="0", **SEARCH)
    sentence = verdicts(held)["leak search"].sentence
    assert sentence.startswith("Electronic search: none above 5.0 g a year at the 14 joints looked at")
    assert "pressure hold: no leak larger than 5.4 kg a year, a coarse check" in sentence


def test_joints_that_leak_are_named_where_they_were_and_only_counted_elsewhere(held: Visit, step: Make) -> None:
    step(held, "leak-search", joints="14", leaking="2", **SEARCH)
    assert "2 of the 14 joints looked at leak;" in verdicts(held)["leak search"].sentence
    step(held, "leak-search", joints="14", leaking="2", where="drier inlet, high port", **SEARCH)
    assert "leak (drier inlet, high port)" in verdicts(held)["leak search"].sentence


def test_an_electronic_search_with_nitrogen_inside_cannot_tell(held: Visit, step: Make) -> None:
    step(held, "leak-search", joints="14", leaking="0", **{**SEARCH, "gas": "dry nitrogen"})
    assert "cannot tell" in verdicts(held)["leak search"].sentence


# --- the bus, the charge and the machine ----------------------------------------------------------------------------


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
    assert figures["Recovered"].endswith("u 4.86 g")
    assert figures["Limit"] == "170.8 g"  # 24.9 g of vapour, 30 g in the oil, 115.9 g of label and readings
    assert "All 2 legs together." in told.more


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


def test_a_running_test_says_its_findings_and_draws_the_cycle(
    start: Callable[..., Visit], step: Make, technician_client: Client
) -> None:
    visit = start(volume_m3=0.002)
    fields = {"air": "20", "humidity": "50", "low": "1.9", "high": "10.8", "low_unit": "bar", "high_unit": "bar"}
    assert step(visit, "running-test", vent="8", **fields).status_code == 303
    told = verdicts(visit)["running test"]
    assert told.sentence.startswith("Evaporating at")
    assert any("within the 7 to 10 C" in more for more in told.more)
    row = Step.objects.get(kind="running test")
    page = technician_client.get(f"{HOME}visits/{visit.number}/steps/{row.pk}/").content.decode()
    assert "into the compressor" in page


def test_a_step_of_another_visit_is_not_found(
    start: Callable[..., Visit], step: Make, technician_client: Client
) -> None:
    first = start(volume_m3=0.002)
    second = start(first.vehicle)
    row = Step.objects.get(visit=first)
    assert technician_client.get(f"{HOME}visits/{second.number}/steps/{row.pk}/").status_code == 404


def test_a_new_plate_and_its_visit_are_written_together_or_not_at_all(
    workshop: Any, technician: Any, now: datetime
) -> None:
    facts = {"opened_at": None, "step_key": uuid4(), "received": StepFacts(doer=technician)}
    with pytest.raises(IntegrityError):
        open_visit(workshop, "NEW 1", **facts)
    assert not Vehicle.objects.exists()
    visit = open_visit(workshop, "NEW 1", **{**facts, "opened_at": now})
    assert visit.vehicle.registration == "NEW 1"


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


def test_the_cylinder_page_leads_a_reader_to_the_check_for_air_with_what_is_known_of_it(
    technician_client: Client, reader_client: Client, make_cylinder: Make, workshop: Any
) -> None:
    c35 = make_cylinder(
        "C-35", kind="recovery", grade="recovered", mass_mg=5_060_000, tare_mg=6_360_000, water_capacity_m3=0.0119
    )
    of_who_writes = technician_client.get(f"{HOME}cylinders/{c35.account.number}/")
    own = next(one.href for one in of_who_writes.context["acts"] if one.words == "Air in it")
    assert own == f"{HOME}cylinders/{c35.account.number}/air/"
    page = reader_client.get(f"{HOME}cylinders/{c35.account.number}/")
    air = next(one.href for one in page.context["acts"] if one.words == "Air in it")
    form = reader_client.get(air)
    assert form.status_code == 200
    words = form.content.decode()
    assert 'value="5060 g"' in words
    assert 'value="11.9 L"' in words


def test_a_mixture_has_no_check_for_air(technician_client: Client, make_cylinder: Make, workshop: Any) -> None:
    mixed = make_cylinder("C-40", kind="recovery", refrigerant="MIXED", grade="suspect", mass_mg=465_000)
    page = technician_client.get(f"{HOME}cylinders/{mixed.account.number}/")
    assert "Air in it" not in [one.words for one in page.context["acts"]]


@pytest.mark.parametrize("typed", ["29 inHg below atmosphere", "-29 inHg"])
def test_at_1500_m_29_inhg_of_vacuum_cannot_be(
    typed: str, workshop: Any, start: Callable[..., Visit], step: Make
) -> None:
    type(workshop).objects.filter(pk=workshop.pk).update(altitude_m=1_500.0)
    visit = start(volume_m3=0.002)
    response = step(visit, "pulling-vacuum", lowest=typed)
    assert response.status_code == 422
    assert "24.97" in response.content.decode()


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
