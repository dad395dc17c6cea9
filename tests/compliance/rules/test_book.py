"""The rules of the book: for each, facts that meet it and facts that break it, and the figures that it names."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from compliance.rules.book.duties import RULES
from compliance.rules.facts import Deed, Visit, Workshop
from compliance.rules.rule import BREACH, MET, OPEN, PRACTICE, judge
from tests.compliance.rules.builders import (
    DAY,
    OWNER,
    TECHNICIAN,
    certificate,
    charge,
    consignment,
    cylinder,
    deed,
    difference,
    instrument,
    leak_search,
    line,
    only,
    person,
    plain,
    reading,
    received,
    recovery,
    repair,
    standing,
    tare,
    vehicle,
    visit,
    whole_log,
    without,
    workshop,
)
from tests.compliance.rules.test_lists import KG, ROW, of
from tests.compliance.rules.test_photos import FIRST, SECOND
from tests.compliance.rules.test_pressures import WARM_K, back, on, read
from tests.compliance.rules.test_spotchecks import checked, handed_over, shown

RULE = {rule.id: rule for rule in RULES}
OPENED = deed("circuit opened", hour=10.0, what="hose")
EMPTY = standing(0.0, photographed=True)
CONVERTED = deed("conversion done", hour=15.0, to="R-134a")
OLD_CAR = vehicle(refrigerant="R-12")


def one(*deeds: Deed, **facts: Any) -> Workshop:
    return workshop("none", visit(*deeds, **facts))


def shelf(**facts: Any) -> Workshop:
    return workshop(cylinders=[cylinder(**facts)])


def through_the_year(count: int, deeds: Any, by: str = TECHNICIAN, first: int = 100) -> list[Visit]:
    """Visits of unrelated cars, one every other day, all by one person; `deeds` makes the deeds of the n-th."""
    found = []
    for n in range(count):
        day = DAY + timedelta(days=2 * n)
        log = [replace(each, doer=by) for each in deeds(n, day)]
        found.append(visit(*log, on=day, number=first + n, vehicle=vehicle(first + n)))
    return found


def full(n: int, on: date) -> list[Deed]:
    """An ordinary visit: recoveries and charges scatter."""
    near = charge(700 + (-30, 15, 25, -10, 40)[n % 5], on=on, data=TARGET)
    return [standing(on=on), recovery(420 + 13 * (n % 19), on=on), repair(on), near]


def came_empty(n: int, on: date) -> list[Deed]:
    return [standing(0.0, on=on), charge(on=on)]


def not_read(n: int, on: date) -> list[Deed]:
    return [recovery(420 + 13 * n, on=on), charge(on=on)]


TARGET = {"target": {"text": "700 g", "si": 0.7, "mg": 700_000}}
ORDINARY = through_the_year(40, full)
OTHERS = through_the_year(40, full, OWNER, 500)


def year(visits: Iterable[Visit]) -> Workshop:
    return workshop("none", *visits)


def digits(step: int) -> Workshop:
    found = [reading(10_000 + step * n, line=n, step_mg=1_000, on=DAY + timedelta(days=n)) for n in range(40)]
    return workshop(readings=found)


def run(mass_g: float, other_g: float, **facts: Any) -> Workshop:
    """Sixty small differences, turn and turn about."""
    found = [difference((mass_g, other_g)[n % 2], line=n, on=DAY + timedelta(days=n), **facts) for n in range(60)]
    return workshop(differences=found)


def masses(**grams: float) -> Workshop:
    return workshop(lines=[line(cause.replace("_", "-"), mass_g) for cause, mass_g in grams.items()])


def charged(count: int, recovered: float) -> Workshop:
    return workshop(
        lines=[each for _ in range(count) for each in (line("charge", 700), line("recovery", 700 * recovered))]
    )


def bled(mass_g: float, cause: str = "purge", count: int = 30) -> Workshop:
    """So much taken out under a cause, beside recoveries of 600 g each."""
    return workshop(lines=[*(line("recovery", 600) for _ in range(count)), line(cause, mass_g)])


def minutes_apart(hour: float) -> list[Visit]:
    """Charges of two cars on each of five days, the second at `hour`."""
    found = []
    for n in range(5):
        day = DAY + timedelta(days=n)
        found += [visit(charge(on=day, hour=14.0), on=day, number=10 + n, vehicle=vehicle(10 + n))]
        found += [visit(charge(on=day, hour=hour), on=day, number=20 + n, vehicle=vehicle(20 + n))]
    return found


def to_and_fro(apart: float) -> list[Visit]:
    """Two cars on each of three days, steps of the second so many hours after those of the first."""
    found = []
    for n in range(3):
        day = DAY + timedelta(days=n)
        for car, late in ((10 + n, 0.0), (20 + n, apart)):
            log = [standing(on=day), recovery(420 + 13 * car, on=day), repair(on=day), charge(on=day)]
            log = [replace(each, at=each.at + timedelta(hours=late)) for each in log]
            found.append(visit(*log, on=day, number=car, vehicle=vehicle(car)))
    return found


def twice(days: int, *between: Deed) -> Workshop:
    """One vehicle, charged again so many days later."""
    later = DAY + timedelta(days=days)
    return workshop("none", visit(charge(), number=1), visit(*between, charge(on=later, hour=15.0), on=later, number=2))


WHOLE = one()
LATE = timedelta(days=40)
LATE_LINES = [replace(each, recorded_at=each.at + LATE) for each in (line("charge", 700) for _ in range(5))]

# rule: (facts that meet it, None where it only lists; facts that break it; the state that they give)
CASES: dict[str, tuple[Workshop | None, Workshop, str]] = {
    "opened-with-gas": (WHOLE, one(standing(), OPENED), BREACH),
    "emptied-before-conversion": (
        one(EMPTY, charge(), CONVERTED, vehicle=OLD_CAR),
        one(standing(), charge(), CONVERTED, vehicle=OLD_CAR),
        BREACH,
    ),
    "standing-pressure": (WHOLE, one(recovery(), charge()), OPEN),
    "arrived-empty": (one(EMPTY, OPENED, charge()), one(charge()), OPEN),
    "empty-and-no-leak": (one(EMPTY, repair(), charge()), one(EMPTY, charge()), OPEN),
    "recovery-proof": (WHOLE, one(recovery(400), proof="not explained", missing_mg=180_000), OPEN),
    "remainder-settled": (
        one(recovery(640), deed("remainder settled", hour=10.0, evidence="C"), held_mg={"R-134a": 784_000}),
        one(recovery(640), held_mg={"R-134a": 784_000}),
        OPEN,
    ),
    "interrupted": (one(recovery()), one(recovery(stopped="target full")), OPEN),
    "topped-up": (
        one(leak_search(), charge(), previous_charge_on=date(2024, 12, 1)),
        one(charge(), previous_charge_on=date(2024, 12, 1)),
        OPEN,
    ),
    "charged-onto": (
        one(charge(300), held_mg={"R-134a": 300_000}),
        one(charge(600), held_mg={"R-134a": 300_000}),
        OPEN,
    ),
    "split-charges": (WHOLE, workshop("none", visit(charge(), number=1), visit(charge(hour=15.0), number=2)), OPEN),
    "r12-charged": (WHOLE, one(charge(refrigerant="R-12")), OPEN),
    "certified": (WHOLE, workshop("none", visit(), people=[person()]), OPEN),
    "certificate-later": (
        WHOLE,
        workshop("none", visit(), people=[person(TECHNICIAN, certificate(issued_on=date(2025, 6, 1)))]),
        OPEN,
    ),
    "weighings-disagree": (
        workshop(differences=[difference(180, open_mg=0)]),
        workshop(differences=[difference(180)]),
        OPEN,
    ),
    "past-limit": (shelf(), shelf(held_g=9_800, limit_rule="P200"), BREACH),
    "past-test-date": (shelf(), shelf(requalify_by=DAY - timedelta(days=1)), BREACH),
    "single-trip-filled": (shelf(kind="single-trip", filled_on=None), shelf(kind="single-trip"), BREACH),
    "invoice": (
        workshop(cylinders=[cylinder(34, paper_number="I-9")], lines=[line()]),
        workshop(cylinders=[cylinder(34)], lines=[line()]),
        OPEN,
    ),
    "opening-stock": (
        None,
        workshop(lines=[line(), line("opening-stock", on=DAY + timedelta(days=9))]),
        OPEN,
    ),
    "not-weighed": (shelf(last_weighed_on=date(2025, 11, 1)), shelf(), OPEN),
    "recovered-kept": (shelf(), shelf(first_in_on=date(2024, 1, 2), filled_on=date(2024, 6, 1)), OPEN),
    "away-long": (None, shelf(state="away", last_out_on=date(2024, 6, 1)), OPEN),
    "consignment-paper": (
        workshop(consignments=[consignment()]),
        workshop(consignments=[consignment(paper_number="")]),
        OPEN,
    ),
    "consignment-accepted": (
        workshop(consignments=[consignment(accepted_mg=3_290_000, oil_mg=68_000)]),
        workshop(consignments=[consignment(accepted_mg=2_900_000)]),
        OPEN,
    ),
    "gas-from-nowhere": (None, masses(turned_up=2_000), OPEN),
    "missing-cylinder": (None, masses(missing=2_000), OPEN),
    "tare-corrected": (workshop(tares=[tare()]), workshop(tares=[tare(photographed=False)]), OPEN),
    "instrument-check": (
        workshop(instruments=[instrument()]),
        workshop(instruments=[instrument(good_until=date(2025, 1, 31))]),
        OPEN,
    ),
    "late-lines": (workshop(lines=[line() for _ in range(9)]), workshop(lines=LATE_LINES), OPEN),
    "losses-one-way": (run(3, -3), run(3, 3), OPEN),
    "losses-one-way-year": (run(3, -3), run(3, 3), OPEN),
    "losses-one-way-person": (run(3, -3), run(3, 3), OPEN),
    "empties-by-person": (year([*ORDINARY, *OTHERS]), year([*through_the_year(40, came_empty), *OTHERS]), OPEN),
    "no-pressure-by-person": (year([*ORDINARY, *OTHERS]), year([*through_the_year(40, not_read), *OTHERS]), OPEN),
    "leaks-never-found": (
        year(through_the_year(20, lambda n, on: [*came_empty(n, on), repair(on)])),
        year(through_the_year(20, came_empty)),
        OPEN,
    ),
    "recovered-as-label": (year(ORDINARY), year(through_the_year(20, lambda n, on: [recovery(700, on=on)])), OPEN),
    "charged-at-target": (
        year(ORDINARY),
        year(through_the_year(40, lambda n, on: [charge(700, on=on, data=TARGET)])),
        OPEN,
    ),
    "last-digits": (digits(7), digits(5), OPEN),
    "identical-masses": (year(ORDINARY), year(through_the_year(20, lambda n, on: [recovery(630, on=on)])), OPEN),
    "recovered-against-charged": (charged(40, 0.6), charged(40, 0.15), OPEN),
    "purged": (bled(200), bled(1_500), OPEN),
    "drained-as-oil": (bled(200, "was-oil"), bled(1_500, "was-oil"), OPEN),
    "tares-one-way": (
        workshop(tares=[tare(400), tare(-350, cylinder=36)]),
        workshop(tares=[tare(400), tare(350, cylinder=36)]),
        OPEN,
    ),
    "used-once": (
        shelf(kind="refillable", last_out_on=DAY, filled_on=None),
        shelf(kind="refillable", last_weighed_on=None, filled_on=None),
        OPEN,
    ),
    "list-only-theirs": (of(), of(rows=(ROW, replace(ROW, paper="X-1", mass_mg=12 * KG))), OPEN),
    "list-only-book": (of(), of(rows=()), OPEN),
    "list-masses": (of(), of(rows=(replace(ROW, mass_mg=10_600_000),)), OPEN),
    "list-missing": (of(), of(rows=(), covered=()), OPEN),
    "photo-twice": (workshop(shots=(FIRST,)), workshop(shots=(FIRST, SECOND)), OPEN),
    "photo-long-before": (
        workshop(shots=(FIRST,)),
        workshop(shots=(replace(FIRST, taken_at=FIRST.step_at - timedelta(days=2)),)),
        OPEN,
    ),
    "pressure-beyond-gas": (one(standing(470_000.0, warmest=WARM_K)), one(standing(900_000.0, warmest=WARM_K)), OPEN),
    "pressures-copied": (
        workshop("none", *(read(n, f"4.{n} bar", 283.0 + 7 * (n % 3)) for n in range(14))),
        workshop("none", *(read(n, "4.7 bar", 283.0 + 7 * (n % 3)) for n in range(14))),
        OPEN,
    ),
    "mended-and-back": (
        back(90, recovery(690, on=on(90))),
        back(90, recovery(400, on=on(90)), missing_mg=250_000),
        OPEN,
    ),
    "spot-check": (shown(handed_over(), checked()), shown(handed_over()), OPEN),
    "two-at-once": (year(minutes_apart(15.0)), year(minutes_apart(14.02)), OPEN),
}


@pytest.mark.parametrize("name", CASES)
def test_a_rule_is_met_and_broken_by_what_stands_in_the_book(name: str) -> None:
    met, broken, state = CASES[name]
    rule = RULE[f"book-{name}"]
    if met is not None:
        assert {one.state for one in judge(rule, met)} == {MET}
    found = [one for one in judge(rule, broken) if one.state != MET]
    assert [one.state for one in found] == [state]
    assert all(one.words and one.way_out for one in found)


def test_each_rule_of_the_book_has_its_case() -> None:
    assert {f"book-{name}" for name in CASES} == set(RULE)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_a_rule_of_the_book_is_practice_and_says_nothing_of_an_empty_book(rule: Any) -> None:
    assert rule.standing == PRACTICE
    assert judge(rule, workshop()) == []


@pytest.mark.parametrize("name", [name for name in CASES if RULE[f"book-{name}"].statistics])
def test_a_pattern_is_never_a_breach_and_never_an_accusation(name: str) -> None:
    found = [one for one in judge(RULE[f"book-{name}"], CASES[name][1]) if one.state != MET]
    assert {one.state for one in found} == {OPEN}
    assert not [one for one in found if "fraud" in one.words.lower() or "guilty" in one.words.lower()]


def test_a_weekend_loss_is_told_in_times_of_what_readings_can_tell() -> None:
    found = only(RULE["book-weighings-disagree"], workshop(differences=[difference(180)]))
    assert plain(found.words) == (
        "The cylinder weighed 180 g less than the book, 19.7 times what the two readings can tell."
    )


def test_sixty_weighings_each_3_g_short_are_set_against_71_g() -> None:
    found = only(RULE["book-losses-one-way"], run(3, 3))
    assert "180 g in 60 readings, where chance alone leaves 71 g" in plain(found.words)


def test_a_circuit_that_arrived_open_may_be_opened_without_a_recovery() -> None:
    facts = one(received(state="hose off", photographed=True), OPENED)
    assert only(RULE["book-opened-with-gas"], facts).state == MET


def test_a_forgotten_pressure_is_open_where_a_leak_is_named_and_a_breach_where_none_is() -> None:
    silent = one(received(), OPENED, charge())
    mended = one(received(), OPENED, repair(), charge())
    taken_apart = one(received(), OPENED)
    assert only(RULE["book-opened-with-gas"], silent).state == BREACH
    assert only(RULE["book-opened-with-gas"], mended).state == OPEN
    assert only(RULE["book-opened-with-gas"], taken_apart).state == OPEN


def test_a_whole_visit_leaves_nothing_open() -> None:
    assert [one for rule in RULES for one in judge(rule, WHOLE) if one.state != MET] == []


def test_what_is_missing_from_a_whole_visit_is_found() -> None:
    facts = workshop("none", without(visit(*whole_log()), "recovery"))
    assert only(RULE["book-opened-with-gas"], facts).state == BREACH


@pytest.mark.parametrize("name", ["empties-by-person", "no-pressure-by-person"])
def test_a_share_of_somebody_alone_is_compared_with_nothing_and_says_so(name: str) -> None:
    found = only(RULE[f"book-{name}"], year(through_the_year(40, came_empty if "empties" in name else not_read)))
    assert found.state == MET
    assert "others have 0 visits, too few to compare with" in found.words


def empty_with(*steps: Callable[[date], Deed]) -> Callable[[int, date], list[Deed]]:
    """Every third vehicle arrives empty, then come these steps; the others are ordinary."""
    return lambda n, on: full(n, on) if n % 3 else [standing(0.0, on=on), *(each(on) for each in steps), charge(on=on)]


def test_empties_in_which_no_leak_is_found_weigh_more_than_their_number() -> None:
    others = through_the_year(60, empty_with(repair), OWNER, 500)
    mended, silent = (through_the_year(60, empty_with(*steps)) for steps in ((repair,), ()))
    assert {one.state for one in judge(RULE["book-empties-by-person"], year([*mended, *others]))} == {MET}
    (found,) = (one for one in judge(RULE["book-empties-by-person"], year([*silent, *others])) if one.state == OPEN)
    assert "of 60 visits in a year 20 vehicles arrived empty, 20 of them closed and with no leak found" in found.words


def test_steps_that_go_to_and_fro_between_two_vehicles_are_several_hands() -> None:
    found = only(RULE["book-two-at-once"], year(to_and_fro(0.25)))
    assert found.state == OPEN
    assert "3 times in a year the steps under one name went 6 times or more to and fro" in found.words
    assert only(RULE["book-two-at-once"], year(to_and_fro(6.0))).state == MET


@pytest.mark.parametrize(
    ("days", "between", "states"),
    [(0, (), [OPEN]), (1, (), [OPEN]), (13, (), [OPEN]), (14, (), [MET, MET])],
)
def test_a_vehicle_charged_again_within_a_fortnight_is_one_filling(
    days: int, between: tuple[Deed, ...], states: list[str]
) -> None:
    assert [one.state for one in judge(RULE["book-split-charges"], twice(days, *between))] == states


def test_what_was_recovered_first_is_charged_anew() -> None:
    facts = twice(5, recovery(640, on=DAY + timedelta(days=5)))
    assert [one.state for one in judge(RULE["book-split-charges"], facts)] == [MET, MET]


def test_a_tare_of_a_large_cylinder_may_change_by_more() -> None:
    large = replace(cylinder(), number=31, limit_mg=400_000_000)
    facts = workshop(tares=[replace(tare(800), cylinder=31)], cylinders=[large])
    assert only(RULE["book-tares-one-way"], facts).state == MET


def test_what_one_vehicle_gives_is_not_asked_about_and_gas_with_no_recovery_is() -> None:
    assert only(RULE["book-purged"], bled(590, count=2)).state == MET
    assert only(RULE["book-purged"], bled(590, count=0)).state == OPEN


def test_air_is_asked_about_long_before_the_most_that_is_allowed() -> None:
    found = only(RULE["book-purged"], bled(700))
    assert "less than the 5 % that are allowed at most" in found.words
