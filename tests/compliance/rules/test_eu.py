"""The rules of the European Union: each met, broken and left alone, by the law of the day of the act."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.rules.all import BY_ID
from compliance.rules.eu import duties as eu
from compliance.rules.eu import people, vehicles
from compliance.rules.facts import Workshop
from compliance.rules.rule import BREACH, MET, OPEN, Rule
from tests.compliance.rules.builders import (
    DAY,
    TECHNICIAN,
    TRAINEE,
    G,
    certificate,
    charge,
    consignment,
    cylinder,
    deed,
    leak_search,
    line,
    only,
    person,
    plain,
    received,
    recovery,
    repair,
    said,
    standing,
    trainee,
    vehicle,
    visit,
    without,
    workshop,
)
from tests.compliance.rules.cases import Case, each

WHOLE = workshop("eu", visit())
NOTHING = workshop("eu", visit(received(), deed("hand-over", hour=16)))
AUTUMN = date(2025, 11, 3)  # after 9 October 2025
IN_2027, IN_2030 = date(2027, 6, 1), date(2030, 1, 7)
NOBODY = [person(TECHNICIAN)]
M1 = certificate("training attestation", scope="type M1")
OLD_KIND = certificate("training attestation, vehicle air conditioning")
CAR, R12_CAR = vehicle(), vehicle(refrigerant="R-12")
CO2_CAR = vehicle(refrigerant="R-744")
BUS = vehicle(vehicle_class="bus", nameplate_mg=7_000 * G)
TRUCK_BODY = vehicle(vehicle_class="refrigerated body", nameplate_mg=5_000 * G)


def rule(name: str) -> Rule:
    return BY_ID[f"eu-{name}"]


def conversion(**done) -> Workshop:
    """An R-12 car turned to R-134a on the default day, and labelled."""
    answers = {"to": "R-134a", "photo": "31", **done}
    log = (received(), recovery(868, refrigerant="R-12"), deed("conversion done", hour=13, **answers), charge(784))
    return workshop("eu", visit(*log, vehicle=vehicle(original_refrigerant="R-12")))


def in_autumn(*certificates, people=None) -> Workshop:
    return workshop("eu", visit(on=AUTUMN), people=people or [person(TECHNICIAN, *certificates)])


OPENED_R12 = deed("circuit opened", hour=10, what="condenser")
WITH_R12 = visit(received(), recovery(868, refrigerant="R-12"), OPENED_R12, vehicle=R12_CAR)
WEAK = {"missing_mg": 120 * G, "previous_charge_on": DAY - timedelta(days=274), "proof": "short"}
HELD_R12 = cylinder(12, refrigerant="R-12", held_g=3_358)
SENT_R12 = consignment(refrigerant="R-12", purpose="destruction")
MENDED = (recovery(640), repair(), leak_search(), charge(770))
BODY_VISIT = visit(charge(5_000), leak_search(), vehicle=TRUCK_BODY)

CASES = (
    Case("eu-attested-recovery", WHOLE, replace(WHOLE, people={TECHNICIAN: NOBODY[0]}), in_autumn(people=NOBODY)),
    Case("eu-attested-recovery-2025", in_autumn(M1), in_autumn(people=NOBODY), replace(WHOLE, people={})),
    Case(
        "eu-attested-service",
        WHOLE,
        replace(WHOLE, people={TECHNICIAN: NOBODY[0]}),
        workshop("eu", visit(vehicle=BUS), people=NOBODY),
    ),
    Case("eu-attestation-type", in_autumn(M1), in_autumn(certificate(scope="M4")), WHOLE),
    Case(
        "eu-refresher",
        WHOLE,
        workshop("eu", visit(), people=[person(TECHNICIAN, certificate())], today=IN_2030),
        NOTHING,
        OPEN,
    ),
    Case("eu-no-release", WHOLE, workshop("eu", without(visit(), "recovery")), workshop("eu", WITH_R12)),
    Case(
        "eu-ozone-recovered",
        workshop("eu", WITH_R12),
        workshop("eu", without(WITH_R12, "recovery")),
        workshop("eu", without(visit(), "recovery")),
    ),
    Case(
        "eu-fill-ban",
        WHOLE,
        workshop("eu", visit(vehicle=vehicle(first_registered=date(2018, 4, 2)))),
        workshop("eu", visit(charge(refrigerant="R-1234yf"), vehicle=vehicle(first_registered=date(2018, 4, 2)))),
    ),
    Case(
        "eu-abnormal-loss",
        workshop("eu", visit(*MENDED, **WEAK)),
        workshop("eu", visit(recovery(640), charge(770), **WEAK)),
        WHOLE,
    ),
    Case(
        "eu-ozone-not-charged",
        conversion(),
        workshop("eu", visit(charge(900, refrigerant="R-12", grade="recycled"), vehicle=R12_CAR)),
        WHOLE,
    ),
    Case(
        "eu-ozone-stock",
        replace(NOTHING, cylinders=(replace(HELD_R12, held_mg=0),), consignments=(SENT_R12,)),
        replace(NOTHING, consignments=(replace(SENT_R12, purpose="sale"),)),
        replace(NOTHING, cylinders=(cylinder(),), consignments=(consignment(),)),
    ),
    Case(
        "eu-recycled-before-refill",
        workshop("eu", visit(charge(grade="recycled"))),
        workshop("eu", visit(charge(grade="recovered"))),
        WHOLE,
        OPEN,
    ),
    Case(
        "eu-recycled-own-only",
        workshop("eu", visit(charge(grade="recycled"))),
        replace(NOTHING, lines=(line(grade="recycled"),)),
        replace(WHOLE, lines=(line(),)),
        OPEN,
    ),
    Case(
        "eu-virgin-high-gwp",
        workshop("eu", visit(charge(5_000, refrigerant="R-404A", grade="reclaimed"), vehicle=TRUCK_BODY)),
        workshop("eu", visit(charge(5_000, refrigerant="R-404A"), vehicle=TRUCK_BODY)),
        WHOLE,
        OPEN,
    ),
    Case(
        "eu-refillable-only",
        replace(NOTHING, cylinders=(cylinder(34, kind="refillable"),)),
        replace(NOTHING, cylinders=(cylinder(34, kind="single-trip"),)),
        replace(NOTHING, cylinders=(cylinder(34, kind="single-trip", refrigerant="R-744"),)),
    ),
    Case(
        "eu-who-may-buy",
        replace(NOTHING, lines=(line(),)),
        replace(NOTHING, lines=(line(),), people={TECHNICIAN: NOBODY[0]}),
        replace(NOTHING, lines=(line(refrigerant="R-290"),), people={}),
        OPEN,
    ),
    Case(
        "eu-inspected-before-filling",
        replace(NOTHING, cylinders=(cylinder(),)),
        replace(NOTHING, cylinders=(cylinder(requalify_by=DAY - timedelta(days=1)),)),
        replace(NOTHING, cylinders=(cylinder(filled_on=None),)),
    ),
    Case("eu-label-after-change", conversion(), conversion(photo=""), WHOLE, OPEN),
    Case(
        "eu-ozone-records",
        workshop("eu", WITH_R12),
        workshop("eu", visit(recovery(868, refrigerant="R-12", by="p-gone"), vehicle=R12_CAR)),
        WHOLE,
        OPEN,
    ),
    Case(
        "eu-leak-checks-mobile",
        workshop("eu", BODY_VISIT),
        workshop("eu", BODY_VISIT, today=date(2026, 9, 1)),
        workshop("eu", visit(charge(5_000)), today=date(2029, 9, 1)),
        OPEN,
    ),
    Case(
        "eu-records-mobile",
        workshop("eu", BODY_VISIT),
        workshop("eu", BODY_VISIT, registration=""),
        workshop("eu", visit(), registration=""),
        OPEN,
    ),
)


def by_trainee(on: date = date(2025, 7, 10), answers: str = TECHNICIAN, **facts) -> Workshop:
    bus = visit(recovery(6_770, on=on, by=TRAINEE, answers=answers), on=on, vehicle=BUS)
    return workshop("eu", bus, people=[person(TECHNICIAN, certificate()), trainee(**facts)])


def test_a_trainee_of_ten_months_under_an_attested_person_recovers_a_bus() -> None:
    """Scenario 5: 10 of 12 months, (EC) 307/2008."""
    found = only(rule("attested-recovery"), by_trainee())
    assert found.state == MET
    assert "10 months after enrolment (12 are allowed)" in found.words


def stock(**kept) -> Workshop:
    """A visit at which nothing was done, and this beside it: a cylinder, a consignment."""
    return replace(NOTHING, **{f"{name}s": (one,) for name, one in kept.items()})


def of_one(deed, car=CAR, people=(), **facts) -> Workshop:
    """One deed, at a visit of its own day."""
    return workshop("eu", visit(deed, on=deed.at.date(), vehicle=car), people=people, **facts)


def bus_on(day: date) -> Workshop:
    return of_one(charge(7_000, on=day), BUS, today=day)


def r12_on(day: date) -> Workshop:
    return of_one(charge(900, on=day, refrigerant="R-12"), R12_CAR)


def new_gas(day: date, refrigerant: str, of_class: str) -> Workshop:
    return of_one(charge(on=day, refrigerant=refrigerant), vehicle(vehicle_class=of_class), today=date(2026, 6, 1))


def waiting(refrigerant: str) -> Workshop:
    car = vehicle(refrigerant=refrigerant)
    return workshop("eu", visit(received(), standing(), vehicle=car, handed_over=False))


NEXT_DAY = DAY + timedelta(days=1)
NOT_A_TRAINEE = [person(TECHNICIAN, certificate()), person("p-new")]
M3, M4 = ([person(TECHNICIAN, certificate(scope=scope))] for scope in ("M3", "M4"))
SOLD = consignment(grade="virgin", purpose="sale")
BUS_2025 = visit(charge(7_000), vehicle=BUS)
ARRIVED_EMPTY = visit(standing(0.0), charge(700), proof="arrived empty")
CAME_OPEN = visit(received(state="open to air"), charge(700), proof="arrived empty")
SHORT_OF_LABEL = visit(recovery(400), charge(700), missing_mg=200 * G, proof="short")
BUS_SHORT = visit(recovery(640), charge(770), vehicle=BUS, **WEAK)
TO_YF = visit(recovery(), charge(450, refrigerant="R-1234yf"))

SAID_OF = {
    "attested-recovery": (
        ("a trainee for whom nobody answers", by_trainee(answers=""), BREACH),
        ("a trainee who answers himself", by_trainee(answers=TRAINEE), BREACH),
        ("a trainee for whom somebody unknown answers", by_trainee(answers="p-gone"), BREACH),
        ("a trainee whose enrolment is not entered", by_trainee(enrolled_on=None), OPEN),
        ("no trainee is covered", of_one(recovery(by="p-new", answers=TECHNICIAN), people=NOT_A_TRAINEE), BREACH),
        ("gas that is not fluorinated", of_one(recovery(refrigerant="R-744"), CO2_CAR, NOBODY), None),
        ("a bus before 2024", of_one(recovery(on=date(2023, 5, 4)), BUS, NOBODY), None),
    ),
    "attestation-type": (
        ("recovery alone by type M4", of_one(recovery(on=AUTUMN), people=M4), MET),
        ("the day before types began", of_one(charge(on=date(2025, 10, 8)), people=M3), None),
        ("the day on which they began", of_one(charge(on=date(2025, 10, 9)), people=M3), BREACH),
    ),
    "fill-ban": (("an R-12 car converted after 2016 is not decided", conversion(), OPEN),),
    "ozone-stock": (("sent to who may be anything", stock(consignment=replace(SENT_R12, purpose="other")), OPEN),),
    "ozone-not-charged": (
        ("before the law that was read", r12_on(date(2024, 3, 10)), None),
        ("from its first day on", r12_on(date(2024, 3, 11)), BREACH),
        ("R-134a to R-1234yf", workshop("eu", TO_YF), None),
    ),
    "abnormal-loss": (
        ("a leak found, no mass known", workshop("eu", visit(leak_search(1), charge(300))), BREACH),
        ("arrived empty", workshop("eu", ARRIVED_EMPTY), BREACH),
        ("came open", workshop("eu", CAME_OPEN), None),
        ("short of its label alone", workshop("eu", SHORT_OF_LABEL), OPEN),
        ("a bus is outside the directive", workshop("eu", BUS_SHORT), None),
    ),
    "refillable-only": (("R-1234yf", stock(cylinder=cylinder(37, kind="single-trip", refrigerant="R-1234yf")), OPEN),),
    "no-release": (
        ("handed over unopened", workshop("eu", visit(received(), standing())), None),
        *(
            (f"{gas} shares no gas with the other law", waiting(gas), state)
            for gas, state in (("R-134a", OPEN), ("R-12", None), ("R-744", None))
        ),
    ),
    "who-may-buy": (
        ("sold", stock(consignment=SOLD), OPEN),
        ("to be reclaimed", stock(consignment=replace(SOLD, purpose="reclaim")), None),
        ("no fluorinated gas", stock(consignment=replace(SOLD, refrigerant="R-290")), None),
    ),
    "inspected-before-filling": (
        ("no date entered", stock(cylinder=cylinder(requalify_by=None)), OPEN),
        ("filled on the last day", stock(cylinder=cylinder(filled_on=DAY, requalify_by=DAY)), MET),
        ("filled a day later", stock(cylinder=cylinder(filled_on=NEXT_DAY, requalify_by=DAY)), BREACH),
    ),
    "leak-checks-mobile": (
        ("a bus, before they began", workshop("eu", BUS_2025, today=date(2027, 3, 11)), None),
        ("a bus, the day they began", workshop("eu", BUS_2025, today=date(2027, 3, 12)), MET),
        ("a bus, within its months", workshop("eu", BUS_2025, today=IN_2027), MET),
        ("a bus, a year later", workshop("eu", BUS_2025, today=date(2028, 4, 1)), OPEN),
        ("a year after the last search", workshop("eu", BODY_VISIT, today=DAY + timedelta(days=365)), MET),
        ("a day later", workshop("eu", BODY_VISIT, today=DAY + timedelta(days=366)), OPEN),
    ),
    "records-mobile": (
        ("a bus, before they began", bus_on(date(2027, 3, 11)), None),
        ("a bus, the day they began", bus_on(date(2027, 3, 12)), MET),
    ),
    "virgin-high-gwp": (
        ("a bus from 2026 on", new_gas(date(2026, 1, 1), "R-404A", "bus"), OPEN),
        ("a bus before", new_gas(date(2025, 12, 31), "R-404A", "bus"), None),
        ("a refrigerated body from 2025 on", new_gas(date(2025, 1, 1), "R-404A", "refrigerated body"), OPEN),
        ("gas below the line", new_gas(date(2026, 1, 1), "R-407C", "bus"), None),
    ),
}


@pytest.mark.parametrize(("name", "facts", "state"), each(SAID_OF))
def test_what_a_rule_says(name: str, facts: Workshop, state: str | None) -> None:
    assert said(rule(name), facts) == ([] if state is None else [state])


def test_no_leak_checks_are_ever_asked_of_a_car() -> None:
    assert vehicles.in_scope_from(vehicle()) is None


@given(st.dates(date(2024, 3, 12), date(2027, 12, 31)))
def test_the_months_of_a_trainee_follow_the_law_of_the_day(day: date) -> None:
    """12 months until 8 October 2025, (EC) 307/2008; 24 from the day after, (EU) 2025/1893 Art. 2(3)."""
    facts = by_trainee(on=day, enrolled_on=date(2024, 3, 11))
    old, new = said(rule("attested-recovery"), facts), said(rule("attested-recovery-2025"), facts)
    if day <= date(2025, 10, 8):
        assert (old, new) == ([MET if day <= date(2025, 3, 11) else BREACH], [])
    else:
        assert (old, new) == ([], [MET if day <= date(2026, 3, 11) else BREACH])


@pytest.mark.parametrize(
    ("enrolled", "act", "name", "state"),
    [
        (date(2024, 3, 11), date(2025, 3, 11), "attested-recovery", MET),
        (date(2024, 3, 11), date(2025, 3, 12), "attested-recovery", BREACH),
        (date(2024, 3, 11), date(2026, 3, 11), "attested-recovery-2025", MET),
        (date(2024, 3, 11), date(2026, 3, 12), "attested-recovery-2025", BREACH),
        (date(2024, 2, 29), date(2025, 2, 28), "attested-recovery", MET),
        (date(2025, 3, 11), date(2025, 3, 11), "attested-recovery", MET),
        (date(2025, 3, 12), date(2025, 3, 11), "attested-recovery", OPEN),
    ],
)
def test_the_last_day_of_a_trainee_counts(enrolled: date, act: date, name: str, state: str) -> None:
    assert said(rule(name), by_trainee(on=act, enrolled_on=enrolled)) == [state]


def test_an_attestation_of_the_old_kind_is_asked_about_once_a_person() -> None:
    facts = workshop("eu", visit(on=AUTUMN), visit(on=AUTUMN, number=13), people=[person(TECHNICIAN, OLD_KIND)])
    found = only(rule("attestation-type"), facts)
    assert (found.state, found.about) == (OPEN, f"person:{TECHNICIAN}")


@pytest.mark.parametrize(
    ("held", "refrigerant", "state"),
    [
        ("M1", "R-134a", MET),
        ("M2", "R-134a", MET),
        ("M3", "R-134a", BREACH),
        ("M4", "R-134a", BREACH),
        ("M1", "R-744", BREACH),
        ("M3", "R-744", MET),
        ("M1 and M3", "R-744", MET),
    ],
)
def test_a_charge_asks_for_the_type_of_its_gas(held: str, refrigerant: str, state: str) -> None:
    log = visit(charge(on=AUTUMN, refrigerant=refrigerant), on=AUTUMN)
    facts = workshop("eu", log, people=[person(TECHNICIAN, certificate(scope=held))])
    assert said(rule("attestation-type"), facts) == [state]


@given(st.dates(date(2020, 1, 1), date(2026, 12, 31)), st.integers(0, 400))
def test_adding_months_and_counting_them_agree(day: date, months: int) -> None:
    assert people.months_between(day, people.months_later(day, months)) in (months, months - (day.day > 28))


def test_r12_may_go_into_no_vehicle_and_its_stock_waits_for_destruction() -> None:
    """Scenario 1: the R-12 in C-12."""
    facts = replace(conversion(), cylinders=(HELD_R12,))
    assert said(rule("ozone-not-charged"), facts) == [MET]
    found = only(rule("ozone-stock"), facts)
    assert (found.state, plain(found.words)) == (OPEN, "It holds 3358 g of R-12, which may not go into any vehicle.")


@pytest.mark.parametrize(
    ("registered", "refrigerant", "vehicle_class", "states"),
    [
        (None, "R-134a", "car", [OPEN]),
        (date(2010, 12, 31), "R-134a", "car", [MET]),
        (date(2011, 1, 1), "R-134a", "car", [OPEN]),
        (date(2016, 12, 31), "R-134a", "van", [OPEN]),
        (date(2017, 1, 1), "R-134a", "car", [BREACH]),
        (date(2017, 1, 1), "R-152a", "car", []),
        (date(2017, 1, 1), "R-1234yf", "car", []),
        (date(2017, 1, 1), "R-134a", "bus", []),
    ],
)
def test_the_fill_ban_goes_by_first_registration_and_gwp(registered, refrigerant, vehicle_class, states) -> None:
    """R-152a is at 120 in the third assessment report: below the line of 150."""
    car = vehicle(first_registered=registered, vehicle_class=vehicle_class)
    assert said(rule("fill-ban"), workshop("eu", visit(charge(refrigerant=refrigerant), vehicle=car))) == states


MAKERS_LABEL = deed("label read", hour=8.1, refrigerant="R-134a")


@pytest.mark.parametrize(
    ("registered", "approved", "log", "states"),
    [
        (date(2014, 5, 1), date(2010, 12, 31), (), [MET]),
        (date(2014, 5, 1), date(2011, 1, 1), (), [BREACH]),
        (date(2014, 5, 1), date(2011, 1, 1), (MAKERS_LABEL,), [OPEN]),
        (date(2014, 5, 1), date(2014, 5, 2), (), [OPEN]),
        (date(2014, 5, 1), None, (MAKERS_LABEL,), [MET]),
        (date(2010, 5, 1), date(2011, 6, 1), (), [MET]),
        (date(2017, 1, 1), date(2009, 6, 1), (), [BREACH]),
        (None, date(2009, 6, 1), (), [OPEN]),
    ],
)
def test_between_both_bans_the_type_approval_decides(registered, approved, log, states) -> None:
    """A maker’s label that names the gas speaks against a type approved from 2011 on: both are asked about."""
    car = vehicle(first_registered=registered, type_approved=approved)
    assert said(rule("fill-ban"), workshop("eu", visit(*log, charge(), vehicle=car))) == states


@pytest.mark.parametrize(
    ("category", "scope", "state"),
    [
        ("M1", "", MET),
        ("M3", "", BREACH),
        ("M4", "type M1", BREACH),
        ("(EC) 307/2008", "type M1", OPEN),
        ("", "M1", MET),
    ],
)
def test_the_class_of_an_attestation_counts_before_its_words(category: str, scope: str, state: str) -> None:
    held = certificate("attestation", category=category, scope=scope)
    facts = workshop("eu", visit(charge(on=AUTUMN), on=AUTUMN), people=[person(TECHNICIAN, held)])
    assert said(rule("attestation-type"), facts) == [state]


def test_a_first_registration_that_is_not_entered_is_asked_for_once_a_vehicle() -> None:
    car = vehicle(first_registered=None)
    facts = workshop("eu", visit(vehicle=car), visit(on=AUTUMN, number=13, vehicle=car))
    assert only(rule("fill-ban"), facts).about == "visit:13"


@pytest.mark.parametrize(
    ("gauge_pa", "opened", "state"), [(0.0, True, [MET]), (530_000.0, True, [BREACH]), (200_000.0, False, [OPEN])]
)
def test_an_r12_car_that_arrives_empty_or_not(gauge_pa: float, opened: bool, state: list[str]) -> None:
    """Scenario 2 (a), (b), (c)."""
    log = [received(), standing(gauge_pa, empty="yes"), *([OPENED_R12] if opened else [])]
    facts = workshop("eu", visit(*log, vehicle=R12_CAR, handed_over=False))
    assert said(rule("ozone-recovered"), facts) == state


def test_a_visit_written_late_is_judged_by_its_own_day() -> None:
    """Scenario 2 (d): 14 April written on 24 May; here across the day on which the law on trainees changed."""
    late = recovery(on=date(2025, 9, 30), by=TRAINEE, answers=TECHNICIAN)
    late = replace(late, recorded_at=late.at + timedelta(days=40))
    facts = workshop("eu", visit(late, on=date(2025, 9, 30)), people=[person(TECHNICIAN, certificate()), trainee()])
    assert said(rule("attested-recovery"), facts) == [BREACH]
    assert said(rule("attested-recovery-2025"), facts) == []


@pytest.mark.parametrize(
    ("log", "states"),
    [
        ((recovery(640),), [OPEN]),
        ((recovery(640), repair()), [OPEN]),
        ((recovery(640), repair(), leak_search()), []),
        (MENDED, [MET]),
        ((recovery(640), repair(), charge(770)), [BREACH]),
        ((recovery(640), leak_search(1), charge(770)), [BREACH]),
        ((recovery(640), leak_search(0), charge(770)), [OPEN]),
        ((recovery(640), leak_search(1), repair(hour=13), charge(770)), [MET]),
        ((recovery(640), repair(), leak_search(1), charge(770)), [BREACH]),
        ((recovery(640), charge(770), repair(hour=15), leak_search(hour=16)), [BREACH]),
    ],
    ids=[
        "no repair yet",
        "repaired and not searched",
        "ready to fill",
        "repaired, searched, filled",
        "filled unsearched",
        "filled with a leak known",
        "searched and nothing found",
        "leak found, then repaired",
        "still leaking after the repair",
        "repaired after the fill",
    ],
)
def test_no_fill_before_the_repair(log, states: list[str]) -> None:
    """Scenario 3: 784 g charged, 640 g recovered 274 days later."""
    assert said(rule("abnormal-loss"), workshop("eu", visit(*log, handed_over=False, **WEAK))) == states


@given(days=st.integers(1, 4_000), missing_g=st.integers(1, 900))
def test_a_loss_within_what_a_new_system_may_lose_is_not_counted(days: int, missing_g: int) -> None:
    log = visit(recovery(300), charge(700), missing_mg=missing_g * G, previous_charge_on=DAY - timedelta(days=days))
    expected = [BREACH] if missing_g * 365 > 40 * days else []
    assert said(rule("abnormal-loss"), workshop("eu", log)) == expected


@pytest.mark.parametrize(
    ("code", "grams", "months"),
    [
        ("R-134a", 3_496, None),
        ("R-134a", 3_497, 12),
        ("R-404A", 1_300, 12),
        ("R-404A", 12_800, 6),
        ("R-404A", 127_600, 3),
        ("R-1234yf", 999, None),
        ("R-1234yf", 1_000, 12),
        ("R-744", 50_000, None),
    ],
)
def test_the_months_between_leak_checks(code: str, grams: int, months: int | None) -> None:
    """5 t CO2e of R-134a are 3.5 kg (UK regulator); 5, 50, 500 t of R-404A 1.3, 12.7, 127 kg (UK government table)."""
    assert vehicles.check_months(code, grams * G) == months


def test_a_whole_visit_of_a_certified_person_breaks_nothing() -> None:
    assert not [one.id for one in eu.RULES if set(said(one, WHOLE)) - {MET}]


@pytest.mark.parametrize(
    ("cause", "refrigerant", "fluorinated", "ozone"),
    [
        ("released-exempt", "R-134a", [BREACH], []),
        ("lost-in-our-hands", "R-134a", [OPEN], []),
        ("lost-in-our-hands", "R-12", [], [OPEN]),
        ("released-exempt", "R-12", [], [BREACH]),
        ("released-exempt", "R-744", [], []),
        ("purge", "R-134a", [], []),
        ("lost-on-the-road", "R-134a", [], []),
    ],
)
def test_lines_to_the_air_are_judged_by_the_law_of_their_gas(cause, refrigerant, fluorinated, ozone) -> None:
    facts = replace(NOTHING, lines=(line(cause, 300, refrigerant=refrigerant),))
    assert said(rule("no-release"), facts) == fluorinated
    assert said(rule("ozone-recovered"), facts) == ozone


@pytest.mark.parametrize(
    "log",
    [
        (received(), standing(), recovery(300), deed("hand-over", hour=16)),
        (received(state="open to air"), standing()),
        (received(), standing(0.0)),
        (received(),),
        (received(), standing(), charge(100)),
    ],
    ids=["recovered", "came open", "empty", "no pressure read", "charged"],
)
def test_a_recovery_is_owed_only_where_gas_stands_and_nothing_was_done(log) -> None:
    assert said(rule("no-release"), workshop("eu", visit(*log, handed_over=False))) == []


@pytest.mark.parametrize(
    ("on", "refrigerant", "vehicle_class", "states"),
    [
        (date(2024, 3, 10), "R-1234yf", "car", []),
        (date(2024, 3, 11), "R-1234yf", "car", [BREACH]),
        (date(2024, 3, 10), "R-134a", "car", [BREACH]),
        (date(2024, 3, 10), "R-134a", "bus", []),
        (date(2024, 3, 11), "R-134a", "bus", [BREACH]),
    ],
)
def test_the_reach_of_the_duty_to_be_attested_grew_in_2024(on, refrigerant, vehicle_class, states) -> None:
    log = visit(recovery(on=on, refrigerant=refrigerant), on=on, vehicle=vehicle(vehicle_class=vehicle_class))
    assert said(rule("attested-recovery"), workshop("eu", log, people=NOBODY)) == states
