"""What holds for every rule of law: how it is named and sourced, and how its judgements are worded."""

import re
from collections import Counter

import pytest

from compliance.rules import india
from compliance.rules.all import BY_ID, RULES, rules_of
from compliance.rules.eu import duties as eu
from compliance.rules.rule import (
    BREACH,
    DUTIES,
    LAW,
    MEMORY,
    MET,
    OPEN,
    PRACTICE,
    READ,
    RESTATED,
    WAYS,
    Judgement,
    Rule,
    judge,
)
from compliance.rules.us import duties as us
from tests.compliance.rules import test_eu, test_india, test_us
from tests.compliance.rules.cases import Case

LAWS = {"us": us.RULES, "eu": eu.RULES, "in": india.RULES}
BANNED = re.compile(
    r"\b(compl(y|ies|iant|iance)|pass(es|ed)?|fail(s|ed|ure)?|illegal|unlawful|valid|ok|success|warning|critical|please"
    r"|must|fraud|violat\w*)\b|!",
    re.IGNORECASE,
)
CASES: tuple[Case, ...] = (*test_us.CASES, *test_eu.CASES, *test_india.CASES)


def judgements() -> list[tuple[Rule, Judgement]]:
    """What the rules of law say of all the cases' facts."""
    worlds = [one for case in CASES for one in (case.met, case.broken, case.apart) if one is not None]
    return [(rule, found) for facts in worlds for rule in LAWS[facts.jurisdiction] for found in judge(rule, facts)]


@pytest.mark.parametrize("case", [pytest.param(case, id=case.rule) for case in CASES])
def test_a_rule_is_met_broken_and_left_alone(case: Case) -> None:
    """Only *met* where it is met, the worse state where it is broken, nothing where it does not apply."""
    rule = BY_ID[case.rule]
    if case.met is not None:
        assert {one.state for one in judge(rule, case.met)} == {MET}
    broken = [one for one in judge(rule, case.broken) if one.state != MET]
    assert [one.state for one in broken] == [case.state]
    assert all(one.words and one.way_out for one in broken)
    assert judge(rule, case.apart) == []
    assert not (rule.guide and case.state != OPEN), "a guide breaches nothing"


def test_every_rule_of_law_has_a_case() -> None:
    assert [case.rule for case in CASES] == [rule.id for rules in LAWS.values() for rule in rules]


def test_each_id_stands_once_and_names_its_jurisdiction() -> None:
    assert not [name for name, times in Counter(rule.id for rule in RULES).items() if times > 1]
    assert list(DUTIES) == list(BY_ID), "each row of duties.csv has its check"
    for jurisdiction, rules in LAWS.items():
        for rule in rules:
            assert rule.jurisdictions == (jurisdiction,)
            assert re.fullmatch(rf"{jurisdiction}(-[a-z0-9]+)+", rule.id)


@pytest.mark.parametrize("jurisdiction", ["us", "eu", "in", "none"])
def test_a_jurisdiction_has_its_own_rules_and_those_of_none(jurisdiction: str) -> None:
    expected = {one.id for one in RULES if not one.jurisdictions or jurisdiction in one.jurisdictions}
    assert {one.id for one in rules_of(jurisdiction)} == expected
    assert {one.id for one in LAWS.get(jurisdiction, ())} <= expected


@pytest.mark.parametrize("rule", RULES, ids=lambda one: one.id)
def test_a_rule_says_in_one_line_what_to_do_now_and_what_closes_it(rule: Rule) -> None:
    assert rule.closed_by in WAYS
    assert re.fullmatch(r"[A-Z][^.]{10,109}\.", rule.now)
    assert not BANNED.search(rule.now)


@pytest.mark.parametrize("rule", [one for rules in LAWS.values() for one in rules], ids=lambda one: one.id)
def test_a_duty_is_one_sentence_with_a_source_and_its_year(rule: Rule) -> None:
    assert re.fullmatch(r"[A-Z][^.]*\.", rule.duty)
    assert re.search(r"(?<!\d)(19|20)\d\d(?!\d)|year not read", rule.source)
    assert rule.standing in (LAW, PRACTICE)
    assert rule.known in (READ, RESTATED, MEMORY)
    assert ("from memory" in rule.source) or rule.known != MEMORY
    assert rule.since is None or rule.until is None or rule.since < rule.until


def test_no_sentence_says_more_than_the_book_can_show() -> None:
    said = [text for _, one in judgements() for text in (one.words, one.way_out) if text]
    said += [rule.duty for rules in LAWS.values() for rule in rules]
    assert not [text for text in said if BANNED.search(text)]


def test_each_judgement_is_one_sentence_and_one_way_out_of_a_known_record() -> None:
    for rule, one in judgements():
        assert one.state in (OPEN, BREACH, MET)
        assert re.fullmatch(r"(visit|cylinder|line|person|consignment|instrument):\S+|book", one.about), rule.id
        assert not one.words[0].islower(), rule.id
        assert one.words[-1] == ".", rule.id
        assert bool(one.way_out) == (one.state != MET), rule.id
        assert not re.search(r"[a-z]\. [A-Z]", one.words), f"{rule.id}: {one.words}"


def test_no_two_judgements_of_a_rule_speak_of_the_same_record_and_part() -> None:
    for case in CASES:
        for facts in (case.met, case.broken, case.apart):
            for rule in LAWS[facts.jurisdiction] if facts else ():
                keys = Counter((one.about, one.part) for one in judge(rule, facts))
                assert not [key for key, times in keys.items() if times > 1], rule.id


def test_a_guide_and_a_practice_of_the_law_modules_breach_nothing() -> None:
    found = [rule.id for rule, one in judgements() if one.state == BREACH and (rule.guide or rule.standing == PRACTICE)]
    assert found == []
