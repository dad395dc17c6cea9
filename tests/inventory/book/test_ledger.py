"""What the book writes: lines, request keys, days and readings."""

import hashlib
import json
from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from inventory.book import ledger
from inventory.book.draft import Draft, Line, Reading
from inventory.book.refusals import (
    RequestKeyReused,
    WrongTime,
)
from inventory.models import Entry
from tests.inventory.book.lines import KG, line, refused, undo_line, write

# What is written


def test_a_charge_moves_mass_from_the_cylinder_to_the_vehicle(cylinder, vehicle_account, post, held):
    post("charge", cylinder, vehicle_account, 550_000)
    assert held(cylinder) == {("R-134a", "virgin"): 4_450_000}
    assert held(vehicle_account) == {("R-134a", ""): 550_000}


def test_an_entry_keeps_what_the_person_asked_and_both_times(book, cylinder, vehicle_account, act, now, clock):
    written_at = clock(now + timedelta(days=2, microseconds=1_999))
    asked = act(at=now, actor="p-someone", context="visit:7", remark="sheet 0217", content={"mass": "1 kg"})
    entry = write(book, asked, line(cylinder, vehicle_account))
    entry.refresh_from_db()
    assert (entry.occurred_at, entry.recorded_at) == (now, written_at.replace(microsecond=1_000))
    assert (entry.actor, entry.context, entry.request_digest) == ("p-someone", "visit:7", asked.digest)
    assert [remark.text for remark in entry.remarks.all()] == ["sheet 0217"]
    assert entry.is_late


def test_movement_uncertainty_is_kept_in_its_two_parts(book, cylinder, vehicle_account, act, scale):
    entry = write(
        book, act(), line(cylinder, vehicle_account, u_random_mg=3_000, u_span_mg=4_000, scale=scale, can_tell_mg=9)
    )
    movement = entry.movements.get()
    assert (movement.u_random_mg, movement.u_span_mg, movement.u_mg) == (3_000, 4_000, 5_000.0)
    assert (movement.scale, movement.can_tell_mg) == (scale, 9)


def test_a_regrade_passes_through_the_process_account(book, cylinder, account, act, held):
    process = account("process")
    entry = write(
        book,
        act(),
        Line("regrade", cylinder.account, process, "R-134a", "virgin", 5 * KG, "rest"),
        Line("regrade", process, cylinder.account, "R-134a", "suspect", 5 * KG, "rest"),
    )
    assert [movement.line for movement in entry.movements.order_by("line")] == [1, 2]
    assert held(cylinder) == {("R-134a", "suspect"): 5 * KG}


def test_a_later_line_of_a_draft_sees_what_the_earlier_ones_left(book, cylinder, vehicle_account, act, held):
    def build(draft: Draft) -> None:
        draft.move(line(cylinder, vehicle_account, mass_mg=5 * KG - 1))
        assert draft.content(cylinder.account) == ("R-134a", "virgin", 1)
        draft.move(line(cylinder, vehicle_account, mass_mg=1))
        assert draft.content(cylinder.account) is None

    ledger.write(book, act(), build)
    assert held(cylinder) == {}


def test_an_empty_cylinder_may_take_another_refrigerant(cylinder, vehicle_account, account, post, held):
    post("charge", cylinder, vehicle_account, 5 * KG)
    post("turned-up", account("unexplained"), cylinder, KG, refrigerant="R-12", grade="recovered")
    assert held(cylinder) == {("R-12", "recovered"): KG}


def test_the_digest_is_that_of_the_array_the_documentation_describes(book, cylinder, vehicle_account, scale, act, now):
    """Written out by hand, apart from the code: what an outsider with the rows alone would compute."""

    def build(draft: Draft) -> None:
        draft.read(Reading(cylinder.account, "before", 11_200_000, 6_200_000, 2_041, scale, "11.2 kg"))
        draft.move(line(cylinder, vehicle_account, u_random_mg=5, u_span_mg=6, scale=scale))

    first = Entry.objects.get(book=book)
    book.refresh_from_db()
    entry = ledger.write(book, act(context="visit:3"), build, seals="ab" * 32)
    entry.refresh_from_db()
    ms = int(now.timestamp()) * 1000
    recorded_ms = round(entry.recorded_at.timestamp() * 1000)
    facts = [
        "tarebook-1",
        first.digest,
        str(book.uid),
        2,
        "post",
        ms,
        recorded_ms,
        entry.booked_on.isoformat(),
        "p-technic",
        "visit:3",
        str(entry.request_key),
        entry.request_digest,
        0,
        "ab" * 32,
        [[1, "charge", "pair", "cylinder:5", "vehicle:6", "R-134a", "virgin", KG, 5, 6, scale.number, 0, 0, ""]],
        [[1, "cylinder:5", "before", 11_200_000, 6_200_000, 2_041, 5_000, scale.number, "11.2 kg"]],
        book.trace_digest,
    ]
    text = json.dumps(facts, ensure_ascii=True, separators=(",", ":"))
    assert entry.digest == hashlib.sha256(text.encode("ascii")).hexdigest()
    book.refresh_from_db()
    assert (book.head_seq, book.head_digest) == (2, entry.digest)


