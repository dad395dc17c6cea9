"""An entry is reversed once and whole; what is open of a difference, and what explains it."""

from uuid import uuid4

import pytest

from inventory.book import differences, ledger
from inventory.book.draft import Line
from inventory.book.refusals import (
    NotEnoughHeld,
    NotReversible,
    RequestKeyReused,
    TooMuchExplained,
    WouldMix,
)
from inventory.models import Entry, Movement
from tests.inventory.book.lines import KG, is_refused_as_wrong, refused, undo_line, write


def test_a_reversal_has_the_same_accounts_and_negative_masses(cylinder, vehicle_account, post, act, held):
    entry = post("charge", cylinder, vehicle_account, KG, u_random_mg=7, u_span_mg=9)
    reversal = undo_line(entry, act())
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
    reversal = undo_line(entry, act())
    assert [movement.grade for movement in reversal.movements.order_by("line")] == ["suspect", "virgin"]
    assert held(cylinder) == {("R-134a", "virgin"): 5 * KG}


def test_an_entry_is_reversed_once(cylinder, vehicle_account, post, act):
    entry = post("charge", cylinder, vehicle_account, KG)
    undo_line(entry, act())
    with refused(NotReversible, "reversed already, by line 3"):
        undo_line(entry, act())


def test_the_same_reversal_sent_twice_is_one_and_for_another_line_is_refused(cylinder, vehicle_account, post, act):
    first, second = (post("charge", cylinder, vehicle_account, KG) for _ in range(2))
    asked = act(key=uuid4())
    assert undo_line(first, asked) == undo_line(first, asked)
    with refused(RequestKeyReused, "already used"):
        undo_line(second, asked)


def test_a_reversal_is_not_reversed(cylinder, vehicle_account, post, act):
    reversal = undo_line(post("charge", cylinder, vehicle_account, KG), act())
    with refused(NotReversible, "Line 3 is a reverse; it is not reversed"):
        undo_line(reversal, act())


@pytest.mark.parametrize("kind", [Entry.CLOSE, Entry.SEAL])
def test_a_close_or_a_seal_is_not_reversed(book, act, kind):
    entry = ledger.write(book, act(), lambda draft: None, kind=kind, seals="cd" * 32)
    with refused(NotReversible, f"is a {kind}; it is not reversed"):
        undo_line(entry, act())


def test_what_is_not_there_any_more_is_not_taken_back(cylinder, make_cylinder, vehicle_account, post, act):
    second = make_cylinder()
    moved = post("transfer", cylinder, second, KG)
    post("charge", second, vehicle_account, 1_000)
    with refused(NotEnoughHeld, r"C-2 holds 0\.999 kg R-134a virgin; 1\.000 kg R-134a virgin cannot leave it"):
        undo_line(moved, act())


def test_a_reversal_that_would_mix_is_refused(cylinder, vehicle_account, account, post, act):
    charged = post("charge", cylinder, vehicle_account, 5 * KG)
    post("turned-up", account("unexplained"), cylinder, KG, refrigerant="R-12", grade="recovered")
    with refused(WouldMix, "C-1 holds R-12 recovered"):
        undo_line(charged, act())


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
    undo_line(entry, act())
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
        undo_line(missing_180g.entry, act())
    undo_line(explanation, act())
    undo_line(missing_180g.entry, act())


def test_nothing_is_left_to_explain_of_a_reversed_difference(missing_180g, post, account, act):
    undo_line(missing_180g.entry, act())
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
