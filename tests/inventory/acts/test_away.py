"""A cylinder goes away, is lost, comes back, or moves to a sister workshop.

Figures with a scenario's name are those of the acceptance scenarios.
"""

from datetime import date, timedelta
from typing import Any

import pytest

from inventory.acts import away, describing, onscale, partners, undoing
from inventory.acts.away import Dispatch
from inventory.book import differences
from inventory.book.refusals import LedgerError, Refused
from inventory.models import Consignment, Cylinder, Entry, Movement, Partner

pytestmark = pytest.mark.django_db
G = 1_000


def only(entry: Entry, cause: str) -> Movement:
    return entry.movements.get(cause=cause)


# Away and back


def test_scenario_6_a_heel_goes_back_and_the_cylinder_stays_readable(
    book: Any, act: Any, gross: Any, s2: Any, make_cylinder: Any, partner: Partner, held: Any, now: Any
) -> None:
    cylinder = make_cylinder("C-34", mass_mg=422 * G)
    onscale.weigh(book, act(at=now - timedelta(hours=1)), gross(cylinder, 6_622, s2))
    entry = away.send_away(
        book, act(), gross(cylinder, 6_615), Dispatch(partner, "heel-returned", "return to supplier", "")
    )
    difference = only(entry, "weighing-difference")
    assert difference.mass_mg == 7 * G
    assert difference.can_tell_mg / G == pytest.approx(12.9, abs=0.05)  # scenario 6
    assert only(entry, "heel-returned").mass_mg == 415 * G
    cylinder.refresh_from_db()
    assert (cylinder.state, held(cylinder)) == ("away", {})
    assert Consignment.objects.get().number == str(entry.seq)
    assert differences.open_differences(book) == []
    with pytest.raises(Refused, match="away already"):
        away.send_away(book, act(), gross(cylinder, 6_615), Dispatch(partner, "sent-away", "reclaim", ""))


def test_a_consignment_that_is_reversed_brings_the_cylinder_back(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, partner: Partner, held: Any
) -> None:
    sent = away.send_away(book, act(), gross(cylinder, 11_200), Dispatch(partner, "sent-away", "reclaim", "7"))
    undoing.reverse(book, act(), sent)
    cylinder.refresh_from_db()
    assert (cylinder.state, held(cylinder)) == ("ready", {("R-134a", "virgin"): 5_000 * G})


def test_recovered_gas_is_sold_to_nobody(book: Any, act: Any, gross: Any, make_cylinder: Any, partner: Partner) -> None:
    cylinder = make_cylinder(grade="recovered", mass_mg=1_000 * G)
    with pytest.raises(Refused, match="only for reclaim or destruction"):
        away.send_away(book, act(), gross(cylinder, 7_200), Dispatch(partner, "passed-on", "sale", ""))


def test_what_was_accepted_is_noted_and_moves_nothing(
    book: Any, act: Any, gross: Any, make_cylinder: Any, make_partner: Any, held: Any
) -> None:
    cylinder = make_cylinder("C-12", refrigerant="R-12", grade="recovered", mass_mg=3_358 * G)
    destroyer = make_partner("Kiln", "destruction facility")
    away.send_away(book, act(), gross(cylinder, 9_558), Dispatch(destroyer, "sent-away", "destruction", "1", "OURS-4"))
    sent = held(destroyer)
    noted = away.accept(
        Consignment.objects.get(), accepted_mg=3_290 * G, oil_mg=68 * G, on=date(2025, 12, 1), paper="K-9"
    )
    assert (noted.accepted_mg, noted.accepted_oil_mg, noted.accepted_paper) == (3_290 * G, 68 * G, "K-9")
    assert noted.paper_number == "OURS-4"
    assert held(destroyer) == sent


