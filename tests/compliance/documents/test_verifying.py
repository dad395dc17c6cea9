"""What a code, a file or a printed digest is, on the open page and by command: each sort of wrong told apart."""

import io
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import StringIO
from typing import Any
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from compliance.documents import verifying
from compliance.documents.codes import make_code
from compliance.documents.verifying import check_code, check_file, compare_line, shown_figures
from compliance.models import Document
from compliance.pages import throttle
from compliance.papers import sheet
from inventory.book import chain, guards, ledger
from inventory.measure.figures import NARROW
from inventory.models import Book, Entry, Holding, Movement
from tests.compliance import sample

pytestmark = pytest.mark.django_db
KG = 1_000_000


@pytest.fixture(autouse=True)
def nobody_asked_before() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def charge(cylinder, vehicle_account, post) -> Entry:
    return post("charge", cylinder, vehicle_account, 450_000)


@pytest.fixture
def document(charge, issued) -> Document:
    return issued()


def altered(document: Document) -> bytes:
    """Return the same sheet with one digit of one mass changed, as somebody would print it who has the program."""
    from datetime import date

    paper = sample.build(document.workshop, document.about, today=date(2026, 3, 4))
    changed = paper.blocks[-1]
    rows = tuple((name, value.replace("450000", "460000")) for name, value in changed.rows)
    stamp = sample.STAMP.__class__(
        number=document.number,
        issued_at=document.issued_at,
        issued_by=str(document.issued_by),
        book=document.workshop.book.name,
        book_uid=str(document.workshop.book.uid),
        head_seq=document.head_seq,
        head_digest=document.head_digest,
    )
    forged = sample.paper(blocks=(*paper.blocks[:-1], sample.Facts("Masses", rows)), issuer=paper.issuer)
    return sheet.as_pdf(forged, stamp, document.code)


@contextmanager
def guards_off() -> Iterator[None]:
    guards.remove()
    try:
        yield
    finally:
        guards.install()


# Codes and files


def test_a_code_is_answered_with_what_was_issued(document):
    answer = check_code(document.code.lower())
    assert answer.stands
    assert answer.sentence.startswith(f"Issued as no. 1, {sample.KIND}, on ")
    known = answer.document
    assert (known.number, known.kind, known.workshop) == (1, sample.KIND, "Port Ellery")
    assert known.line == document.head_seq
    figures = dict(known.figures)
    assert figures["Moved, 2, R-134a, virgin, mass"] == "0.450\N{NARROW NO-BREAK SPACE}kg"
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", figures["On"])


def test_no_name_and_no_plate_comes_through(document):
    said = repr(check_code(document.code))
    for private in (sample.PLATE, sample.NAME, "Tomas"):
        assert private in document.content
        assert private not in said


def test_the_issued_file_is_known_byte_for_byte(document):
    answer = check_file(document.file)
    assert answer.stands
    assert "byte for byte" in answer.sentence


def test_the_facts_kept_as_json_are_known_too(document):
    assert check_file(document.content.encode()).stands


def test_a_certificate_altered_by_one_digit_carries_the_code_but_is_not_the_file(document):
    forged = altered(document)
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(forged)).pages)
    assert "460000 mg" in text
    answer = check_file(forged)
    assert answer.verdict == verifying.ALTERED
    assert not answer.stands
    assert answer.sentence.startswith("The file carries the code of no. 1 but is not the file that was issued.")
    assert dict(answer.document.figures)["Moved, 2, R-134a, virgin, mass"] == "0.450\N{NARROW NO-BREAK SPACE}kg"


def test_a_file_altered_by_one_byte_is_not_the_file(document):
    changed = document.file + b"\n"
    assert check_file(changed).verdict == verifying.ALTERED


def test_a_document_of_another_book_is_told_apart(document):
    """A paper that this server did not issue: its own book, number and code, all sound."""
    code = make_code(book_uid=sample.STAMP.book_uid, number=12, content_digest="a" * 64, head_digest="b" * 64)
    answer = check_file(sheet.as_pdf(sample.paper(), sample.STAMP, code))
    assert answer.verdict == verifying.OTHER_BOOK
    assert "another book" in answer.sentence
    assert check_code(code).verdict == verifying.UNKNOWN


