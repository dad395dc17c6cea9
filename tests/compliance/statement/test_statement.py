"""The usage report read from a book: the acceptance year, the laws it keeps, what it says of what is not known."""

from collections import Counter
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st

from compliance.statement.balance import COLUMNS, INWARD
from compliance.statement.figures import Statement, lines_of_period, read_statement
from compliance.statement.period import WrongPeriod
from compliance.statement.sums import vehicle_holdings
from inventory.acts.settling import close_through
from inventory.book import ledger
from inventory.book.draft import Line
from inventory.models import Consignment, Movement
from shop.models import Certification
from tests.compliance.builders import YEAR_2025, YEAR_2026, Desk, G, noon
from tests.inventory.book.lines import undo_line

pytestmark = pytest.mark.django_db
# Acceptance table of the year, grams: what the workshop's own paper says the report must show.
TABLE = {
    "R-12": {"opening": 2_490, "recovered": 868, "sent_away": 3_358, "closing": 0},
    "R-134a": {
        "opening": 18_310, "acquired": 21_995, "recovered": 7_930, "charged": 12_433, "sent_away": 415,
        "air": 6, "unexplained": 202, "closing": 35_179,
    },
    "R-1234yf": {"opening": 3_000, "charged": 480, "closing": 2_520},
    "MIXED": {"opening": 0, "recovered": 465, "closing": 465},
}  # fmt: skip


def balance_of(report: Statement, code: str) -> Any:
    return next(each for each in report.refrigerants if each.refrigerant == code)


def masses(balance: Any) -> dict[str, int]:
    columns = {name: getattr(balance, name).mass_mg for name in COLUMNS}
    return {"opening": balance.opening_mg, **columns, "closing": balance.closing_mg}


def test_the_acceptance_year_shows_the_published_table(book, year):
    report = read_statement(book, *YEAR_2025, "AR4")
    expected = {
        code: {"opening": 0, **dict.fromkeys(COLUMNS, 0), **{name: g * G for name, g in row.items()}}
        for code, row in TABLE.items()
    }
    assert {each.refrigerant: masses(each) for each in report.refrigerants} == expected


def test_the_acceptance_year_by_grade(book, year):
    report = read_statement(book, *YEAR_2025, "AR4")
    closing = {each.grade: each.closing_mg for each in report.grades_of("R-134a")}
    assert closing == {"virgin": 9_670 * G, "recovered": 20_340 * G, "recycled": 5_169 * G}


def test_the_bridge_leads_from_208_to_204_grams(book, year):
    balance = balance_of(read_statement(book, *YEAR_2025, "AR4"), "R-134a")
    assert balance.mass_balance_mg == 208 * G
    assert balance.mass_balance_mg == (6 + 202) * G
    assert balance.workshop_air.mass_mg == 204 * G
    assert sum(mass for _, mass in balance.bridge[:-1]) == balance.bridge[-1][1]
    assert {part.cause: part.mass_mg // G for part in balance.workshop_air.parts} == {
        "loss-explained": 180,
        "purge": 6,
        "evacuated-residue": 18,
    }
    assert balance.road_air.mass_mg == 126 * G
    assert balance.vehicle_air.mass_mg == (18 + 126) * G
    assert balance.unexplained_open_mg == 22 * G


