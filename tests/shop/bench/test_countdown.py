"""What a countdown says, whatever midnight, summer time or a clock that was put right does to it."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.bench.countdown import Countdown, lasting, length, since_s

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (59, "59 s"),
        (60, "1 min 00 s"),
        (725, "12 min 05 s"),
        (3_600, "1 h 00 min 00 s"),
        (86_399, "23 h 59 min 59 s"),
        (90_061, "1 d 1 h 01 min 01 s"),
    ],
)
def test_a_length_is_said_to_the_second(seconds: int, words: str) -> None:
    assert lasting(seconds) == words


@pytest.mark.parametrize(
    ("seconds", "words"), [(900, "15 min"), (57_600, "16 h"), (5_400, "1 h 30 min"), (172_801, "2 d 1 s"), (0, "0 s")]
)
def test_a_planned_length_is_said_without_what_it_has_none_of(seconds: int, words: str) -> None:
    assert length(seconds) == words


@pytest.mark.parametrize(
    ("after", "ran", "left"),
    [
        (0, "0 s", "15 min 00 s left"),
        (899, "14 min 59 s", "1 s left"),
        (900, "15 min 00 s", "It is time"),
        (930, "15 min 30 s", "It is time, 30 s over"),
    ],
)
def test_it_says_what_ran_and_what_is_left(after: int, ran: str, left: str) -> None:
    one = Countdown(NOON, 900.0, NOON + timedelta(seconds=after))
    assert (one.ran_words, one.left_words, one.is_time) == (ran, left, after >= 900)
    assert one.ends_at == NOON + timedelta(minutes=15)


def test_a_clock_that_was_put_back_leaves_the_whole_length() -> None:
    assert Countdown(NOON, 60.0, NOON - timedelta(hours=1)).left_words == "1 min 00 s left"


@pytest.mark.parametrize(
    ("day", "hours"),
    [(date(2026, 3, 28), 11), (date(2026, 10, 24), 13)],
)
def test_a_night_in_which_the_clocks_change_is_as_long_as_it_was(day: date, hours: int) -> None:
    """From ten in the evening to ten in the morning of the wall clock."""
    zone = ZoneInfo("Europe/Berlin")
    evening = datetime.combine(day, time(22), zone)
    morning = datetime.combine(day + timedelta(days=1), time(10), zone)
    assert since_s(evening, morning) == hours * 3_600
    assert Countdown(evening, 16 * 3_600.0, morning).left_s == (16 - hours) * 3_600


@given(
    st.floats(1.0, 604_800.0),
    st.integers(0, 700_000),
    st.sampled_from(["UTC", "America/New_York", "Australia/Lord_Howe"]),
)
def test_what_ran_and_what_is_left_make_up_the_planned_length(planned: float, after: int, zone: str) -> None:
    now = NOON + timedelta(seconds=after)
    one = Countdown(NOON.astimezone(ZoneInfo(zone)), planned, now.astimezone(ZoneInfo(zone)))
    assert one.ran_s + one.left_s == round(planned)
    assert one.is_time == (one.ends_at <= now)
