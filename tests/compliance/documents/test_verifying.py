"""What a code or a file is, and what was written since: each sort of wrong told apart."""

import io
import re

import pytest
from pypdf import PdfReader

from compliance.documents import verifying
from compliance.documents.codes import make_code
from compliance.documents.verifying import check_code, check_file, compare_line
from compliance.papers import sheet
from tests.compliance import sample
from tests.compliance.sample import altered
from tests.inventory.book.lines import undo_line

pytestmark = pytest.mark.django_db

KG = 1_000_000


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


def test_a_reversed_line_is_named_with_its_day(document, charge, act):
    reversal = undo_line(charge, act())
    answer = check_code(document.code)
    assert not answer.stands
    assert answer.faults == ()
    (change,) = answer.changes
    words = f"Line {charge.seq}, on which it rests, was reversed (line {reversal.seq}, {reversal.booked_on})."
    assert str(change) == words


def test_a_line_that_was_reversed_before_issuing_is_no_news(charge, act, issued):
    undo_line(charge, act())
    assert check_code(issued().code).changes == ()


def test_a_reversed_line_that_the_document_does_not_rest_on_changes_nothing(
    document, cylinder, vehicle_account, post, act
):
    undo_line(post("charge", cylinder, vehicle_account, 1_000), act())
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
    reversal = undo_line(charge, act())
    late = post("charge", cylinder, vehicle_account, 20_000)
    changes = check_code(document.code).changes
    assert [(change.line, change.words[:10]) for change in changes] == [
        (reversal.seq, f"Line {charge.seq}, on"[:10]),
        (late.seq, "A line was"),
    ]


def test_the_printed_digest_is_compared_with_the_line_of_today(document):
    assert check_code(document.code, digest=document.head_digest[:16]).stands
    other = check_code(document.code, digest="0" * 16)
    assert not other.agrees
    assert not check_code(document.code, digest="short").agrees
    assert compare_line(document.head_seq, document.head_digest[:16].upper())[0]
