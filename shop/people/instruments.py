"""Checks of scales, gauges and other instruments, as their papers say."""

from datetime import date

from django.db import transaction

from inventory.models import Gauge, Scale
from shop.models import InstrumentCheck

LONGEST_YEARS = 10  # common practice, no source: no paper of a check promises as much


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