# The request key


def test_the_same_form_sent_twice_is_one_entry(book, cylinder, vehicle_account, post, held):
    key = uuid4()
    first = post("charge", cylinder, vehicle_account, KG, key=key)
    assert post("charge", cylinder, vehicle_account, KG, key=key) == first
    assert held(cylinder) == {("R-134a", "virgin"): 4 * KG}


def test_the_same_key_with_other_figures_is_refused(cylinder, vehicle_account, post):
    key = uuid4()
    post("charge", cylinder, vehicle_account, KG, key=key)
    with refused(RequestKeyReused, "already used for line 2, with other figures"):
        post("charge", cylinder, vehicle_account, KG + 1, key=key)


@pytest.mark.parametrize(
    "other", [{"actor": "p-another"}, {"context": "visit:9"}, {"remark": "again"}, {"content": {"mass": "2 kg"}}]
)
def test_any_part_of_the_request_tells_two_requests_apart(book, cylinder, vehicle_account, act, other):
    working = {"key": uuid4(), "content": {"mass": "1 kg"}, "context": "visit:8"}
    write(book, act(**working), line(cylinder, vehicle_account))
    with refused(RequestKeyReused, "already used"):
        write(book, act(**{**working, **other}), line(cylinder, vehicle_account))


def test_the_key_is_asked_before_the_book_is(cylinder, vehicle_account, post, held):
    """A repeated request is answered with its line even where the book would refuse it by now."""
    key = uuid4()
    first = post("charge", cylinder, vehicle_account, 5 * KG, key=key)
    assert held(cylinder) == {}
    assert post("charge", cylinder, vehicle_account, 5 * KG, key=key) == first


def test_a_key_of_one_kind_of_act_does_not_answer_another(book, cylinder, vehicle_account, act):
    asked = act(key=uuid4())
    entry = write(book, asked, line(cylinder, vehicle_account))
    with refused(RequestKeyReused, "already used"):
        undo_line(entry, asked)


def test_a_key_belongs_to_its_book(book, sister_book, cylinder, vehicle_account, act, make_cylinder, make_account):
    asked = act(key=uuid4())
    theirs = make_cylinder(mass_mg=KG, book=sister_book)
    ours = write(book, asked, line(cylinder, vehicle_account))
    other = write(sister_book, asked, line(theirs, make_account("vehicle", "", sister_book)))
    assert ours != other
    assert ours.request_key == other.request_key


def test_derived_acts_have_keys_of_their_own_that_repeat(act):
    asked = act(content={"mass": "1 kg"})
    parts = [asked.derived("residue"), asked.derived("road")]
    assert len({asked.key, *(part.key for part in parts)}) == 3
    assert asked.derived("residue") == parts[0]
    assert parts[0].digest != asked.digest


# Times and days


def test_five_minutes_ahead_is_a_clock_and_more_is_not(cylinder, vehicle_account, post, now, clock):
    clock(now)
    post("charge", cylinder, vehicle_account, 1, at=now + timedelta(minutes=5))
    with refused(WrongTime, "has not come yet"):
        post("charge", cylinder, vehicle_account, 1, at=now + timedelta(minutes=5, milliseconds=1))


def test_times_are_cut_to_whole_milliseconds(cylinder, vehicle_account, post, now):
    moment = now - timedelta(hours=1) + timedelta(microseconds=123_999)
    entry = post("charge", cylinder, vehicle_account, 1, at=moment)
    assert Entry.objects.get(pk=entry.pk).occurred_at.microsecond == 123_000


