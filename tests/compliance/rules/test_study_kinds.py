"""Other kinds of workshop in the study, and what a record can tell at most of a trick."""

import pytest

from compliance.rules.facts import Workshop
from compliance.rules.rule import BREACH, MET, judge
from shop.demo.plans import Kind
from tests.benchmarks.limit import GhostWaits, at_end, charged_twice, hands_in_two_cars, sent_light
from tests.benchmarks.study import RULES
from tests.benchmarks.study_kinds import DEPOT, DISMANTLER, ONE
from tests.benchmarks.study_tricks import BusOnTwoDays, GhostForged, SharedName
from tests.benchmarks.study_year import Year

SEED = 3


def year(kind: Kind) -> Workshop:
    return at_end(Year(SEED, kind=kind))


def not_met(facts: Workshop) -> set[str]:
    return {rule.id for rule in RULES for one in judge(rule, facts) if one.state != MET and rule.statistics}


def breached(facts: Workshop) -> set[str]:
    return {rule.id for rule in RULES for one in judge(rule, facts) if one.state == BREACH}


@pytest.mark.parametrize("kind", [ONE, DEPOT, DISMANTLER], ids=lambda one: one.words)
def test_an_honest_year_of_another_kind_is_not_accused(kind: Kind) -> None:
    facts = year(kind)
    assert breached(facts) == set()
    assert not_met(facts) == set()


def test_a_depot_moves_tens_of_kilograms_and_a_dismantler_charges_nothing() -> None:
    depot, dismantled = year(DEPOT), year(DISMANTLER)
    charges = [one.mass_mg for one in depot.lines if one.cause == "charge"]
    assert min(charges) > 15_000_000
    assert {one.cause for one in dismantled.lines} >= {"recovery", "sent-away"}
    assert not [one for one in dismantled.lines if one.cause in ("charge", "purchase")]


def test_nobody_else_works_in_a_workshop_of_one() -> None:
    assert {deed.doer for visit in year(ONE).visits for deed in visit.deeds} == {"owner"}


def test_the_record_of_forged_papers_for_full_cylinders_is_the_honest_one() -> None:
    tricked = Year(SEED, GhostWaits())
    assert at_end(tricked) == at_end(Year(SEED))
    assert any(about.startswith("consignment:") for about in tricked.tricked)


def test_what_a_test_counts_is_nothing_in_an_honest_year_and_something_in_a_tricked_one() -> None:
    honest = at_end(Year(SEED))
    tricks = ((sent_light, GhostForged(400)), (hands_in_two_cars, SharedName()), (charged_twice, BusOnTwoDays()))
    for count, trick in tricks:
        assert count(honest, 0) == 0
        assert count(at_end(Year(SEED, trick)), 0) > 0
