"""Scenario 8: scale battery and power fail in mid-charge, 15 September."""

import pytest

from inventory.models import Entry, Movement
from shop.demo import story
from shop.models import Step
from tests.scenarios import year
from tests.scenarios.pages import send
from tests.scenarios.shop_floor import HOME, Floor


@pytest.fixture
def charging(floor: Floor) -> Floor:
    """C-44 has come, V4 stands there, and the reading before is on S2."""
    year.play(floor, story.ANOTHER_BOTTLE_COMES)
    year.a_charge_begins(floor)
    return floor


def test_another_scale_cannot_show_it_and_nothing_is_posted(charging: Floor) -> None:
    assert charging.moves("weighing-difference") == [("C-44", "unexplained", "R-134a", "virgin", 9_000, "pair")]
    assert charging.last("weighing-difference").can_tell_mg == pytest.approx(28_900, abs=50)
    charging.at("09-15 13:58")
    lines = Entry.objects.count()
    leg = {"after": "16.650 kg", "scale": "S1", "target": "550 g", "tolerance": "15 g"}
    path = f"{charging.of('V4')}charge/?source={charging.number('C-44')}"
    asked = charging.press(path, until_read_back=True, **leg, **story.LIQUID_HIGH)
    assert asked.is_read_back
    assert "0.546 kg out, give or take 29 g" in asked  # u 14.25 g
    assert (
        "these readings cannot show that it is within 535 g to 565 g (they say 518 g to 575 g)" in asked
    )  # 517.5 to 574.5
    assert "The step stays open until you write it" in asked
    assert Entry.objects.count() == lines
    assert not Movement.objects.filter(cause="charge").exists()


def test_a_battery_later_it_is_within_and_is_one_line_copied_from_paper(charging: Floor) -> None:
    charging.at("09-15 14:10")
    path = f"{charging.of('V4')}charge/?source={charging.number('C-44')}"
    asked = charging.press(path, until_read_back=True, **year.by_the_restarted_scale())
    assert "0.554 kg out, give or take 4 g" in asked
    assert "4 g over, within 535 g to 565 g" in asked
    assert "cannot show" not in asked
    assert not Movement.objects.filter(cause="charge").exists()  # then the lights fail

    charging.at("09-15 18:40")
    written = year.copied_from_paper(charging)
    form = written.sent
    again = send(charging.client, f"{HOME}{charging.of('V4')}charge/?source={charging.number('C-44')}", form)
    assert again.status == 303
    assert "once" in again
    assert charging.moves("charge") == [("C-44", "V4", "R-134a", "virgin", 554_000, "pair")]
    assert charging.last("charge").u_mg == pytest.approx(1_850, abs=5)
    assert charging.inside("V4") == {"R-134a": 554_000}

    line = charging.look(f"lines/{charging.last('charge').entry.seq}/")
    assert "Happened 2025-09-15 14:10 Written 2025-09-15 18:40" in line
    assert "sheet 0217" in line
    log = charging.visit("V4")
    for said in ("From paper: sheet 0217", "Why it was on paper the lights failed", "Who copied it Tobin Falk"):
        assert said in log
    assert "Interrupted: scale" in log
    assert Step.objects.filter(kind="charge").count() == 1
