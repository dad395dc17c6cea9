"""The sheet says all that the kept content says, on every page who, which, when and which page, and its codes scan."""

import io
import re
import subprocess
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from compliance.papers import sheet
from compliance.papers.paper import Paper, Table, as_data
from tests.compliance.onpaper import bare, texts
from tests.compliance.sample import CODE, QR_TEXT, STAMP, blocks, paper

MM_PER_POINT = 25.4 / 72


def reader_of(paper: Paper, *, draft: bool = False) -> PdfReader:
    return PdfReader(io.BytesIO(sheet.as_pdf(paper, None if draft else STAMP, "" if draft else CODE)))


def picture_of(pdf: bytes, folder: Path, page: int, dpi: int = 200) -> Image.Image:
    (folder / "sheet.pdf").write_bytes(pdf)
    asked = ["pdftoppm", "-r", str(dpi), "-f", str(page), "-l", str(page), "-png", "sheet.pdf", "page"]
    subprocess.run(asked, cwd=folder, check=True, timeout=60)
    return Image.open(next(folder.glob("page*.png")))


@pytest.mark.parametrize("size", ["A4", "label"])
def test_every_text_of_the_kept_content_stands_on_the_sheet(size):
    data = as_data(paper(size=size), STAMP)
    data["issued_at"] = "2026-03-04 10:40"
    data["head_digest"] = STAMP.short_digest
    for block in data["blocks"]:
        block.pop("block")  # the name of the sort of block, for scripts
    said = bare("".join(page.extract_text() for page in reader_of(paper(size=size)).pages))
    missing = [text for text in texts(data) if bare(text) not in said]
    assert missing == []


@pytest.mark.parametrize("size", ["A4", "label"])
def test_every_page_says_who_which_when_its_code_and_its_number(size):
    pages = [page.extract_text() for page in reader_of(paper(size=size, blocks=blocks(rows=90))).pages]
    assert len(pages) > 2
    for number, text in enumerate(pages, start=1):
        for words in ("Port Ellery", "No. 12", "2026-03-04", CODE, f"page {number} of {len(pages)}"):
            assert words in text


def test_the_first_page_says_where_the_book_stood_and_that_nothing_is_certified():
    first = " ".join(reader_of(paper()).pages[0].extract_text().split())
    assert "Port Ellery, line 214, digest 0123456789abcdef" in first
    assert "It shows what the book shows and certifies nothing." in first
    assert "REG-77" in first
    assert "issued 2026-03-04 10:40 by Tomas Lind" in first


def test_the_last_page_says_how_the_paper_is_checked():
    last = " ".join(reader_of(paper()).pages[-1].extract_text().split())
    assert "/verify/" in last
    assert f"manage.py verify --document {CODE}" in last.replace("- ", "-")


def test_a_draft_says_so_and_has_neither_number_nor_code():
    reader = reader_of(paper(), draft=True)
    for page in reader.pages:
        assert "draft, not issued" in page.extract_text()
    whole = "".join(page.extract_text() for page in reader.pages)
    assert "No. 12" not in whole
    assert "manage.py verify" not in whole
    assert "draft, not issued" in str(reader.metadata.title)


def test_the_file_is_tagged_and_has_a_language_and_a_title():
    reader = reader_of(paper())
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert str(reader.metadata.title) == "Made-up record of AB 12 CDE, no. 12, Port Ellery"


def test_a_file_is_black_and_white(tmp_path):
    page = picture_of(sheet.as_pdf(paper(), STAMP, CODE), tmp_path, 1, dpi=60).convert("RGB")
    colours = page.getcolors(maxcolors=1_000_000) or []
    assert colours
    assert all(max(colour) - min(colour) <= 2 for _, colour in colours)


def test_the_sizes_are_those_of_the_paper():
    for size, wanted in (("A4", (210, 297)), ("label", (100, 70))):
        for page in reader_of(paper(size=size)).pages:
            box = page.mediabox
            assert (float(box.width) * MM_PER_POINT, float(box.height) * MM_PER_POINT) == pytest.approx(wanted, abs=0.1)


def test_each_label_is_a_page_and_its_code_is_read_from_its_picture(tmp_path):
    import zxingcpp

    two = paper(size="label", blocks=blocks()[5:6] * 2)
    printed = sheet.printed(two, STAMP, CODE)
    reader = PdfReader(io.BytesIO(printed.pdf))
    assert len(reader.pages) == printed.pages
    assert [("C-12" in reader.pages[at].extract_text()) for at in (0, 1, 2)] == [True, True, False]
    found = zxingcpp.read_barcodes(picture_of(printed.pdf, tmp_path, 2))
    assert [one.text for one in found] == [QR_TEXT]


def test_a_module_of_a_code_is_wide_enough_and_four_stand_white_around_it(tmp_path):
    """Level Q, module 0.6 mm: a phone reads it from greasy paper (the manner of our pages, section 11)."""
    import segno

    modules = segno.make(QR_TEXT, error="q", boost_error=False, micro=False).symbol_size(border=4)[0]
    svg = sheet.qr_code(QR_TEXT)
    width = re.search(r'width="([\d.]+)mm"', svg)
    assert width is not None
    assert float(width[1]) / modules == pytest.approx(0.6)
    assert QR_TEXT in svg


def test_a_long_table_repeats_its_head_and_breaks_no_row():
    pages = [page.extract_text() for page in reader_of(paper(blocks=blocks(rows=120))).pages]
    with_rows = [text for text in pages if "C-12, R-12 recovered" in text]
    assert len(with_rows) > 1
    assert all("Cylinder" in text for text in with_rows)


def test_text_that_looks_like_markup_is_text():
    strange = paper(title="<b>Record</b> & more")
    assert "<b>Record</b> & more" in reader_of(strange).pages[0].extract_text()


@pytest.mark.parametrize(
    ("numbers", "words"), [((), ""), ((5,), "5"), ((4, 3), "3, 4"), ((3, 7, 8, 9, 11, 12), "3, 7 to 9, 11, 12")]
)
def test_lines_in_a_row_are_said_as_one(numbers, words):
    assert sheet.runs(numbers) == words


@pytest.mark.parametrize(("word", "size"), [("short words", "short fits"), ("W" * 81, "short")])
def test_only_a_table_whose_words_stand_side_by_side_is_laid_out_without_breaking_them(word, size):
    assert sheet.shown(Table("Words", ("One", "Two"), ((word, "x"),))).size == size
