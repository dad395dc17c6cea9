"""A case for each rule: facts that meet it, facts that break it (or leave it open), facts it does not apply to."""

from collections.abc import Iterable
from dataclasses import dataclass

import pytest

from compliance.rules.facts import Workshop
from compliance.rules.rule import MET, OPEN, Rule, judge


@dataclass(frozen=True)
class Case:
    """`met` is None for a rule that only asks; `state` is what the broken facts give."""

    rule: str
    met: Workshop | None
    broken: Workshop
    apart: Workshop
    state: str = "breach"


def rows(cases: Iterable[Case]) -> list[object]:
    """The cases as parameters that are named by their rules."""
    return [pytest.param(case, id=case.rule) for case in cases]


def holds(case: Case, rules: Iterable[Rule]) -> None:
    """Check a case: only *met* where it is met, the worse state where it is broken, nothing where it does not apply."""
    rule = {one.id: one for one in rules}[case.rule]
    if case.met is not None:
        assert {one.state for one in judge(rule, case.met)} == {MET}
    broken = [one for one in judge(rule, case.broken) if one.state != MET]
    assert [one.state for one in broken] == [case.state]
    assert all(one.words and one.way_out for one in broken)
    assert judge(rule, case.apart) == []
    assert not (rule.guide and case.state != OPEN), "a guide breaches nothing"
