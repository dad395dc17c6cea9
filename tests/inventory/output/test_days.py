"""Days and moments as somebody reads them: one choice orders the day and counts the hours."""

from datetime import UTC, date, datetime, time

import pytest
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.figures import NARROW
from inventory.measure.own import DAYS, Units
from inventory.measure.spoken import days_in
from inventory.measure.typedday import read_clock, read_day
from inventory.output import days

AFTERNOON = datetime(2026, 3, 4, 14, 5, 30, tzinfo=UTC)
SAID = {
    "ymd": ("2026-03-04", "14:05", "14:05:30"),
    "dmy": ("4 Mar 2026", "14:05", "14:05:30"),
    "mdy": ("Mar 4, 2026", "2:05 PM", "2:05:30 PM"),
}


@pytest.mark.parametrize("order", DAYS)
def test_day_and_hour_follow_one_choice(order: str) -> None:
    units, (day, clock, seconds) = Units(days=order), SAID[order]
    with timezone.override(UTC):
        assert days.day(AFTERNOON, units) == day
        assert days.clock(AFTERNOON, units).replace(NARROW, " ") == clock
        assert days.to_the_second(AFTERNOON, units).replace(NARROW, " ") == seconds
        assert days.when(AFTERNOON, units).replace(NARROW, " ") == f"{day} {clock}"
    assert days.ends(date(2026, 3, 4), units, today=date(2025, 3, 4)) == f"good until {day}"


@pytest.mark.parametrize(
    ("hour", "said"), [(0, "12:05 AM"), (1, "1:05 AM"), (11, "11:05 AM"), (12, "12:05 PM"), (13, "1:05 PM")]
)
def test_noon_and_midnight_are_twelve(hour: int, said: str) -> None:
    units = Units(days="mdy")
    assert units.clock_said(AFTERNOON.replace(hour=hour)).replace(NARROW, " ") == said


@given(st.dates(date(1900, 1, 1), date(2999, 12, 31)), st.times(), st.sampled_from(list(DAYS)))
def test_what_is_said_is_read_back_as_the_same_minute(on: date, at: time, order: str) -> None:
    moment = datetime.combine(on, at, UTC).replace(second=0, microsecond=0)
    day, _, clock = Units(days=order).when_said(moment).rpartition(" ")
    assert f"{read_day(day, order)}T{read_clock(clock)}" == f"{moment:%Y-%m-%dT%H:%M}"


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("9:58", "09:58"),
        ("2:05 pm", "14:05"),
        ("2:05PM", "14:05"),
        ("2:05 p.m.", "14:05"),
        ("12:00 am", "00:00"),
        ("12:00 PM", "12:00"),
        ("14:05:30", "14:05:30"),
        ("14:05 pm", ""),
        ("0:05 am", ""),
        ("24:00", ""),
        ("10:60", ""),
        ("1005", ""),
    ],
)
def test_a_time_of_day_is_read_by_either_clock(text: str, read: str) -> None:
    assert read_clock(text) == read


def test_a_kept_sentence_is_said_in_the_readers_order() -> None:
    kept = "Recovery on 2026-03-04 14:05, under way since 09:30, line 2026-03, ratio 1:20, read 08:15:30."
    assert days_in(kept, Units(days="ymd")) == kept
    assert days_in(kept, Units(days="dmy")) == kept.replace("2026-03-04", "4 Mar 2026")
    assert days_in(kept, Units(days="mdy")).replace(NARROW, " ") == (
        "Recovery on Mar 4, 2026 2:05 PM, under way since 9:30 AM, line 2026-03, ratio 1:20, read 8:15:30 AM."
    )


def test_what_was_typed_and_is_quoted_stays() -> None:
    assert days_in('"10:58" is no day.', Units(days="mdy")) == '"10:58" is no day.'
