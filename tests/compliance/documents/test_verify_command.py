"""What a code or a file is, asked by command."""

from collections.abc import Callable
from io import StringIO
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command

from compliance.documents import seals
from compliance.documents.codes import make_code
from compliance.models import Document
from inventory.models import Entry
from tests.inventory.book.lines import undo_line

pytestmark = pytest.mark.django_db


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
    undo_line(Entry.objects.get(seq=document.head_seq), act())
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
    assert list(seals.faults(other_workshop.book)) == []
    assert "1 document is as issued" in told("--book", "Highmoor")
