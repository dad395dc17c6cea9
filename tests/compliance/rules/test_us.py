"""The rules of the United States: each met, broken and left alone, and what they must not say."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.rules.all import BY_ID
from compliance.rules.facts import Person, StateLicence, Workshop
from compliance.rules.rule import BREACH, MET, OPEN, Rule
from compliance.rules.us import duties as us
from tests.compliance.rules.builders import (
    DAY,
    TECHNICIAN,
    TODAY,
    TRAINEE,
    G,
    certificate,
    charge,
    consignment,
    cylinder,
    deed,
    leak_search,
    line,
    moved,
    only,
    person,
    plain,
    received,
    recovery,
    repair,
    said,
    standing,
    vehicle,
    visit,
    without,
    workshop,
)
from tests.compliance.rules.cases import Case, each

WHOLE = workshop("us", visit())
NOTHING = workshop("us", visit(received(), deed("hand-over", hour=16)))
IN_2026, IN_2028 = date(2026, 3, 3), date(2028, 3, 3)


def rule(name: str) -> Rule:
    return BY_ID[f"us-{name}"]


def conversion(*deeds, proof="accounted for", emptied=False, **done):
    """An R-12 car, recovered, fitted, charged with R-134a and labelled; `done` are answers of the conversion."""
    answers = {
        "to": "R-134a",
        "high_fitting": "quick coupler 16 mm",
        "low_fitting": "quick coupler 13 mm",
        "hoses": "barrier hoses",
        "cut_out": "high-pressure switch",
        "lubricant": "ester, 210 mL",
        "photo": "31",
        **done,
    }
    log = deeds or (
        standing(),
        recovery(868, refrigerant="R-12"),
        deed("conversion done", hour=13.0, **answers),
        charge(784, refrigerant=answers["to"]),
    )
    car = vehicle(refrigerant=answers["to"], original_refrigerant="R-12", nameplate_mg=900 * G)
    return workshop("us", visit(received(), *log, vehicle=car, proof=proof, emptied=emptied))


R401C = conversion(to="R-401C")
BUS = vehicle(vehicle_class="bus", nameplate_mg=7_000 * G)
LEAKING_THEN_MENDED = (leak_search(1, hour=9.5), repair(), leak_search())

CASES = (
    Case(
        "us-certified-person",
        WHOLE,
        replace(WHOLE, people={TECHNICIAN: person()}),
        NOTHING,
    ),
    Case(
        "us-proof-of-certification",
        replace(WHOLE, today=DAY),
        workshop("us", visit(), people=[person(TECHNICIAN, certificate(never_expires=False, expires_on=DAY))]),
        NOTHING,
        OPEN,
    ),
    Case(
        "us-equipment-certified",
        replace(NOTHING, cylinders=(cylinder(1, kind="machine tank", certified_on=date(2019, 5, 2)),)),
        replace(NOTHING, cylinders=(cylinder(1, kind="machine tank"),)),
        NOTHING,
        OPEN,
    ),
    Case(
        "us-state-licence",
        replace(WHOLE, state_licence=StateLicence(entered=True, until=TODAY)),
        replace(WHOLE, state_licence=StateLicence(entered=True, until=date(2025, 12, 30))),
        NOTHING,
        OPEN,
    ),
    Case(
        "us-recycled-before-reuse",
        workshop("us", visit(recovery(), charge(grade="recycled"))),
        workshop("us", visit(recovery(), charge(grade="recovered"))),
        WHOLE,
    ),
    Case(
        "us-no-venting",
        WHOLE,
        workshop("us", without(visit(), "recovery")),
        workshop("us", visit(deed("circuit opened", what="hose"), vehicle=vehicle(refrigerant="R-744"))),
    ),
    Case(
        "us-single-trip-refilled",
        replace(NOTHING, cylinders=(cylinder(7, kind="single-trip", filled_on=None),)),
        replace(NOTHING, cylinders=(cylinder(7, kind="single-trip"),)),
        replace(NOTHING, cylinders=(cylinder(7),)),
    ),
    Case(
        "us-recovered-hfc-owner",
        replace(NOTHING, consignments=(consignment(), consignment(purpose="destruction"))),
        replace(NOTHING, consignments=(consignment(purpose="sale"),)),
        replace(NOTHING, consignments=(consignment(grade="virgin", purpose="sale"),)),
    ),
    Case(
        "us-requalified-before-refill",
        replace(NOTHING, cylinders=(cylinder(),)),
        replace(NOTHING, cylinders=(cylinder(requalify_by=DAY - timedelta(days=1)),)),
        replace(NOTHING, cylinders=(cylinder(filled_on=None), cylinder(7, kind="single-trip"))),
        OPEN,
    ),
    Case(
        "us-destination-named",
        replace(NOTHING, consignments=(consignment(),)),
        replace(NOTHING, consignments=(consignment(has_address=False),)),
        replace(NOTHING, consignments=(consignment(grade="virgin", has_address=False),)),
    ),
    Case(
        "us-papers-three-years",
        replace(NOTHING, consignments=(consignment(),)),
        replace(NOTHING, consignments=(consignment(paper_number=" "),)),
        replace(NOTHING, consignments=(consignment(paper_number="", on=date(2022, 1, 3)),)),
        OPEN,
    ),
    Case(
        "us-buyer-certified",
        None,
        replace(NOTHING, consignments=(consignment(grade="virgin", purpose="sale"),)),
        replace(NOTHING, consignments=(consignment(refrigerant="R-744", purpose="sale"),)),
        OPEN,
    ),
    Case(
        "us-retrofit-old-gas-out",
        conversion(),
        conversion(deed("conversion done", to="R-134a"), charge(784)),
        WHOLE,
    ),
    Case(
        "us-retrofit-no-mixing",
        conversion(),
        workshop("us", visit(recovery(), charge(300), charge(300, hour=15.0, refrigerant="R-1234yf"))),
        WHOLE,
    ),
    Case("us-retrofit-acceptable", conversion(), conversion(to="R-414B"), WHOLE, OPEN),
    Case("us-retrofit-fittings", conversion(), conversion(low_fitting="none"), WHOLE),
    Case("us-retrofit-label", conversion(), conversion(photo="no"), WHOLE),
    Case("us-retrofit-barrier-hoses", R401C, conversion(to="R-401C", hoses="original"), conversion()),
    Case("us-retrofit-cut-out", conversion(), conversion(cut_out=""), WHOLE, OPEN),
    Case(
        "us-fifteen-pound-check",
        None,
        workshop("us", visit(charge(7_000, on=IN_2026), on=IN_2026, vehicle=BUS), today=IN_2026),
        workshop("us", visit(charge(7_000, on=IN_2026), on=IN_2026), today=IN_2026),
        OPEN,
    ),
    Case(
        "us-disposable-heel",
        replace(
            NOTHING,
            today=IN_2028,
            cylinders=(cylinder(34, kind="single-trip", state="done with", last_out_on=IN_2028),),
            lines=(line("heel-returned", 415, on=IN_2028),),
        ),
        replace(
            NOTHING,
            today=IN_2028,
            cylinders=(cylinder(34, kind="single-trip", state="done with", last_out_on=IN_2028),),
            lines=(line("scrapped-with-rest", 415, on=IN_2028),),
        ),
        replace(
            NOTHING,
            cylinders=(cylinder(34, kind="single-trip", state="done with", last_out_on=DAY),),
            lines=(line("scrapped-with-rest", 415),),
        ),
    ),
    Case("us-recovery-held", WHOLE, workshop("us", visit(recovery(pressure_after_wait=121_325.0))), NOTHING, OPEN),
    Case(
        "us-leak-repaired-first",
        workshop("us", visit(recovery(), *LEAKING_THEN_MENDED, charge())),
        workshop("us", visit(recovery(), leak_search(2), charge())),
        WHOLE,
        OPEN,
    ),
)


def test_a_trainee_is_no_exception_whoever_answers() -> None:
    log = visit(recovery(by=TRAINEE, answers=TECHNICIAN))
    found = only(rule("certified-person"), workshop("us", log))
    assert (found.state, found.person) == (BREACH, TRAINEE)
    assert "trainee is no exception" in found.words


def later(days: int) -> Workshop:
    return replace(WHOLE, today=DAY + timedelta(days=days))


def opened(*before, hour: float = 10, **facts) -> Workshop:
    """A circuit opened after these deeds."""
    return workshop("us", visit(*before, deed("circuit opened", hour=hour, what="condenser"), **facts))


def gone(cause: str, **facts) -> Workshop:
    return replace(NOTHING, lines=(line(cause, 300, **facts),))


def sent(**facts) -> Workshop:
    return replace(NOTHING, consignments=(consignment(**facts),))


def held_at(above_pa: float) -> Workshop:
    return workshop("us", visit(recovery(pressure_after_wait=101_325.0 + above_pa)))


def unrecovered(before) -> Workshop:
    return conversion(before, deed("conversion done", hour=13, to="R-134a"), charge(784))


CARD_608 = [person(TECHNICIAN, certificate("section 608, type II"))]


def of_class(category: str, scheme: str = "technician") -> list[Person]:
    return [person(TECHNICIAN, certificate(scheme, category=category))]


OFF_ROAD = visit(vehicle=vehicle(vehicle_class="off-road"))
SPENT = cylinder(34, kind="single-trip", state="done with", last_out_on=IN_2028)


def spent(**facts) -> Workshop:
    return replace(NOTHING, today=IN_2028, cylinders=(replace(SPENT, **facts),))


def licensed(**facts) -> Workshop:
    return replace(WHOLE, state_licence=StateLicence(**facts))


EVE_2018, NEW_YEAR_2018 = date(2017, 12, 31), date(2018, 1, 1)
NEW_GAS_SOLD = {"grade": "virgin", "purpose": "sale"}
MIXED = {"refrigerant": "MIXED", "grade": "suspect"}
WRONG_GAS, RIGHT_GAS = charge(300, hour=10, refrigerant="R-1234yf"), charge(700, hour=15)
WRONG_GAS_OUT = recovery(300, hour=12, refrigerant="R-1234yf")

SAID_OF = {
    "certified-person": (
        ("a section 608 card alone, on a car", workshop("us", visit(), people=CARD_608), OPEN),
        ("the class says 608", workshop("us", visit(), people=of_class("section 608")), OPEN),
        ("the class says 609", workshop("us", visit(), people=of_class("section 609")), MET),
        ("it serves on a machine off the road", workshop("us", OFF_ROAD, people=CARD_608), MET),
        ("somebody unknown is not judged", workshop("us", visit(recovery(by="p-gone"))), OPEN),
    ),
    "proof-of-certification": (("a year after gas was moved", later(365), MET), ("a day later", later(366), None)),
    "no-venting": (
        ("open on arrival", opened(received(state="hose off")), MET),
        ("stood empty", opened(standing(0.0)), MET),
        ("said to be empty", opened(standing(530_000.0, empty="yes")), BREACH),
        ("vapour", opened(standing(200_000.0)), BREACH),
        ("recovered", opened(recovery()), MET),
        ("part recovered", opened(recovery(stopped="target full")), BREACH),
        ("nothing read", opened(received()), BREACH),
        ("stands emptied, whatever it stopped for", opened(recovery(stopped="target full"), emptied=True), MET),
        ("stopped but accounts for all", opened(recovery(stopped="fault"), proof="accounted for"), MET),
        ("a recovery afterwards does not mend it", opened(standing(), recovery(hour=10), hour=9), BREACH),
        *(
            (f"{cause} of {gas}", gone(cause, refrigerant=gas), state)
            for cause in ("lost-in-our-hands", "leaked-from-stock", "scrapped-with-rest")
            for gas, state in (("R-134a", OPEN), ("R-744", None))
        ),
        ("released as exempt, which it is not", gone("released-exempt", refrigerant="R-134a"), BREACH),
        ("exempt", gone("released-exempt", refrigerant="R-744"), None),
        *(
            (f"{cause} is small or of the road", replace(NOTHING, lines=(line(cause, 6),)), None)
            for cause in ("purge", "evacuated-residue", "can-rest", "lost-on-the-road")
        ),
    ),
    "recovered-hfc-owner": (
        *(
            (f"sent for {purpose or 'nothing said'}", sent(purpose=purpose), OPEN)
            for purpose in ("sister workshop", "return to supplier", "other", "")
        ),
        ("mixed content", sent(**MIXED, purpose="other"), OPEN),
        ("R-1234yf is no HFC", sent(refrigerant="R-1234yf", purpose="sale"), None),
    ),
    "buyer-certified": (
        ("R-134a before 2018", sent(**NEW_GAS_SOLD, on=EVE_2018, refrigerant="R-134a"), None),
        ("R-134a from 2018 on", sent(**NEW_GAS_SOLD, on=NEW_YEAR_2018, refrigerant="R-134a"), OPEN),
        ("ozone gas always", sent(**NEW_GAS_SOLD, on=EVE_2018, refrigerant="R-12"), OPEN),
    ),
    "retrofit-no-mixing": (("a wrong gas left in", workshop("us", visit(WRONG_GAS, RIGHT_GAS)), BREACH),),
    "retrofit-old-gas-out": (
        ("a short recovery", conversion(proof="short"), OPEN),
        ("stands emptied, though mass is short", conversion(proof="short", emptied=True), MET),
        ("no recovery, stood empty", unrecovered(standing(0.0)), MET),
        ("no recovery, stood full", unrecovered(standing(300_000.0)), BREACH),
        ("no recovery, came open", unrecovered(received(state="hose off")), MET),
    ),
    "retrofit-barrier-hoses": (("hoses not named", conversion(to="R-401C", hoses="nylon"), OPEN),),
    "disposable-heel": (
        ("not written down", replace(NOTHING, today=IN_2028, cylinders=(SPENT,)), OPEN),
        ("a day and no statement", spent(heel_removed_on=IN_2028), OPEN),
        ("a statement", spent(heel_removed_on=IN_2028, heel_stated=True), MET),
    ),
    "state-licence": (
        ("not entered", WHOLE, OPEN),
        ("the state asks for none", licensed(not_asked=True), MET),
        ("no last day", licensed(entered=True), OPEN),
        ("a year after the last gas", replace(licensed(), today=DAY + timedelta(days=366)), None),
    ),
    "recovery-held": (("at the air's pressure", held_at(0.0), MET), ("above it", held_at(1_000.0), OPEN)),
}


@pytest.mark.parametrize(("name", "facts", "state"), each(SAID_OF))
def test_what_a_rule_says(name: str, facts: Workshop, state: str | None) -> None:
    assert said(rule(name), facts) == ([] if state is None else [state])


def test_a_wrong_gas_that_was_recovered_again_mixed_with_nothing() -> None:
    put_right = workshop("us", visit(WRONG_GAS, WRONG_GAS_OUT, RIGHT_GAS))
    assert BREACH not in said(rule("retrofit-no-mixing"), put_right)


@given(begun=st.dates(date(2020, 1, 1), date(2024, 1, 1)), length=st.integers(0, 900), day=st.integers(0, 1500))
def test_a_certificate_serves_from_its_first_day_to_its_last(begun: date, length: int, day: int) -> None:
    ends, act = begun + timedelta(days=length), begun + timedelta(days=day)
    held = certificate(issued_on=begun, expires_on=ends, never_expires=False)
    facts = workshop("us", visit(recovery(on=act), on=act), people=[person(TECHNICIAN, held)])
    assert said(rule("certified-person"), facts) == [MET if act <= ends else BREACH]


def test_recovery_without_any_machine_entered_is_asked_about_once() -> None:
    facts = workshop("us", visit(), visit(number=13))
    assert only(rule("equipment-certified"), facts).about == "book"


def test_recycled_gas_may_go_back_and_recovered_gas_may_not() -> None:
    """Scenario 9: 520 g out through a recycling machine, 545 g back; straight back it would be untreated."""
    out = deed("recovery", moved("recovery-through-machine", 520, grade="recycled"), stopped="done")
    recycled = workshop("us", visit(out, charge(545, grade="recycled", basis="machine")))
    straight = workshop("us", visit(out, charge(545, grade="recovered", basis="machine")))
    assert said(rule("recycled-before-reuse"), recycled) == [MET]
    found = only(rule("recycled-before-reuse"), straight)
    assert (found.state, plain(found.words)) == (
        BREACH,
        "545 g of recovered R-134a was charged without being recycled or reclaimed first.",
    )


def test_legs_of_one_grade_are_judged_together() -> None:
    facts = workshop("us", visit(charge(300, grade="recovered"), charge(245, hour=15, grade="recovered")))
    assert only(rule("recycled-before-reuse"), facts).words.startswith("545\N{NARROW NO-BREAK SPACE}g")


def test_a_recovery_is_owed_while_a_pressure_stands() -> None:
    """Scenario 2 (c): 2.0 bar, neither full nor empty."""
    facts = workshop("us", visit(received(), standing(200_000.0), handed_over=False))
    found = only(rule("no-venting"), facts)
    assert found.state == OPEN
    assert "2.00 bar" in found.words


@pytest.mark.parametrize(("between", "state"), [((), OPEN), ((recovery(hour=15.5),), MET), ((standing(0.0),), OPEN)])
def test_an_opening_after_a_charge_asks_for_another_recovery(between, state) -> None:
    """A pressure read before the charge says nothing of it."""
    opened = deed("circuit opened", hour=16, what="hose")
    assert said(rule("no-venting"), workshop("us", visit(recovery(), charge(), *between, opened))) == [state]


def test_a_conversion_that_is_not_finished_says_what_its_label_still_wants() -> None:
    """Scenario 1: port adapters, label and the amount of lubricant are open until done."""
    facts = conversion(high_fitting="", low_fitting="", lubricant="ester", photo="")
    assert said(rule("retrofit-fittings"), facts) == [OPEN]
    found = only(rule("retrofit-label"), facts)
    assert found.words == "Not entered for the label: amount of lubricant, photo of the label on the vehicle."


@given(st.integers(1, 20_000))
def test_fifteen_pounds_are_shown_from_the_line_on_and_never_decided(grams: int) -> None:
    """15 lb are 6 803.9 g: 40 CFR 84 Subpart C as a trade summary has it."""
    log = visit(charge(grams, on=IN_2026), on=IN_2026, vehicle=replace(BUS, nameplate_mg=None))
    found = said(rule("fifteen-pound-check"), workshop("us", log, today=IN_2026))
    assert found == ([OPEN] if grams >= 6_804 else [])


def test_the_bus_of_2025_is_shown_from_2026_with_its_pounds() -> None:
    """Scenario 5: 7 000 g are 15.43 lb."""
    bus = visit(charge(7_000), vehicle=BUS)
    assert said(rule("fifteen-pound-check"), workshop("us", bus, today=date(2025, 12, 31))) == []
    found = only(rule("fifteen-pound-check"), workshop("us", bus, today=IN_2026))
    assert (found.state, found.day) == (OPEN, date(2026, 1, 1))
    assert "15.43 lb" in found.words
    assert "check" in found.words


def test_a_bus_that_was_split_into_two_visits_of_one_day_is_added_up() -> None:
    halves = [
        visit(charge(3_500, on=IN_2026), on=IN_2026, number=n, vehicle=replace(BUS, nameplate_mg=None)) for n in (1, 2)
    ]
    found = only(rule("fifteen-pound-check"), workshop("us", *halves, today=IN_2026))
    assert "15.43 lb" in found.words


def test_no_leak_rate_is_asked_of_a_car() -> None:
    """40 CFR 82.157 and its triggers are for plant of 50 lb or more; no rule here speaks of them."""
    leaky = workshop("us", visit(missing_mg=300 * G, previous_charge_on=date(2024, 12, 1), proof="short"))
    spoken = [one.id for one in us.RULES if any(state == BREACH for state in said(one, leaky))]
    assert spoken == []
    assert not any("82.157" in one.source for one in us.RULES)


def test_a_repair_before_the_fill_is_practice_here() -> None:
    assert rule("leak-repaired-first").standing == "practice"


def test_a_filled_single_trip_cylinder_names_the_line_and_the_mass() -> None:
    filled = cylinder(7, kind="single-trip", filled_on=DAY)
    facts = replace(NOTHING, cylinders=(filled,), lines=(line("recovery", 468, cylinder=7, line=31),))
    found = only(rule("single-trip-refilled"), facts)
    assert (found.line, plain(found.words).startswith("468 g of R-134a were filled")) == (31, True)


def test_pressures_stand_against_the_atmosphere_of_the_workshop() -> None:
    """At 1 500 m the air is at 84 556 Pa: a system at sea level's atmosphere is not empty there."""
    log = (standing(0.0), recovery(pressure_after_wait=90_000.0))
    opened = (standing(0.0), deed("circuit opened", hour=9, what="hose"))
    high = {"atmosphere_pa": 84_556.0}
    assert said(rule("recovery-held"), workshop("us", visit(*log))) == [MET]
    assert said(rule("recovery-held"), workshop("us", visit(*log, **high))) == [OPEN]
    assert said(rule("no-venting"), workshop("us", visit(*opened))) == [MET]
    found = only(rule("no-venting"), workshop("us", visit(*opened, **high)))
    assert (found.state, "0.16769 bar" in found.words) == (BREACH, True)
