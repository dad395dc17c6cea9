"""How exact the stock at both ends of a year is, and what lies between, against sums done by hand from the readings."""

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from math import sqrt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from compliance.statement import files
from compliance.statement.figures import Statement, read_statement
from compliance.statement.layout import Layout
from compliance.statement.stock import WHOLE, Exactness
from inventory.acts import onscale, settling, undoing
from inventory.acts.away import Dispatch, send_away
from inventory.acts.receiving import First, receive_cylinder
from inventory.book import ledger, weighing
from inventory.book.draft import Draft, Line
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Entry, Weighing

pytestmark = pytest.mark.django_db
YEAR = (date(2025, 1, 1), date(2025, 12, 31))
STEP, ZERO, TARE = 5 / sqrt(12), 5 / sqrt(3), 28.868  # grams, of S1 and of a stamp
SPAN = 0.001 / sqrt(3)


@pytest.fixture
def bring(book: Any, act: Any, partner: Any, scale: Any) -> Callable[..., Cylinder]:
    """bring(month, grams gross) is a cylinder that came weighed; with `paper_g` it came by a paper alone."""

    def make(
        at: datetime, gross_g: int = 0, *, on: Any = scale, cause: str = "purchase", paper_g: int = 0, **facts: Any
    ) -> Cylinder:
        serial = f"C-{Cylinder.objects.count() + 1}"
        working = {
            "kind": "refillable",
            "refrigerant": "R-134a",
            "grade": "virgin",
            "tare_mg": 6_200_000,
            "tare_u_mg": 28_868,
        }
        new = Cylinder(serial=serial, **{**working, **facts})
        giver = partner if cause == "purchase" else None
        if paper_g:
            return receive_cylinder(book, act(at=at), new, First(cause, "paper", giver, paper_g * 1_000, 10_000))
        return receive_cylinder(book, act(at=at), new, First(cause, "single", giver), seen(new, gross_g, on))

    return make


@pytest.fixture
def charge(book: Any, act: Any, scale: Any, vehicle_account: Any) -> Callable[..., Entry]:
    """charge(cylinder, grams before, grams after, when) puts gas into a car between two readings."""

    def write(cylinder: Cylinder, before_g: int, after_g: int, at: datetime, on: Any = scale) -> Entry:
        def build(draft: Draft) -> None:
            weighing.settle(draft, seen(cylinder, before_g, on), Weighing.BEFORE)
            gained_mg, u = weighing.passed(draft, seen(cylinder, after_g, on))
            parts = weighing.parts_mg(u)
            ends = (cylinder.account, vehicle_account)
            draft.move(Line("charge", *ends, "R-134a", "virgin", -gained_mg, "pair", *parts, scale=on))

        return ledger.write(book, act(at=at), build)

    return write


def seen(cylinder: Cylinder, gross_g: int, on: Any) -> Gross:
    return Gross(cylinder, on, gross_g * 1_000, f"{gross_g} g")


def noon(month: int, day: int = 10, year: int = 2025) -> datetime:
    return datetime(year, month, day, 12, tzinfo=UTC)


BEFORE = noon(11, year=2024)


def report_of(book: Any, days: tuple[date, date] = YEAR) -> Statement:
    return read_statement(book, *days, "AR4")


def exact_of(book: Any, days: tuple[date, date] = YEAR) -> Exactness:
    return report_of(book, days).exact[("R-134a", "")]


def u_g(known: Any) -> float:
    return known.u_mg / 1_000


def test_a_cylinder_is_as_exact_as_its_last_reading_its_empty_mass_and_the_span_on_its_gross(book, bring):
    bring(BEFORE, 16_200)
    found = exact_of(book)
    assert u_g(found.opening) == pytest.approx(sqrt(STEP**2 + ZERO**2 + TARE**2 + (SPAN * 16_200) ** 2), abs=0.002)
    assert found.closing == found.opening
    assert found.opening.unweighed_mg == 0


def test_what_nobody_weighed_in_the_period_cannot_make_it_miss(book, bring):
    bring(BEFORE, 16_200)
    found = exact_of(book).balance
    assert found.u_mg == pytest.approx(0, abs=1e-6)


def test_the_span_of_one_scale_is_one_error_of_all_cylinders_on_it(book, bring):
    for _ in range(3):
        bring(BEFORE, 16_200)
    apart = 3 * (STEP**2 + ZERO**2 + TARE**2)
    assert u_g(exact_of(book).opening) == pytest.approx(sqrt(apart + (3 * SPAN * 16_200) ** 2), abs=0.005)


