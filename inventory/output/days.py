"""Days and moments in words, in the zone in force."""

from datetime import date, datetime

from django.template.defaultfilters import date as format_date
from django.utils import timezone

from inventory.measure.own import METRIC, Units

NOT_ENTERED = "not entered"
PROSE = {"mdy": "F j, Y"}


def day(value: date | datetime | None, units: Units = METRIC) -> str:
    """Return a day as in tables: 2026-03-04, or as who reads it has chosen."""
    return NOT_ENTERED if value is None else units.day_said(_local(value))


def day_said(value: date | datetime | None, units: Units = METRIC) -> str:
    """Return a day as in prose: 4 March 2026, or March 4, 2026."""
    return NOT_ENTERED if value is None else format_date(_local(value), PROSE.get(units.days, "j F Y"))


def when(value: datetime | None, units: Units = METRIC) -> str:
    """Return a moment in the workshop's zone: 2026-03-04 10:58, its day as who reads it has chosen."""
    return NOT_ENTERED if value is None else f"{day(value, units)} {clock(value)}"


def clock(value: datetime | None) -> str:
    """Return the time of day in the workshop's zone: 10:58."""
    return NOT_ENTERED if value is None else f"{timezone.localtime(value):%H:%M}"


def ends(value: date | None, units: Units = METRIC, *, today: date | None = None) -> str:
    """Return how long something is good: "good until 9 March 2026", "runs out in 12 days", "ran out 3 days ago"."""
    if value is None:
        return "never entered"
    left = (value - (today or timezone.localdate())).days
    if left < 0:
        return f"ran out {-left} day{'' if left == -1 else 's'} ago"
    if left == 0:
        return "runs out today"
    return f"runs out in {left} day{'' if left == 1 else 's'}" if left <= 30 else f"good until {day_said(value, units)}"


def ago(value: datetime, *, today: date | None = None) -> str:
    """Return how long ago a moment was: "today", "yesterday", "12 days ago"."""
    days = ((today or timezone.localdate()) - _local(value)).days
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago") if days >= 0 else "after today by this clock"


def _local(value: date | datetime) -> date:
    return timezone.localtime(value).date() if isinstance(value, datetime) else value
