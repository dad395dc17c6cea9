"""What is undone or put right leaves cylinders as if it had not been: where they stand, what for, their empty mass."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from inventory.acts import away, describing, onscale, settling, undoing
from inventory.acts.away import Dispatch
from inventory.book import differences
from inventory.book.refusals import Refused
from inventory.book.weighing import NotHere
from inventory.models import Cylinder, Entry, Movement, Partner
from inventory.shelf import limits

pytestmark = pytest.mark.django_db
G = 1_000


def only(entry: Entry, cause: str) -> Movement:
    return entry.movements.get(cause=cause)


def recovery_cylinder(make_cylinder: Any, **fields: Any) -> Cylinder:
    return make_cylinder(kind=Cylinder.RECOVERY, grade="recovered", **fields)


# On the shelf, or not


@pytest.mark.parametrize("state", ["away", "done with"])
def test_a_cylinder_that_is_not_here_is_not_weighed(
    book: Any, act: Any, gross: Any, make_cylinder: Any, state: str
) -> None:
    cylinder = make_cylinder(state=state)
    for press in (
        lambda: onscale.weigh(book, act(), gross(cylinder, 7_200)),
        lambda: onscale.stock_take(book, act(), [gross(cylinder, 7_200)]),
    ):
        with pytest.raises(NotHere, match="came back or turned up"):
            press()


def test_two_people_who_take_a_cylinder_back_at_once_take_it_back_once(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, partner: Partner, held: Any
) -> None:
    away.send_away(book, act(), gross(cylinder, 11_200), Dispatch(partner, "sent-away", "reclaim", ""))
    first, second = (Cylinder.objects.get(pk=cylinder.pk) for _ in range(2))  # as two pages read it
    away.come_back(book, act(), gross(first, 11_200), partner)
    with pytest.raises(Refused, match="cannot come back"):
        away.come_back(book, act(), gross(second, 11_200), partner)
    assert held(cylinder) == {("R-134a", "virgin"): 5_000 * G}


def test_a_return_that_is_reversed_leaves_the_cylinder_away(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, partner: Partner, held: Any
) -> None:
    away.send_away(book, act(), gross(cylinder, 11_200), Dispatch(partner, "sent-away", "reclaim", ""))
    slip = away.come_back(book, act(), gross(cylinder, 11_100), partner)
    undoing.reverse(book, act(), slip)
    cylinder.refresh_from_db()
    assert cylinder.state == "away"
    away.come_back(book, act(), gross(cylinder, 11_000), partner)
    assert held(cylinder) == {("R-134a", "virgin"): 4_800 * G}


def test_a_find_that_is_reversed_leaves_the_cylinder_written_off(
    book: Any, act: Any, gross: Any, cylinder: Cylinder
) -> None:
    away.lose(book, act(), cylinder, "missing", before=None, after=None)
    slip = away.turn_up(book, act(), gross(cylinder, 11_200))
    undoing.reverse(book, act(), slip)
    cylinder.refresh_from_db()
    assert cylinder.state == "done with"


def test_a_reversal_pressed_twice_leaves_alone_what_was_done_since(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, partner: Partner
) -> None:
    dispatch = Dispatch(partner, "sent-away", "reclaim", "")
    slip = away.send_away(book, act(), gross(cylinder, 11_200), dispatch)
    undo = act()
    reversal = undoing.reverse(book, undo, slip)
    away.send_away(book, act(), gross(cylinder, 11_200), dispatch)
    assert undoing.reverse(book, undo, slip) == reversal
    cylinder.refresh_from_db()
    assert cylinder.state == "away"


# What for


def test_a_change_of_grade_that_is_reversed_leaves_the_cylinder_for_what_it_was(
    book: Any, act: Any, cylinder: Cylinder, held: Any
) -> None:
    slip = describing.regrade(book, act(), cylinder, grade="suspect")
    undoing.reverse(book, act(), slip)
    cylinder.refresh_from_db()
    assert held(cylinder) == {("R-134a", "virgin"): 5_000 * G}
    assert (cylinder.grade, cylinder.state) == ("virgin", "ready")


def test_an_analysis_whose_line_was_reversed_counts_no_more(book: Any, act: Any, make_cylinder: Any) -> None:
    cylinder = make_cylinder(grade="recovered", mass_mg=500 * G)
    slip = describing.reidentify(book, act(), cylinder, refrigerant="MIXED", parts={"R-134a": "0.9", "R-12": "0.1"})
    undoing.reverse(book, act(), slip)
    assert limits.measured_parts(cylinder.account) == {}


def test_a_mixture_stays_suspect(book: Any, act: Any, make_cylinder: Any) -> None:
    cylinder = make_cylinder(grade="recovered", mass_mg=500 * G)
    describing.reidentify(book, act(), cylinder, refrigerant="MIXED", parts={"R-134a": "0.9", "R-12": "0.1"})
    with pytest.raises(Refused, match="stays suspect"):
        describing.regrade(book, act(), cylinder, grade="recovered")


def test_suspect_gas_stays_suspect_wherever_it_is_poured(
    book: Any, act: Any, gross: Any, make_cylinder: Any, held: Any
) -> None:
    source = make_cylinder(grade="suspect", mass_mg=2_000 * G)
    empty = recovery_cylinder(make_cylinder)
    facts = {"before": gross(source, 8_200), "after": gross(source, 7_200)}
    onscale.transfer(book, act(), source=source, target=empty, **facts)
    empty.refresh_from_db()
    assert held(empty) == {("R-134a", "suspect"): 1_000 * G}
    assert (empty.grade, empty.state) == ("suspect", "suspect")

    good = recovery_cylinder(make_cylinder, mass_mg=1_000 * G)
    facts = {"before": gross(source, 7_200), "after": gross(source, 6_700)}
    with pytest.raises(Refused, match="not made by pouring"):
        onscale.transfer(book, act(), source=source, target=good, **facts)


def test_an_empty_cylinder_is_for_what_was_poured_into_it(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, make_cylinder: Any
) -> None:
    target = make_cylinder(refrigerant="R-12", grade="recycled")
    onscale.transfer(
        book, act(), source=cylinder, target=target, before=gross(cylinder, 11_200), after=gross(cylinder, 10_200)
    )
    target.refresh_from_db()
    assert (target.refrigerant, target.grade) == ("R-134a", "virgin")


# The empty mass


def test_an_empty_mass_whose_correction_is_reversed_is_the_old_one_again(
    book: Any, act: Any, gross: Any, make_cylinder: Any, held: Any
) -> None:
    cylinder = make_cylinder(mass_mg=180 * G)
    cylinder.tares.create(tare_mg=6_200 * G, source="stamped", since=act().occurred_at - timedelta(days=9))
    slip = describing.correct_tare(book, act(), gross(cylinder, 6_380))
    assert (held(cylinder), cylinder.tare_mg) == ({}, 6_380 * G)
    undoing.reverse(book, act(), slip)
    cylinder.refresh_from_db()
    assert (held(cylinder), cylinder.tare_mg) == ({("R-134a", "virgin"): 180 * G}, 6_200 * G)
    assert cylinder.tares.count() == 3


# Readings put right


def test_a_recovery_that_brought_a_difference_along_is_reversed_after_a_later_weighing(
    book: Any, act: Any, gross: Any, pair: Any, make_cylinder: Any, vehicle_account: Any, held: Any, now: datetime
) -> None:
    cylinder = recovery_cylinder(make_cylinder, mass_mg=1_000 * G)
    slip = pair(cylinder, vehicle_account, 7_230, 7_730, now - timedelta(hours=2))  # 30 g more than the book had
    onscale.weigh(book, act(at=now - timedelta(hours=1)), gross(cylinder, 7_730))
    undoing.reverse(book, act(), slip)
    assert held(cylinder) == {("R-134a", "recovered"): 1_530 * G}
    assert held(vehicle_account) == {}


@pytest.mark.parametrize("known_g", [0, 300, 500, 5_000])
def test_a_recovery_typed_ten_times_too_large_is_put_right_in_the_vehicle_too(
    book: Any, act: Any, pair: Any, post: Any, make_cylinder: Any, vehicle_account: Any, held: Any, known_g: int
) -> None:
    cylinder, giver = recovery_cylinder(make_cylinder), make_cylinder(mass_mg=9_000 * G)
    if known_g:
        post("charge", giver, vehicle_account, known_g * G)
    slip = pair(cylinder, vehicle_account, 6_200, 10_700)  # 4.50 kg; it was 0.450
    _, again = undoing.correct_after(book, act(), slip, gross_mg=6_650 * G, typed="6.650 kg")
    assert held(cylinder) == {("R-134a", "recovered"): 450 * G}
    assert sum(held(vehicle_account).values()) == max(known_g - 450, 0) * G
    assert again.movements.get(cause="recovery").mass_mg == 450 * G


def test_a_recovery_typed_too_small_finds_more_in_the_vehicle(
    book: Any, act: Any, pair: Any, post: Any, make_cylinder: Any, vehicle_account: Any, held: Any
) -> None:
    cylinder = recovery_cylinder(make_cylinder)
    post("charge", make_cylinder(mass_mg=9_000 * G), vehicle_account, 600 * G)
    slip = pair(cylinder, vehicle_account, 6_200, 6_250)
    undoing.correct_after(book, act(), slip, gross_mg=6_900 * G, typed="6.900 kg")
    assert held(cylinder) == {("R-134a", "recovered"): 700 * G}
    assert held(vehicle_account) == {}
    assert Movement.objects.get(cause="found-in-vehicle").mass_mg == 100 * G


@pytest.mark.parametrize("weighed", ["source", "target"])
@pytest.mark.parametrize("poured_into", ["same grade", "recovery"])
def test_a_transfer_is_put_right_at_both_ends(
    book: Any, act: Any, gross: Any, make_cylinder: Any, held: Any, weighed: str, poured_into: str
) -> None:
    source = make_cylinder(mass_mg=5_000 * G)
    target = make_cylinder() if poured_into == "same grade" else recovery_cylinder(make_cylinder)
    grade = "virgin" if poured_into == "same grade" else "recovered"
    on, typed_g, true_g = (source, 7_200, 8_200) if weighed == "source" else (target, 10_200, 9_200)
    before = gross(on, 11_200 if weighed == "source" else 6_200)
    slip = onscale.transfer(book, act(), source=source, target=target, before=before, after=gross(on, typed_g))
    assert held(source) == {("R-134a", "virgin"): 1_000 * G}
    undoing.correct_after(book, act(), slip, gross_mg=true_g * G, typed=f"{true_g} g")
    assert held(source) == {("R-134a", "virgin"): 2_000 * G}
    assert held(target) == {("R-134a", grade): 3_000 * G}


def test_a_transfer_put_right_leaves_the_other_cylinder_as_it_was_weighed_since(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, make_cylinder: Any, held: Any, now: datetime
) -> None:
    target, at = make_cylinder(), now - timedelta(hours=2)
    readings = {"before": gross(cylinder, 11_200), "after": gross(cylinder, 10_200)}
    slip = onscale.transfer(book, act(at=at), source=cylinder, target=target, **readings)
    onscale.weigh(book, act(at=now - timedelta(hours=1)), gross(target, 7_100))  # 900 g, where the book had 1,000
    undoing.correct_after(book, act(), slip, gross_mg=10_300 * G, typed="10.300 kg")
    assert held(cylinder) == {("R-134a", "virgin"): 4_100 * G}
    assert held(target) == {("R-134a", "virgin"): 900 * G}


# A little below the empty mass


def of_cause(entry: Entry, cause: str) -> list[tuple[str, int]]:
    return [(one.target.kind, int(one.mass_mg)) for one in entry.movements.filter(cause=cause)]


def test_what_was_recovered_is_the_difference_of_the_readings_also_from_below_the_empty_mass(
    make_cylinder: Any, vehicle_account: Any, pair: Any, held: Any
) -> None:
    """A stamp good to 50 g: the reading before lies 30 g below it, and 500 g come in between the two readings."""
    cylinder = recovery_cylinder(make_cylinder, tare_mg=6_850 * G, tare_u_mg=28_900)
    entry = pair(cylinder, vehicle_account, 6_820, 7_320)
    assert of_cause(entry, "recovery") == [("cylinder", 500 * G)]
    assert of_cause(entry, "weighing-difference") == [("unexplained", 30 * G)]
    assert held(cylinder) == {("R-134a", "recovered"): 470 * G}  # what the last reading is above the stamp


def test_what_was_charged_is_the_difference_of_the_readings_also_down_below_the_empty_mass(
    make_cylinder: Any, vehicle_account: Any, pair: Any, held: Any
) -> None:
    cylinder = make_cylinder(mass_mg=500 * G, tare_u_mg=28_900)
    entry = pair(cylinder, vehicle_account, 6_700, 6_170)
    assert of_cause(entry, "charge") == [("vehicle", 530 * G)]
    assert of_cause(entry, "weighing-difference") == [("cylinder", 30 * G)]
    assert held(cylinder) == {}
    difference = entry.movements.get(cause="weighing-difference")
    assert difference.can_tell_mg > difference.mass_mg  # nothing to explain: the stamp is not better than that


# Mistakes found later


def test_a_slip_found_after_a_later_weighing_leaves_no_difference_open(
    book: Any, act: Any, gross: Any, pair: Any, make_cylinder: Any, vehicle_account: Any, held: Any, now: datetime
) -> None:
    """0.450 kg typed as 4.50: the next weighing finds 4,050 g; putting the line right must use that difference up."""
    cylinder = make_cylinder(mass_mg=9_000 * G)
    at = now - timedelta(days=2)
    slip = pair(cylinder, vehicle_account, 15_200, 10_700, at)  # 4,500 g; 450 g had left it
    found = onscale.weigh(book, act(at=now - timedelta(days=1)), gross(cylinder, 14_750))
    assert only(found, "weighing-difference").mass_mg == 4_050 * G
    assert len(differences.open_differences(book)) == 1

    undoing.correct_after(book, act(), slip, gross_mg=14_750 * G, typed="14.750 kg")
    assert held(vehicle_account) == {("R-134a", ""): 450 * G}
    assert held(cylinder) == {("R-134a", "virgin"): 8_550 * G}
    assert differences.open_mg(only(found, "weighing-difference")) == 0
    assert differences.open_differences(book) == []


def test_scenario_10_a_slip_found_after_the_year_was_closed(
    book: Any,
    act: Any,
    gross: Any,
    pair: Any,
    s2: Any,
    make_cylinder: Any,
    vehicle_account: Any,
    partner: Partner,
    held: Any,
    clock: Any,
    post: Any,
    account: Any,
) -> None:
    def on(day: str) -> datetime:
        return clock(datetime.fromisoformat(f"{day}T10:00:00+02:00"))

    at = on("2025-08-01")
    cylinder = make_cylinder("C-34")
    post("opening-stock", account("opening"), cylinder, 1_072 * G, basis="single", at=at)
    at = on("2025-08-21")
    slip = pair(cylinder, vehicle_account, 7_272, 6_622, at, s2)
    at = on("2025-09-01")
    returned = away.send_away(
        book, act(at=at), gross(cylinder, 6_615), Dispatch(partner, "heel-returned", "return to supplier", "")
    )
    difference = only(returned, "weighing-difference")
    assert (difference.mass_mg, differences.open_differences(book)) == (7 * G, [])
    at = on("2026-01-09")
    settling.close_through(book, act(at=at), date(2025, 12, 31))

    at = on("2026-01-14")
    reversal, again = undoing.correct_after(
        book, act(at=at, remark="photo"), slip, gross_mg=6_642 * G, typed="6.642 kg"
    )
    assert only(again, "charge").mass_mg == 630 * G
    assert only(again, "balance-after-correction").mass_mg == 20 * G
    assert {reversal.booked_on, again.booked_on} == {date(2026, 1, 14)}
    assert again.occurred_at == slip.occurred_at  # marked as for 2025
    assert again.is_late
    assert held(vehicle_account) == {("R-134a", ""): 630 * G}
    assert held(cylinder) == {}  # its last weighing stands
    (finding,) = differences.open_differences(book)
    assert finding.open_mg == 27 * G
    assert finding.times == pytest.approx(2.1, abs=0.05)


def test_reversing_a_line_with_a_later_weighing_balances_against_that_difference(
    book: Any,
    act: Any,
    gross: Any,
    cylinder: Cylinder,
    post: Any,
    vehicle_account: Any,
    held: Any,
    now: Any,
) -> None:
    slip = post("charge", cylinder, vehicle_account, 500 * G, at=now - timedelta(hours=2))
    later = onscale.weigh(book, act(at=now - timedelta(hours=1)), gross(cylinder, 11_200))
    undoing.reverse(book, act(), slip)
    assert held(cylinder) == {("R-134a", "virgin"): 5_000 * G}
    assert held(vehicle_account) == {}
    assert differences.open_mg(only(later, "weighing-difference")) == 0
