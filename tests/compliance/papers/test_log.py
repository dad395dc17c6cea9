"""The log of one cylinder: every line in order, what was held after it, who did it."""

from typing import Any
from uuid import uuid4

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from compliance.papers import log
from compliance.papers.log import cylinder_log
from inventory.acts import settling, undoing
from inventory.book import ledger
from inventory.models import AirCheck, Entry, Movement, Photo
from tests.compliance.onpaper import all_said, missing_on_the_sheet
from tests.compliance.papers.desk import TODAY, Desk, G, accepted, facts, labels_of, log_of, note_of, refused, table

pytestmark = pytest.mark.django_db


def test_the_log_of_a_bottle_accounts_for_all_that_came(desk: Desk, partner: Any) -> None:
    paper = log_of(desk, desk.life_of_a_bottle(partner))
    assert paper.figures["by_cause"] == {
        "purchase": {"in_mg": 10_990 * G, "out_mg": 0},
        "charge": {"in_mg": 0, "out_mg": 10_564 * G},
        "heel-returned": {"in_mg": 0, "out_mg": 415 * G},
        "weighing-difference": {"in_mg": 0, "out_mg": 11 * G},
    }
    assert paper.figures["held_mg"] == 0
    assert table(paper, "In less out").rows[-1] == ("together", "10.990", "10.990")


