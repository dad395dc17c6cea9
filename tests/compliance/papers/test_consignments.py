"""The note for gas sent away: who sends what to whom, and what was accepted of it."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from compliance.papers.consignments import consignment_note
from compliance.papers.paper import Signatures
from inventory.acts import away, partners, undoing
from inventory.acts.away import Dispatch
from inventory.models import Analysis, Entry
from tests.compliance.onpaper import all_said
from tests.compliance.papers.desk import START, TODAY, Desk, G, accepted, facts, note_of, refused

pytestmark = pytest.mark.django_db


def test_a_note_names_who_sends_to_whom_and_what(desk: Desk, destroyed: Entry) -> None:
    paper = note_of(desk, destroyed)
    assert facts(paper, "From")["Address"] == "1 Quay Road, Port Ellery"
    assert facts(paper, "To") == {
        "Name": "Northmoor Destruction",
        "Address": "Kiln Lane 1, Northmoor",
        "Kind": "destruction facility",
        "Registration": "not entered",
    }
    sent = facts(paper, "What is sent")
    assert sent["What for"] == "destruction"
    assert sent["Cylinder"] == "C-12, recovery"
    assert sent["Refrigerant"] == "R-12, CFC-12, safety class A1"
    assert sent["UN number"] == "UN 1028"  # ADR/RID P200, R-12
    assert sent["Gross"] == "10.208 kg on S1"
    assert sent["Net"] == "3.358 kg, give or take 0.013 kg"  # S1: 5 g steps, 0.1 % of the gross
    assert paper.lines == (destroyed.seq,)
    assert "Still asked" not in all_said(paper)


def test_a_note_for_the_road_has_lines_to_sign_and_to_fill_in(desk: Desk, destroyed: Entry) -> None:
    paper = note_of(desk, destroyed)
    lines = [row for one in paper.blocks if isinstance(one, Signatures) for row in one.rows]
    assert [row.split(",")[0].split(":")[0] for row in lines] == [
        "For the sender",
        "Carrier",
        "Refrigerant accepted",
        "Oil and waste",
        "Number and day of the receiver’s own paper",
        "For the receiver",
    ]
    said = all_said(paper)
    assert "Cylinders travel upright, capped" in said
    assert "local rules for carrying gas come first" in said
    assert paper.figures["accepted_mg"] is None


def test_what_was_accepted_is_printed_against_what_was_sent(desk: Desk, destroyed: Entry) -> None:
    accepted(destroyed, 3_290, 68)
    paper = note_of(desk, destroyed)
    assert facts(paper, "What the receiver accepted") == {
        "Their paper": "ND-7741, 2025-12-04",
        "Refrigerant accepted": "3.290 kg",
        "Oil and waste": "0.068 kg",
        "Together": "3.358 kg",
        "Difference to what was sent": "0.000 kg",
    }
    assert "They count 3.358 kg together: as much as was sent. Our weighing can tell 0.013 kg." in all_said(paper)
    assert paper.figures["difference_mg"] == 0
    assert "To be filled in by the receiver" not in all_said(paper)


# u of the net: 5 g steps and zero, 0.1 % of 10,208 g, limits rectangular: 6.72 g, so 2 u is 13.4 g.
@pytest.mark.parametrize(
    ("grams", "words"),
    [
        (3_280, "0.010 kg less than was sent, within what our weighing can tell (0.013 kg)."),
        (3_240, "0.050 kg less than was sent, 3.7 times what our weighing can tell (0.013 kg). How well they weigh"),
        (3_340, "0.050 kg more than was sent, 3.7 times what our weighing can tell (0.013 kg). How well they weigh"),
    ],
)
def test_a_difference_is_set_against_what_the_weighing_can_tell(
    desk: Desk, destroyed: Entry, grams: int, words: str
) -> None:
    accepted(destroyed, grams, 68)
    assert words in all_said(note_of(desk, destroyed))


def test_oil_that_was_not_entered_is_said(desk: Desk, destroyed: Entry) -> None:
    accepted(destroyed, 3_358)
    assert facts(note_of(desk, destroyed), "What the receiver accepted")["Oil and waste"] == "not entered"


def test_a_missing_address_is_said_and_still_asked(desk: Desk, stock_of: Any, make_partner: Any) -> None:
    nowhere = make_partner("Someone", "reclaimer", address="")
    entry = desk.send(stock_of("C-9", 1_000), 7_200, Dispatch(nowhere, "sent-away", "reclaim", "9"))
    paper = note_of(desk, entry)
    assert facts(paper, "To")["Address"] == "not entered"
    assert "The address of the receiver, Someone, is not entered." in all_said(paper)


def test_what_burns_and_what_is_suspect_is_marked_and_gets_no_number_of_its_name(
    desk: Desk, stock_of: Any, destroyer: Any
) -> None:
    mixed = stock_of("C-40", 465, refrigerant="MIXED", grade="suspect", tare_mg=5_300 * G)
    parts = {"R-1234yf": "0.915", "R-134a": "0.08", "air": "0.005"}
    Analysis.objects.create(account=mixed.account, occurred_at=START, parts=parts)
    paper = note_of(desk, desk.send(mixed, 5_765, Dispatch(destroyer, "passed-on", "destruction", "11")))
    said = all_said(paper)
    assert "FLAMMABLE: the cylinder bears the mark" in said
    assert "SUSPECT: what is in it is not known" in said
    assert facts(paper, "What is sent")["Identified as"] == "R-1234yf 91.5 %, R-134a 8.0 %, air 0.5 %"
    assert "UN number" not in facts(paper, "What is sent")


def test_a_gas_without_a_number_in_the_catalogue_gets_none(desk: Desk, stock_of: Any, destroyer: Any) -> None:
    cylinder = stock_of("C-37", 3_000, refrigerant="R-1234yf")
    paper = note_of(desk, desk.send(cylinder, 9_200, Dispatch(destroyer, "sent-away", "reclaim", "12")))
    assert "UN" not in all_said(paper)
    assert paper.figures["un_number"] == ""


def test_a_cylinder_that_went_empty_has_a_note_that_says_so(desk: Desk, stock_of: Any, partner: Any) -> None:
    cylinder = stock_of("C-8", grade="virgin")
    paper = note_of(desk, desk.send(cylinder, 6_200, Dispatch(partner, "heel-returned", "return to supplier", "13")))
    assert facts(paper, "What is sent")["Net"] == "nothing by the book"


def test_a_move_to_a_sister_workshop_has_a_note_with_its_address(
    desk: Desk, stock_of: Any, other_workshop: Any
) -> None:
    cylinder = stock_of("C-7", 1_000)
    there = partners.sister_partner(desk.book, other_workshop.book)
    here = partners.sister_partner(other_workshop.book, desk.book)
    entry = away.move_to_sister(desk.act(), desk.gross(cylinder, desk.s1, 7_200), there, here)[0]
    paper = note_of(desk, entry)
    assert facts(paper, "To")["Address"] == "1 Quay Road, Highmoor"
    assert facts(paper, "What is sent")["What for"] == "sister workshop"


def test_a_line_that_sent_nothing_or_was_reversed_has_no_note(desk: Desk, destroyed: Entry, partner: Any) -> None:
    assert "nothing was sent away" in refused(lambda: note_of(desk, Entry.objects.get(book=desk.book, seq=1)))
    assert "no line 999" in refused(lambda: consignment_note(desk.workshop, "line:999", today=TODAY))
    back = undoing.reverse(desk.book, desk.act(), destroyed)
    assert f"reversed by line {back.seq}" in refused(lambda: note_of(desk, destroyed))


def test_a_note_issued_anew_replaces_the_one_without_the_receivers_figures(desk: Desk, destroyed: Entry) -> None:
    from compliance.documents.issuing import issue

    def again() -> Any:
        about = f"line:{destroyed.seq}"
        desk.at += timedelta(hours=1)
        desk.clock(desk.at)
        return issue(desk.workshop, "consignment note", about, by=desk.technician, key=uuid4(), now=desk.at)

    first = again()
    accepted(destroyed, 3_290, 68)
    second = again()
    assert second.replaces == first
    assert "3.290" in second.content
    assert "3.290" not in first.content
