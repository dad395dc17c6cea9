"""Scenario 4: R-1234yf with R-134a in it, 6 May."""

import json

import pytest

from inventory.models import Cylinder
from shop.demo import story
from shop.demo.cast import DESTROYER, SUPPLIER
from tests.scenarios import year
from tests.scenarios.shop_floor import HOME, Floor


@pytest.fixture
def mixed(floor: Floor) -> Floor:
    """The identifier has shown a mixture; nothing has been recovered yet."""
    year.opening(floor, "C-37", "T-1")
    year.play(floor, story.A_MIXTURE_IS_IDENTIFIED)
    return floor


def recovered(floor: Floor) -> None:
    """465 g of it are in C-40."""
    leg = {"before": "5.300 kg", "after": "5.765 kg", "scale": "S1"}
    page = floor.recover("V3", "C-40", **leg, **year.PULLED_DOWN)
    assert "as MIXED suspect" in page.read_back  # suspect gas is always read back


def test_wrong_cylinders_are_refused_with_the_way_out(mixed: Floor) -> None:
    for serial, why in (
        ("C-37", "C-37 is a single-trip cylinder: it is never filled. Use a recovery cylinder"),
        ("T-1", "T-1 holds R-134a; MIXED would be mixed into it. Use a recovery cylinder"),
    ):
        page = mixed.look(f"{mixed.of('V3')}recover/?target={mixed.number(serial)}")
        assert page.status == 422
        assert why in page.text.partition(f"Not into {serial}")[2]
        assert all("after" not in form.controls for form in page.forms)  # no reading can be entered
    # and the pressure would not have told: 5.81 bar for R-1234yf, 5.64 for R-134a at 25 C
    stood = mixed.step("V3", "standing-pressure", pressure="5.7 bar", **story.all_at("25 C"))
    assert "the pressure cannot tell them apart" in stood


def test_the_limit_is_the_strictest_of_parts_and_rules_beforehand_and_afterwards(mixed: Floor) -> None:
    choose = mixed.look(f"{mixed.of('V3')}recover/")
    assert "Taken as MIXED, suspect" in choose
    assert "C-40 recovery, empty, entered for R-1234yf; it becomes a cylinder for a mixture by this" in choose
    assert "can take 5.241 kg more (80 per cent rule)" in choose
    recovered(mixed)
    page = mixed.cylinder("C-40")
    assert "Limit 5.241 kg Rule 80 per cent rule" in page
    assert "Strictest of the parts: R-1234yf. specific gravity 1.093" in page
    mixed.rules("eu")
    assert "Limit 5.640 kg Rule ADR/RID P200" in mixed.cylinder("C-40")
    it_keeps_its_composition_and_its_flammable_mark(mixed)


def it_keeps_its_composition_and_its_flammable_mark(mixed: Floor) -> None:
    assert mixed.moves("recovery") == [("V3", "C-40", "MIXED", "suspect", 465_000, "pair")]
    assert mixed.last("recovery").u_mg == pytest.approx(2_060, abs=5)
    assert mixed.held("C-40") == {("MIXED", "suspect"): 465_000}
    page = mixed.cylinder("C-40")
    for part in ("R-1234yf in it 0.915 by mass", "R-134a in it 0.08 by mass", "air in it 0.005 by mass"):
        assert part in page
    assert "FLAMMABLE" in mixed.look(f"cylinders/{mixed.number('C-40')}/label/")
    file = mixed.client.get(f"{HOME}statements/2025-01-01/2025-12-31/json/?basis=EU").content
    closing = {one["refrigerant"]: one["closing_co2e_kg"] for one in json.loads(file)["refrigerants"]}
    assert closing["MIXED"] == pytest.approx(53.4, abs=0.05)


def test_the_ways_out_are_reclaim_and_destruction(mixed: Floor) -> None:
    recovered(mixed)
    number = mixed.number("C-40")
    weighed = {"scale": "S1", "gross": "5.765 kg"}
    regraded = mixed.press(f"cylinders/{number}/regrade/", grade="recycled", evidence="none")
    assert regraded.status == 422
    assert "A mixture stays suspect. Send it away" in regraded
    for purpose in ("sold", "given to another owner"):
        refused = mixed.press(f"cylinders/{number}/send-away/", partner=SUPPLIER, purpose=purpose, **weighed)
        assert refused.status == 422
        assert "only for reclaim or destruction" in refused
    assert mixed.held("C-40") == {("MIXED", "suspect"): 465_000}
    mixed.enter(f"cylinders/{number}/send-away/", partner=DESTROYER, purpose="to be destroyed", **weighed)
    assert Cylinder.objects.get(serial="C-40").state == "away"


def test_it_is_charged_with_what_it_is_built_for(mixed: Floor) -> None:
    recovered(mixed)
    mixed.at("05-06 11:30")
    year.charge(mixed, "V3", "C-37", "6.100 kg", "5.620 kg", target="480 g", tolerance="15 g")
    assert mixed.moves("charge") == [("C-37", "V3", "R-1234yf", "virgin", 480_000, "pair")]
    assert mixed.last("charge").u_mg == pytest.approx(860, abs=5)
    assert mixed.inside("V3") == {"R-1234yf": 480_000}
    assert mixed.held("C-37") == {("R-1234yf", "virgin"): 2_520_000}