def test_the_log_has_every_line_in_order_with_what_was_held_after_it(desk: Desk, partner: Any) -> None:
    paper = log_of(desk, desk.life_of_a_bottle(partner))
    lines = paper.figures["lines"]
    assert [one["line"] for one in lines] == sorted(one["line"] for one in lines)
    assert [one["held_mg"] // G for one in lines] == [10990, 10986, 10202, 9267, 2267, 1657, 1072, 422, 415, 0]
    assert [one["gained_mg"] // G for one in lines][:3] == [10990, -4, -784]
    assert "8 lines of the book, all of them, in order." in all_said(paper)
    assert paper.lines == tuple(sorted({one["line"] for one in lines}))
    assert table(paper, "Every movement").rows[2][3:6] == ("17.186 S2, 16.402 S2", "−0.784", "10.202")


def test_the_log_names_a_visit_and_no_plate(desk: Desk, partner: Any) -> None:
    said = all_said(log_of(desk, desk.life_of_a_bottle(partner)))
    assert "charged, visit 1; R-134a virgin; two weighings" in said
    assert "PL 4T" not in said


def test_a_difference_within_the_readings_says_what_they_can_tell(desk: Desk, partner: Any) -> None:
    said = all_said(log_of(desk, desk.life_of_a_bottle(partner)))
    assert "weighing difference, within what the readings can tell (0.013 kg)" in said


def test_a_difference_beyond_them_says_how_many_times_and_which_line_explains_it(desk: Desk, stock_of: Any) -> None:
    cylinder = stock_of("C-35", 5_060, grade="recovered", tare_mg=6_360 * G)
    desk.check(cylinder, 11_420)
    desk.check(cylinder, 11_240)
    assert "weighing difference, 19.7 times what the readings can tell (0.009 kg); R-134a" in all_said(
        log_of(desk, cylinder)
    )
    difference = Movement.objects.get(cause="weighing-difference")
    line = settling.explain(desk.book, desk.act(), difference, cause="loss-explained", mass_mg=180 * G).seq
    assert f"(0.009 kg), explained by line {line}; R-134a" in all_said(log_of(desk, cylinder))


def test_a_weighing_that_agrees_is_a_line_too(desk: Desk, stock_of: Any) -> None:
    cylinder = stock_of("C-35", 5_060, grade="recovered", tare_mg=6_360 * G)
    line = desk.check(cylinder, 11_420).seq
    rows = table(log_of(desk, cylinder), "Every movement").rows
    assert rows[-1][:6] == (str(line), "2025-02-20", "weighed, agrees with the book", "11.420 S1", "0.000", "5.060")


def test_a_reversed_line_and_its_reversal_both_stand(desk: Desk, partner: Any) -> None:
    cylinder = desk.bottle(partner)
    charged = desk.charge(cylinder, "V1", 17_190, 16_402)
    back = undoing.reverse(desk.book, desk.act(), charged)
    paper = log_of(desk, cylinder)
    assert f"reversed by line {back.seq}" in all_said(paper)
    assert f"reverses line {charged.seq}" in all_said(paper)
    assert "charge" not in paper.figures["by_cause"]
    assert [one["held_mg"] // G for one in paper.figures["lines"]] == [10_990, 10_202, 10_990]


def test_who_did_it_and_who_answered_for_it_are_named(desk: Desk, partner: Any, owner: Any) -> None:
    cylinder = desk.bottle(partner)
    desk.charge(cylinder, "V1", 17_190, 16_402, answers=owner)
    assert table(log_of(desk, cylinder), "Every movement").rows[-1][-1] == f"{desk.technician}, answered for by {owner}"


def test_of_many_lines_the_last_are_printed_and_all_are_counted(
    desk: Desk, partner: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    cylinder = desk.life_of_a_bottle(partner)
    whole = log_of(desk, cylinder)
    monkeypatch.setattr(log, "MOST_LINES", 3)
    short = log_of(desk, cylinder)
    assert "The last 3 of 8 lines of the book, in order." in all_said(short)
    assert short.figures["lines"] == whole.figures["lines"][-4:]  # the last entry moved twice
    assert short.figures["by_cause"] == whole.figures["by_cause"]
    assert (short.figures["lines_in_book"], short.figures["lines_printed"]) == (8, 3)


def test_the_queries_of_a_log_do_not_grow_with_its_lines(desk: Desk, stock_of: Any) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            log_of(desk, cylinder)
        return len(found)

    cylinder = stock_of("C-35", 5_060, grade="recovered", tare_mg=6_360 * G)
    desk.charge(cylinder, "V0", 11_420, 11_320)
    desk.check(cylinder, 11_300)
    few = queries()
    for place in range(1, 12):
        desk.charge(cylinder, f"V{place}", 11_300 - 20 * place + 20, 11_300 - 20 * place)
        desk.check(cylinder, 11_300 - 20 * place)
    assert queries() == few


def test_air_checks_and_photos_stand_in_the_log(desk: Desk, stock_of: Any) -> None:
    cylinder = stock_of("C-35", 5_060, grade="recovered", tare_mg=6_360 * G)
    weighed = desk.check(cylinder, 11_420)
    AirCheck.objects.create(
        account=cylinder.account,
        occurred_at=desk.at,
        actor=desk.technician.handle,
        request_key=uuid4(),
        refrigerant="R-134a",
        pressure_pa=701_325.0,
        temperature_k=293.15,
        held_mg=5_060 * G,
        verdict="too much air",
        words="Bleed it slowly from the top.",
    )
    digest = "0123456789abcdef" * 4
    with transaction.atomic():
        sealed = ledger.write(desk.book, desk.act(), lambda draft: None, kind=Entry.SEAL, seals=digest)
    Photo.objects.create(
        book=desk.book, entry=sealed, line=weighed, shows="scale", digest=digest, width=8, height=8, size=100
    )
    paper = log_of(desk, cylinder)
    assert "6.00 bar gauge, 7.01 bar absolute\n20.0 C\n5.060\ntoo much air" in all_said(paper)
    row = table(paper, "Photos").rows[0]
    assert row == (str(sealed.seq), str(weighed.seq), "scale", " ".join(["0123456789abcdef"] * 4))


def test_a_cylinder_of_another_book_has_no_log_here(desk: Desk, make_cylinder: Any, other_workshop: Any) -> None:
    cylinder = make_cylinder("H-1", book=other_workshop.book)
    other = f"cylinder:{cylinder.account.number + 1_000}"
    assert refused(lambda: cylinder_log(desk.workshop, other, today=TODAY)).startswith("This book has no cylinder")
    assert "names no cylinder" in refused(lambda: cylinder_log(desk.workshop, "cylinder:x", today=TODAY))


def test_a_cylinder_that_no_line_names_has_a_log_that_says_so(desk: Desk, make_cylinder: Any) -> None:
    paper = log_of(desk, make_cylinder("C-99"))
    assert "No line of the book names this cylinder." in all_said(paper)
    assert facts(paper, "What it holds")["Holds"] == "nothing by the book"


def test_a_workshop_in_pounds_has_its_log_in_pounds(desk: Desk, partner: Any) -> None:
    desk.workshop.mass_unit = "lb"
    paper = log_of(desk, desk.bottle(partner))
    assert table(paper, "Every movement").heads[4] == "Change, lb"
    assert facts(paper, "What it holds")["Holds"] == "24.229 lb R-134a virgin"  # 10.990 kg / 0.45359237


def test_each_sheet_holds_every_text_of_its_paper(desk: Desk, partner: Any, destroyed: Entry, stock_of: Any) -> None:
    bottle = desk.life_of_a_bottle(partner)
    accepted(destroyed, 3_290, 68)
    papers = [log_of(desk, bottle), note_of(desk, destroyed), labels_of(desk, bottle, stock_of("C-1", 1_000))]
    papers.append(note_of(desk, Entry.objects.get(consignment__cylinder=bottle)))
    assert {paper.title: missing_on_the_sheet(paper) for paper in papers} == {paper.title: [] for paper in papers}
