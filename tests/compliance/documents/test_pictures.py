"""A page of an issued paper as a picture: of the sealed file, in shades of grey, one page at a time."""

import io

import pytest
from PIL import Image

from compliance.documents.pictures import WIDTH_PX, NoSuchPage, page_picture
from compliance.papers import sheet
from compliance.papers.paper import as_data, blocks_of
from tests.compliance.sample import CODE, QR_TEXT, STAMP, labels, paper


def test_a_page_is_drawn_as_it_is_printed() -> None:
    import zxingcpp

    pdf = sheet.as_pdf(labels("100x70"), STAMP, CODE)
    picture = Image.open(io.BytesIO(page_picture(pdf, 2)))
    assert (picture.format, picture.mode, picture.width) == ("PNG", "L", WIDTH_PX)
    assert picture.height == pytest.approx(WIDTH_PX * 0.7, abs=2)
    assert [one.text for one in zxingcpp.read_barcodes(picture)] == [QR_TEXT]


@pytest.mark.parametrize("page", [0, 3])
def test_a_page_that_is_not_there_is_told(page: int) -> None:
    with pytest.raises(NoSuchPage, match=f"no page {page}"):
        page_picture(sheet.as_pdf(labels(), STAMP, CODE), page)


def test_what_is_no_file_is_told() -> None:
    with pytest.raises(NoSuchPage, match="cannot be read"):
        page_picture(b"not a paper", 1)


def test_kept_content_gives_its_blocks_back() -> None:
    import json

    kept = json.loads(json.dumps(as_data(paper(), STAMP)))
    again = blocks_of(kept)
    assert as_data(paper(blocks=again), STAMP)["blocks"] == as_data(paper(), STAMP)["blocks"]
    assert blocks_of({"blocks": [{"block": "facts"}]}) == ()