def test_a_paper_that_names_this_book_with_an_invented_code_is_told_apart(document, workshop):
    from dataclasses import replace

    stamp = replace(sample.STAMP, book_uid=str(workshop.book.uid))
    code = make_code(book_uid="x", number=1, content_digest="y", head_digest="z")
    answer = check_file(sheet.as_pdf(sample.paper(), stamp, code))
    assert answer.verdict == verifying.UNKNOWN
    assert "names a book kept here" in answer.sentence


@pytest.mark.parametrize("content", [b"", b"hello", b"%PDF-1.7 and then nothing of the sort", b"\x00" * 5000])
def test_what_is_no_document_is_said_to_be_none(document, content):
    assert check_file(content).verdict == verifying.NO_DOCUMENT


def test_a_mistyped_code_is_told_apart_from_one_that_nobody_issued(document):
    plain = document.code.replace("-", "")
    wrong = plain[:-1] + ("0" if plain[-1] != "0" else "1")
    assert check_code(wrong).sentence == "This is not a code: one character is wrong."
    unknown = make_code(book_uid="x", number=1, content_digest="y", head_digest="z")
    assert check_code(unknown).sentence == "No document with this code was issued by a book kept here."


def test_a_replaced_document_names_the_newer_one_and_still_stands(document, issued):
    newer = issued()
    answer = check_code(document.code)
    assert (answer.document.replaced_by, answer.stands) == (newer.number, True)
    assert check_code(newer.code).document.replaces == document.number


# What was written since


def test_a_reversed_line_is_named_with_its_day(document, charge, act):
    reversal = ledger.reverse(charge, act())
    answer = check_code(document.code)
    assert not answer.stands
    assert answer.faults == ()
    (change,) = answer.changes
    words = f"Line {charge.seq}, on which it rests, was reversed (line {reversal.seq}, {reversal.booked_on})."
    assert str(change) == words


def test_a_line_that_was_reversed_before_issuing_is_no_news(charge, act, issued):
    ledger.reverse(charge, act())
    assert check_code(issued().code).changes == ()


def test_a_reversed_line_that_the_document_does_not_rest_on_changes_nothing(
    document, cylinder, vehicle_account, post, act
):
    ledger.reverse(post("charge", cylinder, vehicle_account, 1_000), act())
    assert check_code(document.code).stands


def test_a_difference_explained_since_is_named(cylinder, account, post, issued):
    difference = post("weighing-difference", cylinder, account("unexplained"), 180_000).movements.get()
    document = issued()
    explained = post("loss-explained", account("unexplained"), account("air"), 100_000, explains=difference)
    (change,) = check_code(document.code).changes
    assert change.line == explained.seq
    assert f"line {difference.entry.seq}" in change.words


def test_a_document_of_a_period_names_lines_reversed_and_written_for_it_since(
    charge, issued, made_up, act, cylinder, vehicle_account, post, now
):
    from compliance.papers.builders import BUILDERS

    day = charge.booked_on
    BUILDERS[made_up] = lambda workshop, about, *, today: sample.paper(about, lines=())
    document = issued(f"period:{day}:{day}")
    assert check_code(document.code).stands
    reversal = ledger.reverse(charge, act())
    late = post("charge", cylinder, vehicle_account, 20_000)
    changes = check_code(document.code).changes
    assert [(change.line, change.words[:10]) for change in changes] == [
        (reversal.seq, f"Line {charge.seq}, on"[:10]),
        (late.seq, "A line was"),
    ]


# Tampering with what is kept


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"content": "{}"}, "Its content is not what was issued."),
        ({"file": b"%PDF-"}, "Its file is not what was issued."),
        ({"content_digest": "0" * 64}, "seals something else."),
        ({"number": 7}, "does not seal it."),
        ({"head_seq": 1}, "has not the digest any more that the paper carries."),
        ({"head_digest": "0" * 64}, "has not the digest any more that the paper carries."),
    ],
)
def test_what_was_changed_in_a_kept_document_is_said(document, change, words):
    Document.objects.filter(pk=document.pk).update(**change)
    answer = check_code(document.code)
    assert not answer.stands
    assert any(fault.endswith(words) for fault in answer.faults)


