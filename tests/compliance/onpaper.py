"""What a sheet says, compared with the paper that it was made from."""

import io
import re
from collections.abc import Iterator
from typing import Any

from pypdf import PdfReader

from compliance.papers import sheet
from compliance.papers.paper import Paper, as_data
from tests.compliance.sample import CODE, STAMP


def texts(value: Any) -> Iterator[str]:
    """Yield every text within plain data."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from texts(inner)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from texts(inner)


def bare(text: str) -> str:
    """Return a text without white space, which a line break on paper may add or take away."""
    return re.sub(r"\s", "", text)


def content(paper: Paper) -> dict[str, Any]:
    """Return what is kept of a paper, without the names of sorts of blocks and the figures for scripts."""
    data = as_data(paper, STAMP)
    del data["figures"]
    for block in data["blocks"]:
        del block["block"]
    return {name: data[name] for name in ("title", "about", "workshop", "bases", "blocks", "sources", "cautions")}


def missing_on_the_sheet(paper: Paper) -> list[str]:
    """Return the texts of a paper that its PDF does not hold."""
    pages = PdfReader(io.BytesIO(sheet.as_pdf(paper, STAMP, CODE))).pages
    said = bare("".join(page.extract_text() for page in pages))
    return [text for text in texts(content(paper)) if bare(text) not in said]


def all_said(paper: Paper) -> str:
    """Return every text of a paper's blocks, narrow spaces as plain ones."""
    return "\n".join(texts(content(paper)["blocks"])).replace("\N{NARROW NO-BREAK SPACE}", " ")
