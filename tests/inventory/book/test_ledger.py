"""What the book writes, and what it refuses with a sentence and without a trace."""

import hashlib
import json
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from inventory import causes
from inventory.book import differences, ledger
from inventory.book.draft import Draft, Line, Reading, check_line
from inventory.book.refusals import (
    LedgerError,
    NotEnoughHeld,
    NotReversible,
    RequestKeyReused,
    TooMuchExplained,
    WouldMix,
    WrongLine,
    WrongTime,
)
from inventory.models import Account, Entry, Holding, Movement, Weighing

KG = 1_000_000


@contextmanager
def refused(error: type[LedgerError], match: str):
    """Expect a refusal that leaves no row behind."""
    before = [Entry.objects.count(), Movement.objects.count(), Weighing.objects.count(), [*Holding.objects.values()]]
    with pytest.raises(error, match=match):
        yield
    after = [Entry.objects.count(), Movement.objects.count(), Weighing.objects.count(), [*Holding.objects.values()]]
    assert after == before


def line(cylinder, vehicle, **changes) -> Line:
    charge = Line("charge", cylinder.account, vehicle, "R-134a", "virgin", KG, "pair")
    return replace(charge, **changes)


def write(book, act, *lines, **how) -> Entry:
    def build(draft: Draft) -> None:
        for one in lines:
            draft.move(one)

    return ledger.write(book, act, build, **how)


def is_refused_as_wrong(words: str) -> AbstractContextManager[object]:
    return refused(WrongLine, words)


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
    ]
    text = json.dumps(facts, ensure_ascii=True, separators=(",", ":"))
    assert entry.digest == hashlib.sha256(text.encode("ascii")).hexdigest()
    book.refresh_from_db()
    assert (book.head_seq, book.head_digest) == (2, entry.digest)


# What is refused


def test_more_than_a_cylinder_holds_does_not_leave_it(cylinder, vehicle_account, post):
    with refused(NotEnoughHeld, r"C-1 holds 5\.000 kg R-134a virgin; 5\.000 kg R-134a virgin cannot leave"):
        post("charge", cylinder, vehicle_account, 5 * KG + 1)


def test_what_a_cylinder_never_held_does_not_leave_it(cylinder, vehicle_account, post):
    with refused(NotEnoughHeld, "C-1 holds 5.000 kg R-134a virgin; 1.000 kg R-12 virgin cannot leave it"):
        post("charge", cylinder, vehicle_account, KG, refrigerant="R-12")


@pytest.mark.parametrize(("refrigerant", "grade"), [("R-12", "recovered"), ("R-134a", "recycled")])
def test_neither_refrigerants_nor_grades_are_mixed(cylinder, vehicle_account, post, refrigerant, grade):
    with refused(WouldMix, "C-1 holds R-134a virgin; .* would be mixed into it. Use another cylinder"):
        post("recovery", vehicle_account, cylinder, KG, refrigerant=refrigerant, grade=grade)


def test_a_rig_is_stock_and_holds_no_less_than_nothing(cylinder, make_account, post, vehicle_account, held):
    rig = make_account("rig", "blue hose")
    post("rig-filled", cylinder, rig, 80_000)
    assert held(rig) == {("R-134a", "virgin"): 80_000}
    with refused(NotEnoughHeld, "blue hose holds"):
        post("rig-cleared", rig, vehicle_account, 80_001)


def test_other_accounts_may_go_below_nothing(vehicle_account, make_cylinder, post, held, partner):
    post("recovery", vehicle_account, make_cylinder(grade="recovered"), KG, grade="recovered")
    assert held(vehicle_account) == {("R-134a", ""): -KG}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"cause": "gift"}, "'gift' is not a cause of movements"),
        ({"cause": "purchase"}, "purchase does not run from cylinder to vehicle"),
        ({"basis": "declared"}, "charge cannot stand on the basis 'declared'; it may be count or machine or pair"),
        ({"grade": "fine"}, "'fine' is not a grade; it may be virgin"),
        ({"grade": ""}, "'' is not a grade"),
        ({"refrigerant": "R-9999"}, "R-9999"),
        ({"mass_mg": 0}, "more than nothing"),
        ({"mass_mg": -1}, "more than nothing"),
        ({"mass_mg": 1.5}, "a whole number of milligrams"),
        ({"mass_mg": 10**12 + 1}, "more than a thousand tonnes"),
    ],
)
def test_a_line_outside_the_closed_lists_is_refused(book, cylinder, vehicle_account, act, changes, words):
    with is_refused_as_wrong(words):
        write(book, act(), line(cylinder, vehicle_account, **changes))


