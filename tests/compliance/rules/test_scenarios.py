"""The worked scenarios as facts: what the rules of law owe and breach in each, and nothing beside it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from compliance.rules.eu import duties as eu
from compliance.rules.facts import Workshop
from compliance.rules.rule import BREACH, MET, OPEN, judge
from compliance.rules.us import duties as us
from tests.compliance.rules.builders import (
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
    moved,
    person,
    received,
    recovery,
    repair,
    standing,
    trainee,
    vehicle,
    visit,
    workshop,
)

RULES = {"us": us.RULES, "eu": eu.RULES}
MARCH, APRIL, MAY = date(2025, 3, 3), date(2025, 4, 14), date(2025, 5, 6)
JULY, OCTOBER, DECEMBER = date(2025, 7, 10), date(2025, 10, 7), date(2025, 12, 2)


def found(jurisdiction: str, facts: Workshop) -> dict[str, str]:
    """What is not met, by rule: the state."""
    facts = replace(facts, jurisdiction=jurisdiction)
    said = [(rule.id, one.state) for rule in RULES[jurisdiction] for one in judge(rule, facts) if one.state != MET]
    return {rule.removeprefix(f"{jurisdiction}-"): state for rule, state in said}


def with_machine(*visits, **facts) -> Workshop:
    """A workshop whose people are certified and whose machine's certification was not looked at."""
    return workshop("us", *visits, people=[person(TECHNICIAN, certificate())], **facts)


UNKNOWN_MACHINE = {"equipment-certified": OPEN, "state-licence": OPEN}  # nothing entered of either
R12_CAR = vehicle(refrigerant="R-12", nameplate_mg=900 * G, first_registered=date(1992, 6, 1))


def converted(**done) -> Workshop:
    """Scenario 1: 868 g of R-12 out into C-12, 784 g of R-134a in from C-34."""
    log = (
        received(MARCH, state="runs"),
        standing(470_000.0, on=MARCH),
        recovery(868, on=MARCH, refrigerant="R-12", cylinder=12),
        deed("conversion done", on=MARCH, hour=13, to="R-134a", **done),
        charge(784, on=MARCH),
    )
    car = replace(R12_CAR, refrigerant="R-134a", original_refrigerant="R-12")
    stock = cylinder(12, refrigerant="R-12", held_g=3_358)
    return with_machine(visit(*log, on=MARCH, vehicle=car, proof="accounted for"), cylinders=(stock,))


def test_scenario_1_what_a_conversion_still_owes() -> None:
    unfinished = converted(lubricant="ester")
    assert found("us", unfinished) == {
        **UNKNOWN_MACHINE,
        "retrofit-fittings": OPEN,
        "retrofit-label": OPEN,
        "retrofit-cut-out": OPEN,
    }
    assert found("eu", unfinished) == {"ozone-stock": OPEN, "label-after-change": OPEN, "fill-ban": OPEN}


def test_scenario_1_when_it_is_done() -> None:
    done = converted(
        lubricant="ester, 210 mL", high_fitting="16 mm", low_fitting="13 mm", cut_out="pressure switch", photo="31"
    )
    assert found("us", done) == UNKNOWN_MACHINE
    assert found("eu", done) == {"ozone-stock": OPEN, "fill-ban": OPEN}
    sent = consignment(refrigerant="R-12", purpose="destruction", accepted_mg=3_290 * G, oil_mg=68 * G)
    assert found("eu", replace(done, cylinders=(), consignments=(sent,))) == {"fill-ban": OPEN}


@pytest.mark.parametrize(
    ("gauge_pa", "opened", "owed"),
    [(0.0, True, None), (530_000.0, True, BREACH), (200_000.0, False, OPEN), (200_000.0, True, BREACH)],
    ids=["a: empty", "b: 5.3 bar, opened", "c: 2.0 bar", "c: 2.0 bar, opened"],
)
def test_scenario_2_an_r12_car_that_arrives_empty(gauge_pa: float, opened: bool, owed: str | None) -> None:
    log = [received(APRIL), standing(gauge_pa, on=APRIL, empty="yes", photographed=True)]
    log += [deed("circuit opened", on=APRIL, hour=10, what="condenser")] if opened else []
    facts = with_machine(visit(*log, on=APRIL, vehicle=R12_CAR, handed_over=False))
    assert found("us", facts) == ({"no-venting": owed} if owed else {})
    assert found("eu", facts) == ({"ozone-recovered": owed} if owed else {})


def test_scenario_2_d_a_visit_written_forty_days_late_is_judged_by_its_day() -> None:
    log = [received(APRIL), standing(530_000.0, on=APRIL), deed("circuit opened", on=APRIL, hour=10, what="condenser")]
    late = [replace(one, recorded_at=one.at + timedelta(days=40)) for one in log]
    rule = next(one for one in eu.RULES if one.id == "eu-ozone-recovered")
    (one,) = judge(rule, workshop("eu", visit(*late, on=APRIL, vehicle=R12_CAR)))
    assert (one.state, one.day) == (BREACH, APRIL)