@pytest.mark.parametrize("year", [1, 1969])
def test_a_year_before_the_book_can_count_is_refused(cylinder, vehicle_account, post, year):
    with refused(WrongTime, f"The year {year} is too long ago"):
        post("charge", cylinder, vehicle_account, 1, at=datetime(year, 1, 1, tzinfo=UTC))


def test_half_past_midnight_of_new_year_belongs_to_the_new_year(cylinder, vehicle_account, post, clock):
    clock(datetime(2026, 1, 2, tzinfo=UTC))
    entry = post("charge", cylinder, vehicle_account, 1, at=datetime(2025, 12, 31, 22, 30, tzinfo=UTC))
    assert entry.booked_on == date(2026, 1, 1)
    assert entry.movements.get().booked_on == date(2026, 1, 1)
    before = post("charge", cylinder, vehicle_account, 1, at=datetime(2025, 12, 31, 21, 59, 59, 999_000, tzinfo=UTC))
    assert before.booked_on == date(2025, 12, 31)


def close(book, act, day: date) -> Entry:
    """Close as the act does: the day stands in the chain and then in the book."""

    def build(draft: Draft) -> None:
        draft.context = f"{ledger.CLOSED}{day}"

    entry = ledger.write(book, act(), build, kind=Entry.CLOSE)
    book.refresh_from_db()
    book.closed_through = day
    book.save(update_fields=["closed_through"])
    return entry


def test_what_happened_on_a_closed_day_counts_on_the_day_of_writing(book, cylinder, vehicle_account, post, act, now):
    today = now.astimezone(UTC).date()
    close(book, act, today - timedelta(days=10))
    late = post("charge", cylinder, vehicle_account, 1, at=now - timedelta(days=12))
    open_day = post("charge", cylinder, vehicle_account, 1, at=now - timedelta(days=8))
    local = (now + timedelta(hours=2)).date()
    assert (late.booked_on, open_day.booked_on) == (local, local - timedelta(days=8))
    assert late.occurred_at == now - timedelta(days=12)


def test_late_lines_can_be_listed(book, cylinder, vehicle_account, post, now):
    at_once = post("charge", cylinder, vehicle_account, 1, at=now - timedelta(hours=23))
    late = post("charge", cylinder, vehicle_account, 1, at=now - timedelta(days=40))
    assert [entry.is_late for entry in (at_once, late)] == [False, True]


def test_a_clock_put_back_behind_a_closed_day_stops_the_writing(book, cylinder, vehicle_account, post, act, now, clock):
    close(book, act, now.date() - timedelta(days=3))
    put_back = clock(now - timedelta(days=5))
    with refused(WrongTime, "by this clock, and the book is closed through"):
        post("charge", cylinder, vehicle_account, 1, at=put_back)


# Weighings


def weighed(book, act, cylinder, scale, gross_mg: int, at=None) -> Entry:
    reading = Reading(cylinder.account, "check", gross_mg, 6_200_000, 2_041, scale, f"{gross_mg} mg")
    return ledger.write(book, act(at=at), lambda draft: draft.read(reading), kind=Entry.WEIGH)


def test_the_last_weighing_skips_reversed_ones(book, cylinder, scale, act):
    assert ledger.last_weighing(cylinder.account) is None
    weighed(book, act, cylinder, scale, 11_200_000)
    slip = weighed(book, act, cylinder, scale, 12_100_000)
    assert ledger.last_weighing(cylinder.account).gross_mg == 12_100_000
    undo_line(slip, act())
    assert ledger.last_weighing(cylinder.account).gross_mg == 11_200_000


# Opening things


def test_accounts_and_scales_are_numbered_within_their_book(book, sister_book, make_account, make_scale):
    assert [account.reference for account in book.accounts.order_by("number")] == [
        "air:1",
        "unexplained:2",
        "opening:3",
        "process:4",
    ]
    assert [make_account("vehicle").number, make_account("partner").number] == [5, 6]
    assert make_account("vehicle", "", sister_book).number == 5
    assert [make_scale("S1").number, make_scale("S2").number, make_scale("S1", book=sister_book).number] == [1, 2, 1]


def test_a_second_single_account_is_impossible(book):
    with pytest.raises(IntegrityError), transaction.atomic():
        ledger.open_account(book, "air", "another air")
