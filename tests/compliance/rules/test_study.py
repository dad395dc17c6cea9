"""The simulated years of the study: what they keep, and that the rules find in them what was put there."""

from dataclasses import replace
from datetime import date
from itertools import pairwise

import pytest

from compliance.rules.all import BY_ID
from compliance.rules.facts import Workshop
from compliance.rules.rule import BREACH, judge
from shop.demo.plans import Plan
from tests.benchmarks.study import RULES, Honest, honest, said, tricked
from tests.benchmarks.study_shelf import BOUGHT_G, Shelf, Trick
from tests.benchmarks.study_tricks import ROWS, Row
from tests.benchmarks.study_year import Year

SEEDS = range(4)
SLIP = 7  # a seed with a digit of some weight typed wrong
SIGNS = {"purchase": 1, "opening-stock": 1, "recovery": 1} | dict.fromkeys(
    ("charge", "sent-away", "heel-returned", "purge", "was-oil"), -1
)


@pytest.fixture(scope="module")
def years() -> list[tuple[Year, Workshop]]:
    """Honest years, played to their end."""
    return [(year, list(year.months())[-1]) for year in map(Year, SEEDS)]


def row_of(words: str) -> Row:
    return next(row for row in ROWS if row.words == words)


def test_the_same_seed_gives_the_same_year_and_another_one_another() -> None:
    *_, once = Year(7).months()
    *_, again = Year(7).months()
    *_, other = Year(8).months()
    assert once == again
    assert once.readings != other.readings


def test_the_book_conserves_mass_to_the_milligram(years: list[tuple[Year, Workshop]]) -> None:
    for _, facts in years:
        by_lines = sum(SIGNS.get(line.cause, 0) * line.mass_mg for line in facts.lines)
        # Of a difference whose slip was put right, what is not open has gone into the charge.
        unexplained = sum(one.open_mg for one in facts.differences)
        assert sum(one.held_mg for one in facts.cylinders) == by_lines - unexplained


def test_no_cylinder_ever_holds_less_than_nothing_or_more_than_fits(years: list[tuple[Year, Workshop]]) -> None:
    for year, facts in years:
        assert all(one.content_g >= 0 for one in year.bottles.values())
        assert all(0 <= one.held_mg <= (one.limit_mg or 0) for one in facts.cylinders)
        assert all(line.mass_mg > 0 for line in facts.lines)


def test_readings_stand_on_the_steps_of_their_scale_and_near_the_truth(years: list[tuple[Year, Workshop]]) -> None:
    for year, facts in years:
        assert all(one.gross_mg % one.step_mg == 0 for one in facts.readings)
        for bottle in year.bottles.values():
            within_g = 0.001 * (bottle.tare_g + BOUGHT_G) + 30
            assert bottle.state != "ready" or abs(bottle.book_mg / 1000 - bottle.content_g) < within_g


def test_honest_readings_agree_19_times_in_20(years: list[tuple[Year, Workshop]]) -> None:
    weighed = sum(one.role in ("before", "check") for _, facts in years for one in facts.readings)
    beyond = sum(abs(one.open_mg) > one.can_tell_mg for _, facts in years for one in facts.differences)
    assert weighed > 1_000
    assert beyond <= 0.05 * weighed


def test_a_slip_of_a_digit_is_put_right_and_its_difference_explained() -> None:
    *_, facts = Year(SLIP).months()
    assert [one for one in facts.differences if abs(one.mass_mg) >= 80_000 and abs(one.open_mg) <= one.can_tell_mg]


def test_recoveries_and_charges_scatter_as_real_ones_do(years: list[tuple[Year, Workshop]]) -> None:
    shares = [
        sum(one.mass_mg for deed in visit.of("recovery") for one in deed.moved if one.cause == "recovery")
        / (visit.vehicle.nameplate_mg or 1)
        for _, facts in years
        for visit in facts.visits
        if visit.of("recovery")
    ]
    assert 0.45 < min(shares) < 0.7
    assert 0.9 < max(shares) < 1.05


def test_one_pair_of_hands_weighs_the_gas_of_one_car_at_a_time(years: list[tuple[Year, Workshop]]) -> None:
    for _, facts in years:
        for person in facts.people:
            moments = sorted(
                (deed.at, visit.number)
                for visit in facts.visits
                for deed in visit.of("recovery", "charge")
                if deed.doer == person
            )
            assert all((b[0] - a[0]).total_seconds() > 240 for a, b in pairwise(moments) if a[1] != b[1])


class NothingForgotten(Trick):
    """No trick: everybody takes every step."""

    def plan(self, year: Shelf, plan: Plan) -> Plan:
        return replace(plan, forgot=frozenset())


def test_an_honest_year_breaches_nothing_where_no_step_is_forgotten() -> None:
    for seed in SEEDS:
        assert breached(list(Year(seed, NothingForgotten()).months())[-1]) == set()


def test_what_an_honest_year_breaches_is_a_pressure_that_somebody_forgot(years: list[tuple[Year, Workshop]]) -> None:
    for _, facts in years:
        forgot = {f"visit:{one.number}" for one in facts.visits if not one.of("standing pressure")}
        assert breached(facts) <= forgot


def breached(facts: Workshop) -> set[str]:
    return {one.about for rule in RULES for one in judge(rule, facts) if one.state == BREACH}


@pytest.fixture(scope="module")
def twin() -> Honest:
    return honest(3)


@pytest.mark.parametrize(
    ("words", "grams"),
    [
        ("skim from the bottle in use", 400),
        ("label typed as recovered", 200),
        ("leaked before arrival, no photo", 200),
        ("recovered gas booked as air", 400),
    ],
)
def test_a_trick_is_found_and_the_honest_year_of_the_same_seed_is_not_accused(
    words: str, grams: float, twin: Honest
) -> None:
    year, when, by = tricked(3, row_of(words), grams, twin)
    assert year.first_trick is not None
    assert when is not None
    assert by


def test_a_forged_paper_leaves_nothing_in_the_record(twin: Honest) -> None:
    _, when, _ = tricked(3, row_of("ghost consignment, forged paper"), 400, twin)
    assert when is None


def test_every_rule_that_a_row_names_is_kept() -> None:
    assert {rule for row in ROWS for rule in row.rules} <= set(BY_ID)


def test_an_honest_december_names_no_one_as_unusual(years: list[tuple[Year, Workshop]]) -> None:
    _, facts = years[1]
    assert facts.today == date(2025, 12, 31)
    assert [rule.id for rule in BY_ID.values() if rule.statistics and list(said(rule.id, facts))] == []
