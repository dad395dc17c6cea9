"""Labels of cylinders, the log of one, and the note for gas sent away: figures from acts, words, sheets."""

import subprocess
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import zxingcpp
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from PIL import Image

from compliance.papers import sheet, stock
from compliance.papers.paper import Facts, Label, NothingToIssue, Paper, Signatures, Table
from compliance.papers.stock import consignment_note, cylinder_labels, cylinder_log
from inventory import causes
from inventory.acts import away, explaining, onscale, partners, receiving, sister, undoing
from inventory.acts.away import Dispatch
from inventory.acts.receiving import First, FirstReading, NewCylinder
from inventory.book import ledger
from inventory.book.weighing import Gross
from inventory.models import Account, AirCheck, Analysis, Cylinder, Entry, Movement, Photo
from shop.visits.acts import entering, gas_in
from shop.visits.acts.entering import StepFacts
from tests.compliance.onpaper import all_said, missing_on_the_sheet
from tests.compliance.sample import CODE, STAMP

pytestmark = pytest.mark.django_db
G = 1000
TODAY = date(2026, 1, 2)
START = datetime(2025, 2, 20, 9, tzinfo=UTC)


class Desk:
    """One workshop whose people weigh, charge and send, an hour after each other."""

    def __init__(self, workshop: Any, technician: Any, clock: Callable[[datetime], datetime], scales: Any) -> None:
        self.workshop, self.book, self.technician = workshop, workshop.book, technician
        self.clock, self.at = clock, START
        self.s1, self.s2 = scales
        self.visits = 0

    def act(self, context: str = "", actor: str = "") -> ledger.Act:
        self.at += timedelta(hours=1)
        self.clock(self.at)
        return ledger.Act(uuid4(), actor or self.technician.handle, self.at, {"n": str(self.at)}, context)

    def gross(self, cylinder: Any, scale: Any, grams: int) -> Gross:
        return Gross(cylinder, scale, grams * G, f"{grams} g")

    def bottle(self, partner: Any) -> Cylinder:
        """C-34 as it comes: 17,190 g gross, stamped 6,200 g good to 50 g."""
        new = NewCylinder(
            *("C-34", "refillable", "R-134a", "virgin", 6_200 * G),
            tare_u_mg=28_868,
            water_capacity_m3=0.012,
            requalify_by=date(2031, 5, 1),
        )
        first = First("purchase", "single", partner)
        return receiving.receive_cylinder(
            self.book, self.act(), new, first, FirstReading(self.s1, 17_190 * G, "17.190 kg")
        )

    def charge(self, cylinder: Any, plate: str, before: int, after: int, **facts: Any) -> Entry:
        act = self.act()
        self.visits += 1
        done = StepFacts(doer=self.technician, **facts)
        visit = entering.open_visit(self.workshop, plate, opened_at=act.occurred_at, step_key=uuid4(), received=done)
        act = self.act(visit.context)
        readings = {"before": self.gross(cylinder, self.s2, before), "after": self.gross(cylinder, self.s2, after)}
        return gas_in.charge(visit, act, done, **readings)[0]

    def check(self, cylinder: Any, grams: int) -> Entry:
        return onscale.weigh(self.book, self.act(), self.gross(cylinder, self.s1, grams))

    def send(self, cylinder: Any, grams: int, dispatch: Dispatch) -> Entry:
        return away.send_away(self.book, self.act(), self.gross(cylinder, self.s1, grams), dispatch)

    def life_of_a_bottle(self, partner: Any) -> Cylinder:
        """From its purchase to its return, six charges between."""
        cylinder = self.bottle(partner)
        at = (17_186, 16_402, 15_467, 8_467, 7_857, 7_272, 6_622)
        for place, (before, after) in enumerate(zip(at, at[1:], strict=False)):
            self.charge(cylinder, f"PL 4T{place}", before, after)
        self.send(cylinder, 6_615, Dispatch(partner, "heel-returned", "return to supplier", "PE-25-01"))
        return cylinder


@pytest.fixture
def desk(workshop: Any, technician: Any, clock: Callable[[datetime], datetime], make_scale: Callable[..., Any]) -> Desk:
    clock(START)
    workshop.jurisdiction = "eu"
    workshop.save()
    return Desk(workshop, technician, clock, (make_scale(), make_scale("S2", 2 * G)))


@pytest.fixture
def stock_of(clock: Callable[[datetime], datetime], make_cylinder: Callable[..., Any], post: Callable[..., Any]) -> Any:
    """Return stock_of(serial, grams, **fields): a cylinder with its opening stock of 1 January 2025."""

    def make(serial: str, grams: int = 0, **fields: Any) -> Any:
        at = clock(datetime(2025, 1, 1, 9, tzinfo=UTC))
        cylinder = make_cylinder(serial, **fields)
        if grams:
            opening = Account.objects.get(book=cylinder.account.book, kind=causes.OPENING)
            gas = {"refrigerant": cylinder.refrigerant, "grade": cylinder.grade}
            post("opening-stock", opening, cylinder, grams * G, basis="single", at=at, **gas)
        clock(START)
        return cylinder

    return make


