"""An open reading before is dropped: it stands by itself from then on, and no second reading is waited for."""

from collections.abc import Iterator

from django.db import transaction
from django.db.models import F, Q

from inventory.book import ledger, weighing
from inventory.book.audit import Fault
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.models import Begun, Book, Entry, Weighing

CONTEXT = "line:"  # of the line that drops a reading: the number of that reading's line


def drop(book: Book, act: Act, before: Weighing) -> Entry:
    """Write a line that drops an open reading before. Nothing moves; what has moved shows at the next reading.

    The line seals the digest of the reading's line; `act` carries the reason as its remark. Raises Refused where the
    reading stands open no more.
    """
    with transaction.atomic(durable=True):
        locked = ledger.lock(book)
        known = Entry.objects.filter(book=locked, request_key=act.key).exists()
        open_yet = weighing.open_before(before.account.cylinder)
        if not known and (open_yet is None or open_yet.pk != before.pk):
            raise Refused(f"{before.account} is not open on the scale by that reading any more.")
        entry = ledger.write_locked(locked, act, lambda _: None, kind=Entry.SEAL, seals=before.entry.digest)
        Begun.objects.update_or_create(weighing=before, defaults={"dropped": entry})
        return entry


def faults(book: Book, using: str = "default") -> Iterator[Fault]:
    """Yield the readings of a book that were dropped by no line, or by one that does not seal them."""
    rows = Begun.objects.using(using).filter(weighing__entry__book=book, dropped__isnull=False)
    sealed = Q(dropped__seals=F("weighing__entry__digest"), dropped__book=book, dropped__kind=Entry.SEAL)
    for one in rows.exclude(sealed, weighing__role=Weighing.BEFORE).select_related("weighing__entry"):
        yield Fault(f"reading of line {one.weighing.entry.seq}", "was dropped by a line that does not seal it")
    lines = Entry.objects.using(using).filter(book=book, kind=Entry.SEAL, context__startswith=CONTEXT)
    for seq in lines.filter(drops__isnull=True).order_by("seq").values_list("seq", flat=True):
        yield Fault(f"line {seq}", "drops a reading that is open again")
