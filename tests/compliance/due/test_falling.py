"""What falls due: the pure function, what it is given from a book, and its sentences."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.due import falling
from compliance.due.falling import Thing, closing_of, falling_due
from compliance.due.standing import due_of, things_of
from compliance.due.words import by_code, said
from compliance.pages import falling as on_the_page
from inventory.acts import away, settling
from inventory.book.weighing import Gross
from inventory.measure.own import Units
from inventory.models import Consignment, Gauge
from shop.models import Certification

TODAY = date(2026, 3, 29)  # the night on which clocks go forward in Europe
DAYS = st.integers(-400, 400)


def thing(days: int, *, kind: str = falling.SCALE, soon: int = 30, key: str = "") -> Thing:
    on = TODAY + timedelta(days=days)
    return Thing(kind, key or f"{kind}:{days}", "Scale S2", "Scale S2", on, timedelta(days=soon))


@given(st.lists(st.tuples(DAYS, st.integers(0, 90)), max_size=20), st.none() | st.integers(0, 200))
def test_all_within_reach_is_listed_and_nothing_else_the_longest_past_first(
    rows: list[tuple[int, int]], ahead: int | None
) -> None:
    things = [thing(days, soon=soon, key=f"scale:{at}") for at, (days, soon) in enumerate(rows)]
    reach = None if ahead is None else timedelta(days=ahead)
    due = falling_due(things, TODAY, ahead=reach)
    assert {one.thing.key for one in due} == {
        f"scale:{at}" for at, (days, soon) in enumerate(rows) if days <= (soon if ahead is None else ahead)
    }
    assert [one.on for one in due] == sorted(one.on for one in due)
    assert falling_due(reversed(things), TODAY, ahead=reach) == due


@pytest.mark.parametrize(
    ("days", "stage"),
    [(-1, "past its day"), (0, "today"), (1, "within a week"), (7, "within a week"), (8, "ahead")],
)
def test_the_last_day_still_holds(days: int, stage: str) -> None:
    (due,) = falling_due([thing(days)], TODAY)
    assert due.stage == stage
    assert due.is_past == (days < 0)


@pytest.mark.parametrize(
    ("first", "closed", "year"),
    [
        (date(2025, 11, 3), None, 2025),
        (date(2024, 11, 3), date(2024, 12, 31), 2025),
        (date(2024, 11, 3), date(2025, 11, 30), 2025),
        (date(2024, 11, 3), date(2025, 12, 31), 2026),
        (date(2026, 1, 1), None, 2026),
    ],
)
def test_the_year_that_is_closed_next(first: date, closed: date | None, year: int) -> None:
    closing = closing_of(first, closed, TODAY)
    assert closing is not None
    assert (closing.name, closing.on) == (f"The year {year}", date(year + 1, 3, 31))


def test_an_empty_book_has_no_year_to_close() -> None:
    assert closing_of(None, None, TODAY) is None


@pytest.fixture
def furnished(
    book: Any,
    workshop: Any,
    technician: Any,
    make_cylinder: Callable[..., Any],
    make_scale: Callable[..., Any],
) -> Any:
    """A workshop with one thing of each kind, all due on one day but the closing."""
    on = TODAY + timedelta(days=5)
    make_cylinder("OLD-1", requalify_by=on)
    make_cylinder("GONE-1", requalify_by=on, state="done with")
    make_scale("S7", calibrated_until=on)
    make_scale("S8", calibrated_until=on, retired=True)
    Gauge.objects.create(book=book, name="G1", kind="pressure gauge", calibrated_until=on)
    Certification.objects.create(user=technician, scheme="Training", number="1", expires_on=on)
    return workshop


def test_each_kind_is_found_with_its_sentence(furnished: Any, technician: Any) -> None:
    due = due_of(furnished, TODAY)
    assert [said(one, Units(days="dmy"), TODAY) for one in due] == [
        "OLD-1: its test date runs out in 5 days; past it, nothing is filled in.",
        "Scale S7: its check runs out in 5 days.",
        "Pressure gauge G1: its check runs out in 5 days.",
        f"{technician}: Training runs out in 5 days.",
    ]


def test_codes_name_nobody(furnished: Any, technician: Any) -> None:
    told = " ".join(by_code(one) for one in due_of(furnished, TODAY))
    assert "A certificate runs out" in told
    assert str(technician) not in told
    assert "Training" not in told
    assert "OLD-1" not in told


@pytest.mark.parametrize(("purpose", "waits"), [("reclaim", True), ("destruction", True), ("sale", False)])
def test_a_consignment_waits_for_the_mass_that_was_accepted(
    purpose: str,
    waits: bool,
    book: Any,
    workshop: Any,
    make_cylinder: Callable[..., Any],
    scale: Any,
    partner: Any,
    act: Callable[..., Any],
) -> None:
    one = make_cylinder(grade="virgin", mass_mg=1_000_000)
    dispatch = away.Dispatch(partner, "sent-away", purpose, "C-9")
    entry = away.send_away(book, act(), Gross(one, scale, one.tare_mg + 1_000_000, "typed"), dispatch)
    by, units = entry.booked_on + timedelta(days=60), Units()
    key = f"consignment:{entry.seq}"

    def listed(day: date) -> list[str]:
        return [one.thing.key for one in due_of(workshop, day) if one.thing.kind == falling.CONSIGNMENT]

    assert listed(by - timedelta(days=15)) == []
    assert listed(by - timedelta(days=14)) == listed(by + timedelta(days=9)) == ([key] if waits else [])
    shown = on_the_page.owed(workshop, by, units)
    assert (
        any("Consignment C-9 to Northgas: of 1.000\u202fkg sent, the mass they" in each.words for each in shown)
        == waits
    )
    late = on_the_page.owed(workshop, by + timedelta(days=1), units)
    assert not any("C-9" in each.words for each in late)  # the findings tell it then
    sent = Consignment.objects.get(entry=entry)
    away.accept(sent, accepted_mg=990_000, oil_mg=None, on=by, paper="R-1")
    assert listed(by) == []


def test_a_closed_year_is_due_no_more(
    book: Any, workshop: Any, cylinder: Any, act: Callable[..., Any], clock: Callable[..., Any], now: datetime
) -> None:
    began = now.date()
    later = date(began.year + 1, 2, 1)
    keys = [one.key for one in things_of(workshop, later) if one.kind == falling.CLOSING]
    assert keys == [f"closing:{began.year}"]
    clock(datetime(later.year, 2, 1, 12, tzinfo=UTC))
    settling.close_through(book, act(), date(began.year, 12, 31))
    workshop.book.refresh_from_db()
    keys = [one.key for one in things_of(workshop, later) if one.kind == falling.CLOSING]
    assert keys == [f"closing:{later.year}"]


def test_a_certificate_that_never_ends_settles_one_that_does(workshop: Any, technician: Any) -> None:
    held = {"user": technician, "scheme": "Training", "number": "1"}
    Certification.objects.create(**held, expires_on=TODAY)
    assert [one.thing.of for one in due_of(workshop, TODAY)] == ["Training"]
    Certification.objects.create(**held, never_expires=True)
    assert due_of(workshop, TODAY) == ()


def test_the_owner_alone_is_told_of_the_closing(workshop: Any, cylinder: Any, now: datetime) -> None:
    by = date(now.year + 1, 3, 31)
    (closing,) = on_the_page.owed(workshop, by, Units(days="dmy"))
    assert closing.words == f"The year {now.year} is not closed; closing it by 31 Mar {by.year} is common practice."
    assert closing.owner_only
