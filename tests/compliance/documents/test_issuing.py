"""A document is issued once, under a number without gaps, sealed by a line of the book, and kept as issued."""

import hashlib
import io
import json
from threading import Barrier, Thread
from uuid import uuid4

import pytest
from django.db import connection
from pypdf import PdfReader

from compliance.documents import issuing
from compliance.documents.codes import ALPHABET, BODY, MistypedCode, check_character, codes_in, make_code, read_code
from compliance.documents.issuing import Refused, issue
from compliance.models import Document
from compliance.papers.paper import NothingToIssue
from inventory.book.refusals import NotReversible
from inventory.models import Entry
from tests.compliance import sample
from tests.compliance.onpaper import bare, texts
from tests.inventory.book.lines import undo_line

pytestmark = pytest.mark.django_db
A_CODE = make_code(book_uid="b", number=1, content_digest="c", head_digest="d")


def test_an_issued_document_is_numbered_sealed_and_kept(issued, workshop, technician, cylinder):
    head = workshop.book.head_seq
    workshop.book.refresh_from_db()
    document = issued()
    assert (document.number, document.kind, document.about) == (1, sample.KIND, "visit:12")
    assert document.content_digest == hashlib.sha256(document.content.encode()).hexdigest()
    assert document.file_digest == hashlib.sha256(document.file).hexdigest()
    both = f"{document.content_digest}:{document.file_digest}"
    entry = document.entry
    assert (entry.kind, entry.seals) == (Entry.SEAL, hashlib.sha256(both.encode()).hexdigest())
    assert (entry.context, entry.actor) == ("document:1", technician.handle)
    assert document.head_seq == entry.seq - 1 > head
    assert document.file.startswith(b"%PDF-")
    assert document.pages >= 1


def test_the_content_is_canonical_json_and_says_where_the_book_stood(issued, workshop, cylinder):
    document = issued()
    content = json.loads(document.content)
    assert issuing.canonical(content) == document.content
    assert content["number"] == 1
    assert content["book_uid"] == str(workshop.book.uid)
    assert content["head_line"] == document.head_seq
    assert content["head_digest"] == document.head_digest == Entry.objects.get(seq=document.head_seq).digest


def test_the_code_stands_in_the_file_and_is_found_by_it(issued):
    from compliance.documents.verifying import text_of

    document = issued()
    assert list(codes_in(text_of(document.file))) == [document.code]


def test_the_issued_file_says_all_of_its_sealed_content(issued):
    document = issued()
    content = json.loads(document.content)
    for block in content["blocks"]:
        del block["block"]  # the name of the sort of block, for scripts
    said = bare("".join(page.extract_text() for page in PdfReader(io.BytesIO(document.file)).pages))
    named = ("title", "about", "workshop", "bases", "blocks", "sources", "cautions", "book_uid", "issued_by")
    assert [text for text in texts([content[name] for name in named]) if bare(text) not in said] == []


def test_the_same_form_pressed_twice_is_one_document(issued):
    key = uuid4()
    assert issued(key=key) == issued(key=key)
    assert Document.objects.count() == 1
    assert Entry.objects.filter(kind=Entry.SEAL).count() == 1


@pytest.mark.parametrize("change", [{"about": "visit:13"}, {"by": "owner"}])
def test_a_form_that_issued_one_document_issues_no_other(issued, request, change):
    key = uuid4()
    issued(key=key)
    if "by" in change:
        change = {"by": request.getfixturevalue(change["by"])}
    with pytest.raises(Refused, match=r"issued no\. 1 already"):
        issued(key=key, **change)
    assert Document.objects.count() == 1


def test_a_newer_document_of_the_same_record_replaces_and_both_stay(issued):
    first, other, second = issued(), issued("visit:13"), issued()
    assert (first.replaces, other.replaces, second.replaces) == (None, None, first)
    assert json.loads(second.content)["replaces"] == 1
    assert [one.number for one in Document.objects.order_by("number")] == [1, 2, 3]
    first.refresh_from_db()
    assert first.replaced_by == second


def test_each_workshop_counts_its_own_documents(issued, other_workshop, stranger):
    issued()
    assert issued(workshop=other_workshop, by=stranger).number == 1


def test_what_has_nothing_to_show_is_not_issued_and_takes_no_number(issued):
    with pytest.raises(NothingToIssue, match="nothing to show"):
        issued("visit:404")
    with pytest.raises(NothingToIssue, match="no document called"):
        issued(kind="passport")
    with pytest.raises(NothingToIssue, match="too many records"):
        issued("cylinders:" + ",".join(map(str, range(100, 130))))
    assert not Entry.objects.filter(kind=Entry.SEAL).exists()
    assert issued().number == 1


def test_a_number_taken_while_the_sheet_was_printed_is_not_taken_twice(issued, workshop, technician, made_up, now):
    """Another person issues a document between the printing of this one and its writing."""
    printed = issuing._print(workshop, made_up, "visit:12", by=technician, now=now)
    issued("visit:13")
    assert not issuing._write(printed, "visit:12", key=uuid4(), now=now)
    assert issued().number == 2


def test_a_seal_is_not_reversed(issued, act):
    with pytest.raises(NotReversible, match="is a seal"):
        undo_line(issued().entry, act())


@pytest.mark.django_db(transaction=True)
def test_people_who_issue_at_once_get_different_numbers(workshop, technician, made_up, now):
    start, said = Barrier(3), []

    def press(about: str) -> None:
        connection.ensure_connection()
        start.wait()
        try:
            said.append(issue(workshop, made_up, about, by=technician, key=uuid4(), now=now).number)
        finally:
            connection.close()

    hands = [Thread(target=press, args=(f"visit:{n}",)) for n in (1, 2, 3)]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    assert sorted(said) == [1, 2, 3]


# The code


def test_a_code_is_read_however_it_is_typed():
    bare = A_CODE.replace("-", "")
    for typed in (
        A_CODE,
        A_CODE.lower(),
        bare,
        f" {bare.lower()} ",
        A_CODE.replace("-", " "),
        A_CODE.replace("-", "–"),
    ):
        assert read_code(typed) == A_CODE


def test_letters_that_are_in_no_code_are_read_as_the_digits_they_look_like():
    zeros = "0" * BODY + "0"
    assert read_code("O" * BODY + "o") == read_code(zeros) == "0000-0000-0000"
    ones = read_code("1" * BODY + check_character("1" * BODY))
    assert read_code(ones.replace("1", "l")) == read_code(ones.replace("1", "I")) == ones


def test_any_one_wrong_character_is_told_as_mistyped():
    plain = A_CODE.replace("-", "")
    for place, right in enumerate(plain):
        for wrong in set(ALPHABET) - {right}:
            with pytest.raises(MistypedCode, match="one character is wrong"):
                read_code(plain[:place] + wrong + plain[place + 1 :])


@pytest.mark.parametrize(("typed", "words"), [("", "has 0"), ("7K3M", "has 4"), ("7U3M-Q2AB-CDE4", "U is in")])
def test_what_cannot_be_a_code_is_told_why(typed, words):
    with pytest.raises(MistypedCode, match=words):
        read_code(typed)


def test_a_code_depends_on_each_thing_it_is_made_of():
    facts = {"book_uid": "b", "number": 1, "content_digest": "c", "head_digest": "d"}
    others = [{**facts, name: "other"} for name in facts]
    assert len({A_CODE, *(make_code(**other) for other in others)}) == 5