def test_every_cause_runs_its_own_routes_and_no_other(book, make_account, act):
    """All causes against all pairs of kinds: 38 causes, 64 pairs."""
    ends = {}
    for kind in causes.ACCOUNT_KINDS:
        single = kind in causes.SINGLE_KINDS
        ends[kind] = Account.objects.get(book=book, kind=kind) if single else make_account(kind)
    others = {kind: make_account(kind) for kind in causes.ACCOUNT_KINDS if kind not in causes.SINGLE_KINDS}
    for cause in causes.CAUSES.values():
        for giver in causes.ACCOUNT_KINDS:
            for taker in causes.ACCOUNT_KINDS:
                target = others[taker] if taker == giver and taker in others else ends[taker]
                tried = Line(cause.name, ends[giver], target, "R-134a", "virgin", 1, min(cause.bases))
                if (giver, taker) in cause.routes:
                    check_line(book, tried)
                else:
                    with pytest.raises(WrongLine, match="does not run"):
                        check_line(book, tried)


def test_the_closed_list_has_the_38_causes_and_each_runs_somewhere():
    assert len(causes.CAUSES) == 38
    assert all(cause.routes and cause.bases for cause in causes.CAUSES.values())
    assert {kind for cause in causes.CAUSES.values() for route in cause.routes for kind in route} == set(
        causes.ACCOUNT_KINDS
    )


def test_nothing_moves_from_an_account_to_itself(book, cylinder, act):
    with is_refused_as_wrong("between two accounts"):
        write(book, act(), Line("transfer", cylinder.account, cylinder.account, "R-134a", "virgin", 1, "pair"))


def test_no_line_leaves_its_book(book, sister_book, cylinder, make_account, act):
    strange = make_account("vehicle", "their car", sister_book)
    with is_refused_as_wrong("stays within its book"):
        write(book, act(), line(cylinder, strange))
    with is_refused_as_wrong("stays within its book"):
        write(sister_book, act(), line(cylinder, strange))


def test_no_line_names_a_scale_of_another_book(book, sister_book, cylinder, vehicle_account, make_scale, act):
    with is_refused_as_wrong("scale of its own book"):
        write(book, act(), line(cylinder, vehicle_account, scale=make_scale("S9", book=sister_book)))


def test_what_goes_into_the_process_comes_out_of_it(book, cylinder, account, act):
    gone = Line("regrade", cylinder.account, account("process"), "R-134a", "virgin", KG, "rest")
    back = Line("regrade", account("process"), cylinder.account, "R-134a", "virgin", KG - 1, "rest")
    for lines in ([gone], [gone, back]):
        with is_refused_as_wrong("did not all come out of it"):
            write(book, act(), *lines)


def test_a_weighing_is_of_a_cylinder_and_on_a_scale_of_the_book(
    book, sister_book, cylinder, vehicle_account, make_account, make_scale, scale, act
):
    working = Reading(cylinder.account, "check", 11_200_000, 6_200_000, 2_041, scale, "11.2 kg")
    wrong = {
        "stays within its book": {"account": make_account("cylinder", "theirs", sister_book)},
        "stays within": {"scale": make_scale("S9", book=sister_book)},
        "A vehicle is not weighed": {"account": vehicle_account},
        "less than nothing": {"gross_mg": -1},
        "more than a thousand tonnes": {"gross_mg": 10**12 + 1},
    }
    for words, change in wrong.items():
        with is_refused_as_wrong(words):
            ledger.write(book, act(), lambda draft, change=change: draft.read(replace(working, **change)))
    assert ledger.write(book, act(), lambda draft: draft.read(working)).weighings.count() == 1


def test_a_refused_line_takes_the_whole_entry_with_it(book, cylinder, vehicle_account, act):
    with refused(NotEnoughHeld, "cannot leave"):
        write(book, act(), line(cylinder, vehicle_account), line(cylinder, vehicle_account, mass_mg=5 * KG))


