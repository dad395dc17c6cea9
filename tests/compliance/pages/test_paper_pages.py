"""Sending an issued paper by e-mail and having it signed on the screen, from its page."""

import re
from email import message_from_bytes, policy
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from compliance.models import Document, Sending, Signature

pytestmark = pytest.mark.django_db
SLUG = "port-ellery"


def at(name: str) -> str:
    return reverse(name, args=[SLUG, 1])


def plain(answer: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def test_what_the_paper_says_stands_open_before_its_picture_which_leads_to_itself_large(
    technician_client: Client, document: Document
) -> None:
    page = technician_client.get(at("document")).content.decode()
    said, picture = page.index("What the paper says"), page.index("<img ")
    assert said < picture
    assert '<details class="folded" open>' in page[:said]
    large = re.findall(r'<a class="touch" href="([^"]+)"><img src="([^"]+)"', page)
    assert len(large) == document.pages
    assert all(link == shown for link, shown in large)
    assert technician_client.get(large[0][0])["Content-Type"] == "image/png"


def test_a_paper_goes_out_once_with_its_file(technician_client: Client, document: Document) -> None:
    sent = {"key": str(uuid4()), "to": "petra@example.net", "words": "As we said."}
    for _ in range(2):
        assert technician_client.post(at("document-mail"), sent)["Location"] == at("document")
    (letter,) = mail.outbox
    assert letter.to == ["petra@example.net"]
    assert "As we said." in letter.body
    assert document.code in letter.body
    ((name, content, kind),) = letter.attachments
    assert (name, content, kind) == ("made-up-record-1.pdf", bytes(document.file), "application/pdf")
    assert [one.state for one in Sending.objects.all()] == [Sending.SENT]
    assert "petra@example.net" not in repr(Sending.objects.values())


def test_a_signed_copy_goes_along(technician_client: Client, document: Document, settings: Any, tmp_path: Path) -> None:
    signed = {"key": str(uuid4()), "part": "For the customer", "name": "Petra Example", "drawn": "[[[1, 2]]]"}
    assert technician_client.post(at("document-sign"), signed).status_code == 303
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path)
    technician_client.post(at("document-mail"), {"key": str(uuid4()), "to": "petra@example.net"})
    (kept,) = tmp_path.iterdir()
    letter = message_from_bytes(kept.read_bytes().split(b"\n---")[0], policy=policy.default)
    names = [part.get_filename() for part in letter.iter_attachments()]
    assert names == ["made-up-record-1.pdf", "made-up-record-1-signed.pdf"]


@pytest.mark.parametrize("to", ["", "petra", "petra@example.net, b@example.net", "a@b.net\nBcc: c@d.net"])
def test_what_is_no_address_is_told_beside_the_field(technician_client: Client, document: Document, to: str) -> None:
    answer = technician_client.post(at("document-mail"), {"key": str(uuid4()), "to": to, "words": "As we said."})
    assert answer.status_code == 422
    assert "As we said." in answer.content.decode()
    assert mail.outbox == []


def test_where_the_mail_server_is_away_what_was_typed_stays_and_the_same_form_sends_it_later(
    technician_client: Client, document: Document, settings: Any, unused_tcp_port_number: int
) -> None:
    works = settings.EMAIL_BACKEND
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", unused_tcp_port_number
    sent = {"key": str(uuid4()), "to": "petra@example.net", "words": "As we said."}
    answer = technician_client.post(at("document-mail"), sent)
    assert answer.status_code == 422
    assert "does not answer. Nothing was sent; press again later, or take the PDF along." in plain(answer)
    for typed in ("petra@example.net", "As we said."):
        assert typed in answer.content.decode()
    assert [one.state for one in Sending.objects.all()] == [Sending.NOT_SENT]
    settings.EMAIL_BACKEND = works
    assert technician_client.post(at("document-mail"), sent).status_code == 303
    assert len(mail.outbox) == 1


@pytest.fixture
def unused_tcp_port_number() -> int:
    import socket

    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def test_where_no_server_is_set_the_page_says_so_and_how_else(
    technician_client: Client, document: Document, settings: Any
) -> None:
    settings.EMAIL_BACKEND, settings.EMAIL_HOST = "django.core.mail.backends.smtp.EmailBackend", ""
    page = technician_client.get(at("document-mail"))
    assert "No mail server is set" in plain(page)
    assert "Take the PDF" in plain(page)
    sent = {"key": str(uuid4()), "to": "petra@example.net"}
    assert "No mail server is set" in plain(technician_client.post(at("document-mail"), sent))
    assert not Sending.objects.exists()


def test_a_paper_is_signed_on_the_screen_and_shows_it(technician_client: Client, document: Document) -> None:
    page = technician_client.get(at("document-sign")).content.decode()
    assert 'data-sign="signing"' in page
    sent = {"key": str(uuid4()), "part": "For the customer", "name": "Petra Example", "drawn": "[[[10, 20], [30, 40]]]"}
    assert technician_client.post(at("document-sign"), sent).status_code == 303
    shown = technician_client.get(at("document"))
    assert "For the customer: Petra Example" in plain(shown)
    assert "M10 20L30 40" in shown.content.decode()
    copy = technician_client.get(at("document-signed"))
    assert (copy["Content-Type"], copy.content[:5]) == ("application/pdf", b"%PDF-")


def test_without_a_drawing_the_typed_name_stands(technician_client: Client, document: Document) -> None:
    sent = {"key": str(uuid4()), "part": "For the workshop", "name": "Tobin Falk"}
    assert technician_client.post(at("document-sign"), sent).status_code == 303
    assert Signature.objects.get().name == "Tobin Falk"


def test_what_cannot_be_signed_comes_back_with_what_was_typed(technician_client: Client, document: Document) -> None:
    bad = {"key": str(uuid4()), "part": "For the customer", "name": "Petra Example", "drawn": "[[["}
    answer = technician_client.post(at("document-sign"), bad)
    assert answer.status_code == 422
    assert "What was drawn cannot be read." in plain(answer)
    assert "Petra Example" in answer.content.decode()
    assert technician_client.post(at("document-sign"), {**bad, "drawn": "", "name": ""}).status_code == 422
    assert not Signature.objects.exists()


def test_a_reader_neither_sends_nor_signs_and_a_stranger_finds_nothing(
    reader_client: Client, stranger_client: Client, document: Document
) -> None:
    for name in ("document-mail", "document-sign"):
        assert reader_client.get(at(name)).status_code == 403
        assert stranger_client.get(at(name)).status_code == 404
    assert reader_client.get(at("document-signed")).status_code == 404  # nobody signed it
