"""Partners' own lists against the book: what is asked about, what is met, and what is left alone."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from compliance.matching.pairs import DELIVERED, TAKEN_BACK, Ours, Theirs
from compliance.rules.all import BY_ID
from compliance.rules.book.lists import quarters
from compliance.rules.facts import Listed, Workshop
from compliance.rules.rule import MET, OPEN, judge
from tests.compliance.rules.builders import plain, said, workshop

DAY = date(2025, 3, 3)
KG = 1_000_000
YEAR = (date(2025, 1, 1), date(2025, 12, 31))
ROW = Theirs(DAY, "R-134a", DELIVERED, 11 * KG, "HG-5521", 2)
LINE = Ours(DAY, "R-134a", DELIVERED, 11 * KG, "HG-5521", 6, 10_000.0)
RULES = ("only-theirs", "only-book", "masses", "missing")


def of(*, rows: tuple[Theirs, ...] = (ROW,), lines: tuple[Ours, ...] = (LINE,), **more: Any) -> Workshop:
    facts = {"asked_from": DAY, "covered": (YEAR,), **more}
    return workshop("none", listed=(Listed(partner=7, rows=rows, lines=lines, **facts),))


@pytest.mark.parametrize(
    ("facts", "states"),
    [
        (of(), {rule: [MET] for rule in RULES}),
        (of(rows=(ROW, replace(ROW, paper="X-1", mass_mg=12 * KG))), {"only-theirs": [OPEN], "masses": [MET]}),
        (of(rows=()), {"only-book": [OPEN], "only-theirs": [], "masses": [], "missing": [MET]}),
        (of(rows=(replace(ROW, mass_mg=11_109_000),)), {"masses": [MET]}),
        (of(rows=(replace(ROW, mass_mg=11_111_000),)), {"masses": [OPEN], "only-book": [MET]}),
        (of(rows=(), covered=()), {"only-book": [], "missing": [OPEN]}),
        (of(rows=(), covered=(), asked_from=None), {"missing": []}),
        (of(rows=(), lines=(), covered=()), {rule: [] for rule in RULES}),
        (of(asked_from=date(2025, 4, 1)), {"missing": []}),
    ],
)
def test_what_lists_and_book_say_of_each_other(facts: Workshop, states: dict[str, list[str]]) -> None:
    assert {rule: said(BY_ID[f"book-list-{rule}"], facts) for rule in states} == states


@pytest.mark.parametrize(("kilos", "state"), [(10.8, MET), (10.7, OPEN), (11.3, OPEN)])
def test_of_what_was_taken_back_oil_and_heel_are_allowed_for(kilos: float, state: str) -> None:
    row, line = replace(ROW, direction=TAKEN_BACK, mass_mg=round(kilos * KG)), replace(LINE, direction=TAKEN_BACK)
    assert said(BY_ID["book-list-masses"], of(rows=(row,), lines=(line,))) == [state]


@pytest.mark.parametrize("day", [date(2025, 1, 10), date(2025, 12, 22)])
def test_a_line_at_the_edge_of_what_lists_cover_may_stand_on_the_next(day: date) -> None:
    assert said(BY_ID["book-list-only-book"], of(rows=(), lines=(replace(LINE, on=day),))) == []


def test_a_delivery_of_these_days_may_still_be_entered() -> None:
    facts = replace(of(lines=()), today=DAY + timedelta(days=10))
    assert said(BY_ID["book-list-only-theirs"], facts) == []
    assert said(BY_ID["book-list-only-theirs"], replace(facts, today=DAY + timedelta(days=11))) == [OPEN]


def test_words_name_both_masses_and_what_else_it_can_be() -> None:
    (found,) = judge(BY_ID["book-list-masses"], of(rows=(replace(ROW, mass_mg=10_600_000),)))
    assert plain(found.words).startswith("Their list says 10.600 kg and the book 11.000 kg of R-134a: 0.400 kg less")
    assert "can also be" in found.words
    (found,) = judge(BY_ID["book-list-missing"], of(rows=(), covered=()))
    assert found.words == ("No list of theirs covers January to March 2025, in which 1 line moved gas to or from them.")
    assert found.part == "2025-1"


def test_a_quarter_counts_once_its_partner_has_had_time() -> None:
    assert list(quarters(date(2025, 2, 10), date(2025, 12, 30))) == [
        (date(2025, 1, 1), date(2025, 3, 31)),
        (date(2025, 4, 1), date(2025, 6, 30)),
        (date(2025, 7, 1), date(2025, 9, 30)),
    ]