def test_own_gas_comes_back_reclaimed(
    book: Any, act: Any, gross: Any, make_cylinder: Any, partner: Partner, held: Any
) -> None:
    cylinder = make_cylinder(grade="recovered", mass_mg=1_000 * G)
    with pytest.raises(Refused, match="cannot come back"):
        away.come_back(book, act(), gross(cylinder, 7_200), partner)
    away.send_away(book, act(), gross(cylinder, 7_200), Dispatch(partner, "sent-away", "reclaim", ""))
    away.come_back(book, act(), gross(cylinder, 7_100), partner, cause="returned-reclaimed")
    cylinder.refresh_from_db()
    assert held(cylinder) == {("R-134a", "reclaimed"): 900 * G}
    assert (cylinder.state, cylinder.grade) == ("ready", "reclaimed")


# Losses


def test_a_purge_is_known_by_two_readings_and_goes_to_the_air(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, account: Any, held: Any
) -> None:
    before, after = gross(cylinder, 11_200), gross(cylinder, 11_150)
    entry = away.lose(book, act(), cylinder, "purge", before=before, after=after)
    assert only(entry, "purge").mass_mg == 50 * G
    assert held(account("air")) == {("R-134a", ""): 50 * G}
    with pytest.raises(LedgerError, match="cannot stand on the basis"):
        away.lose(book, act(), cylinder, "purge", before=None, after=None)


@pytest.mark.parametrize(("cause", "to"), [("missing", "unexplained"), ("scrapped-with-rest", "air")])
def test_a_cylinder_that_is_gone_takes_all_it_held(
    book: Any, act: Any, cylinder: Cylinder, account: Any, held: Any, cause: str, to: str
) -> None:
    away.lose(book, act(), cylinder, cause, before=None, after=None)
    cylinder.refresh_from_db()
    assert cylinder.state == "done with"
    assert held(account(to)) == {("R-134a", ""): 5_000 * G}


def test_a_loss_that_is_reversed_puts_the_cylinder_back_on_the_shelf(
    book: Any, act: Any, cylinder: Cylinder, held: Any
) -> None:
    gone = away.lose(book, act(), cylinder, "missing", before=None, after=None)
    undoing.reverse(book, act(), gone)
    cylinder.refresh_from_db()
    assert (cylinder.state, held(cylinder)) == ("ready", {("R-134a", "virgin"): 5_000 * G})


def test_a_missing_cylinder_turns_up_by_its_weighing(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, held: Any
) -> None:
    with pytest.raises(Refused, match="weigh it instead"):
        away.turn_up(book, act(), gross(cylinder, 11_000))
    away.lose(book, act(), cylinder, "missing", before=None, after=None)
    away.turn_up(book, act(), gross(cylinder, 11_000))
    cylinder.refresh_from_db()
    assert (cylinder.state, held(cylinder)) == ("ready", {("R-134a", "virgin"): 4_800 * G})


def test_only_an_empty_cylinder_is_done_with(cylinder: Cylinder, make_cylinder: Any) -> None:
    with pytest.raises(Refused, match="still holds gas"):
        describing.discard(cylinder)
    empty = make_cylinder()
    describing.discard(empty)
    empty.refresh_from_db()
    assert empty.state == "done with"


# Sister workshops


def test_a_cylinder_moves_to_a_sister_with_one_line_in_each_book(
    book: Any, sister_book: Any, act: Any, gross: Any, cylinder: Cylinder, held: Any
) -> None:
    there, here = partners.sister_partner(book, sister_book), partners.sister_partner(sister_book, book)
    assert partners.sister_partner(book, sister_book).pk == there.pk
    out, into, twin = away.move_to_sister(act(), gross(cylinder, 11_200), there, here)
    assert (out.book, into.book, into.seals) == (book, sister_book, out.digest)
    assert held(twin) == {("R-134a", "virgin"): 5_000 * G}
    cylinder.refresh_from_db()
    assert (cylinder.state, held(cylinder)) == ("away", {})
    for line in (out, into):
        with pytest.raises(Refused, match="move the cylinder back"):
            undoing.reverse(line.book, act(), line)
