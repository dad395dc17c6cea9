"""What a law looks at in a visit is no question that a workshop under that law can leave out."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import pytest

from compliance.rules.all import rules_of
from compliance.rules.facts import Deed, Visit, Workshop
from compliance.rules.rule import judge
from shop.visits.kinds import BY_NAME
from shop.visits.questions import BY_LAW, FOR_SAFETY, QUESTIONS, key_of, left_out
from tests.compliance.rules import test_eu, test_us

CASES = {"us": test_us.CASES, "eu": test_eu.CASES}  # India’s laws look at no answer of a step


class Watched(Mapping[str, Any]):
    """The answers of a step, which notes by its question what is looked up in it."""

    def __init__(self, deed: Deed, seen: set[str]) -> None:
        self.deed, self.seen = deed, seen

    def __getitem__(self, name: str) -> Any:
        kind = BY_NAME[self.deed.kind]
        if name in {one.name for one in kind.fields}:
            self.seen.add(key_of(kind, kind.field(name)))
        return self.deed.data[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.deed.data)

    def __len__(self) -> int:
        return len(self.deed.data)


def watched(facts: Workshop, seen: set[str]) -> Workshop:
    def of_visit(visit: Visit) -> Visit:
        return replace(visit, deeds=tuple(replace(deed, data=Watched(deed, seen)) for deed in visit.deeds))

    return replace(facts, visits=[of_visit(visit) for visit in facts.visits])


@pytest.mark.parametrize("jurisdiction", CASES)
def test_no_answer_that_a_law_looks_at_can_be_left_out(jurisdiction: str) -> None:
    seen: set[str] = set()
    laws = [rule for rule in rules_of(jurisdiction) if rule.jurisdictions and rule.standing == "law"]
    for case in CASES[jurisdiction]:
        for facts in filter(None, (case.met, case.broken, case.apart)):
            for rule in laws:
                judge(rule, watched(facts, seen))
    assert seen
    assert not left_out(seen, jurisdiction)


def test_every_reason_is_of_a_question_that_is_asked() -> None:
    keys = {one.key for one in QUESTIONS}
    assert len(keys) == len(QUESTIONS)
    assert keys >= {*FOR_SAFETY, *(key for law in BY_LAW.values() for key in law)}