def weak(*log) -> Workshop:
    """Scenario 3: 784 g in on 3 March, 640 g out on 2 December; 108 g beyond label, readings and residue."""
    car = vehicle(original_refrigerant="R-12", first_registered=date(1992, 6, 1))
    came = visit(
        received(DECEMBER),
        recovery(640, on=DECEMBER),
        *log,
        on=DECEMBER,
        vehicle=car,
        handed_over=False,
        proof="short",
        missing_mg=108 * G,
        previous_charge_on=MARCH,
    )
    people = [person(TECHNICIAN, certificate(scope="M1"))]
    return replace(with_machine(came), people={one.handle: one for one in people})


def test_scenario_3_no_fill_before_the_repair() -> None:
    mended = (repair(DECEMBER), leak_search(on=DECEMBER))
    assert found("eu", weak()) == {"abnormal-loss": OPEN}
    assert found("eu", weak(*mended)) == {}
    assert found("eu", weak(*mended, charge(770, on=DECEMBER))) == {}
    assert found("eu", weak(charge(770, on=DECEMBER))) == {"abnormal-loss": BREACH}


def test_scenario_3_the_repair_is_practice_in_the_united_states() -> None:
    assert found("us", weak(charge(770, on=DECEMBER))) == {**UNKNOWN_MACHINE, "leak-repaired-first": OPEN}


def test_scenario_4_a_mixed_content_goes_into_its_own_cylinder_and_new_gas_in() -> None:
    out = deed("recovery", moved("recovery", 465, "MIXED", "suspect", cylinder=40), on=MAY, hour=9, stopped="done")
    log = (
        received(MAY),
        deed("label read", on=MAY, hour=8.2, label="label read", refrigerant="R-1234yf"),
        deed("identified", on=MAY, hour=8.5, result="used", shares="R-1234yf 91.5, R-134a 8.0, air 0.5"),
        out,
        charge(480, on=MAY, refrigerant="R-1234yf", cylinder=37),
    )
    car = vehicle(refrigerant="R-1234yf", first_registered=date(2019, 2, 1))
    mixed = cylinder(40, refrigerant="MIXED", grade="suspect", held_g=465)
    facts = with_machine(visit(*log, on=MAY, vehicle=car), cylinders=(mixed,))
    assert found("us", facts) == UNKNOWN_MACHINE
    assert found("eu", facts) == {}
    back = charge(465, on=MAY, refrigerant="MIXED", grade="suspect")
    straight = found("us", with_machine(visit(*log[:3], back, on=MAY, vehicle=car)))
    assert {"recycled-before-reuse": BREACH, "retrofit-no-mixing": BREACH}.items() <= straight.items()


@pytest.mark.parametrize("answers", [TECHNICIAN, ""], ids=["with the second name", "without it"])
def test_scenario_5_a_trainee_empties_a_bus(answers: str) -> None:
    bus = vehicle(vehicle_class="bus", nameplate_mg=7_000 * G)
    legs = [
        recovery(2_445, on=JULY, by=TRAINEE, answers=answers, cylinder=41, stopped="target full"),
        recovery(4_325, on=JULY, hour=11, by=TRAINEE, answers=answers, cylinder=42),
    ]
    people = [person(TECHNICIAN, certificate()), trainee(date(2024, 9, 2), active=False)]
    log = visit(received(JULY), *legs, charge(7_000, on=JULY), on=JULY, vehicle=bus, proof="short", missing_mg=59 * G)
    facts = workshop("eu", log, people=people)
    assert found("eu", facts) == ({} if answers else {"attested-recovery": BREACH})
    short = {"leak-repaired-first": OPEN}  # 59 g beyond the limit, and nobody knows when it was last charged
    assert found("us", facts) == {**UNKNOWN_MACHINE, **short, "certified-person": BREACH}


@pytest.mark.parametrize(("grade", "owed"), [("recycled", {}), ("recovered", {"recycled-before-reuse": BREACH})])
def test_scenario_9_out_cleaned_and_back(grade: str, owed: dict[str, str]) -> None:
    tank = {"cylinder": 5}
    out = deed(
        "recovery",
        moved("recovery-through-machine", 520, grade=grade, basis="machine", **tank),
        on=OCTOBER,
        stopped="done",
    )
    back = charge(545, on=OCTOBER, grade=grade, basis="machine", **tank)
    machine = cylinder(5, kind="machine tank", grade=grade, held_g=5_169)
    facts = with_machine(
        visit(received(OCTOBER), out, back, on=OCTOBER, proof="accounted for"),
        cylinders=(machine,),
        lines=(line("purge", 6, on=OCTOBER, cylinder=5, grade=grade),),
    )
    assert found("us", facts) == {**UNKNOWN_MACHINE, **owed}
