"""A visit that the book's digest chose is looked at by a second person, and what does not agree stays open."""

from dataclasses import replace
from datetime import timedelta

import pytest

from compliance.rules.all import BY_ID
from compliance.rules.facts import Deed, Person, Workshop
from compliance.rules.rule import MET, OPEN, judge
from shop.visits.spotcheck import DRAWN_BY, ONE_IN, WITHIN
from tests.compliance.rules.builders import DAY, OWNER, TECHNICIAN, deed, person, received, visit, workshop

CHOSEN, NOT_CHOSEN = (answer for answer in (f"{ONE_IN:064x}", f"{ONE_IN + 1:064x}"))
LATE = DAY + WITHIN + timedelta(days=1)
WORKED, SECOND = person(), person(OWNER, role="owner")


def handed_over(digest: str = CHOSEN) -> Deed:
    return deed("hand-over", hour=16, data={DRAWN_BY: {"text": digest}} if digest else {})


def checked(found: str = "agrees", by: str = OWNER, hour: float = 17) -> Deed:
    return deed("spot check", hour=hour, by=by, looked="pressures", found=found)


def shown(*deeds: Deed, people: tuple[Person, ...] = (WORKED, SECOND), after: timedelta = LATE - DAY) -> Workshop:
    one = workshop("none", visit(received(), *deeds))
    return replace(one, people={each.handle: each for each in people}, today=DAY + after)


@pytest.mark.parametrize(
    ("given", "states"),
    [
        (shown(handed_over(), checked()), [MET]),
        (shown(handed_over(), checked(), after=timedelta(0)), [MET]),
        (shown(handed_over()), [OPEN]),
        (shown(handed_over(), after=WITHIN), []),
        (shown(handed_over(), checked("does not agree"), after=timedelta(0)), [OPEN]),
        (shown(handed_over(), checked("does not agree"), checked(hour=18)), [MET]),
        (shown(handed_over(), checked(by=TECHNICIAN)), [OPEN]),  # who worked at it is no second person
        # Not chosen, or handed over before there were spot checks.
        (shown(handed_over(NOT_CHOSEN)), []),
        (shown(handed_over("")), []),
        (shown(), []),
        # Nobody else is there who may write.
        (shown(handed_over(), people=(WORKED,)), []),
        (shown(handed_over(), people=(WORKED, replace(SECOND, active=False))), []),
        (shown(handed_over(), people=(WORKED, replace(SECOND, role="reader"))), []),
    ],
)
def test_a_chosen_visit_is_open_until_a_second_person_agrees(given: Workshop, states: list[str]) -> None:
    found = judge(BY_ID["book-spot-check"], given)
    assert [one.state for one in found] == states
    assert all(one.way_out for one in found if one.state == OPEN)
