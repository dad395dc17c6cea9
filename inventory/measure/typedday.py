"""A day, and a time of day, as people type them: year first, the month in letters, or in figures by their order. Pure.

`order` is a key of `inventory.measure.own.DAYS`. Day, month and year in figures are read month first where days are
said so, day first otherwise; a year first is never in doubt. Nothing is guessed: a year of two figures, a month past
twelve and a day that no calendar has are refused with a sentence that says how the day is written.
"""

import re
from calendar import monthrange
from datetime import date

from inventory.measure.own import MONTHS
from inventory.measure.typed import QuantityError, quote
from inventory.measure.units import clean_text

MONTH_FIRST = "mdy"
_LONG = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
_MONTHS = {name: at for at, long in enumerate(_LONG, 1) for name in (long, long[:3])} | {"sept": 9}
_YEAR_FIRST = re.compile(r"(\d{4})[-/. ](\d{1,2})[-/. ](\d{1,2})|(\d{4})(\d{2})(\d{2})")
_FIGURES = re.compile(r"(\d{1,2})([-/. ])(\d{1,2})\2(\d{2}|\d{4})")
_DAY_FIRST = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[-/. ]+([a-z]+)[-/., ]+(\d{4})")
_CLOCK = re.compile(r"(\d{1,2}):([0-5]\d(?::[0-5]\d)?)(?: ?([ap])\.?m\.?)?")
_NAME_FIRST = re.compile(r"([a-z]+)[-/. ]+(\d{1,2})(?:st|nd|rd|th)?[-/, ]+(\d{4})")


def how_written(order: str, time: str = "") -> str:
    """Return how a day is typed, `time` after it, for hints and refusals: "3/14/2026 (month first) or 2026-03-14"."""
    day, first = ("3/14/2026", "month") if order == MONTH_FIRST else ("14/3/2026", "day")
    return f"{day}{time} ({first} first) or 2026-03-14{time}"


def read_clock(text: str) -> str:
    """Return a time of day as it stands after an ISO day, 14:05 or 14:05:30, of "2:05 pm" too; empty for no time."""
    found = _CLOCK.fullmatch(clean_text(text).casefold())
    if found is None:
        return ""
    hour, noon = int(found[1]), found[3]
    if noon and not 1 <= hour <= 12 or hour > 23:
        return ""
    if noon:
        hour = hour % 12 + (12 if noon == "p" else 0)
    return f"{hour:02}:{found[2]}"


def read_day(text: str, order: str) -> date:
    """Return the day that was typed; raises ``QuantityError`` with a sentence."""
    clean = clean_text(text).casefold()
    if found := _YEAR_FIRST.fullmatch(clean):
        year, month, day = (int(part) for part in found.groups() if part)
        return _day(text, year, month, day)
    if found := _FIGURES.fullmatch(clean):
        return _in_figures(text, int(found[1]), int(found[3]), found[4], order)
    if (found := _DAY_FIRST.fullmatch(clean)) and found[2] in _MONTHS:
        return _day(text, int(found[3]), _MONTHS[found[2]], int(found[1]))
    if (found := _NAME_FIRST.fullmatch(clean)) and found[1] in _MONTHS:
        return _day(text, int(found[3]), _MONTHS[found[1]], int(found[2]))
    raise QuantityError(f"{quote(text)} is not a day that can be read. Write it such as {how_written(order)}.")


def _in_figures(text: str, first: int, second: int, year: str, order: str) -> date:
    month, day = (first, second) if order == MONTH_FIRST else (second, first)
    if len(year) == 2:
        raise QuantityError(
            f"{quote(text)} has a year of two figures, which can be read in several ways. "
            f"Write all four, such as {how_written(order)}."
        )
    if month > 12 >= day > 0:
        way = "month first" if order == MONTH_FIRST else "day first"
        other = _day(text, int(year), day, month)
        figures = f"{day}/{month}/{year}" if order == MONTH_FIRST else f"{month}/{day}/{year}"
        raise QuantityError(
            f"{quote(text)} would have a month {month}: days are read {way} here. Write {figures} or "
            f"{other.isoformat()} if it is {other.day} {MONTHS[other.month - 1]} {year}."
        )
    return _day(text, int(year), month, day)


def _day(text: str, year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        pass
    if 1 <= month <= 12 and year:
        days = monthrange(year, month)[1]
        raise QuantityError(
            f"{quote(text)} is no day: {_LONG[month - 1].capitalize()} {year} has {days} days. Look at it again."
        )
    raise QuantityError(f"{quote(text)} is no day of any calendar. Look at day, month and year again.")
