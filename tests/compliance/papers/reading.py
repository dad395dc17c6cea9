"""Reading the papers of a visit: named facts, tables, paragraphs, and whether the sheet holds them all."""

import io
import re
from datetime import UTC, date, datetime

from pypdf import PdfReader

from compliance.papers import sheet
from compliance.papers.conversions import conversion_label
from compliance.papers.paper import Facts, Label, Paper, Stamp, Table, Words, as_data
from compliance.papers.recoveries import recovery_certificate
from compliance.papers.visits import visit_record
from tests.compliance.onpaper import texts

TODAY = date(2025, 12, 31)
BUILDERS = {"visit": visit_record, "recovery": recovery_certificate, "label": conversion_label}
STAMP = Stamp(9, datetime(2025, 12, 31, 10, 0, tzinfo=UTC), "Olga Moreau", "Port Ellery", "uid-1", 7, "ab" * 32)


def said(paper: Paper) -> str:
    """All that a paper prints, in one line."""
    data = as_data(paper, STAMP)
    return re.sub(r"\s+", " ", " | ".join(texts([data["title"], data["blocks"], data["cautions"], data["sources"]])))


def facts(paper: Paper) -> dict[str, str]:
    """The named facts of a paper."""
    found: dict[str, str] = {}
    for block in paper.blocks:
        if isinstance(block, (Facts, Label)):
            found |= dict(block.rows)
    return found


def table(paper: Paper, caption: str) -> list[dict[str, str]]:
    """The rows of a table, by the heads of its columns."""
    found = [one for one in paper.blocks if isinstance(one, Table) and one.caption.startswith(caption)]
    return [dict(zip(one.heads, row, strict=True)) for one in found for row in one.rows]


def words(paper: Paper, title: str) -> str:
    """The paragraphs under a title."""
    return "\n".join(
        text for one in paper.blocks if isinstance(one, Words) and one.title == title for text in one.paragraphs
    )


def stands_on_its_sheet(paper: Paper) -> None:
    """The text of the PDF holds every text of the kept content; figures are for scripts and are not printed."""
    data = as_data(paper, STAMP)
    data.pop("figures")
    data |= {"issued_at": STAMP.when_said, "head_digest": STAMP.short_digest}
    for block in data["blocks"]:
        block.pop("block")
    pages = PdfReader(io.BytesIO(sheet.as_pdf(paper, STAMP, "7K3M-Q2AB-CDE4"))).pages
    printed = re.sub(r"\s", "", "".join(page.extract_text() for page in pages))
    assert [text for text in texts(data) if re.sub(r"\s", "", text) not in printed] == []
