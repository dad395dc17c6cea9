"""A reading before that no second one follows: dropped with a reason, and it counts as a reading by itself."""

from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.acts import dropping, onscale
from inventory.book import weighing
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross
from inventory.models import Begun, Entry, Movement, Weighing
from inventory.shelf.queries import on_the_scale

pytestmark = pytest.mark.django_db


def act(**more: Any) -> Act:
    return Act(key=uuid4(), actor="p-someone", occurred_at=timezone.now(), content={"a": "b"}, **more)


@pytest.fixture
def before(workshop: Any, cylinder: Any, scale: Any) -> Weighing:
    gross = Gross(cylinder, scale, 11_200_000, "11.2 kg")
    entry: Entry = onscale.weigh(workshop.book, act(), gross, Weighing.BEFORE, leg="charge")
    return entry.weighings.get()


def test_a_dropped_reading_stands_open_no_more_and_moves_nothing(workshop: Any, cylinder: Any, before: Any) -> None:
    moved = Movement.objects.count()
    entry = dropping.drop(workshop.book, act(remark="the visit was put off"), before)
    assert weighing.open_before(cylinder) is None
    assert not on_the_scale(workshop.book)
    assert Movement.objects.count() == moved
    assert (entry.kind, entry.seals) == (Entry.SEAL, before.entry.digest)
    assert entry.remarks.get().text == "the visit was put off"


def test_the_next_reading_begins_anew_and_what_moved_is_unexplained(
    workshop: Any, cylinder: Any, scale: Any, before: Any
) -> None:
    dropping.drop(workshop.book, act(), before)
    with pytest.raises(weighing.NoFirstReading):
        onscale.transfer(
            workshop.book, act(), source=cylinder, target=cylinder, before=None, after=Gross(cylinder, scale, 1, "1 mg")
        )
    onscale.weigh(workshop.book, act(), Gross(cylinder, scale, 10_900_000, "10.9 kg"), Weighing.BEFORE)
    assert Movement.objects.latest("pk").cause == "weighing-difference"
    assert Movement.objects.latest("pk").mass_mg == 300_000


def test_it_is_dropped_once_and_a_second_press_is_the_same_line(workshop: Any, before: Any) -> None:
    one = act()
    first = dropping.drop(workshop.book, one, before)
    assert dropping.drop(workshop.book, one, before) == first
    with pytest.raises(Refused):
        dropping.drop(workshop.book, act(), before)


def test_a_reading_that_another_followed_is_not_dropped(workshop: Any, cylinder: Any, scale: Any, before: Any) -> None:
    onscale.weigh(workshop.book, act(), Gross(cylinder, scale, 11_200_000, "11.2 kg"))
    with pytest.raises(Refused):
        dropping.drop(workshop.book, act(), before)
    assert not Begun.objects.filter(dropped__isnull=False).exists()


def test_what_was_dropped_behind_the_chain_is_a_fault(workshop: Any, before: Any) -> None:
    entry = dropping.drop(workshop.book, act(context=f"line:{before.entry.seq}"), before)
    assert [*dropping.faults(workshop.book)] == []
    Begun.objects.update(dropped=None)
    assert [str(fault) for fault in dropping.faults(workshop.book)] == [
        f"line {entry.seq}: drops a reading that is open again"
    ]
    Begun.objects.update(dropped=before.entry)
    assert "was dropped by a line that does not seal it" in str(next(dropping.faults(workshop.book)))
