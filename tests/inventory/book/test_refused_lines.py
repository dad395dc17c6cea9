"""What the book refuses to write, with a sentence and without a trace."""

from dataclasses import replace

import pytest

from inventory import causes
from inventory.book import ledger
from inventory.book.draft import Draft, Line, Reading, check_line
from inventory.book.refusals import (
    NotEnoughHeld,
    WouldMix,
    WrongLine,
)
from inventory.models import Account
from tests.inventory.book.lines import KG, is_refused_as_wrong, line, refused, write


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
