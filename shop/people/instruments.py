"""Checks of scales, gauges and other instruments, as their papers say."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import transaction

from inventory.models import Book, Gauge, Scale
from shop.models import InstrumentCheck

LONGEST_YEARS = 10  # common practice, no source: no paper of a check promises as much

SOON = timedelta(days=30)


@dataclass(frozen=True)
class Due:
    """An instrument in use and when its check ends, None where none was entered; `key` names it in a form."""

    instrument: Scale | Gauge
    until: date | None

    def is_past(self, today: date) -> bool:
        """Whether its check has run out, or none was ever entered."""
        return self.until is None or self.until < today

    @property
    def key(self) -> str:
        return f"{'scale' if isinstance(self.instrument, Scale) else 'gauge'}-{self.instrument.pk}"

    @property
    def name(self) -> str:
        kind = "scale" if isinstance(self.instrument, Scale) else self.instrument.kind
        return f"{kind.capitalize()} {self.instrument}"


def due_for_check(book: Book, today: date) -> list[Due]:
    """Return the instruments in use whose check was never entered, has run out or does so soon, in that order."""
    due = [one for one in in_use(book) if one.until is None or one.until <= today + SOON]
    return sorted(due, key=lambda one: one.until or date.min)


def in_use(book: Book) -> list[Due]:
    """Return the instruments in use, each with the day on which its check ends."""
    scales, gauges = (model._default_manager.filter(book=book, retired=False) for model in (Scale, Gauge))
    return [Due(one, one.calibrated_until) for one in (*scales, *gauges)]


def enter_checks(
    instruments: Iterable[Scale | Gauge], *, checked_on: date, until: date, by: str, paper: str, actor: str
) -> int:
    """Write one check of several instruments, of all or of none; return of how many."""
    with transaction.atomic():
        facts = {"checked_on": checked_on, "until": until}
        return len([enter_check(one, **facts, by=by, paper=paper, actor=actor) for one in instruments])


def enter_check(
    instrument: Scale | Gauge, *, checked_on: date, until: date, by: str, paper: str, actor: str
) -> InstrumentCheck:
    """Write that an instrument was checked, and until when that holds; the same check twice is one.

    A check that ends before the one that holds is kept too, and changes nothing of it.
    """
    which = {"scale": instrument} if isinstance(instrument, Scale) else {"gauge": instrument}
    with transaction.atomic():
        now = type(instrument).objects.select_for_update().get(pk=instrument.pk)
        check, _ = InstrumentCheck.objects.get_or_create(
            **which, checked_on=checked_on, until=until, defaults={"by": by, "paper": paper, "actor": actor}
        )
        if now.calibrated_until is None or now.calibrated_until < until:
            type(instrument).objects.filter(pk=now.pk).update(calibrated_until=until)
    return check
