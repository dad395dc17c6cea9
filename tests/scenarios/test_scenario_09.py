"""Scenario 9: out, cleaned, back into the same car, 7 October."""

import pytest

from shop.demo import story
from tests.scenarios import year
from tests.scenarios.shop_floor import Floor


def test_what_a_machine_cleans_goes_through_process_and_its_figures_say_what_they_can(floor: Floor) -> None:
    year.opening(floor, "T-1")
    year.play(floor, story.OUT_CLEANED_AND_BACK)
    assert floor.moves("found-in-vehicle") == [("opening", "V5", "R-134a", "recovered", 520_000, "machine")]
    assert floor.moves("recovery-through-machine") == [
        ("V5", "process", "R-134a", "recovered", 520_000, "machine"),
        ("process", "T-1", "R-134a", "recycled", 520_000, "machine"),
    ]
    assert floor.moves("purge") == [("T-1", "air", "R-134a", "recycled", 6_000, "computed")]
    assert floor.moves("charge") == [("T-1", "V5", "R-134a", "recycled", 545_000, "machine")]
    assert floor.held("T-1") == {("R-134a", "recycled"): 5_169_000}
    assert floor.inside("V5") == {"R-134a": 545_000}
    assert floor.last("charge").u_mg == pytest.approx(8_660, abs=5)

    proof = floor.workings("V5", "recovery")
    assert "520 g of 550 g came out, 30.0 g short (limit 36.9 g): accounted for" in proof
    charged = floor.workings("V5", "charge")
    assert "narrower than these readings can show (+-17.3 g)" in charged
    assert "fail" not in charged.text.lower()
    assert "why more or less went in than came out" in floor.visit("V5").text.partition("Still asked")[2]
