"""How a period went: its months add up to the statement, its stock ends at the closing, its losses are the columns."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st

from compliance.statement import losses
from compliance.statement.balance import AIR, COLUMNS, TO_AIR, UNEXPLAINED
from compliance.statement.emissions import CLOSING
from compliance.statement.figures import Statement, read_statement
from compliance.statement.months import Course, course_of, months_in
from inventory.book import ledger
from inventory.book.draft import Line
from tests.compliance.builders import YEAR_2025, Desk, G, noon
from tests.compliance.statement.test_statement import MOVE
from tests.inventory.book.lines import undo_line

pytestmark = pytest.mark.django_db
A, VIRGIN = "R-134a", "virgin"
NAMES = {"p-tomas": "Tomas Lind", "p-olga": "Olga Brand"}


def adds_up(report: Statement, course: Course) -> None:
    """Months and days are the statement's, to the milligram."""
    for each in report.refrigerants:
        own = [one for month in course.months for one in month.refrigerants if one.refrigerant == each.refrigerant]
        for name in (*COLUMNS, *TO_AIR):
            flow, parts = getattr(each, name), [getattr(one, name) for one in own]
            assert sum(part.mass_mg for part in parts) == flow.mass_mg, (each.refrigerant, name)
            assert sum(part.lines for part in parts) == flow.lines
    assert [one.refrigerant for one in course.stocks] == [one.refrigerant for one in report.refrigerants]
    for stock, each in zip(course.stocks, report.refrigerants, strict=True):
        assert stock.points[0] == (report.first, each.opening_mg)
        assert stock.points[-1] == (report.last, each.closing_mg)
        assert stock.points[-2][1] == each.closing_mg
        assert all(before <= after for (before, _), (after, _) in pairwise(stock.points))


def losses_are_the_columns(report: Statement, found: tuple[losses.Loss, ...]) -> None:
    for name in (UNEXPLAINED, AIR):
        whole = sum(getattr(each, name).mass_mg for each in report.refrigerants)
        assert sum(getattr(one, name).mass_mg for one in found) == whole
    assert sum(one.explained_mg for one in found) == sum(each.explained_mg for each in report.refrigerants)
    assert sum(one.open_mg for one in found) == sum(each.unexplained_open_mg for each in report.refrigerants)


@pytest.mark.parametrize(
    ("first", "last"), [YEAR_2025, (date(2025, 2, 20), date(2025, 7, 10)), (date(2025, 3, 3), date(2025, 3, 3))]
)
def test_the_months_of_the_acceptance_year_add_up_to_its_statement(
    book: Any, year: Any, first: date, last: date
) -> None:
    report = read_statement(book, first, last, "AR4")
    adds_up(report, course_of(report))
    losses_are_the_columns(report, losses.by_cylinder(report))
    losses_are_the_columns(report, losses.by_person(report, NAMES))


@pytest.mark.parametrize("basis", ["AR4", "AR6", "EU"])
def test_the_months_co2_adds_up_to_the_statements_where_every_month_has_a_figure(
    book: Any, year: Any, basis: str
) -> None:
    report = read_statement(book, *YEAR_2025, basis)
    course = course_of(report)
    for depletes, whole in ((True, report.ozone_totals), (False, report.other_totals)):
        for one in whole:
            if one.measure == CLOSING:
                continue
            totals = [month.total(one.measure, depletes_ozone=depletes) for month in course.months]
            assert sum(total.mass_mg for total in totals) == one.mass_mg
            rounded = len(course.months) * len(report.refrigerants)  # each lot is rounded once to a milligram of CO2
            assert abs(sum(total.co2e_mg for total in totals) - one.co2e_mg) <= rounded
            assert {code for total in totals for code in total.without_co2e} <= set(one.without_co2e)


def test_mixed_content_is_worth_in_its_month_what_it_is_worth_in_the_year(book: Any, year: Any, clock: Any) -> None:
    clock(noon(9, 9))
    Desk(book, {one.label: one for one in book.accounts.exclude(label="")}).write(
        noon(9, 9), ("purge", "C-40", "air", "MIXED", "suspect", 100, "computed")
    )
    report = read_statement(book, *YEAR_2025, "AR6")
    (september,) = (one for one in course_of(report).months if one.first.month == 9)
    assert september.impacts["MIXED"].worth["workshop_air"] == report.impacts["MIXED"].worth["workshop_air"]


def test_months_are_cut_at_the_ends_of_the_period(book: Any) -> None:
    report = read_statement(book, date(2024, 1, 31), date(2024, 3, 1), "AR4")
    assert list(months_in(report)) == [
        (date(2024, 1, 31), date(2024, 1, 31)),
        (date(2024, 2, 1), date(2024, 2, 29)),
        (date(2024, 3, 1), date(2024, 3, 1)),
    ]


