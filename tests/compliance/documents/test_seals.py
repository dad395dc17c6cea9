"""What is wrong with a kept document, and how the paper shows that history was written anew."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.core.management import CommandError, call_command

from compliance.documents.verifying import check_code, compare_line
from compliance.models import Document
from inventory.book import chain, guards
from inventory.models import Book, Entry, Holding, Movement, PeriodTotal

pytestmark = pytest.mark.django_db


@contextmanager
def guards_off() -> Iterator[None]:
    guards.remove()
    try:
        yield
    finally:
        guards.install()


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
        PeriodTotal.objects.filter(cause="charge").update(mass_mg=400_000)
        Holding.objects.filter(account__kind="vehicle").update(mass_mg=400_000)
        Holding.objects.filter(account__kind="cylinder").update(mass_mg=5_000_000 - 400_000)
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
        previous = chain.standing_digest(book, previous, entry)
        Entry.objects.filter(pk=entry.pk).update(digest=previous)
    Book.objects.filter(pk=book.pk).update(head_digest=previous)
