"""Scenario 7: a weekend loss, 16 to 18 June, and many small ones."""

from datetime import timedelta
from uuid import uuid4

import pytest

from inventory.acts import onscale
from inventory.book.ledger import Act
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Scale, Weighing
from shop.demo import story
from tests.scenarios import year
from tests.scenarios.shop_floor import Floor, moment


def test_a_weekend_loss_is_a_finding_until_it_is_explained(floor: Floor) -> None:
    year.opening(floor, "C-35")
    page = year.a_monday_reading_is_short(floor)
    assert "180 g less than last time: unexplained, 19.7 times what the two readings can tell (9 g)" in page.read_back
    assert floor.moves("weighing-difference") == [("C-35", "unexplained", "R-134a", "recovered", 180_000, "pair")]
    difference = floor.last("weighing-difference")
    assert difference.can_tell_mg == pytest.approx(9_130, abs=5)
    finding = "C-35, 2025-06-16, less than the book: 180 g, 19.7 times what the two readings can tell"
    assert finding in floor.look("")
    assert floor.held("C-35") == {("R-134a", "recovered"): 4_880_000}

    floor.at("06-18 10:20")
    answer = year.play(floor, story.BUBBLES_EXPLAIN_IT)
    assert f"Explains the difference of line {difference.entry.seq}" in answer
    assert "Bubbles at the valve stem under soap" in answer
    assert floor.moves("loss-explained") == [("unexplained", "air", "R-134a", "recovered", 180_000, "rest")]
    assert floor.last("loss-explained").explains == difference
    assert "19.7 times" not in floor.look("")
    line = floor.look(f"lines/{difference.entry.seq}/")  # both lines stay
    assert "Still open nothing" in line
    assert "Explained by" in line


def test_sixty_weighings_that_are_each_3_g_short_are_a_finding_together(floor: Floor) -> None:
    """Fifty-nine are written by the act itself; the page writes the sixtieth, insisting on a reading between steps."""
    year.opening(floor, "C-35")
    cylinder, scale = Cylinder.objects.get(serial="C-35"), Scale.objects.get(name="S1")
    day = moment("02-01 08:00")
    for count in range(1, 60):
        floor.clock(day + timedelta(days=count))
        gross = Gross(cylinder, scale, 11_420_000 - 3_000 * count, f"{11.420 - 0.003 * count:.3f} kg")
        act = Act(uuid4(), "p-olga", day + timedelta(days=count), {"gross": gross.typed})
        onscale.weigh(floor.book, act, gross, Weighing.CHECK)
    floor.at("04-30 08:00")
    floor.check("C-35", "11.240 kg", "S1")
    masses = [move[4] for move in floor.moves("weighing-difference")]
    assert masses == [3_000] * 60
    home = floor.look("")
    assert "times what the two readings" not in home  # none of them alone
    assert "C-35. Small losses all one way: 180 g in 60 readings, where chance alone leaves 71 g" in home
