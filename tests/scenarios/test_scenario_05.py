"""Scenario 5: a bus, a full cylinder, a trainee, 10 and 11 July."""

import pytest

from shop.demo import story
from shop.models import Step
from tests.scenarios import year
from tests.scenarios.shop_floor import TECHNICIAN, TRAINEE, Floor


@pytest.fixture
def summer(floor: Floor) -> Floor:
    """C-41 with its opening stock, and C-34 with what V1 and V2 have left in it."""
    year.opening(floor, "C-41")
    year.play(floor, story.A_BOTTLE_COMES)
    floor.at("07-09 17:00")
    floor.check("C-34", "15.467 kg", "S2", it_does_read=True)
    return floor


def test_beforehand_each_rule_says_that_it_will_not_fit(summer: Floor) -> None:
    year.play(summer, story.A_BUS_ARRIVES)
    for whose, room in (("eu", "2.450 kg"), ("us", "1.604 kg")):
        summer.rules(whose)
        page = summer.look(f"{summer.of('V-BUS')}recover/")
        assert "Expected: 7.000 kg" in page
        choice = page.text.partition("C-41 recovery, R-134a recovered 8.050 kg")[2].partition("C-42")[0]
        assert choice.startswith(f", can take {room} more (")
        assert "what is expected will not fit, have a second cylinder ready" in choice
    summer.rules("us")
    assert "Limit 9.654 kg" in summer.cylinder("C-41")


def test_two_legs_are_one_recovery_and_7_kg_are_charged(summer: Floor) -> None:
    year.a_bus_and_a_full_cylinder(summer)
    legs = [
        ("V-BUS", name, "R-134a", "recovered", mass, "pair")
        for name, mass in (("C-41", 2_445_000), ("C-42", 4_325_000))
    ]
    assert summer.moves("recovery") == legs
    first, second = Step.objects.filter(kind="recovery").order_by("pk")
    u = [step.entry.movements.get(cause="recovery").u_mg for step in (first, second)]
    assert u == [pytest.approx(2_480, abs=5), pytest.approx(3_230, abs=5)]
    assert summer.held("C-41") == {("R-134a", "recovered"): 10_495_000}
    assert summer.held("C-42") == {("R-134a", "recovered"): 4_325_000}

    page = summer.workings("V-BUS", "recovery")
    for figure in ("Recovered 6 770 g, give or take 9.7", "Limit 170.8 g", "24.9 g", "30.0 g", "115.9 g"):
        assert figure in page
    assert "230 g short (limit 170.8 g): short" in page
    assert "not explained" not in page
    assert "accounted for" not in page.text.partition("Workings")[0].replace("would account for", "")
    assert "date of the last charge" in page  # so there is no leak rate yet

    for step in (first, second):
        assert (step.doer.display_name, step.answers.display_name) == (TRAINEE, TECHNICIAN)
    assert "Done by Ilse Wren Answers for it Tobin Falk" in summer.visit("V-BUS")

    assert summer.moves("charge")[-1] == ("C-34", "V-BUS", "R-134a", "virgin", 7_000_000, "pair")
    assert summer.last("charge").u_mg == pytest.approx(4_120, abs=5)
    assert summer.inside("V-BUS") == {"R-134a": 7_000_000}