def test_an_act_that_fails_after_its_entry_leaves_nothing(book, cylinder, vehicle_account, act):
    def build(draft: Draft) -> None:
        draft.move(line(cylinder, vehicle_account))
        draft.then(lambda entry: (_ for _ in ()).throw(WrongLine("too late")))

    with refused(WrongLine, "too late"):
        ledger.write(book, act(remark="a note"), build)


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
        ledger.reverse(entry, asked)


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


# Reversals


def test_a_reversal_has_the_same_accounts_and_negative_masses(cylinder, vehicle_account, post, act, held):
    entry = post("charge", cylinder, vehicle_account, KG, u_random_mg=7, u_span_mg=9)
    reversal = ledger.reverse(entry, act())
    assert (reversal.kind, reversal.reverses) == (Entry.REVERSE, entry)
    old, new = entry.movements.get(), reversal.movements.get()
    assert (new.source, new.target, new.mass_mg) == (old.source, old.target, -old.mass_mg)
    assert (new.cause, new.basis, new.u_random_mg, new.u_span_mg, new.reversal) == ("charge", old.basis, 7, 9, True)
    assert held(cylinder) == {("R-134a", "virgin"): 5 * KG}
    assert held(vehicle_account) == {}


def test_a_reversal_undoes_the_last_line_first(book, cylinder, account, act, held):
    process = account("process")
    entry = write(
        book,
        act(),
        Line("regrade", cylinder.account, process, "R-134a", "virgin", 5 * KG, "rest"),
        Line("regrade", process, cylinder.account, "R-134a", "suspect", 5 * KG, "rest"),
    )
    reversal = ledger.reverse(entry, act())
    assert [movement.grade for movement in reversal.movements.order_by("line")] == ["suspect", "virgin"]
    assert held(cylinder) == {("R-134a", "virgin"): 5 * KG}


def test_an_entry_is_reversed_once(cylinder, vehicle_account, post, act):
    entry = post("charge", cylinder, vehicle_account, KG)
    ledger.reverse(entry, act())
    with refused(NotReversible, "reversed already, by line 3"):
        ledger.reverse(entry, act())


def test_the_same_reversal_sent_twice_is_one_and_for_another_line_is_refused(cylinder, vehicle_account, post, act):
    first, second = (post("charge", cylinder, vehicle_account, KG) for _ in range(2))
    asked = act(key=uuid4())
    assert ledger.reverse(first, asked) == ledger.reverse(first, asked)
    with refused(RequestKeyReused, "already used"):
        ledger.reverse(second, asked)


def test_a_reversal_is_not_reversed(cylinder, vehicle_account, post, act):
    reversal = ledger.reverse(post("charge", cylinder, vehicle_account, KG), act())
    with refused(NotReversible, "Line 3 is a reverse; it is not reversed"):
        ledger.reverse(reversal, act())


@pytest.mark.parametrize("kind", [Entry.CLOSE, Entry.SEAL])
def test_a_close_or_a_seal_is_not_reversed(book, act, kind):
    entry = ledger.write(book, act(), lambda draft: None, kind=kind, seals="cd" * 32)
    with refused(NotReversible, f"is a {kind}; it is not reversed"):
        ledger.reverse(entry, act())


def test_what_is_not_there_any_more_is_not_taken_back(cylinder, make_cylinder, vehicle_account, post, act):
    second = make_cylinder()
    moved = post("transfer", cylinder, second, KG)
    post("charge", second, vehicle_account, 1_000)
    with refused(NotEnoughHeld, r"C-2 holds 0\.999 kg R-134a virgin; 1\.000 kg R-134a virgin cannot leave it"):
        ledger.reverse(moved, act())


def test_a_reversal_that_would_mix_is_refused(cylinder, vehicle_account, account, post, act):
    charged = post("charge", cylinder, vehicle_account, 5 * KG)
    post("turned-up", account("unexplained"), cylinder, KG, refrigerant="R-12", grade="recovered")
    with refused(WouldMix, "C-1 holds R-12 recovered"):
        ledger.reverse(charged, act())


def test_a_line_of_another_book_is_not_reversed_here(book, sister_book, cylinder, vehicle_account, post, act):
    entry = post("charge", cylinder, vehicle_account, KG)
    with refused(NotReversible, "another book"):
        ledger.reverse_locked(sister_book, entry, act())


