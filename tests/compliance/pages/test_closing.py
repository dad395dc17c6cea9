"""Closing a year: the list before it, and corrections that come after it."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from compliance.pages.owed import check_list
from compliance.statement.figures import read_statement
from inventory.acts import settling, undoing

pytestmark = pytest.mark.django_db
YEAR = (date(2025, 1, 1), date(2025, 12, 31))
NEXT = (date(2026, 1, 1), date(2026, 12, 31))
JUNE, JANUARY, FEBRUARY = (
    datetime(2025, 6, 2, 9, tzinfo=UTC),
    datetime(2026, 1, 9, 9, tzinfo=UTC),
    datetime(2026, 2, 3, 9, tzinfo=UTC),
)


@pytest.fixture
def bought(clock: Callable[[datetime], None], make_cylinder: Any, partner: Any, post: Any) -> Any:
    """5 kg bought in June 2025."""
    clock(JUNE)
    return post("purchase", partner.account, make_cylinder(), 5_000_000, at=JUNE)


def close_2025(book: Any, act: Any, clock: Callable[[datetime], None]) -> None:
    clock(JANUARY)
    settling.close_through(book, act(at=JANUARY), YEAR[1])


def test_a_reversal_after_the_closing_stands_in_both_reports_and_changes_no_figure_of_the_closed_year(
    book: Any, act: Any, clock: Callable[[datetime], None], bought: Any
) -> None:
    close_2025(book, act, clock)
    before = read_statement(book, *YEAR, "AR4")
    clock(FEBRUARY)
    undone = undoing.reverse(book, act(at=FEBRUARY), bought)

    closed, later = read_statement(book, *YEAR, "AR4"), read_statement(book, *NEXT, "AR4")

    assert closed.refrigerants == before.refrigerants
    assert [(one.seq, one.reverses_seq, one.for_day) for one in closed.corrections] == [
        (undone.seq, bought.seq, date(2025, 6, 2))
    ]
    assert [one.seq for one in later.reversals] == [undone.seq]
    assert later.corrections == ()


def test_a_line_of_the_closed_year_written_later_stands_in_both_reports(
    book: Any, act: Any, clock: Callable[[datetime], None], bought: Any, post: Any, make_cylinder: Any, partner: Any
) -> None:
    close_2025(book, act, clock)
    clock(FEBRUARY)
    forgotten = JUNE + timedelta(days=90)
    late = post("purchase", partner.account, make_cylinder(), 1_000_000, at=forgotten)

    closed, later = read_statement(book, *YEAR, "AR4"), read_statement(book, *NEXT, "AR4")

    assert [(one.seq, one.words) for one in closed.corrections] == [
        (late.seq, "happened on 2025-08-31, written when that day was closed")
    ]
    assert [one.seq for one in later.late] == [late.seq]


def test_the_list_before_a_closing_counts_what_is_open(
    workshop: Any, clock: Callable[[datetime], None], bought: Any, make_cylinder: Any
) -> None:
    clock(JANUARY)
    findings, visits, counted, sent, report = check_list(workshop, JANUARY.date())
    assert visits.settled
    assert counted.words == "0 of 1 cylinders on the floor were weighed since 2025-12-31."
    assert not counted.settled
    assert sent.settled
    assert report.words.startswith("The usage report of 2025 is not yet issued")
    assert "findings of days up to 2025-12-31" in findings.words


def test_the_page_that_closes_a_year_shows_the_list(owner_client: Client, workshop: Any) -> None:
    page = owner_client.get("/w/port-ellery/close/").content.decode()
    assert "Before a year is closed" in page
    assert "Count by weighing" in page