def log_of(desk: Desk, cylinder: Any) -> Paper:
    return cylinder_log(desk.workshop, f"cylinder:{cylinder.account.number}", today=TODAY)


def note_of(desk: Desk, entry: Entry) -> Paper:
    return consignment_note(desk.workshop, f"line:{entry.seq}", today=TODAY)


def labels_of(desk: Desk, *cylinders: Any) -> Paper:
    numbers = ",".join(str(one.account.number) for one in cylinders)
    return cylinder_labels(desk.workshop, f"cylinders:{numbers}", today=TODAY)


def table(paper: Paper, caption: str) -> Table:
    return next(one for one in paper.blocks if isinstance(one, Table) and one.caption.startswith(caption))


def facts(paper: Paper, title: str) -> dict[str, str]:
    found = next(one for one in paper.blocks if isinstance(one, Facts) and one.title == title)
    return {name: value.replace("\N{NARROW NO-BREAK SPACE}", " ") for name, value in found.rows}


def refused(act: Callable[[], object]) -> str:
    with pytest.raises(NothingToIssue) as found:
        act()
    return str(found.value)


# --- the log --------------------------------------------------------------------------------------------------


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
    line = explaining.explain(desk.book, desk.act(), difference, cause="loss-explained", mass_mg=180 * G).seq
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
    monkeypatch.setattr(stock, "MOST_LINES", 3)
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


# --- labels ---------------------------------------------------------------------------------------------------


def test_a_label_says_what_the_scale_may_show_at_most_and_by_which_rule(desk: Desk, stock_of: Any) -> None:
    cylinder = stock_of("C-1", 1_000, requalify_by=date(2031, 5, 1))
    (label,) = [one for one in labels_of(desk, cylinder).blocks if isinstance(one, Label)]
    rows = {name: value.replace("\N{NARROW NO-BREAK SPACE}", " ") for name, value in label.rows}
    assert label.head == f"C-1 {cylinder.label}"
    assert rows["Scale at most"] == "18.800 kg, ADR/RID P200"  # 6.2 kg and 1.05 kg per litre of 12 L
    assert rows["Empty mass"] == "6.200 kg, stamped"
    assert rows["Refrigerant"] == "R-134a virgin, class A1"
    assert rows["Test date"] == "2031-05-01"
    assert label.marks == ()


def test_what_is_in_it_counts_and_not_what_it_was_meant_for(desk: Desk, stock_of: Any, post: Any) -> None:
    cylinder = stock_of("C-1", 1_000)
    Cylinder.objects.filter(pk=cylinder.pk).update(refrigerant="R-12", grade="recovered")
    assert labels_of(desk, cylinder).figures["cylinders"][0]["refrigerant"] == "R-134a"


def test_marks_stand_in_words(desk: Desk, stock_of: Any) -> None:
    mixed = stock_of("C-40", 465, refrigerant="MIXED", grade="suspect", kind="recovery", tare_mg=5_300 * G)
    single = stock_of("C-37", 3_000, refrigerant="R-1234yf", kind="single-trip")
    labels = [one for one in labels_of(desk, single, mixed).blocks if isinstance(one, Label)]
    assert labels[0].marks == ("FLAMMABLE", "SINGLE-TRIP: NEVER REFILL")
    assert dict(labels[0].rows)["Scale at most"] == "nothing: a single-trip container is never filled"
    assert labels[1].marks == ("FLAMMABLE", "SUSPECT")
    assert dict(labels[1].rows)["Scale at most"] == "no filling limit known"  # nothing was identified in it


def test_a_mixture_has_the_limit_of_its_strictest_part(desk: Desk, stock_of: Any) -> None:
    mixed = stock_of("C-40", 465, refrigerant="MIXED", grade="suspect", tare_mg=5_300 * G, water_capacity_m3=0.006)
    parts = {"R-1234yf": "0.92", "R-134a": "0.08"}
    Analysis.objects.create(account=mixed.account, occurred_at=START, parts=parts)
    assert labels_of(desk, mixed).figures["cylinders"][0]["limit_mg"] == 5_640 * G  # P200: 0.94 kg per litre


def test_a_label_past_its_test_date_says_so(desk: Desk, stock_of: Any) -> None:
    (label, *_) = labels_of(desk, stock_of("C-1", 1_000, requalify_by=date(2025, 12, 31))).blocks
    assert isinstance(label, Label)
    assert dict(label.rows)["Test date"] == "2025-12-31, gone by: takes nothing until it is tested"


