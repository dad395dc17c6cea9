"""Days as people type them: in their own order, year first, with the month in letters."""

from contextlib import suppress
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.own import DAYS, Units
from inventory.measure.typed import QuantityError
from inventory.measure.typedday import read_day

MARCH, APRIL = date(2026, 3, 4), date(2026, 4, 3)


@pytest.mark.parametrize("text", ["3/4/2026", "03/04/2026", "3.4.2026", "3-4-2026", " 3 4 2026 "])
@pytest.mark.parametrize(("order", "found"), [("mdy", MARCH), ("dmy", APRIL), ("ymd", APRIL)])
def test_figures_are_read_in_the_order_of_who_types_them(text: str, order: str, found: date) -> None:
    assert read_day(text, order) == found


@pytest.mark.parametrize("text", ["2026-03-04", "2026-3-4", "2026/03/04", "20260304", "2026.3.4"])
@pytest.mark.parametrize("order", DAYS)
def test_a_year_first_is_read_by_everybody(text: str, order: str) -> None:
    assert read_day(text, order) == MARCH


@pytest.mark.parametrize(
    "text", ["4 Mar 2026", "4 March 2026", "Mar 4, 2026", "march 4 2026", "4th march 2026", "4-Mar-2026"]
)
@pytest.mark.parametrize("order", DAYS)
def test_a_month_in_letters_is_never_mistaken(text: str, order: str) -> None:
    assert read_day(text, order) == MARCH


@given(st.dates(date(1900, 1, 1), date(2999, 12, 31)), st.sampled_from(list(DAYS)))
def test_a_day_as_it_is_said_is_read_as_that_day(day: date, order: str) -> None:
    assert read_day(Units(days=order).day_said(day), order) == day


@pytest.mark.parametrize(
    ("text", "order", "words"),
    [
        ("14/3/2026", "mdy", "month 14: days are read month first here. Write 3/14/2026 or 2026-03-14 if it is 14 Mar"),
        ("3/14/2026", "dmy", "month 14: days are read day first here. Write 14/3/2026 or 2026-03-14 if it is 14 Mar"),
        ("3/4/26", "mdy", "a year of two figures"),
        ("2/30/2026", "mdy", "February 2026 has 28 days"),
        ("2026-02-30", "ymd", "February 2026 has 28 days"),
        ("29 Feb 2026", "dmy", "February 2026 has 28 days"),
        ("13/14/2026", "dmy", "no day of any calendar"),
        ("0/4/2026", "mdy", "no day of any calendar"),
        ("2026-13-01", "ymd", "no day of any calendar"),
        ("3/4", "mdy", "Write it such as 3/14/2026 (month first) or 2026-03-14."),
        ("yesterday", "ymd", "Write it such as 14/3/2026 (day first) or 2026-03-14."),
        ("3/4.2026", "mdy", "is not a day that can be read"),
        ("Foo 4, 2026", "mdy", "is not a day that can be read"),
    ],
)
def test_what_is_no_day_or_in_doubt_is_refused_with_the_way_to_write_it(text: str, order: str, words: str) -> None:
    with pytest.raises(QuantityError) as refused:
        read_day(text, order)
    assert words in refused.value.sentence


@given(st.text(max_size=80), st.sampled_from(list(DAYS)))
def test_any_text_is_read_or_refused(text: str, order: str) -> None:
    with suppress(QuantityError):
        assert isinstance(read_day(text, order), date)
