"""The scenarios that end in findings, pressed through the pages, with the rules of the day and the place."""

import pytest
from django.db import transaction

from compliance.models import Finding
from shop.demo import story
from tests.scenarios import year
from tests.scenarios.shop_floor import OWNER, TECHNICIAN, TRAINEE, Floor
from tests.scenarios.year import PULLED_DOWN

pytestmark = pytest.mark.django_db


def states(floor: Floor, rule: str) -> dict[str, str]:
    """Open the table of findings, and return the worst that a rule says of each record."""
    floor.look("findings/")
    rows = Finding.objects.filter(workshop=floor.workshop, rule=rule)
    return {one.about: one.state for one in sorted(rows, key=lambda one: ("met", "open", "breach").index(one.state))}


def certify(floor: Floor, person: str, scheme: str, **typed: str) -> None:
    who, floor.who = floor.who, OWNER
    from shop.models import User

    handle = User.objects.get(display_name=person).handle
    held = {"issued_on": "2020-01-01", "never_expires": "on", "number": "77-1", **typed}
    floor.enter(f"people/{handle}/certificate/", scheme=scheme, **held)
    floor.who = who


def about(floor: Floor, plate: str) -> str:
    return "visit:" + floor.of(plate).split("/")[1]


def test_1_recovered_r12_may_not_go_into_any_vehicle_in_the_european_union(floor: Floor) -> None:
    year.opening(floor, "C-12")
    floor.rules("eu")
    floor.at("03-05 09:00")
    floor.arrive("V2")
    floor.charge("V2", "C-12", before="9.340 kg", after="8.840 kg", scale="S1", target="1000 g", **story.LIQUID_HIGH)
    assert states(floor, "eu-ozone-not-charged")[about(floor, "V2")] == "breach"
    assert "Breach" in floor.visit("V2")


def test_2b_opened_with_liquid_inside_and_no_recovery_is_a_breach(floor: Floor) -> None:
    floor.rules("us")
    floor.at("04-14 09:00")
    floor.arrive("V2")
    floor.step("V2", "standing-pressure", pressure="5.3 bar", **story.all_at("24 C"))
    floor.step("V2", "circuit-opened", what="condenser out", relieved="yes")
    assert states(floor, "us-no-venting")[about(floor, "V2")] == "breach"
    assert "Breach" in floor.look("")


def test_2a_arrived_empty_with_a_photo_is_no_breach(floor: Floor) -> None:
    year.play(floor, story.A_BOTTLE_COMES)
    floor.rules("us")
    year.play(floor, story.A_CAR_ARRIVES_EMPTY)
    assert states(floor, "us-no-venting").get(about(floor, "V2"), "met") == "met"


def test_3_an_abnormal_loss_is_mended_before_it_is_filled_and_filled_without_it_is_a_breach(floor: Floor) -> None:
    year.play(floor, story.OPENING, story.A_BOTTLE_COMES, story.A_FULL_CAR_IS_CONVERTED, story.ANOTHER_BOTTLE_COMES)
    floor.rules("eu")
    year.play(floor, story.WEAK_GAS_IS_RECOVERED, story.THE_REMAINDER_IS_SETTLED)
    assert states(floor, "eu-abnormal-loss")[about(floor, "V1")] == "open"
    settled = transaction.savepoint()
    floor.at("12-02 12:20")
    year.charge(floor, "V1", "C-44", "16.640 kg", "15.870 kg", target="765 g", tolerance="25 g")
    assert states(floor, "eu-abnormal-loss")[about(floor, "V1")] == "breach"
    transaction.savepoint_rollback(settled)
    year.play(floor, story.THE_LEAK_IS_REPAIRED, story.IT_IS_CHARGED_ANEW)
    assert states(floor, "eu-abnormal-loss")[about(floor, "V1")] == "met"


def test_5_a_trainee_under_somebody_attested_is_within_the_year_and_in_the_us_is_not(floor: Floor) -> None:
    year.opening(floor, "C-41")
    year.play(floor, story.A_BOTTLE_COMES)
    floor.at("07-09 17:00")
    floor.check("C-34", "15.467 kg", "S2", it_does_read=True)
    certify(floor, TECHNICIAN, "Attestation (EC) 307/2008")
    year.a_bus_and_a_full_cylinder(floor)
    bus = about(floor, "V-BUS")
    attested = {rule: states(floor, rule).get(bus) for rule in ("eu-attested-recovery", "eu-attested-service")}
    assert "breach" not in attested.values()
    assert "met" in attested.values()
    floor.rules("us")
    assert states(floor, "us-certified-person")[bus] == "breach"


def test_5_without_the_second_name_it_is_a_breach(floor: Floor) -> None:
    year.opening(floor, "C-41")
    floor.rules("eu")
    certify(floor, TECHNICIAN, "Attestation (EC) 307/2008")
    year.play(floor, story.A_BUS_ARRIVES)
    floor.at("07-10 09:30", TRAINEE)
    out = {"before": "15.050 kg", "after": "17.495 kg", "scale": "S1", "stopped": "target full"}
    floor.recover("V-BUS", "C-41", **out)
    bus = about(floor, "V-BUS")
    found = {rule: states(floor, rule).get(bus) for rule in ("eu-attested-recovery", "eu-attested-service")}
    assert "breach" in found.values()


def test_9_cleaned_before_reuse_is_met_and_straight_back_is_a_breach(floor: Floor) -> None:
    year.opening(floor, "T-1", "C-35")
    floor.rules("us")
    year.play(floor, story.OUT_CLEANED_AND_BACK)
    assert states(floor, "us-recycled-before-reuse")[about(floor, "V5")] == "met"

    floor.at("10-08 09:00")
    floor.arrive("V4")
    floor.recover("V4", "C-35", before="11.420 kg", after="11.920 kg", scale="S1", coldest="20 C", **PULLED_DOWN)
    floor.charge("V4", "C-35", before="11.920 kg", after="11.420 kg", scale="S1", target="500 g", **story.LIQUID_HIGH)
    assert states(floor, "us-recycled-before-reuse")[about(floor, "V4")] == "breach"
    assert states(floor, "us-recycled-before-reuse")[about(floor, "V5")] == "met"
