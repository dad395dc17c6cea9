"""The sheet says all that the kept content says, on every page who, which, when and which page, and its codes scan."""

import io
import re
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from compliance.papers import sheet
from compliance.papers.paper import Label, NothingToIssue, Paper, Table, as_data
from inventory.output.stock import LABELS
from tests.compliance.onpaper import bare, content, texts
from tests.compliance.sample import CODE, QR_TEXT, STAMP, blocks, labels, paper

MM_PER_POINT = 25.4 / 72


def reader_of(paper: Paper, *, draft: bool = False) -> PdfReader:
    return PdfReader(io.BytesIO(sheet.as_pdf(paper, None if draft else STAMP, "" if draft else CODE)))


def picture_of(pdf: bytes, folder: Path, page: int, dpi: int = 200) -> Image.Image:
    (folder / "sheet.pdf").write_bytes(pdf)
    asked = ["pdftoppm", "-r", str(dpi), "-f", str(page), "-l", str(page), "-png", "sheet.pdf", "page"]
    subprocess.run(asked, cwd=folder, check=True, timeout=60)
    return Image.open(next(folder.glob("page*.png")))


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_every_text_of_the_kept_content_stands_on_the_sheet(size):
    data = as_data(paper(size=size), STAMP)
    data["issued_at"] = "2026-03-04 10:40"
    data["head_digest"] = STAMP.short_digest
    for block in data["blocks"]:
        block.pop("block")  # the name of the sort of block, for scripts
    said = bare("".join(page.extract_text() for page in reader_of(paper(size=size)).pages))
    missing = [text for text in texts(data) if bare(text) not in said]
    assert missing == []


@pytest.mark.parametrize("size", list(LABELS))
def test_a_label_holds_what_is_kept_of_it_and_nothing_else(size):
    reader = reader_of(labels(size))
    said = [bare(page.extract_text()) for page in reader.pages]
    for page in said:
        assert [text for text in texts(content(labels(size))["blocks"]) if bare(text) not in page] == []
        assert bare(f"Port Ellery, no. 12, 2026-03-04, {CODE}") in page
        assert "certifies" not in page
        assert "verify" not in page


@pytest.mark.parametrize("size", list(LABELS))
def test_each_label_is_one_page_of_its_stock(size):
    stock = LABELS[size]
    for page in reader_of(labels(size)).pages:
        width, height = (float(side) * MM_PER_POINT for side in (page.mediabox.width, page.mediabox.height))
        assert width == pytest.approx(stock.width_mm, abs=0.1)
        assert height == pytest.approx(stock.height_mm, abs=0.1) if stock.height_mm else 30 < height < 90
    assert len(reader_of(labels(size)).pages) == 2


def test_a_label_in_which_nothing_more_would_stand_is_not_printed():
    full = tuple((f"Part {place}", "many words that go on and on " * 6) for place in range(20))
    too_much = replace(labels("100x50"), blocks=(Label("C-12", full),))
    with pytest.raises(NothingToIssue, match="Choose a larger label stock"):
        sheet.as_pdf(too_much, STAMP, CODE)


def test_every_page_says_who_which_when_its_code_and_its_number():
    pages = [page.extract_text() for page in reader_of(paper(blocks=blocks(rows=90))).pages]
    assert len(pages) > 2
    for number, text in enumerate(pages, start=1):
        for words in ("Port Ellery", "No. 12", "2026-03-04", CODE, f"page {number} of {len(pages)}"):
            assert words in text


def test_substance_comes_first_and_where_the_book_stood_last():
    """Who, what, which and when lead; digest, identifiers and inner names stand at the foot."""
    whole = " ".join(" ".join(page.extract_text() for page in reader_of(paper()).pages).split())
    in_order = [
        "REG-77",
        "Made-up record of AB 12 CDE",
        "issued 2026-03-04 10:40 by Tomas Lind; it replaces no. 3",
        "868 g were recovered.",
        "Never fill a single-trip cylinder.",
        "GWP: AR4",
        "It shows what the book shows and certifies nothing.",
        "Port Ellery, line 214, digest 0123456789abcdef",
        STAMP.book_uid,
        "made-up record, visit:12",
    ]
    places = [whole.index(words) for words in in_order]
    assert places == sorted(places)


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
    for size, wanted in (("A4", (210, 297)), ("letter", (215.9, 279.4))):
        for page in reader_of(paper(size=size)).pages:
            box = page.mediabox
            assert (float(box.width) * MM_PER_POINT, float(box.height) * MM_PER_POINT) == pytest.approx(wanted, abs=0.1)


def test_the_code_of_a_label_is_read_from_its_picture(tmp_path):
    import zxingcpp

    found = zxingcpp.read_barcodes(picture_of(sheet.as_pdf(labels(), STAMP, CODE), tmp_path, 2))
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
