"""Scenario 2: an R-12 car "arrives empty", three ways, 14 April."""

import pytest

from inventory.models import Entry, Movement
from shop.demo import story
from tests.scenarios import year
from tests.scenarios.shop_floor import Floor


def arrives(floor: Floor, plate: str, **typed: str) -> None:
    """A car like V2 stands there on 14 April."""
    floor.vehicle(plate, refrigerant="R-12", nameplate="1100 g", volume="2.2 L", oil="200")
    floor.arrive(plate, **typed)


def test_a_nothing_on_the_gauge_with_a_photo_is_empty_and_moves_nothing(floor: Floor) -> None:
    year.play(floor, story.A_BOTTLE_COMES)
    floor.at("03-03 13:30")
    floor.check("C-34", "16.402 kg", "S2")
    year.play(floor, story.A_CAR_ARRIVES_EMPTY)
    page = floor.visit("V2")
    assert "Arrived empty; what speaks for it: standing pressure read and photographed" in page
    assert "at most 11.7 g of vapour and about 10 g in the oil; recovery is not owed" in page
    assert "it is not posted" in page
    assert "recovery" not in page.text.partition("Still asked")[2].partition("Earlier")[0]
    assert not Movement.objects.filter(cause__in=("evacuated-residue", "found-in-vehicle", "recovery")).exists()
    assert floor.moves("charge") == [("C-34", "V2", "R-134a", "virgin", 935_000, "pair")]
    assert floor.last("charge").u_mg == pytest.approx(980, abs=5)
    assert floor.inside("V2") == {"R-134a": 935_000}


def test_b_where_liquid_stands_behind_the_gauge_empty_is_refused(floor: Floor) -> None:
    floor.at("04-14 09:00")
    arrives(floor, "V2B")
    stood = {"pressure": "5.3 bar", **story.all_at("24 C")}
    refused = floor.press(f"{floor.of('V2B')}add/standing-pressure/", empty="yes", photo="P-1", **stood)
    assert refused.status == 422
    assert "R-12 at 24.0 C stands at 5.32 bar gauge" in refused
    assert "at least 78 g" in refused
    assert "5.3 bar" in refused.form.controls["pressure"].value  # what was typed stays
    assert "Standing pressure" not in floor.visit("V2B").text.partition("Next step")[0]  # nothing was written
    floor.step("V2B", "standing-pressure", **stood)
    opened = floor.step("V2B", "circuit-opened", what="condenser", relieved="no")
    assert "Opened with no recovery before it" in opened
    assert "at least 78 g" in opened.text.partition("Opened with no recovery")[2]


def test_c_two_bar_is_neither_full_nor_empty(floor: Floor) -> None:
    floor.at("04-14 09:00")
    arrives(floor, "V2C")
    page = floor.step("V2C", "standing-pressure", pressure="2.0 bar", **story.all_at("24 C"))
    told = page.text.partition("2.0 bar gauge")[2]
    assert "No liquid, but not empty: 34.5 g of vapour, give or take 0.7 g" in told  # 34 g, give or take 1 g
    assert "recovery is owed" in told
    assert "recovery it stood above the atmosphere" in page.text.partition("Still asked")[2]


def test_d_what_is_written_40_days_later_is_taken_and_marked_late(floor: Floor) -> None:
    year.play(floor, story.A_BOTTLE_COMES)
    floor.at("05-24 10:00")
    arrives(floor, "V2D", occurred_at="2025-04-14 09:00")
    stood = {"pressure": "0.0 bar", "empty": "yes", **story.all_at("24 C")}
    page = floor.step("V2D", "standing-pressure", occurred_at="2025-04-14 09:20", **stood)
    assert "Arrived empty; what speaks for it: the customer’s word" in page
    assert "Written 40 days late" in page
    year.charge(floor, "V2D", "C-34", "17.190 kg", "16.255 kg", target="935 g", occurred_at="2025-04-14 15:10")
    line = Entry.objects.latest("seq")
    assert "Happened 2025-04-14 15:10, written 2025-05-24 10:00: 40 days late" in floor.look(f"lines/{line.seq}/")
    late = floor.look("statements/2025-01-01/2025-12-31/").text.partition("Late lines Line")[2]
    assert f"{line.seq} Happened 2025-04-14 15:10 Written 2025-05-24 10:00 Counts on 2025-04-14" in late
