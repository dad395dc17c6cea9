"""Rules that are judged vehicle by vehicle say of it what they say of the whole book."""

from collections import Counter, defaultdict
from dataclasses import replace
from datetime import date

import pytest

from compliance.rules.all import RULES, rules_of
from compliance.rules.facts import Vehicle, Visit, Workshop
from compliance.rules.rule import Judgement, Rule, judge
from tests.benchmarks.study_year import Year

CLASSES = ("car", "bus", "refrigerated body")
GASES = ("R-134a", "R-12", "R-1234yf")


@pytest.fixture(scope="module")
def year() -> Workshop:
    """A simulated year in which no two vehicles are alike, and many are here twice."""
    *_, facts = Year(3).months()
    return replace(facts, visits=tuple(_varied(place, visit) for place, visit in enumerate(facts.visits)))


def _varied(place: int, visit: Visit) -> Visit:
    number = place % 60
    vehicle = Vehicle(
        number=number,
        vehicle_class=CLASSES[number % 3],
        refrigerant=GASES[number % 2],
        original_refrigerant="R-12" if number % 7 == 0 else "",
        nameplate_mg=7_000_000 if number % 3 == 1 else 600_000,
        first_registered=date(2009 + number % 12, 5, 1),
    )
    return replace(visit, vehicle=vehicle)


def said(rule: Rule, facts: Workshop) -> Counter[Judgement]:
    return Counter(judge(rule, facts))


@pytest.mark.parametrize("where", ["us", "eu", "in", "none"])
def test_vehicle_by_vehicle_and_the_rest_without_visits_is_the_whole(year: Workshop, where: str) -> None:
    by_vehicle: dict[int, list[Visit]] = defaultdict(list)
    for visit in year.visits:
        by_vehicle[visit.vehicle.number].append(visit)
    facts = replace(year, jurisdiction=where)
    bare = Workshop(where, year.today, year.has_address, year.registration, year.people)
    spoken = 0
    for rule in (one for one in rules_of(where) if one.by_vehicle):
        apart = said(rule, replace(facts, visits=()))
        assert not any(one.about.startswith("visit:") for one in apart)
        for visits in by_vehicle.values():
            own = said(rule, replace(bare, visits=tuple(visits)))
            assert {one.about for one in own} <= {f"visit:{visit.number}" for visit in visits}
            apart += own
        assert apart == said(rule, facts)
        spoken += bool(apart)
    assert spoken >= 8


def test_a_rule_that_puts_visits_of_several_vehicles_together_is_not_judged_by_one() -> None:
    together = {"book-two-at-once", "book-empties-by-person", "book-certified", "eu-refresher", "eu-attestation-type"}
    assert not {rule.id for rule in RULES if rule.by_vehicle} & together
