"""A paper proved by its file and the workshop's certificate alone: on another machine, without the book."""

import io
import json
import stat
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from pypdf import PdfReader, PdfWriter

from compliance.documents import alone, signet
from compliance.documents.issuing import Refused
from compliance.documents.verifying import check_file
from compliance.models import Document
from inventory.models import Book

pytestmark = pytest.mark.django_db


@pytest.fixture
def certificate(document: Document, tmp_path: Path) -> Path:
    path = tmp_path / "workshop.crt"
    call_command("paper_key", book="Port Ellery", certificate=path)
    return path


def paper(document: Document, tmp_path: Path, content: bytes = b"") -> Path:
    path = tmp_path / "paper.pdf"
    path.write_bytes(content or bytes(document.file))
    return path


def told(file: Path, certificate: Path) -> str:
    out = io.StringIO()
    call_command("verify", document=str(file), certificate=str(certificate), stdout=out)
    return out.getvalue()


def test_a_paper_is_proved_without_its_book(
    document: Document, certificate: Path, tmp_path: Path, django_assert_num_queries: Any
) -> None:
    file = paper(document, tmp_path)
    with django_assert_num_queries(0):
        said = told(file, certificate)
    assert "Signed by Port Ellery, and no byte was changed since." in said
    assert f"It is no. 1, {document.kind}" in said
    assert document.code in said


def test_the_sealed_content_lies_in_the_file(document: Document) -> None:
    [kept] = PdfReader(io.BytesIO(bytes(document.file))).attachments["content.json"]
    assert kept.decode() == document.content
    assert json.loads(kept)["number"] == 1


def test_a_file_with_a_changed_byte_is_told_apart(document: Document, certificate: Path, tmp_path: Path) -> None:
    whole = bytes(document.file)
    for at in range(200, len(whole), len(whole) // 12):
        changed = whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :]
        with pytest.raises(CommandError, match="It is not a paper") as stopped:
            told(paper(document, tmp_path, changed), certificate)
        assert stopped.value.returncode == 1


def test_what_was_added_behind_the_signature_is_told_apart(
    document: Document, certificate: Path, tmp_path: Path
) -> None:
    writer = PdfWriter(io.BytesIO(bytes(document.file)), incremental=True)
    writer.add_blank_page(100, 100)
    out = io.BytesIO()
    writer.write(out)
    assert out.getvalue().startswith(bytes(document.file))
    with pytest.raises(CommandError, match="It is not a paper"):
        told(paper(document, tmp_path, out.getvalue()), certificate)
    assert "signature that is broken" in check_file(out.getvalue()).signature


def test_a_paper_signed_by_another_key_of_the_same_name_is_told_apart(
    document: Document, certificate: Path, tmp_path: Path
) -> None:
    pages = PdfReader(io.BytesIO(bytes(document.file)))
    bare = PdfWriter()
    bare.append(pages)
    bare.root_object.pop("/AcroForm", None)
    out = io.BytesIO()
    bare.write(out)
    signet.renew(Book.objects.get())
    forged = signet.signed(out.getvalue(), Book.objects.get(), 1)
    assert alone.tell(forged, alone.read_certificates(certificate.read_bytes())).stands is False
    with pytest.raises(CommandError, match="It is not a paper"):
        told(paper(document, tmp_path, forged), certificate)


def test_a_paper_of_an_older_key_is_proved_by_its_kept_certificate(
    document: Document, certificate: Path, tmp_path: Path, issued: Any
) -> None:
    first = signet.signet_of(Book.objects.get()).fingerprint
    call_command("paper_key", book="Port Ellery", certificate=certificate, new=True)
    assert signet.signet_of(Book.objects.get()).fingerprint != first
    assert len(alone.read_certificates(certificate.read_bytes())) == 2
    later = issued()
    for one in (document, later):
        assert "no byte was changed" in told(paper(one, tmp_path), certificate)


def test_the_key_is_for_this_account_alone_and_enciphered_where_asked(book: Book, settings: Any) -> None:
    settings.PAPER_PASSPHRASE = b"seven small springs"
    signet.signet_of(book)
    [path] = Path(settings.PAPER_KEYS).glob(f"papers-{book.uid}.pem")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert b"ENCRYPTED PRIVATE KEY" in path.read_bytes()
    settings.PAPER_PASSPHRASE = b"another"
    with pytest.raises(signet.NoKey, match="is TAREBOOK_PAPER_PASSPHRASE right"):
        signet.signet_of(book)


def test_where_the_key_cannot_be_kept_nothing_is_issued(
    charge: Any, issued: Any, settings: Any, tmp_path: Path
) -> None:

    (tmp_path / "file").write_text("no folder")
    settings.PAPER_KEYS = tmp_path / "file"
    with pytest.raises(Refused, match="The key that signs papers cannot be kept"):
        issued()
    assert not Document.objects.exists()


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7 nothing", b"text", b"%PDF-1.7 /ByteRange [0 1 2 3]"])
def test_a_file_without_a_signature_is_said_to_have_none(
    content: bytes, document: Document, certificate: Path, tmp_path: Path
) -> None:
    path = tmp_path / "other.pdf"
    path.write_bytes(content)
    with pytest.raises(CommandError, match="It is not a paper"):
        told(path, certificate)


def test_the_open_page_says_the_signature_of_a_file(document: Document, tmp_path: Path) -> None:
    with paper(document, tmp_path).open("rb") as file:
        page = Client().post("/verify/", {"file": file}).content.decode()
    assert "The file is whole since it was signed by the key" in page
    assert "in the name of Port Ellery" in page
