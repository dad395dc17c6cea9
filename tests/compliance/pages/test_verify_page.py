"""The open page that says what a code, a file or a printed digest is."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from compliance.pages.views.verify import QUESTIONS
from tests.compliance import sample
from tests.compliance.sample import altered

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nobody_asked_before() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


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
    for _ in range(QUESTIONS):
        assert ask(visitor, code=document.code).status_code == 200
    page = ask(visitor, code=document.code)
    assert page.status_code == 429
    assert int(page["Retry-After"]) > 0
    assert "Wait 10 minutes" in page.content.decode()
    assert visitor.get(reverse("verify"), {"code": document.code}).status_code == 429
    assert visitor.get(reverse("verify")).status_code == 200
    other = Client(REMOTE_ADDR="192.0.2.7")
    assert ask(other, code=document.code).status_code == 200