@settings(max_examples=25)
@given(moves=st.lists(MOVE, max_size=25), first=st.integers(0, 40), length=st.integers(0, 60))
def test_any_book_adds_up(make_book: Any, moves: Any, first: int, length: int) -> None:
    book = make_book(f"Random {len(moves)} {first} {length} {hash(str(moves))}")
    desk, begin = Desk(book), datetime(2024, 3, 1, 12, tzinfo=UTC)
    held = dict.fromkeys(("C-1", "C-2", "rig 1"), 0)
    for (cause, source, target, basis), mass_mg, day, undone in moves:
        if held.get(source, mass_mg) < mass_mg:
            continue
        at = begin + timedelta(days=day)
        line = Line(cause, desk.account(source), desk.account(target), A, VIRGIN, mass_mg, basis)
        entry = ledger.write(
            book,
            ledger.Act(uuid4(), "p-tomas", at, {"mass": mass_mg}),
            lambda draft, line=line: draft.move(line),  # type: ignore[misc]
        )
        if undone:
            undo_line(entry, ledger.Act(uuid4(), "p-olga", at, {"reverse": entry.seq}))
            continue
        for name, change in ((source, -mass_mg), (target, mass_mg)):
            if name in held:
                held[name] += change
    start = (begin + timedelta(days=first)).date()
    report = read_statement(book, start, start + timedelta(days=length), "AR4")
    adds_up(report, course_of(report))
    losses_are_the_columns(report, losses.by_cylinder(report))
    losses_are_the_columns(report, losses.by_person(report, NAMES))


def test_a_loss_is_within_what_the_scales_can_tell_or_is_not(book: Any, clock: Any) -> None:
    clock(noon(3, 2))
    desk = Desk(book)
    desk.write(noon(3, 1), *[("opening-stock", "opening", name, A, VIRGIN, 5_000, "single") for name in ("C-1", "C-2")])
    told = {"u_random_mg": 6 * G, "scale": desk.scale("S1"), "can_tell_mg": 10 * G}
    for name, grams in (("C-1", 11), ("C-1", 3), ("C-2", 40)):
        desk.write(noon(3, 2), ("weighing-difference", name, "unexplained", A, VIRGIN, grams, "pair"), **told)
    report = read_statement(book, *YEAR_2025, "AR4")
    large, small = losses.by_cylinder(report)
    assert (large.name, large.open_mg, large.give_or_take_mg, large.is_within) == ("C-2", 40 * G, 12 * G, False)
    assert (small.name, small.open_mg, small.give_or_take_mg, small.is_within) == ("C-1", 14 * G, 16_971, True)


def test_a_reversal_stands_by_who_wrote_what_it_reverses(book: Any, clock: Any) -> None:
    clock(noon(3, 2))
    desk = Desk(book)
    desk.write(noon(3, 1), ("opening-stock", "opening", "C-1", A, VIRGIN, 5_000, "single"))
    wrong = desk.write(noon(3, 2), ("weighing-difference", "C-1", "unexplained", A, VIRGIN, 40, "pair"))
    desk.reverse(wrong, noon(3, 2))
    (only,) = losses.by_person(read_statement(book, *YEAR_2025, "AR4"), NAMES)
    assert (only.name, only.unexplained.mass_mg, only.unexplained.lines) == ("Tomas Lind", 0, 2)


def test_what_was_explained_is_open_no_more_where_the_difference_stood(book: Any, year: Any) -> None:
    report = read_statement(book, *YEAR_2025, "AR4")
    found = {one.name: one for one in losses.by_cylinder(report)}
    assert (found["C-35"].unexplained.mass_mg, found["C-35"].explained_mg, found["C-35"].open_mg) == (
        180 * G,
        180 * G,
        0,
    )
    assert found["T-1"].air.mass_mg == 6 * G


def test_queries_do_not_grow_with_the_lines(book: Any, year: Any, clock: Any) -> None:
    def queries() -> int:
        report = read_statement(book, *YEAR_2025, "AR4")
        with CaptureQueriesContext(connection) as made:
            course_of(report)
            losses.by_cylinder(report)
            losses.by_person(report, NAMES)
        return len(made)

    few = queries()
    clock(noon(12, 31))
    desk = Desk(book, {one.label: one for one in book.accounts.exclude(label="")})
    for day in range(1, 20):
        desk.write(noon(12, 3 + day), ("weighing-difference", "C-44", "unexplained", A, VIRGIN, 1, "pair"))
    assert queries() == few
