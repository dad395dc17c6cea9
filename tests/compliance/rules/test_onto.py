"""A charge onto what the book has inside is judged by the label, and by what the record says of it."""

import pytest

from compliance.rules.all import BY_ID
from compliance.rules.facts import Visit
from compliance.rules.rule import MET, OPEN, judge
from compliance.rules.seen import recovered_mg
from shop.visits.kinds import ONTO

from .builders import charge, leak_search, moved, recovery, visit, workshop
from .builders import deed as step

INSIDE = {"R-134a": 600_000}


@pytest.mark.parametrize(
    ("one", "states"),
    [
        (visit(charge(600), held_mg=INSIDE), [OPEN]),
        (visit(charge(600, onto=ONTO[0]), held_mg=INSIDE), [OPEN]),
        (visit(leak_search(), charge(600, onto=ONTO[0]), held_mg=INSIDE), [MET]),
        (visit(leak_search(), charge(600, onto=ONTO[1]), held_mg=INSIDE), [OPEN]),
        (visit(charge(100), held_mg=INSIDE), [MET]),
        (visit(charge(700)), []),
        # What came out before, and what was settled, is not inside any more.
        (visit(step("recovery", moved("recovery", 600), hour=9), charge(700), held_mg=INSIDE), []),
        (
            visit(
                step("recovery", moved("recovery", 400), hour=9),
                step("remainder settled", moved("lost-on-the-road", 200, cylinder=None), hour=10),
                charge(700),
                held_mg=INSIDE,
            ),
            [],
        ),
        # Two lines of a machine are one recovery.
        (
            visit(
                step(
                    "recovery",
                    moved("recovery-through-machine", 300, cylinder=None),
                    moved("recovery-through-machine", 300),
                    hour=9,
                ),
                charge(700),
                held_mg=INSIDE,
            ),
            [OPEN],
        ),
    ],
)
def test_a_charge_past_the_label_is_open_until_the_record_says_how(one: Visit, states: list[str]) -> None:
    assert [each.state for each in judge(BY_ID["book-charged-onto"], workshop("none", one))] == states


def test_a_machines_two_lines_are_one_recovery() -> None:
    machine = (moved("recovery-through-machine", 300, cylinder=None), moved("recovery-through-machine", 300))
    assert recovered_mg(visit(step("recovery", *machine, hour=9))) == 300_000


def test_another_gas_onto_what_the_book_has_inside_is_a_mixture_unless_it_came_out() -> None:
    onto = visit(charge(600, refrigerant="R-1234yf"), held_mg=INSIDE)
    out = visit(recovery(600), charge(600, refrigerant="R-1234yf"), held_mg=INSIDE)
    rule = BY_ID["us-retrofit-no-mixing"]
    assert [each.state for each in judge(rule, workshop("us", onto))] == ["breach"]
    assert [each.state for each in judge(rule, workshop("us", out))] == [MET]
