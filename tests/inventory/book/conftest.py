"""A book with one of everything, for the tests of the proof."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from inventory.book import audit, guards, ledger
from inventory.book.draft import Draft, Line, Reading
from inventory.models import Book, Entry
from tests.inventory.book.lines import undo_line

KG = 1_000_000


@pytest.fixture
def story(book, make_cylinder, make_account, make_scale, account, post, act, now) -> Book:
    """A book with one of everything: readings, a regrade, a difference with its explanation, a reversal, a close."""
    first, second = make_cylinder(mass_mg=5 * KG), make_cylinder(grade="suspect")
    car, scale = make_account("vehicle", "a car"), make_scale()
    make_account("vehicle", "a car without lines")
    make_scale("S2", 2_000)
    unexplained, air, process = account("unexplained"), account("air"), account("process")

    def charge(draft: Draft) -> None:
        draft.read(Reading(first.account, "before", 11_200_000, 6_200_000, 2_041, scale, "11.2 kg"))
        draft.read(Reading(first.account, "after", 10_200_000, 6_200_000, 2_041, scale, "10.2 kg"))
        draft.move(Line("charge", first.account, car, "R-134a", "virgin", KG, "pair", 2_041, 577, scale, can_tell_mg=4))

    def regrade(draft: Draft) -> None:
        draft.move(Line("regrade", first.account, process, "R-134a", "virgin", KG, "rest"))
        draft.move(Line("regrade", process, second.account, "R-134a", "suspect", KG, "rest"))

    ledger.write(book, act(context="visit:1"), charge, seals="ef" * 32)
    ledger.write(book, act(), regrade)
    difference = post("weighing-difference", first, unexplained, 180_000).movements.get()
    post("loss-explained", unexplained, air, 100_000, explains=difference)
    undo_line(post("charge", first, car, 500_000), act())
    day = now.date() - timedelta(days=30)

    def close(draft: Draft) -> None:
        draft.context = f"{ledger.CLOSED}{day}"

    ledger.write(book, act(), close, kind=Entry.CLOSE)
    book.refresh_from_db()
    book.closed_through = day
    book.save(update_fields=["closed_through"])
    post("charge", first, car, 250_000, at=now - timedelta(days=40))
    assert [str(fault) for fault in audit.faults(book)] == []
    book.refresh_from_db()
    return book


@pytest.fixture
def guards_off(story) -> Iterator[None]:
    guards.remove()
    yield
    guards.install()