def test_the_code_is_the_one_of_the_label_page(desk: Desk, stock_of: Any, owner_client: Any, settings: Any) -> None:
    cylinder = stock_of("C-1", 1_000)
    address = f"/w/port-ellery/cylinders/{cylinder.account.number}/label/"

    def codes(host: str) -> tuple[str, str]:
        label = labels_of(desk, cylinder).blocks[0]
        assert isinstance(label, Label)
        return label.code, owner_client.get(address, HTTP_HOST=host).context["text"]

    settings.ALLOWED_HOSTS = ["book.lan"]
    assert codes("book.lan") == (f"HTTP://BOOK.LAN/C/{cylinder.label}",) * 2
    settings.ADDRESS = "https://elsewhere.lan:8443"
    assert codes("book.lan") == (f"HTTPS://ELSEWHERE.LAN:8443/C/{cylinder.label}",) * 2


def test_without_an_address_there_are_no_labels(desk: Desk, make_cylinder: Any, settings: Any) -> None:
    settings.ALLOWED_HOSTS = [".lan"]
    assert "TAREBOOK_ADDRESS is not set" in refused(lambda: labels_of(desk, make_cylinder()))


def test_labels_come_in_the_order_asked_for_and_each_once(desk: Desk, stock_of: Any) -> None:
    one, two = stock_of("C-1", 1_000), stock_of("C-2", 1_000)
    assert [each["serial"] for each in labels_of(desk, two, one, two).figures["cylinders"]] == ["C-2", "C-1"]


@pytest.mark.parametrize("about", ["cylinders:", "cylinders:abc", "cylinders:1,,2", "cylinder:7", "cylinders:-3"])
def test_what_names_no_cylinders_gets_a_sentence(desk: Desk, about: str) -> None:
    assert refused(lambda: cylinder_labels(desk.workshop, about, today=TODAY)).endswith(".")


def test_a_label_rests_on_the_last_line_of_its_cylinder(desk: Desk, partner: Any) -> None:
    cylinder = desk.bottle(partner)
    last = desk.charge(cylinder, "V1", 17_186, 16_402)
    assert labels_of(desk, cylinder).lines == (last.seq,)


def test_labels_are_read_from_the_picture_of_their_sheet(desk: Desk, stock_of: Any, tmp_path: Path) -> None:
    cylinders = [stock_of(f"C-{place}", 1_000) for place in (1, 2)]
    paper = labels_of(desk, *cylinders)
    (tmp_path / "sheet.pdf").write_bytes(sheet.as_pdf(paper, STAMP, CODE))
    subprocess.run(["pdftoppm", "-r", "200", "-png", "sheet.pdf", "page"], cwd=tmp_path, check=True, timeout=60)
    pictures = [Image.open(found).convert("L") for found in sorted(tmp_path.glob("page*.png"))]
    found = {code.text for picture in pictures for code in zxingcpp.read_barcodes(picture)}
    assert found == {one.code for one in paper.blocks if isinstance(one, Label)}
    assert len(found) == 2


# --- gas sent away --------------------------------------------------------------------------------------------


@pytest.fixture
def destroyer(make_partner: Callable[..., Any]) -> Any:
    return make_partner("Northmoor Destruction", "destruction facility", address="Kiln Lane 1, Northmoor")


@pytest.fixture
def destroyed(desk: Desk, stock_of: Any, destroyer: Any) -> Entry:
    """3,358 g of R-12 on its way to be destroyed."""
    cylinder = stock_of("C-12", 3_358, refrigerant="R-12", grade="recovered", kind="recovery", tare_mg=6_850 * G)
    return desk.send(cylinder, 10_208, Dispatch(destroyer, "sent-away", "destruction", "PE-25-02"))


def accepted(entry: Entry, grams: int, oil: int | None = None) -> None:
    oil_mg = None if oil is None else oil * G
    away.accept(entry.consignment, accepted_mg=grams * G, oil_mg=oil_mg, on=date(2025, 12, 4), paper="ND-7741")


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
    entry = sister.move_to_sister(desk.act(), desk.gross(cylinder, desk.s1, 7_200), there, here)[0]
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


# --- on paper -------------------------------------------------------------------------------------------------


def test_each_sheet_holds_every_text_of_its_paper(desk: Desk, partner: Any, destroyed: Entry, stock_of: Any) -> None:
    bottle = desk.life_of_a_bottle(partner)
    accepted(destroyed, 3_290, 68)
    papers = [log_of(desk, bottle), note_of(desk, destroyed), labels_of(desk, bottle, stock_of("C-1", 1_000))]
    papers.append(note_of(desk, Entry.objects.get(consignment__cylinder=bottle)))
    assert {paper.title: missing_on_the_sheet(paper) for paper in papers} == {paper.title: [] for paper in papers}
