"""How long something at a vehicle has run, and what is left of its planned length; the present is told, not read."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


@dataclass(frozen=True)
class Countdown:
    """What began at `started_at` and is planned to take `planned_s`, looked at `now`; both moments are aware.

    A moment before the start counts as the start itself: a clock that was put right does not run backwards.
    """

    started_at: datetime
    planned_s: float
    now: datetime

    @property
    def ran_s(self) -> int:
        """Whole seconds since the start, through any change of the clocks."""
        return max(0, int(since_s(self.started_at, self.now)))

    @property
    def left_s(self) -> int:
        """Whole seconds that are left, a begun one counted whole; below zero: over by so many."""
        return round(self.planned_s) - self.ran_s

    @property
    def is_time(self) -> bool:
        """Whether the planned length is over."""
        return self.left_s <= 0

    @property
    def ends_at(self) -> datetime:
        """When the planned length is over."""
        return self.started_at.astimezone(UTC) + timedelta(seconds=round(self.planned_s))

    @property
    def ran_words(self) -> str:
        """How long it has run: "12 min 05 s"."""
        return lasting(self.ran_s)

    @property
    def left_words(self) -> str:
        """What is left of it: "2 min 55 s left", or that it is time and how much it is over."""
        if not self.is_time:
            return f"{lasting(self.left_s)} left"
        return f"It is time, {lasting(-self.left_s)} over" if self.left_s else "It is time"


def since_s(earlier: datetime, later: datetime) -> float:
    """Return the seconds between two aware moments; those of one zone would be subtracted by their wall clocks."""
    return later.timestamp() - earlier.timestamp()


def lasting(seconds: int) -> str:
    """Return a length of time to the second: "40 s", "12 min 05 s", "1 h 02 min 05 s", "2 d 3 h 00 min 00 s"."""
    minutes, second = divmod(seconds, 60)
    hours, minute = divmod(minutes, 60)
    days, hour = divmod(hours, 24)
    if not minutes:
        return f"{second} s"
    if not hours:
        return f"{minute} min {second:02} s"
    return f"{f'{days} d ' if days else ''}{hour} h {minute:02} min {second:02} s"


def length(seconds: int) -> str:
    """Return a planned length without what it has none of: "15 min", "1 h 30 min", "2 d"."""
    minutes, second = divmod(seconds, 60)
    hours, minute = divmod(minutes, 60)
    days, hour = divmod(hours, 24)
    parts = ((days, "d"), (hour, "h"), (minute, "min"), (second, "s"))
    return " ".join(f"{number} {unit}" for number, unit in parts if number) or "0 s"