@pytest.mark.tampers
def test_a_row_changed_by_hand_is_named_by_verify_and_the_paper_says_so_too(document, charge):
    """The head line that the paper carries is the changed one."""
    assert document.head_seq == charge.seq
    with guards_off():
        Movement.objects.filter(entry=charge).update(mass_mg=400_000)
    with pytest.raises(CommandError, match=rf"^Port Ellery, line {charge.seq}: is not what was written"):
        call_command("verify")
    (fault,) = check_code(document.code).faults
    assert fault == f"Line {charge.seq} of the book, which the paper names, is not what was written."


@pytest.mark.tampers
def test_history_written_anew_makes_the_older_paper_disagree(document, charge):
    """Somebody changes a mass and recomputes every digest, holding and head: the chain agrees, the paper does not."""
    printed = document.head_digest[:16]
    with guards_off():
        Movement.objects.filter(entry=charge).update(mass_mg=400_000)
        Holding.objects.filter(account__kind="vehicle").update(mass_mg=400_000)
        Holding.objects.filter(account__kind="cylinder").update(mass_mg=5 * KG - 400_000)
        rechain(Book.objects.get(pk=document.workshop.book_id))
    answer = check_code(document.code, digest=printed)
    assert any("has not the digest any more that the paper carries" in fault for fault in answer.faults)
    assert "written anew since" in answer.compared
    agrees, words = compare_line(charge.seq, printed)
    assert not agrees
    assert "written anew" in words
    with pytest.raises(CommandError, match=r"document no\. 1: line \d+ of the book has not the digest"):
        call_command("verify")


def rechain(book: Book) -> None:
    previous = ""
    for entry in Entry.objects.filter(book=book).order_by("seq"):
        movements = entry.movements.select_related("source", "target", "scale", "explains__entry").order_by("line")
        previous = chain.entry_digest(book, previous, entry, movements, entry.weighings.none())
        Entry.objects.filter(pk=entry.pk).update(digest=previous)
    Book.objects.filter(pk=book.pk).update(head_digest=previous)


def test_the_printed_digest_is_compared_with_the_line_of_today(document):
    assert check_code(document.code, digest=document.head_digest[:16]).stands
    other = check_code(document.code, digest="0" * 16)
    assert not other.agrees
    assert not check_code(document.code, digest="short").agrees
    assert compare_line(document.head_seq, document.head_digest[:16].upper())[0]


# The open page


@pytest.fixture
def visitor() -> Client:
    return Client()


def ask(visitor: Client, **sent: Any) -> Any:
    return visitor.post(reverse("verify"), sent)


def test_a_stranger_asks_without_signing_in_and_sees_masses_and_days_alone(visitor, document):
    page = ask(visitor, code=document.code)
    assert page.status_code == 200
    said = page.content.decode()
    assert "Issued as no. 1" in said
    assert "0.450" in said
    for private in (sample.PLATE, sample.NAME, "Tomas"):
        assert private not in said


def test_the_address_may_hold_the_code(visitor, document):
    page = visitor.get(reverse("verify"), {"code": document.code})
    assert "Issued as no. 1" in page.content.decode()
    assert "Check a document" in visitor.get(reverse("verify")).content.decode()


def test_a_file_is_sent_and_compared(visitor, document):
    page = ask(visitor, file=SimpleUploadedFile("a.pdf", document.file))
    assert "byte for byte" in page.content.decode()
    page = ask(visitor, file=SimpleUploadedFile("a.pdf", altered(document)))
    assert "is not the file that was issued" in page.content.decode()


def test_a_digest_alone_is_compared_with_its_line(visitor, document):
    page = ask(visitor, digest=document.head_digest[:16], line=document.head_seq)
    assert "has this digest still" in page.content.decode()


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({}, "Enter a check code, choose a file"),
        ({"digest": "0" * 16}, "Enter the line that is printed before the digest"),
        ({"line": "first", "code": "x"}, "A line is a whole number."),
    ],
)
def test_what_cannot_be_asked_is_put_right_beside_its_field(visitor, db, sent, words):
    page = ask(visitor, **sent)
    assert page.status_code == 422
    assert words in page.content.decode()


