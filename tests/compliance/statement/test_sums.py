"""A statement out of the totals of months and days says what its movements say, whatever days it runs from and to."""

from collections import defaultdict
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compliance.statement import sums
from compliance.statement.balance import BEFORE, ENTERED, PERIOD
from compliance.statement.period import period_of
from inventory.models import Movement

DAYS = st.integers(-3, 800).map(lambda days: date(2024, 12, 1) + timedelta(days))


def by_hand(period):
    """Add movements up one by one."""
    found = defaultdict(lambda: [0, 0, 0.0, 0.0])
    for one in Movement.objects.filter(book=period.book).select_related("source", "target"):
        if one.booked_on > period.last:
            continue
        phase = PERIOD if one.booked_on >= period.first else BEFORE
        if one.booked_on == period.first and one.cause == "opening-stock":
            phase = ENTERED
        key = (
            phase,
            one.refrigerant,
            one.grade,
            one.cause,
            one.source.kind,
            one.target.kind,
            one.basis,
            one.scale_id or 0,
        )
        there = found[key]
        there[0] += one.mass_mg
        there[1] += 1
        there[2] += one.u_random_mg**2
        there[3] += -one.u_span_mg if one.reversal else one.u_span_mg
    return {key: tuple(values) for key, values in found.items()}


@pytest.mark.django_db
def test_the_totals_say_what_the_movements_say(book, year):
    @settings(max_examples=60)
    @given(DAYS, DAYS)
    def any_days(one, other):
        period = period_of(book, *sorted((one, other)))
        assert {
            (each.phase, each.refrigerant, each.grade, each.cause, each.source, each.target, each.basis, each.scale): (
                each.mass_mg,
                each.lines,
                each.random_sq,
                each.span_mg,
            )
            for each in sums.summed(period)
        } == by_hand(period)

    any_days()
    assert len(by_hand(period_of(book, date(2025, 1, 1), date(2025, 12, 31)))) > 5
