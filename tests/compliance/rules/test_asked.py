"""What the record itself answers is not asked: a table of cases that a workshop would shake its head at."""

from datetime import date
from typing import Any

import pytest

from compliance.rules.all import BY_ID
from compliance.rules.facts import Visit, Workshop
from compliance.rules.rule import MET, OPEN, judge
from tests.compliance.rules.builders import charge, deed, received, recovery, standing, vehicle, visit, workshop

OLD_CAR = {"refrigerant": "R-134a", "original_refrigerant": "R-12"}
R12_LABEL = deed("label read", hour=8.1, label="label read", refrigerant="R-12")
MAKERS_LABEL = deed("label read", hour=8.1, label="label read", refrigerant="R-134a")
EVACUATED = received(data={"book": {"text": "evacuated", "si": {}, "refrigerant": "R-134a"}})
OPENED = deed("circuit opened", hour=10, what="condenser")


def car(**facts: Any) -> Any:
    return vehicle(**facts)


@pytest.mark.parametrize(
    ("rule", "one", "states"),
    [
        # A car that was built for R-12 is of no type of 2011, whatever its papers leave out.
        ("eu-fill-ban", visit(charge(), vehicle=car(first_registered=None, **OLD_CAR)), [MET]),
        ("eu-fill-ban", visit(charge(), vehicle=car(first_registered=date(2013, 5, 1), **OLD_CAR)), [MET]),
        ("eu-fill-ban", visit(charge(), vehicle=car(first_registered=date(2018, 5, 1), **OLD_CAR)), [MET]),
        # Only whether a conversion counts as refilling stays a question, below.
        ("eu-fill-ban", visit(R12_LABEL, charge(), vehicle=car(first_registered=None, refrigerant="")), [OPEN]),
        # The maker's label that names the gas is what the question would be answered with.
        ("eu-fill-ban", visit(MAKERS_LABEL, charge(), vehicle=car(first_registered=date(2013, 5, 1))), [MET]),
        ("eu-fill-ban", visit(charge(), vehicle=car(first_registered=date(2013, 5, 1))), [OPEN]),
        # What the book itself had left evacuated holds nothing, and no leak has to be named for it.
        ("us-no-venting", visit(EVACUATED, OPENED, charge()), [MET]),
        ("eu-no-release", visit(EVACUATED, OPENED, charge()), [MET]),
        ("book-opened-with-gas", visit(EVACUATED, OPENED, charge()), [MET]),
        ("book-standing-pressure", visit(EVACUATED, OPENED, charge()), []),
        ("book-arrived-empty", visit(EVACUATED, charge()), []),
        ("book-empty-and-no-leak", visit(EVACUATED, charge()), []),
        ("us-retrofit-old-gas-out", visit(EVACUATED, charge(refrigerant="R-416A")), [MET]),
        # Unless a gauge said otherwise on arrival.
        ("us-no-venting", visit(EVACUATED, standing(), OPENED), ["breach"]),
        ("book-opened-with-gas", visit(received(), OPENED, charge()), ["breach"]),
        # Where all that was charged came out again, no leak is looked for.
        (
            "book-topped-up",
            visit(recovery(), charge(), proof="accounted for", previous_charge_on=date(2025, 1, 7)),
            [MET],
        ),
        ("book-topped-up", visit(charge(), previous_charge_on=date(2025, 1, 7)), [OPEN]),
    ],
)
def test_what_the_record_answers_is_not_asked(rule: str, one: Visit, states: list[str]) -> None:
    jurisdiction = rule.partition("-")[0]
    facts = workshop(jurisdiction if jurisdiction in ("us", "eu") else "none", one)
    assert [each.state for each in judge(BY_ID[rule], facts)] == states


def test_the_label_of_an_earlier_visit_counts_too_and_later_fills_are_not_asked_about() -> None:
    old = vehicle(first_registered=None, refrigerant="")
    first = visit(R12_LABEL, recovery(868, refrigerant="R-12"), charge(784), vehicle=old)
    later = visit(charge(60), on=date(2025, 9, 1), number=13, vehicle=old)
    facts: Workshop = workshop("eu", first, later)
    found = judge(BY_ID["eu-fill-ban"], facts)
    assert [(one.about, one.state) for one in found if one.state == OPEN] == [("visit:12", OPEN)]
    assert "conversion" in next(one.way_out for one in found if one.state == OPEN)
