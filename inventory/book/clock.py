"""What the book takes for the present: now, except while an invented year is played on its own days."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime

from django.utils import timezone

_played: ContextVar[datetime | None] = ContextVar("played", default=None)


def now() -> datetime:
    """Return the moment at which a line is being written."""
    return _played.get() or timezone.now()


@contextmanager
def played_at(moment: datetime) -> Iterator[None]:
    """Let the book take `moment` for the present: for an invented year alone, since a real line says when it came."""
    before = _played.set(moment)
    try:
        yield
    finally:
        _played.reset(before)