# Differences and what explains them


@pytest.fixture
def missing_180g(cylinder, account, post) -> Movement:
    return post("weighing-difference", cylinder, account("unexplained"), 180_000).movements.get()


def explain(post, account, difference: Movement, mass_mg: int) -> Entry:
    return post("loss-explained", account("unexplained"), account("air"), mass_mg, explains=difference)


def test_what_is_open_of_a_difference_is_its_mass_less_its_explanations(missing_180g, post, account, act):
    assert differences.open_mg(missing_180g) == 180_000
    entry = explain(post, account, missing_180g, 100_000)
    assert differences.open_mg(missing_180g) == 80_000
    ledger.reverse(entry, act())
    assert differences.open_mg(missing_180g) == 180_000


def test_a_surplus_is_explained_in_the_other_direction(cylinder, account, post, vehicle_account):
    surplus = post("weighing-difference", account("unexplained"), cylinder, 50_000).movements.get()
    assert differences.open_mg(surplus) == -50_000
    with refused(TooMuchExplained, "0.010 kg cannot be explained: 0.050 kg of this difference is open"):
        explain(post, account, surplus, 10_000)
    post("late-recovery", vehicle_account, account("unexplained"), 50_000, explains=surplus)
    assert differences.open_mg(surplus) == 0


def test_more_than_a_difference_is_not_explained(missing_180g, post, account):
    with refused(TooMuchExplained, "0.180 kg of this difference is open"):
        explain(post, account, missing_180g, 180_001)
    explain(post, account, missing_180g, 180_000)
    with refused(TooMuchExplained, "0.000 kg of this difference is open"):
        explain(post, account, missing_180g, 1)


def test_one_draft_cannot_explain_a_difference_twice(book, missing_180g, account, act):
    loss = Line(
        "loss-explained",
        account("unexplained"),
        account("air"),
        "R-134a",
        "virgin",
        100_000,
        "rest",
        explains=missing_180g,
    )
    with refused(TooMuchExplained, "0.080 kg of this difference is open"):
        write(book, act(), loss, loss)


def test_an_explained_difference_is_not_reversed_before_its_explanation(missing_180g, post, account, act):
    explanation = explain(post, account, missing_180g, 1)
    with refused(NotReversible, "was explained by line 3; reverse that first"):
        ledger.reverse(missing_180g.entry, act())
    ledger.reverse(explanation, act())
    ledger.reverse(missing_180g.entry, act())


def test_nothing_is_left_to_explain_of_a_reversed_difference(missing_180g, post, account, act):
    ledger.reverse(missing_180g.entry, act())
    assert differences.open_mg(missing_180g) == 0
    with refused(TooMuchExplained, "0.000 kg of this difference is open"):
        explain(post, account, missing_180g, 1)


def test_only_an_explanation_explains(missing_180g, cylinder, vehicle_account, post):
    with is_refused_as_wrong("charge explains nothing"):
        post("charge", cylinder, vehicle_account, 1, explains=missing_180g)


def test_a_difference_of_another_book_is_not_explained(missing_180g, sister_book, account, act):
    loss = Line(
        "loss-explained",
        account("unexplained", sister_book),
        account("air", sister_book),
        "R-134a",
        "virgin",
        1,
        "rest",
        explains=missing_180g,
    )
    with is_refused_as_wrong("difference of its own book"):
        write(sister_book, act(), loss)


# Weighings


def weighed(book, act, cylinder, scale, gross_mg: int, at=None) -> Entry:
    reading = Reading(cylinder.account, "check", gross_mg, 6_200_000, 2_041, scale, f"{gross_mg} mg")
    return ledger.write(book, act(at=at), lambda draft: draft.read(reading), kind=Entry.WEIGH)


def test_the_last_weighing_skips_reversed_ones(book, cylinder, scale, act):
    assert ledger.last_weighing(cylinder.account) is None
    weighed(book, act, cylinder, scale, 11_200_000)
    slip = weighed(book, act, cylinder, scale, 12_100_000)
    assert ledger.last_weighing(cylinder.account).gross_mg == 12_100_000
    ledger.reverse(slip, act())
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
