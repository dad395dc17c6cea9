"""Days and moments in words, in the zone in force: each as who reads it has chosen."""

from datetime import date, datetime

from django.utils import timezone

from inventory.measure.own import METRIC, Units

NOT_ENTERED = "not entered"


def day(value: date | datetime | None, units: Units = METRIC) -> str:
    """Return a day: 2026-03-04, 4 Mar 2026 or Mar 4, 2026."""
    return NOT_ENTERED if value is None else units.day_said(_local(value))


def when(value: datetime | None, units: Units = METRIC) -> str:
    """Return a moment in the workshop's zone: 2026-03-04 14:05 or Mar 4, 2026 2:05 PM."""
    return NOT_ENTERED if value is None else units.when_said(timezone.localtime(value))


def clock(value: datetime | None, units: Units = METRIC) -> str:
    """Return the time of day in the workshop's zone: 14:05 or 2:05 PM."""
    return NOT_ENTERED if value is None else units.clock_said(timezone.localtime(value))


def to_the_second(value: datetime, units: Units = METRIC) -> str:
    """Return the time of day in the workshop's zone to the second: 14:05:30 or 2:05:30 PM."""
    return units.clock_said(timezone.localtime(value), seconds=True)


def ends(value: date | None, units: Units = METRIC, *, today: date | None = None) -> str:
    """Return how long something is good: "good until 9 Mar 2026", "runs out in 12 days", "ran out 3 days ago"."""
    if value is None:
        return "never entered"
    left = (value - (today or timezone.localdate())).days
    if left < 0:
        return f"ran out {-left} day{'' if left == -1 else 's'} ago"
    if left == 0:
        return "runs out today"
    return f"runs out in {left} day{'' if left == 1 else 's'}" if left <= 30 else f"good until {day(value, units)}"


def ago(value: datetime, *, today: date | None = None) -> str:
    """Return how long ago a moment was: "today", "yesterday", "12 days ago"."""
    days = ((today or timezone.localdate()) - _local(value)).days
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago") if days >= 0 else "after today by this clock"


def _local(value: date | datetime) -> date:
    return timezone.localtime(value).date() if isinstance(value, datetime) else value
