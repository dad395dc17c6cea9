"""Many entries appended at once are what they would be one by one: digests, holdings and totals."""

from datetime import timedelta
from uuid import UUID

from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.book import ledger
from inventory.book.draft import Draft, Line, Reading
from inventory.book.holdings import Balances
from inventory.book.rows import Written
from inventory.models import Book, Entry, Holding, Movement, PeriodTotal, Weighing
from tests.inventory.book.lines import untraced_digests

ACTS = st.lists(st.tuples(st.integers(1, 40_000), st.integers(0, 2), st.integers(0, 400)), min_size=1, max_size=12)


def said(book: Book) -> list[object]:
    """Return all that the book says, without the keys that a database gives."""
    entries = [*Entry.objects.filter(book=book).order_by("seq").values_list("seq", "booked_on")]
    facts = ("entry__seq", "line", "mass_mg", "booked_on", "scale", "u_random_mg", "reversal", "explains")
    moved = [*Movement.objects.filter(book=book).order_by("entry__seq", "line").values_list(*facts)]
    read = [*Weighing.objects.filter(entry__book=book).order_by("entry__seq", "line").values_list("entry__seq", "role")]
    held = sorted(Holding.objects.filter(account__book=book).values_list("account", "refrigerant", "grade", "mass_mg"))
    sums = ("whole_month", "begins_on", "cause", "mass_mg", "random_sq", "span_mg", "lines")
    totals = sorted(PeriodTotal.objects.filter(book=book).values_list(*sums))
    head = Book.objects.filter(pk=book.pk).values_list("head_seq").get()
    return [entries, untraced_digests(book), moved, read, held, totals, head]


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(acts=ACTS)
def test_many_entries_at_once_are_those_written_one_by_one(
    acts, book, cylinder, vehicle_account, scale, act, clock, now
):
    clock(now)

    def lines(mass_mg: int, readings: int) -> tuple[list[Line], list[Reading]]:
        ends = (cylinder.account, vehicle_account, "R-134a", "virgin")
        charge = Line("charge", *ends, mass_mg, "pair", 2_041, 577, scale)
        return [charge], [Reading(cylinder.account, "check", 9_000_000, 6_200_000, 2_041, scale, "9 kg")] * readings

    asked = [
        (act(key=UUID(int=number), at=now - timedelta(days=days)), *lines(mass_mg, readings))
        for number, (mass_mg, readings, days) in enumerate(acts, start=1)
    ]

    def one_by_one() -> None:
        for one, moved, read in asked:

            def build(draft: Draft, moved: list[Line] = moved, read: list[Reading] = read) -> None:
                for reading in read:
                    draft.read(reading)
                for line in moved:
                    draft.move(line)

            ledger.write(book, one, build)

    def at_once() -> None:
        locked, balances, written = ledger.lock(book), Balances(), []
        for one, moved, read in asked:
            occurred_at, recorded_at = ledger.moments(one.occurred_at)
            entry = Entry(
                book=locked,
                kind=Entry.POST,
                occurred_at=occurred_at,
                recorded_at=recorded_at,
                booked_on=ledger.booked_day(locked, occurred_at, recorded_at),
                actor=one.actor,
                context=one.context,
                request_key=one.key,
                request_digest=one.digest,
            )
            for line in moved:
                balances.apply(line)
            written.append(Written(entry, [*enumerate(moved, 1)], [*enumerate(read, 1)]))
        ledger.append(locked, written, balances)

    found = []
    for write in (one_by_one, at_once):
        with transaction.atomic():
            write()
            found.append(said(book))
            transaction.set_rollback(True)
    assert found[0] == found[1]
    assert len(found[0][0]) > len(acts)
