"""The fifteen laws of the mass book, each under its number; where one is a law of arithmetic, against drawn acts.

The oracle is a plain counter: (account, refrigerant, grade) to milligrams, with grade only where it is stock.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.db.models import Sum
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.acts import away, describing, onscale, settling, undoing
from inventory.book import audit, differences, guards, ledger
from inventory.book.draft import Draft, Line
from inventory.book.refusals import (
    LedgerError,
    NotEnoughHeld,
    RequestKeyReused,
    TooMuchExplained,
    WrongLine,
    WrongTime,
)
from inventory.book.weighing import Gross
from inventory.models import Account, Entry, Holding, Movement, Weighing
from tests.inventory.book.lines import undo_line
from tests.inventory.book.stories import CONTENTS, EXAMPLES, FILLED, KG, TARE_MG, Story, stories


@contextmanager
def undone() -> Iterator[None]:
    """Take back what an example did; acts may open their own transaction inside."""
    block = transaction.atomic()
    block._from_testcase = True
    with block:
        yield
        transaction.set_rollback(True)


@pytest.fixture
def world(book: Any, make_account: Any, make_cylinder: Any, make_partner: Any, account: Any) -> dict[str, Account]:
    """Two empty cylinders, a hose, two vehicles, a supplier, and the single accounts, by name."""
    singles = {kind: account(kind) for kind in ("air", "unexplained")}
    return singles | {
        "full": make_cylinder("full").account,
        "spare": make_cylinder("spare").account,
        "rig": make_account("rig", "rig"),
        "car": make_account("vehicle", "car"),
        "bus": make_account("vehicle", "bus"),
        "supplier": make_partner().account,
    }


@settings(max_examples=2 * EXAMPLES)
@given(steps=stories)
def test_the_book_agrees_with_a_plain_counter(book, world, act, steps):
    """Laws 1, 2, 3, 6, 7 and 8 at once, over acts drawn at random: moved, refused, repeated, reversed."""
    with undone():
        story = Story(book, world, act)
        for step in (FILLED, *steps):
            story.play(step)
        assert story.holdings() == {key: mass for key, mass in story.oracle.held.items() if mass}
        assert [str(fault) for fault in audit.faults(book)] == []
        assert audit.count(book).entries == len(story.told)
        for code in {code for code, _ in CONTENTS}:
            assert sum(mass for (_, held, _), mass in story.holdings().items() if held == code) == 0
        seqs = Entry.objects.filter(book=book).order_by("seq").values_list("seq", flat=True)
        assert list(seqs) == list(range(1, len(story.told) + 1))


# 1. Per refrigerant the sum over all accounts is zero.  2. Every holding is the sum of its movements.


def test_1_and_2_hold_through_process_where_one_refrigerant_becomes_another(book, cylinder, act):
    describing.reidentify(book, act(), cylinder, refrigerant="MIXED", parts={"R-134a": "0.9", "R-12": "0.1"})
    sums = Holding.objects.filter(account__book=book).values("refrigerant").annotate(total=Sum("mass_mg"))
    assert {row["refrigerant"]: int(row["total"]) for row in sums} == {"R-134a": 0, "MIXED": 0}


# 3. A cylinder never holds less than nothing, nor two contents; the database itself refuses it.


@pytest.mark.tampers
def test_3_the_database_refuses_less_than_nothing_and_a_second_content(cylinder, vehicle_account, post):
    with pytest.raises(IntegrityError), transaction.atomic():
        Holding.objects.filter(account=cylinder.account).update(mass_mg=-1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Holding.objects.create(account=cylinder.account, refrigerant="R-12", grade="virgin", stock=True, mass_mg=1)
    post("late-recovery", vehicle_account, Account.objects.get(book=cylinder.account.book, kind="unexplained"), KG)
    assert Holding.objects.get(account=vehicle_account).mass_mg == -KG


# 4. After a weighing the holding is the reading's net, and the difference is one movement in the same entry.


@settings(max_examples=EXAMPLES)
@given(
    grosses=st.lists(st.integers(TARE_MG // 5_000, 16_000_000 // 5_000).map(lambda steps: steps * 5_000), max_size=6)
)
def test_4_after_a_weighing_the_holding_is_the_net_of_the_reading(book, cylinder, scale, act, held, grosses):
    with undone():
        before_mg = 5 * KG
        for gross_mg in grosses:
            entry = onscale.weigh(book, act(), Gross(cylinder, scale, gross_mg, f"{gross_mg} mg"))
            net_mg = gross_mg - TARE_MG
            assert sum(held(cylinder).values()) == net_mg
            moved = [
                (-1 if movement.source_id == cylinder.account_id else 1) * int(movement.mass_mg)
                for movement in entry.movements.filter(cause="weighing-difference")
            ]
            assert moved == ([net_mg - before_mg] if net_mg != before_mg else [])
            before_mg = net_mg
        assert [str(fault) for fault in audit.faults(book)] == []


def test_4_a_little_below_the_tare_is_nothing_and_more_is_refused(book, cylinder, scale, act, held):
    onscale.weigh(book, act(), Gross(cylinder, scale, TARE_MG - 5_000, "6195 g"))
    assert held(cylinder) == {}
    with pytest.raises(LedgerError, match="less than the empty mass"):
        onscale.weigh(book, act(), Gross(cylinder, scale, TARE_MG - 100_000, "6100 g"))


# 5. Weighings of a cylinder go forward in time; reversed ones do not count.


def test_5_weighings_go_forward_in_time_and_reversed_ones_do_not_count(book, cylinder, scale, act, now):
    reading = Gross(cylinder, scale, TARE_MG + 5 * KG, "11.2 kg")
    slip = onscale.weigh(book, act(at=now), reading)
    with pytest.raises(WrongTime, match="weighed later than that already"):
        onscale.weigh(book, act(at=now - timedelta(seconds=1)), reading)
    undoing.reverse(book, act(), slip)
    earlier = onscale.weigh(book, act(at=now - timedelta(seconds=1)), reading)
    last = ledger.last_weighing(cylinder.account)
    assert last is not None
    assert last.entry == earlier


# 6. Numbers have no gaps, also where acts were refused in between.


def test_6_a_refused_act_takes_no_number(cylinder, vehicle_account, post):
    with pytest.raises(NotEnoughHeld):
        post("charge", cylinder, vehicle_account, 6 * KG)
    assert post("charge", cylinder, vehicle_account, KG).seq == 2


# 7. One key is one entry.  8. One reversal.  See test_ledger; the database holds both as well.


@pytest.mark.tampers
def test_7_and_8_the_database_refuses_a_second_key_and_a_second_reversal(cylinder, vehicle_account, post, act):
    entry = post("charge", cylinder, vehicle_account, KG)
    reversal = undo_line(entry, act())
    guards.remove()  # so that the constraint answers, not the guard
    changes = ({"request_key": entry.request_key, "reverses": None, "kind": "post"}, {"request_key": uuid4()})
    for change in changes:
        copy = Entry.objects.get(pk=reversal.pk)
        copy.pk, copy.seq, copy._state.adding = None, 99, True
        for name, value in change.items():
            setattr(copy, name, value)
        with pytest.raises(IntegrityError), transaction.atomic():
            copy.save(force_insert=True)
    guards.install()


# 9. Explanations of a difference never exceed it.


@settings(max_examples=EXAMPLES)
@given(
    difference_mg=st.integers(1, KG),
    parts=st.lists(st.integers(1, KG), max_size=6),
    surplus=st.booleans(),
)
def test_9_explanations_never_exceed_a_difference(book, cylinder, world, post, difference_mg, parts, surplus):
    with undone():
        unexplained, full = world["unexplained"], cylinder.account
        ends = (unexplained, full) if surplus else (full, unexplained)
        difference: Movement = post("weighing-difference", *ends, difference_mg).movements.get()
        left = difference_mg
        for part in parts:
            how = (
                ("late-recovery", world["car"], unexplained) if surplus else ("late-charge", unexplained, world["car"])
            )
            if part <= left:
                post(*how, part, explains=difference)
                left -= part
            else:
                with pytest.raises(TooMuchExplained):
                    post(*how, part, explains=difference)
            assert differences.open_mg(difference) == (-left if surplus else left)
        assert [str(fault) for fault in audit.faults(book)] == []


# 10. Nothing counts for a closed day.


@settings(max_examples=EXAMPLES)
@given(closed_ago=st.integers(1, 400), days_ago=st.lists(st.integers(0, 500), min_size=1, max_size=5))
def test_10_nothing_counts_for_a_closed_day(book, cylinder, vehicle_account, post, act, now, closed_ago, days_ago):
    with undone():
        today = (now + timedelta(hours=2)).date()
        closed = today - timedelta(days=closed_ago)
        settling.close_through(book, act(), closed)
        for days in days_ago:
            entry = post("charge", cylinder, vehicle_account, 1, at=now - timedelta(days=days))
            happened_on = today - timedelta(days=days)
            assert entry.booked_on == (happened_on if happened_on > closed else today)
        assert not Movement.objects.filter(entry__seq__gt=2, booked_on__lte=closed).exists()
        assert [str(fault) for fault in audit.faults(book)] == []


def test_10_a_book_is_closed_forward_only(book, act, now):
    closed = now.date() - timedelta(days=20)
    settling.close_through(book, act(), closed)
    for day in (closed, closed - timedelta(days=1)):
        with pytest.raises(LedgerError, match="closed through"):
            settling.close_through(book, act(), day)


# 11. Append-only: test_guards.  13. Written is written: test_kill, test_concurrency.  15. Guards: test_guards.


def test_11_and_15_every_table_of_lines_is_guarded_against_each_way_of_change(db):
    ways = {"sqlite": {"update", "delete", "replace"}, "postgresql": {"update", "delete", "truncate"}}
    from django.db import connection

    for model in (Entry, Movement, Weighing):
        prefix = f"guard_{model._meta.db_table}_"
        standing = {name.removeprefix(prefix).split("_")[0] for name in guards.standing() if name.startswith(prefix)}
        assert standing == ways[connection.vendor]


# 12. A transfer to a sister workshop writes one entry in each book, the second holding the first one's digest.


@pytest.fixture
def sisters(book, sister_book, make_partner):
    there = make_partner("Highmoor", "sister workshop", sister=sister_book)
    here = make_partner("Port Ellery", "sister workshop", book=sister_book, sister=book)
    return there, here


def test_12_a_cylinder_moves_to_a_sister_in_two_entries_that_hold_together(
    book, sister_book, sisters, cylinder, scale, act, held
):
    asked = act()
    reading = Gross(cylinder, scale, TARE_MG + 5 * KG, "11.2 kg")
    out, into, twin = away.move_to_sister(asked, reading, *sisters)
    assert (out.book, into.book) == (book, sister_book)
    assert out.request_key == into.request_key
    assert into.seals == out.digest
    assert (held(cylinder), held(twin)) == ({}, {("R-134a", "virgin"): 5 * KG})
    again = away.move_to_sister(asked, reading, *sisters)
    assert again[:2] == (out, into)


def test_12_where_the_sister_cannot_take_it_nothing_left_here(book, sister_book, sisters, cylinder, scale, act, held):
    there, here = sisters
    asked = act()
    ledger.write(sister_book, act(asked.key, content={"another": "request"}), lambda draft: None)
    with pytest.raises(RequestKeyReused):
        away.move_to_sister(asked, Gross(cylinder, scale, TARE_MG + 5 * KG, "11.2 kg"), there, here)
    assert held(cylinder) == {("R-134a", "virgin"): 5 * KG}
    assert Entry.objects.filter(book=book).count() == 1


# 14. No movement names another book's account; process comes back to nothing.  See test_ledger.


@settings(max_examples=EXAMPLES)
@given(into=st.integers(1, 5 * KG), out=st.integers(1, 5 * KG))
def test_14_what_goes_into_the_process_comes_out_of_it(book, cylinder, make_cylinder, account, act, into, out):
    with undone():
        process, spare = account("process"), make_cylinder(grade="suspect").account

        def build(draft: Draft) -> None:
            draft.move(Line("regrade", cylinder.account, process, "R-134a", "virgin", into, "rest"))
            draft.move(Line("regrade", process, spare, "R-134a", "suspect", out, "rest"))

        if into == out:
            ledger.write(book, act(), build)
        else:
            with pytest.raises(WrongLine, match="did not all come out of it"):
                ledger.write(book, act(), build)
        assert [str(fault) for fault in audit.faults(book)] == []