def test_two_scales_are_never_wrong_together(book, bring, make_scale):
    other = make_scale("S2")
    for on in (None, other):
        bring(BEFORE, 16_200, **({"on": on} if on else {}))
    apart = 2 * (STEP**2 + ZERO**2 + TARE**2)
    assert u_g(exact_of(book).opening) == pytest.approx(sqrt(apart + 2 * (SPAN * 16_200) ** 2), abs=0.005)


def test_a_charge_shares_its_readings_with_the_stock(book, bring, charge):
    cylinder = bring(BEFORE, 16_200)
    charge(cylinder, 16_200, 15_700, noon(3))
    # Opening r0 - charge (r1 - r2) - closing r2: the steps of r0 and r1, two zeros, and no span: r0 is r1.
    assert u_g(exact_of(book).balance) == pytest.approx(sqrt(2 * STEP**2 + 2 * ZERO**2), abs=0.01)


def test_the_span_counts_on_what_came_in_on_one_scale_and_went_out_on_another(book, bring, charge, make_scale):
    cylinder, other = bring(noon(2), 16_200), make_scale("S2")
    charge(cylinder, 16_200, 10_200, noon(3), other)
    # In by r0 of S1, out 6 kg by S2, closing by r2 of S2: S1 on 16.2 kg against S2 on 6 + 10.2.
    apart = 2 * STEP**2 + 2 * ZERO**2 + 2 * (SPAN * 16_200) ** 2
    assert u_g(exact_of(book).balance) == pytest.approx(sqrt(apart), abs=0.01)


def test_an_empty_mass_by_which_gas_came_in_and_went_out_cancels(book, bring, act, partner, scale):
    cylinder = bring(noon(2), 16_200)
    assert u_g(exact_of(book).balance) == pytest.approx(0, abs=0.3)  # lines have theirs in whole milligrams
    send_away(book, act(at=noon(5)), seen(cylinder, 16_190, scale), Dispatch(partner, "passed-on", "sale", ""))
    found = exact_of(book)
    assert u_g(found.balance) == pytest.approx(sqrt(2 * STEP**2 + 2 * ZERO**2 + (SPAN * 10) ** 2), abs=0.3)
    assert found.closing.u_mg == 0


def test_a_stamp_that_gas_came_in_by_and_pairs_took_out_does_not_cancel_once_the_cylinder_left(
    book, bring, charge, act, partner, scale
):
    recovery = receive_cylinder(
        book,
        act(at=noon(1)),
        Cylinder(
            serial="R-1", kind="recovery", refrigerant="R-134a", grade="recovered", tare_mg=6_200_000, tare_u_mg=28_868
        ),
    )

    def fill(draft: Draft) -> None:
        weighing.settle(draft, seen(recovery, 6_200, scale), Weighing.BEFORE)
        gained_mg, u = weighing.passed(draft, seen(recovery, 9_200, scale))
        car = ledger.open_account(book, "vehicle", "a car")
        settling.found_in_vehicle(draft, car, "R-134a", "recovered", gained_mg, "pair", u)
        gas = ("R-134a", "recovered", gained_mg)
        draft.move(Line("recovery", car, recovery.account, *gas, "pair", *weighing.parts_mg(u), scale=scale))

    ledger.write(book, act(at=noon(2)), fill)
    send_away(book, act(at=noon(5)), seen(recovery, 9_200, scale), Dispatch(partner, "sent-away", "reclaim", ""))
    # In r2 - r1, out r3 - t: the stamp stays, on the span of 6.2 kg, which is what r1 weighed.
    apart = 3 * STEP**2 + ZERO**2 + TARE**2 + (SPAN * 6_200) ** 2
    assert u_g(exact_of(book).balance) == pytest.approx(sqrt(apart), abs=0.01)


def test_a_paper_is_told_in_kilograms_and_not_known(book, bring):
    bring(BEFORE, paper_g=5_000)
    found = exact_of(book)
    assert (found.opening.u_mg, found.opening.unweighed_mg) == (None, 5_000_000)
    bring(noon(3), 16_200)
    found = exact_of(book)
    assert (found.closing.unweighed_mg, u_g(found.closing) > TARE) == (5_000_000, True)
    words = " ".join(Layout(report_of(book)).exact_words(report_of(book).refrigerants[0]))
    assert "stand on no weighing" in words


