"""What stands is written in one place: limits, compositions and differences agree wherever they are asked for."""

import re
from pathlib import Path
from typing import Any

import pytest

from compliance.findings import gathering
from compliance.statement.figures import read_statement
from inventory.acts import describing, settling
from inventory.book import differences
from inventory.models import Analysis, Consignment, Cylinder, Movement, Weighing
from inventory.shelf import limits, queries
from tests.inventory.book.lines import undo_line

ROOT = Path(__file__).resolve().parents[3]
G = 1_000


@pytest.fixture
def twice_identified(make_cylinder: Any, post: Any, account: Any) -> tuple[Cylinder, Any]:
    """A mixture of R-134a and R-1234yf, into which, by a line written by mistake, R-32 came as well."""
    cylinder = make_cylinder("C-40", refrigerant="MIXED", grade="suspect", kind="recovery", tare_mg=6_850 * G)
    gas = {"refrigerant": "MIXED", "grade": "suspect", "basis": "single"}
    first = post("opening-stock", account("opening"), cylinder, 465 * G, **gas)
    describing.note_parts(cylinder.account, first, {"R-134a": "0.08", "R-1234yf": "0.92"})
    second = post("turned-up", account("unexplained"), cylinder, 100 * G, **gas)
    describing.note_parts(cylinder.account, second, {"R-134a": "0.1", "R-1234yf": "0.5", "R-32": "0.4"})
    return cylinder, second


def on_the_shelf_mg(cylinder: Cylinder) -> int:
    return round(queries.cylinders(cylinder.account.book, "us").get(pk=cylinder.pk).limit_mg)


def in_the_act_mg(cylinder: Cylinder) -> int:
    limit = limits.filling_limit(cylinder, "MIXED", "us")
    assert limit is not None
    return round(limit.max_net_g * 1000)


def test_after_a_reversal_the_shelf_shows_the_limit_that_the_act_allows(
    twice_identified: Any, book: Any, act: Any
) -> None:
    cylinder, slip = twice_identified
    wrong_mg = on_the_shelf_mg(cylinder)
    assert in_the_act_mg(cylinder) == wrong_mg
    undo_line(slip, act())
    assert on_the_shelf_mg(cylinder) == in_the_act_mg(cylinder) > wrong_mg


def test_a_machine_minds_its_own_tank_whatever_is_in_it(twice_identified: Any) -> None:
    cylinder, _ = twice_identified
    cylinder.kind = Cylinder.TANK
    cylinder.save()
    assert limits.filling_limit(cylinder, "MIXED", "us") is None
    assert queries.cylinders(cylinder.account.book, "us").get(pk=cylinder.pk).limit_mg is None


def test_a_reversed_analysis_is_no_composition_of_a_statement(twice_identified: Any, book: Any, act: Any) -> None:
    _, slip = twice_identified
    day = slip.booked_on
    undo_line(slip, act())
    worth = read_statement(book, day, day, "EU").impacts["MIXED"].worth["closing"]
    Analysis.objects.filter(entry=slip).delete()
    assert read_statement(book, day, day, "EU").impacts["MIXED"].worth["closing"] == worth


def test_a_difference_is_open_by_as_much_wherever_it_is_asked_for(
    workshop: Any, book: Any, act: Any, post: Any, account: Any, make_cylinder: Any, make_vehicle: Any, now: Any
) -> None:
    cylinder, vehicle = make_cylinder(mass_mg=5_000 * G), make_vehicle()
    written = [
        post("weighing-difference", cylinder, account("unexplained"), mass * G, can_tell_mg=9 * G, basis="pair")
        for mass in (180, 75, 60)
    ]
    one, two, three = (entry.movements.get() for entry in written)
    settling.explain(book, act(), one, cause="loss-explained", mass_mg=100 * G)
    undone = settling.explain(book, act(), two, cause="late-charge", mass_mg=75 * G, vehicle=vehicle.account)
    undo_line(undone, act())
    undo_line(three.entry, act())
    assert [differences.open_mg(each) for each in (one, two, three)] == [80 * G, 75 * G, 0]
    listed = {each.movement.pk: each.open_mg for each in differences.open_differences(book)}
    assert listed == {one.pk: 80 * G, two.pk: 75 * G}
    facts = {each.line: each.open_mg for each in gathering.facts_of(workshop, now.date()).differences}
    assert facts == {one.entry.seq: 80 * G, two.entry.seq: 75 * G}


def test_rows_of_a_reversed_line_and_of_its_reversal_do_not_stand(
    book: Any, act: Any, post: Any, cylinder: Any, account: Any
) -> None:
    gone = post("leaked-from-stock", cylinder, account("air"), 10 * G)
    kept = Movement.objects.exclude(entry=gone).get()
    undo_line(gone, act())
    assert list(Movement.objects.standing()) == [kept]
    before = gone.reversal.pk - 1
    assert {one.entry_id for one in Movement.objects.standing_at(before)} == {kept.entry_id, gone.pk}
    assert list(Movement.objects.standing_at(gone.reversal.pk)) == [kept]


def test_not_reversed_is_written_in_one_place() -> None:
    asks = re.compile(r"entry__reversal__isnull\s*=\s*True|reversal=False")
    found = {
        str(path.relative_to(ROOT))
        for floor in ("inventory", "shop", "compliance")
        for path in (ROOT / floor).rglob("*.py")
        if "migrations" not in path.parts and asks.search(path.read_text())
    }
    # A constraint of the model needs the word too; a document asks what was explained later, by whatever line.
    in_models = {"inventory/models/standing.py", "inventory/models/lines.py"}
    assert found == {*in_models, "compliance/documents/verifying.py"}
    assert all(hasattr(model.objects, "standing") for model in (Movement, Weighing, Analysis, Consignment))