def test_vehicles_hold_what_was_put_in(book, year):
    report = read_statement(book, *YEAR_2025, "AR4")
    held = {(each.label, each.refrigerant): each.mass_mg // G for each in vehicle_holdings(report)}
    assert held == {
        ("V1", "R-134a"): 770,
        ("V2", "R-134a"): 935,
        ("V3", "R-1234yf"): 480,
        ("V4", "R-134a"): 554,
        ("V5", "R-134a"): 545,
        ("V7", "R-134a"): 610,
        ("V8", "R-134a"): 585,
        ("V9", "R-134a"): 650,
        ("V-bus", "R-134a"): 7_000,
    }
    assert balance_of(report, "R-134a").vehicles_closing_mg == sum(
        mass for (_, code), mass in held.items() if code == "R-134a"
    ) * G  # fmt: skip


def test_visits_and_vehicles_are_counted_once(book, year):
    activity = read_statement(book, *YEAR_2025, "AR4").activity
    assert (activity.visits, activity.vehicles) == (10, 9)
    assert (activity.late, activity.reversals) == (0, 0)


def test_a_closed_year_stands_and_its_correction_counts_for_the_next(book, year, clock, act):
    before = [masses(each) for each in read_statement(book, *YEAR_2025, "AR4").refrigerants]
    clock(noon(1, 9, 2026))
    close_through(book, act(at=noon(1, 9, 2026)), date(2025, 12, 31))
    day = clock(noon(1, 14, 2026))
    desk = Desk(book, {each.label: each for each in book.accounts.all()})
    reversal = desk.reverse(year["charge V9"], day)
    # The balance stands first in the entry so that the cylinder, sent back long ago, holds nothing at its end.
    desk.write(
        noon(8, 20),
        ("balance-after-correction", "C-34", "unexplained", "R-134a", "virgin", 20, "computed"),
        ("charge", "C-34", "V9", "R-134a", "virgin", 630, "pair"),
    )
    report = read_statement(book, *YEAR_2025, "AR4")
    assert [masses(each) for each in report.refrigerants] == before
    assert report.is_closed
    later = read_statement(book, *YEAR_2026, "AR4")
    found = masses(balance_of(later, "R-134a"))
    assert (found["opening"], found["charged"], found["unexplained"]) == (35_179 * G, -20 * G, 20 * G)
    assert [(each.seq, each.for_day) for each in later.reversals] == [(reversal.seq, date(2025, 8, 20))]
    assert [(one.occurred_at.date(), one.booked_on) for one in later.late] == [(date(2025, 8, 20), date(2026, 1, 14))]
    held = {each.label: each.mass_mg // G for each in vehicle_holdings(later)}
    assert held["V9"] == 630
    assert not later.is_closed


def test_half_past_midnight_belongs_to_the_new_year(book, clock):
    desk = Desk(book)
    clock(noon(12, 31))
    desk.write(noon(12, 1), ("opening-stock", "opening", "C-1", "R-134a", "virgin", 5_000, "single"))
    clock(datetime(2025, 12, 31, 22, 31, tzinfo=UTC))
    desk.write(datetime(2025, 12, 31, 22, 30, tzinfo=UTC), ("charge", "C-1", "V1", "R-134a", "virgin", 500, "pair"))
    assert balance_of(read_statement(book, *YEAR_2025, "AR4"), "R-134a").charged.mass_mg == 0
    assert balance_of(read_statement(book, *YEAR_2026, "AR4"), "R-134a").charged.mass_mg == 500 * G


def test_a_line_for_a_closed_day_is_late_although_written_within_the_day(book, clock, act):
    desk = Desk(book)
    clock(noon(1, 9, 2026, hour=18))
    desk.write(noon(1, 1, 2026), ("opening-stock", "opening", "C-1", "R-134a", "virgin", 5_000, "single"))
    clock(noon(1, 10, 2026, hour=6))
    close_through(book, act(at=noon(1, 10, 2026, hour=6)), date(2026, 1, 9))
    late = desk.write(noon(1, 9, 2026, hour=17), ("charge", "C-1", "V1", "R-134a", "virgin", 500, "pair"))
    plain = desk.write(noon(1, 10, 2026, hour=5), ("charge", "C-1", "V1", "R-134a", "virgin", 100, "pair"))
    report = read_statement(book, date(2026, 1, 10), date(2026, 1, 31), "AR4")
    assert [each.seq for each in report.late] == [late.seq]
    assert plain.seq not in {each.seq for each in report.late}
    assert report.activity.late == 1


def test_a_line_written_forty_days_later_is_listed(book, clock):
    desk = Desk(book)
    clock(noon(1, 2, 2026))
    desk.write(noon(1, 2, 2026), ("opening-stock", "opening", "C-1", "R-134a", "virgin", 5_000, "single"))
    clock(noon(5, 24, 2026))
    late = desk.write(noon(4, 14, 2026), ("charge", "C-1", "V1", "R-134a", "virgin", 935, "pair"))
    report = read_statement(book, *YEAR_2026, "AR4")
    assert [(each.seq, each.booked_on, f"{each.occurred_at:%Y-%m-%d %H:%M}") for each in report.late] == [
        (late.seq, date(2026, 4, 14), "2026-04-14 12:00")
    ]


def test_opening_stock_counts_into_the_opening_on_the_first_day_and_as_another_change_later(book, clock):
    desk = Desk(book)
    clock(noon(3, 1))
    desk.write(noon(1, 1), ("opening-stock", "opening", "C-1", "R-134a", "virgin", 5_000, "single"))
    desk.write(noon(3, 1), ("opening-stock", "opening", "C-2", "R-134a", "virgin", 700, "single"))
    found = balance_of(read_statement(book, *YEAR_2025, "AR4"), "R-134a")
    assert (found.opening_mg, found.opening_entered_mg, found.other.mass_mg) == (5_000 * G, 5_000 * G, 700 * G)


def test_a_rig_is_stock_too(book, clock):
    desk = Desk(book)
    clock(noon(3, 1))
    desk.write(noon(1, 1), ("opening-stock", "opening", "C-1", "R-134a", "virgin", 5_000, "single"))
    desk.write(noon(2, 1), ("rig-filled", "C-1", "rig 1", "R-134a", "virgin", 20, "computed"))
    desk.write(noon(2, 2), ("lost-in-our-hands", "rig 1", "air", "R-134a", "virgin", 5, "computed"))
    desk.write(noon(2, 3), ("rig-cleared", "rig 1", "V1", "R-134a", "virgin", 15, "rest"))
    found = balance_of(read_statement(book, *YEAR_2025, "AR4"), "R-134a")
    assert (found.air.mass_mg, found.charged.mass_mg, found.closing_mg) == (5 * G, 15 * G, 4_980 * G)


def test_sending_away_is_told_by_its_purpose(book, clock, make_partner, make_cylinder):
    clock(noon(11, 20))
    desk = Desk(book)
    cylinder, destroyer = make_cylinder("C-12", mass_mg=0), make_partner("Emberline", "destruction facility")
    desk.accounts |= {"C-12": cylinder.account, "Emberline": destroyer.account}
    desk.write(noon(1, 1), ("opening-stock", "opening", "C-12", "R-12", "recovered", 3_000, "single"))
    entry = desk.write(noon(11, 20), ("sent-away", "C-12", "Emberline", "R-12", "recovered", 2_000, "single"))
    Consignment.objects.create(entry=entry, number="K-1", purpose="destruction", partner=destroyer, cylinder=cylinder)
    desk.write(noon(11, 20), ("sent-away", "C-12", "Emberline", "R-12", "recovered", 600, "single"))
    report = read_statement(book, *YEAR_2025, "AR4")
    assert {each.purpose: each.mass_mg // G for each in report.purposes} == {
        "destruction": 2_000,
        "purpose not entered": 600,
    }
    desk.reverse(entry, noon(11, 20))
    report = read_statement(book, *YEAR_2025, "AR4")
    assert {each.purpose: each.mass_mg // G for each in report.purposes} == {
        "destruction": 0,
        "purpose not entered": 600,
    }


def test_spans_of_one_scale_add_and_chance_adds_as_squares(book, clock):
    desk = Desk(book)
    clock(noon(7, 12))
    scale = desk.scale("S1")
    desk.write(noon(1, 1), ("opening-stock", "opening", "C-41", "R-134a", "recovered", 8_050, "single"))
    # Two legs on one scale: u of each leg 2.48 and 3.23 g, of their sum 4.86 g (4.07 as plain squares).
    for name, grams in (("C-41", 2_445), ("C-42", 4_325)):
        span_mg = round(0.001 * grams * G / 3**0.5)
        desk.write(
            noon(7, 10),
            ("recovery", "V-bus", name, "R-134a", "recovered", grams, "pair"),
            u_random_mg=2_041,
            u_span_mg=span_mg,
            scale=scale,
        )
    found = balance_of(read_statement(book, *YEAR_2025, "AR4"), "R-134a").recovered
    assert found.mass_mg == 6_770 * G
    assert found.u_mg == pytest.approx(4_860, abs=10)
    assert found.pair_share == 1


def test_what_is_only_declared_is_not_measured(book, clock):
    desk = Desk(book)
    clock(noon(7, 12))
    desk.write(noon(1, 1), ("opening-stock", "opening", "C-1", "R-744", "virgin", 8_000, "single"))
    desk.write(noon(2, 1), ("released-exempt", "C-1", "air", "R-744", "virgin", 200, "declared"))
    found = balance_of(read_statement(book, *YEAR_2025, "AR4"), "R-744")
    assert found.air.u_mg is None
    assert found.air.declared_share == 1
    assert found.workshop_air.mass_mg == 0
    assert sum(mass for _, mass in found.bridge[:-1]) == 0


def test_certificates_held_in_the_period_are_listed(book, technician, stranger):
    def certificate(number: str, user: Any = technician, **dates: Any) -> None:
        Certification.objects.create(user=user, scheme="MVAC", number=number, **dates)

    certificate("before", issued_on=date(2020, 1, 1), expires_on=date(2024, 12, 31))
    certificate("during", issued_on=date(2024, 6, 1), expires_on=date(2025, 6, 1))
    certificate("for good", never_expires=True)
    certificate("later", issued_on=date(2026, 1, 1), expires_on=date(2027, 1, 1))
    certificate("a stranger's", user=stranger, never_expires=True)
    report = read_statement(book, *YEAR_2025, "AR4")
    assert {each.number: each.good_until for each in report.certificates} == {
        "during": "2025-06-01",
        "for good": "does not run out",
    }


def test_another_book_is_not_in_it(book, sister_book, clock):
    clock(noon(7, 12))
    Desk(sister_book).write(noon(1, 1), ("opening-stock", "opening", "C-1", "R-134a", "virgin", 5_000, "single"))
    assert read_statement(book, *YEAR_2025, "AR4").refrigerants == ()


def test_the_head_bounds_the_report(book, year):
    report = read_statement(book, *YEAR_2025, "AR4")
    book.refresh_from_db()
    assert (report.head.seq, report.head.digest) == (book.head_seq, book.head_digest)
    assert lines_of_period(report).count() == Movement.objects.filter(book=book).count()


@pytest.mark.parametrize(
    ("first", "last", "basis", "says"),
    [
        (date(2025, 12, 31), date(2025, 1, 1), "AR4", "ends on 2025-01-01, before it begins"),
        (date(2025, 1, 1), date(2025, 12, 31), "AR9", "'AR9' is not a basis"),
        (date(1, 1, 1), date(2025, 12, 31), "AR4", "lies between"),
    ],
)
def test_a_period_that_cannot_be_is_refused_in_a_sentence(book, first, last, basis, says):
    with pytest.raises(WrongPeriod, match=says):
        read_statement(book, first, last, basis)


def test_queries_do_not_grow_with_the_book(book, clock):
    desk = Desk(book)
    clock(noon(12, 31))
    desk.write(noon(1, 1), ("opening-stock", "opening", "C-1", "R-134a", "virgin", 50_000, "single"))

    def busy(times: int) -> int:
        for number in range(times):
            charge = ("charge", "C-1", f"V{number}", "R-134a", "virgin", 10, "pair")
            desk.reverse(desk.write(noon(6, 1), charge, context=f"visit:{number}"), noon(12, 31))
        with CaptureQueriesContext(connection) as queries:
            vehicle_holdings(read_statement(book, *YEAR_2025, "AR4"))
        return len(queries)

    few = busy(2)
    assert busy(20) == few


# Causes that a random book may use, with accounts for both ends; masses are drawn.
RANDOM_MOVES = [
    ("purchase", "Northgas", "C-1", "single"),
    ("opening-stock", "opening", "C-1", "single"),
    ("recovery", "V1", "C-1", "pair"),
    ("charge", "C-1", "V1", "pair"),
    ("transfer", "C-1", "C-2", "pair"),
    ("rig-filled", "C-1", "rig 1", "computed"),
    ("rig-cleared", "rig 1", "V1", "rest"),
    ("purge", "C-2", "air", "pair"),
    ("lost-on-the-road", "V1", "air", "rest"),
    ("evacuated-residue", "V1", "air", "computed"),
    ("sent-away", "C-2", "Northgas", "single"),
    ("was-oil", "C-2", "opening", "paper"),
    ("weighing-difference", "C-1", "unexplained", "pair"),
    ("weighing-difference", "unexplained", "C-1", "pair"),
    ("missing", "C-2", "unexplained", "rest"),
    ("vehicle-shortfall", "V1", "unexplained", "rest"),
    ("loss-explained", "unexplained", "air", "rest"),
]
MOVE = st.tuples(st.sampled_from(RANDOM_MOVES), st.integers(1, 10**7), st.integers(0, 40), st.booleans())


@settings(max_examples=40)
@given(moves=st.lists(MOVE, max_size=25), first=st.integers(0, 40), length=st.integers(0, 40))
def test_it_adds_up_to_the_milligram_and_agrees_with_a_plain_counter(make_book, moves, first, length):
    book = make_book(f"Random {len(moves)} {first} {length} {hash(str(moves))}")
    desk, held, before, period = Desk(book), Counter(), Counter(), Counter()
    begin = datetime(2024, 3, 1, 12, tzinfo=ZoneInfo("UTC"))
    start, end = (begin + timedelta(days=first)).date(), (begin + timedelta(days=first + length)).date()
    for (cause, source, target, basis), mass_mg, day, undone in moves:
        if source in ("C-1", "C-2", "rig 1") and held[source] < mass_mg:
            continue
        at = begin + timedelta(days=day)
        line = Line(cause, desk.account(source), desk.account(target), "R-134a", "virgin", mass_mg, basis)
        act = ledger.Act(uuid4(), "p-tomas", at, {"mass": mass_mg})
        entry = ledger.write(book, act, lambda draft, line=line: draft.move(line))
        counted = before if at.date() < start else period if at.date() <= end else Counter()
        counted = before if cause == "opening-stock" and at.date() == start else counted
        if undone and (target not in ("C-1", "C-2", "rig 1") or held[target] >= 0):
            undo_line(entry, ledger.Act(uuid4(), "p-olga", at, {"reverse": entry.seq}))
            continue
        held.update({target: mass_mg, source: -mass_mg})
        counted.update({target: mass_mg, source: -mass_mg})
        counted[f"air from {source}"] += mass_mg if target == "air" else 0
    report = read_statement(book, start, end, "AR4")
    stock = ("C-1", "C-2", "rig 1")
    for each in (*report.refrigerants, *report.grades):
        inward = each.opening_mg + sum(getattr(each, name).mass_mg for name in INWARD)
        outward = sum(getattr(each, name).mass_mg for name in COLUMNS if name not in INWARD)
        assert inward - outward == each.closing_mg
        assert each.opening_mg == sum(before[name] for name in stock)
        assert sum(mass for _, mass in each.bridge[:-1]) == each.bridge[-1][1]
        assert each.air.mass_mg == sum(period[f"air from {name}"] for name in stock)
        assert each.vehicle_air.mass_mg == period["air from V1"]
        assert each.closing_mg - each.opening_mg == sum(period[name] for name in stock)