def test_a_cylinder_that_came_by_a_paper_and_was_weighed_since_still_rests_on_the_paper(book, bring, act, scale):
    cylinder = bring(BEFORE, paper_g=5_000, tare_mg=0, tare_u_mg=0, tare_source="not known", paper_mass_mg=5_000_000)
    onscale.weigh(book, act(at=noon(12, year=2024)), seen(cylinder, 11_200, scale))
    found = exact_of(book).opening
    assert (found.u_mg, found.unweighed_mg) == (None, 5_000_000)


def test_a_reading_that_was_reversed_is_not_the_last(book, bring, act, scale):
    cylinder = bring(BEFORE, 16_200)
    first = u_g(exact_of(book).closing)
    wrong = onscale.weigh(book, act(at=noon(3)), seen(cylinder, 15_000, scale))
    assert u_g(exact_of(book).closing) < first  # a smaller load, a smaller span
    undoing.reverse(book, act(at=noon(4)), wrong)
    assert u_g(exact_of(book).closing) == pytest.approx(first)


def test_opening_stock_of_the_first_day_belongs_to_the_opening(book, bring):
    bring(noon(1, 1), 16_200, cause="opening-stock")
    found = exact_of(book)
    assert found.opening.u_mg == found.closing.u_mg > 28_000
    assert found.balance.u_mg == pytest.approx(0, abs=1e-6)


def test_a_reading_of_the_next_year_says_nothing_of_this_one(book, bring, act, scale):
    cylinder = bring(BEFORE, 16_200)
    known = exact_of(book).closing
    onscale.weigh(book, act(at=noon(2, year=2026)), seen(cylinder, 12_000, scale))
    assert exact_of(book).closing == known


def test_what_no_reading_of_the_cylinder_saw_adds_its_own_doubt(book, bring, act, scale):
    source, target = bring(BEFORE, 16_200), bring(BEFORE, 11_200)
    before, after = seen(target, 11_200, scale), seen(target, 13_200, scale)
    onscale.transfer(book, act(at=noon(3)), source=source, target=target, before=before, after=after)
    found = exact_of(book)
    # Source r0 - (r3 - r2), target r3: two stamps; r3 cancels in its step, taken here as if it did not.
    loads = SPAN * (16_200 - 2_000 + 13_200)
    least = STEP**2 + 2 * ZERO**2 + STEP**2 + 2 * TARE**2 + loads**2
    assert sqrt(least) <= u_g(found.closing) <= sqrt(least + 3 * STEP**2)
    assert found.closing.unweighed_mg == 0


def test_all_together_are_one_sum(book, bring):
    bring(BEFORE, 16_200)
    bring(BEFORE, 16_200, refrigerant="R-1234yf")
    report = report_of(book)
    apart = 2 * (STEP**2 + ZERO**2 + TARE**2)
    whole = sqrt(apart + (2 * SPAN * 16_200) ** 2)
    assert u_g(report.exact[WHOLE].opening) == pytest.approx(whole, abs=0.005)
    said = json.loads(files.as_json(report))["stock"]
    assert (said["opening_mg"], said["opening_u_mg"]) == (20_000_000, round(whole * 1_000))


def test_the_page_says_it_in_rows_and_one_sentence(book, bring, charge):
    cylinder = bring(BEFORE, 16_200)
    charge(cylinder, 16_200, 15_700, noon(3))
    report = report_of(book)
    layout = Layout(report)
    rows = {row.label: [cell.text for cell in row.cells] for row in layout.masses(report.refrigerants, "x").rows}
    assert rows["Give or take"] == ["±\u202f0.061"]  # of the end; that of the start is the row before
    assert rows["Unexplained that readings alone can make"] == ["±\u202f0.010"]
    assert "give or take 0.062\u202fkg" in layout.exact_words(report.refrigerants[0])[0]


def test_it_costs_the_same_however_many_cylinders_and_lines(book, bring, charge):
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            report_of(book)
        return len(found)

    charge(bring(BEFORE, 16_200), 16_200, 15_700, noon(3))
    few = queries()
    for month in range(4, 9):
        charge(bring(BEFORE, 16_200), 16_200, 15_700, noon(month))
    assert queries() == few
