"""Files from elsewhere that mean harm: bombs, paths out of their folder, entities; each ends soon, with a sentence."""

import io
import zipfile
import zlib
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from compliance.documents.verifying import text_of
from shop.importing.sheets.opening import NotASheet, sheets_of
from shop.importing.whole.reading import NotABook, manifest, opened

ENTITY = b"""<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd"><!ENTITY b "&a;&a;">]>"""
LAUGHS = b"<?xml version='1.0'?><!DOCTYPE x [<!ENTITY a0 'ha'>%s]>" % b"".join(
    b"<!ENTITY a%d '%s'>" % (number, b"&a%d;" % (number - 1) * 10) for number in range(1, 12)
)
WORKBOOK = (
    b'<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" '
    b'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">'
    b'<sheets><sheet name="&a9;" sheetId="1" r:id="rId1"/></sheets></workbook>'
)


def zipped(path: Path, **parts: bytes) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in parts.items():
            file.writestr(name, content)
    return path


def pdf(stream: bytes) -> bytes:
    """A PDF of one page whose content unpacks to what `stream` holds packed."""
    objects = [
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]/Contents 4 0 R/Resources<</Font<</F "
        b"<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>>>>>>>",
        b"<</Length %d/Filter/FlateDecode>>stream\n%s\nendstream" % (len(stream), stream),
    ]
    out, places = b"%PDF-1.7\n", []
    for number, one in enumerate(objects, start=1):
        places.append(len(out))
        out += b"%d 0 obj%s endobj\n" % (number, one)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    return out + b"xref\n0 5\n0000000000 65535 f \n%strailer<</Root 1 0 R/Size 5>>\nstartxref\n%d\n%%%%EOF" % (
        table,
        len(out),
    )


def test_a_pdf_that_unpacks_without_end_or_takes_for_ever_says_nothing() -> None:
    packer = zlib.compressobj(9)
    bomb = b"".join(packer.compress(b" " * 10_000_000) for _ in range(200)) + packer.flush()
    assert text_of(pdf(bomb)) == ""
    assert text_of(pdf(zlib.compress(b"q " * 8_000_000))) == ""
    assert text_of(b"%PDF-1.7\n" + b"[" * 100_000) == ""
    assert "code" in text_of(pdf(zlib.compress(b"BT /F 9 Tf (the code) Tj ET")))


@pytest.mark.django_db
def test_anybody_may_send_such_a_file_and_is_answered(client: Client) -> None:
    bomb = SimpleUploadedFile("a.pdf", pdf(zlib.compress(b"q " * 8_000_000)))
    assert client.post("/verify/", {"file": bomb}).status_code == 200


@pytest.mark.parametrize("head", [ENTITY, LAUGHS], ids=["a file of the machine", "laughs"])
def test_a_workbook_with_entities_is_not_opened(tmp_path: Path, head: bytes) -> None:
    path = zipped(
        tmp_path / "a.xlsx",
        **{
            "[Content_Types].xml": head + b"<Types/>",
            "xl/workbook.xml": head + WORKBOOK,
            "xl/_rels/workbook.xml.rels": head + b"<Relationships/>",
        },
    )
    with pytest.raises(NotASheet):
        sheets_of(path)


def test_a_workbook_that_says_it_unpacks_to_too_much_is_not_opened(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file,
        file.open("xl/sharedStrings.xml", "w", force_zip64=True) as part,
    ):
        for _ in range(31):
            part.write(bytes(100_000_000))
    assert path.stat().st_size < 10_000_000
    with pytest.raises(NotASheet, match="3 GB"):
        sheets_of(path)


def test_a_whole_book_whose_first_page_unpacks_without_end_is_none(tmp_path: Path) -> None:
    path = zipped(tmp_path / "a.zip", **{"book.json": b"[" + b" " * 50_000_000, "../../evil.csv": b"x"})
    with opened(path) as file, pytest.raises(NotABook):
        manifest(file)
    assert [one.name for one in tmp_path.iterdir()] == ["a.zip"]


@pytest.mark.django_db
def test_a_picture_that_is_a_bomb_is_put_right_beside_its_field(
    technician_client: Client, workshop: Any, cylinder: Any
) -> None:
    packed = zlib.compress(b"\0" * 60_000_000)
    head = b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR" + (60_000).to_bytes(4, "big") * 2 + b"\x08\x00\0\0\0"
    head += zlib.crc32(head[12:]).to_bytes(4, "big")
    data = len(packed).to_bytes(4, "big") + b"IDAT" + packed + zlib.crc32(b"IDAT" + packed).to_bytes(4, "big")
    sent = {"photo": io.BytesIO(head + data), "shows": "plate"}
    at = f"/w/{workshop.slug}/cylinders/{cylinder.account.number}/photo/"
    assert technician_client.post(at, sent).status_code == 422
