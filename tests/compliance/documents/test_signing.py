"""A signature names the paper that it is of, is sealed by a line of its own, and changes nothing of the paper."""

import io
import json
from typing import Any
from uuid import uuid4

import pytest
from pypdf import PdfReader

from compliance.documents.issuing import Refused
from compliance.documents.seals import document_faults
from compliance.documents.signing import (
    MOST_POINTS,
    NoSignature,
    parts_of,
    read_strokes,
    shown_signatures,
    sign,
    signed_copy,
)
from compliance.models import Document, Signature
from inventory.models import Entry

pytestmark = pytest.mark.django_db
STROKES = [[[10, 20], [300, 150]], [[40, 40]]]


@pytest.fixture
def signed(document: Document, technician: Any, now: Any) -> Signature:
    return given(document, technician, now)


def given(document: Document, by: Any, now: Any, **more: Any) -> Signature:
    facts = {"name": "Petra Example", "part": "For the customer", "strokes": STROKES, "key": uuid4(), **more}
    return sign(document, by=by, now=now, **facts)


def test_a_signature_names_the_paper_and_is_sealed_by_a_line(document: Document, signed: Signature) -> None:
    before = (document.content, bytes(document.file), document.file_digest)
    kept = json.loads(signed.content)
    assert (kept["paper"], kept["content"]) == (document.file_digest, document.content_digest)
    assert kept["strokes"] == STROKES
    assert (signed.entry.kind, signed.entry.seals, signed.entry.context) == (Entry.SEAL, signed.digest, "document:1")
    document.refresh_from_db()
    assert (document.content, bytes(document.file), document.file_digest) == before
    assert list(document_faults(document)) == []


def test_the_same_form_signs_once(document: Document, technician: Any, now: Any) -> None:
    key = uuid4()
    assert given(document, technician, now, key=key) == given(document, technician, now, key=key)
    assert Signature.objects.count() == 1
    with pytest.raises(Refused, match="signed already"):
        given(document, technician, now, key=key, name="Somebody Else")


def test_a_paper_that_was_replaced_is_not_signed(document: Document, issued: Any, technician: Any, now: Any) -> None:
    later = issued()
    with pytest.raises(Refused, match=rf"replaced by no\. {later.number}: sign that one"):
        given(document, technician, now)
    assert not Signature.objects.exists()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"content": "{}"}, "is not what was given"),
        ({"name": "Somebody Else"}, "bears another name"),
        ({"digest": "0" * 64}, "is not what was given"),
    ],
)
def test_a_signature_that_was_changed_is_told(document, signed, change, words) -> None:
    Signature.objects.filter(pk=signed.pk).update(**change)
    (fault,) = document_faults(document)
    assert words in fault


def test_the_signed_copy_holds_the_paper_and_a_page_of_signatures(document: Document, signed: Signature) -> None:
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(signed_copy(document))).pages]
    assert len(pages) == document.pages + 1
    assert "Petra Example" in pages[-1]
    assert "".join(document.file_digest.split()) in "".join(pages[-1].split())
    (one,) = shown_signatures(document)
    assert "<path" in one.drawing
    assert "M10 20L300 150" in one.drawing


def test_whom_a_paper_asks_may_sign_it(document: Document) -> None:
    assert parts_of(document)[0] == "Technician, name and date"
    assert parts_of(document)[-1] == "For the customer"


@pytest.mark.parametrize("text", ["[", '{"a": 1}', "[[[1]]]", "[[[1, 900]]]", '[[["<b>", 1]]]', "[[[NaN, 1]]]", "7"])
def test_what_is_no_drawing_is_refused(text: str) -> None:
    with pytest.raises(NoSignature, match="cannot be read"):
        read_strokes(text)


def test_too_much_is_refused_and_nothing_is_nothing() -> None:
    with pytest.raises(NoSignature, match="too much"):
        read_strokes(json.dumps([[[1, 1]] * (MOST_POINTS + 1)]))
    assert read_strokes(" ") == []
    assert read_strokes("[[[1.4, 2]], []]") == [[[1, 2]]]
