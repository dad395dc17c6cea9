"""Scenario 6: the life and return of a bottle, August and September."""

import pytest

from inventory.models import Cylinder
from shop.demo import story
from tests.scenarios import year
from tests.scenarios.shop_floor import OWNER, Floor


def test_three_charges_a_heel_and_a_new_bottle(floor: Floor) -> None:
    floor.at("01-01 09:00", OWNER)
    bottle = {"gross": "8.467 kg", "scale": "S1", "it_does_read": True, "water_capacity": "12.0 L", **year.STAMP}
    floor.receive("C-34", "refillable", "R-134a", "virgin", "6.200 kg", origin="opening-stock", **bottle)
    year.play(floor, story.THREE_CARS_ARE_CHARGED)
    charged = [("C-34", plate, mass) for plate, mass in (("V7", 610_000), ("V8", 585_000), ("V9", 650_000))]
    assert [(move[0], move[1], move[4]) for move in floor.moves("charge")] == charged
    assert "Arrived: open to air" in floor.visit("V9")
    assert floor.moves("weighing-difference") == []

    sent = year.play(floor, story.A_BOTTLE_GOES_BACK)
    assert "7 g less than the book: agrees (the readings can tell 13 g)" in sent.read_back
    heel = (
        "Not empty: a 12 L bottle whose liquid is gone still holds about 354 g of vapour at 22 °C; some 62 g is liquid"
    )
    assert heel in sent.read_back
    assert floor.moves("weighing-difference") == [("C-34", "unexplained", "R-134a", "virgin", 7_000, "pair")]
    assert floor.last("weighing-difference").can_tell_mg == pytest.approx(12_900, abs=50)
    assert "times what the two readings" not in floor.look("")
    assert floor.moves("heel-returned") == [("C-34", "Harbour Gas Supply", "R-134a", "virgin", 415_000, "single")]
    assert floor.held("C-34") == {}
    assert Cylinder.objects.get(serial="C-34").state == "away"
    page = floor.cylinder("C-34")
    assert page.status == 200
    assert "empty by the book" in page

    bought = year.play(floor, story.ANOTHER_BOTTLE_COMES)
    assert floor.moves("purchase")[-1] == ("Harbour Gas Supply", "C-44", "R-134a", "virgin", 11_005_000, "single")
    assert "Paper says 11.000 kg, weighed 5 g more: within what the readings can tell" in bought