def test_a_file_too_large_is_refused_with_its_size(visitor, db):
    page = ask(visitor, file=SimpleUploadedFile("a.pdf", b"%PDF-" + b"0" * 5_100_000))
    assert page.status_code == 422
    assert "The file has 5.1 MB" in page.content.decode()


def test_who_asks_too_often_waits_and_others_do_not(visitor, document):
    for _ in range(throttle.QUESTIONS):
        assert ask(visitor, code=document.code).status_code == 200
    page = ask(visitor, code=document.code)
    assert page.status_code == 429
    assert int(page["Retry-After"]) > 0
    assert "Wait 10 minutes" in page.content.decode()
    assert visitor.get(reverse("verify"), {"code": document.code}).status_code == 429
    assert visitor.get(reverse("verify")).status_code == 200
    other = Client(REMOTE_ADDR="192.0.2.7")
    assert ask(other, code=document.code).status_code == 200


# The command


def told(*words: str) -> str:
    out = StringIO()
    call_command("verify", *words, stdout=out)
    return out.getvalue()


def test_the_command_ends_well_for_an_issued_document_by_code_and_by_file(document, tmp_path):
    said = told("--document", document.code)
    assert "Issued as no. 1" in said
    assert "The whole book Port Ellery is as it was written." in said
    (tmp_path / "paper.pdf").write_bytes(document.file)
    assert "byte for byte" in told("--document", str(tmp_path / "paper.pdf"))


def test_the_command_counts_issued_documents(document, issued):
    assert "Port Ellery: 1 document is as issued." in told()
    issued()
    assert "Port Ellery: 2 documents are as issued." in told()


Break = Callable[[Document, Any], str]


def reversed_line(document: Document, act: Any) -> str:
    ledger.reverse(Entry.objects.get(seq=document.head_seq), act())
    return document.code


def unknown_code(document: Document, act: Any) -> str:
    return make_code(book_uid="x", number=1, content_digest="y", head_digest="z")


def changed_file(document: Document, act: Any) -> str:
    Document.objects.filter(pk=document.pk).update(file=b"%PDF-")
    return document.code


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (reversed_line, "whose lines all stand"),
        (unknown_code, "whose lines all stand"),
        (changed_file, r"document no\. 1: its file is not what was issued"),
    ],
)
def test_the_command_ends_with_one_where_it_is_none_or_does_not_stand(document, act, spoil, words):
    with pytest.raises(CommandError, match=words) as stopped:
        told("--document", spoil(document, act))
    assert stopped.value.returncode == 1


def test_the_command_says_where_there_is_no_such_file(document):
    with pytest.raises(CommandError, match=r"There is no file paper\.pdf"):
        told("--document", "paper.pdf")


def test_the_command_names_a_document_that_was_changed(document):
    Document.objects.filter(pk=document.pk).update(content="{}")
    with pytest.raises(CommandError, match=r"^Port Ellery, document no\. 1: its content is not what was issued"):
        told()


def test_another_books_documents_are_not_looked_at(document, other_workshop, stranger, issued):
    issued(workshop=other_workshop, by=stranger, key=uuid4())
    Document.objects.filter(pk=document.pk).update(content="{}")
    assert list(verifying.faults(other_workshop.book)) == []
    assert "1 document is as issued" in told("--book", "Highmoor")


def test_the_figures_of_a_document_stand_as_the_work_went_and_co2_last_in_kilograms() -> None:
    """Kept content has its keys in the order of the alphabet; a CO2 equivalent is never said in pounds."""
    kept = {
        "air_road_co2e_mg": 9_000_000,
        "air_road_mg": 6_000,
        "charge_co2e_mg": 1_102_700_000,
        "in_give_or_take_mg": 4_000,
        "in_mg": 771_107,
        "opened_on": "2026-01-02",
        "out_mg": 453_592,
    }
    assert [(name, said.replace(NARROW, " ")) for name, said in shown_figures(kept, "lb")] == [
        ("Opened on", "2026-01-02"),
        ("Recovered", "1.000 lb"),
        ("Charged", "1.700 lb"),
        ("Charged, give or take", "0.009 lb"),
        ("Lost on the road", "0.013 lb"),
        ("Charged, CO2 equivalent", "1102.700 kg"),
        ("Lost on the road, CO2 equivalent", "9.000 kg"),
    ]
