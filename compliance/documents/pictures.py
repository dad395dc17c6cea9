"""An issued paper as a picture: a page of its very file, so that a screen shows what was sealed. Reads PDF alone."""

import io
from threading import Lock

WIDTH_PX = 1240  # of a page: 150 dots an inch on A4
MOST_HIGH_PX = 4000
_ONE_AT_A_TIME = Lock()  # PDFium is not safe to be used by two threads at once


class NoSuchPage(LookupError):
    """The file has no such page, or is none that can be read."""


def page_picture(pdf: bytes, page: int) -> bytes:
    """Return a page, counted from 1, as a PNG in shades of grey; raises NoSuchPage."""
    import pypdfium2  # imported when first needed

    with _ONE_AT_A_TIME:
        try:
            file = pypdfium2.PdfDocument(pdf)
        except pypdfium2.PdfiumError as error:
            raise NoSuchPage("The file cannot be read as a paper.") from error
        try:
            if not 1 <= page <= len(file):
                raise NoSuchPage(f"The paper has no page {page}.")
            drawn = file[page - 1]
            width, height = drawn.get_size()
            scale = min(WIDTH_PX / width, MOST_HIGH_PX / height)
            picture = drawn.render(scale=scale, grayscale=True).to_pil()
        finally:
            file.close()
    kept = io.BytesIO()
    picture.save(kept, "PNG", optimize=True)
    return kept.getvalue()
