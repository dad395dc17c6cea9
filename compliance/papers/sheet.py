"""A document as a sheet of paper: the blocks of a `Paper` as HTML, and from it a tagged PDF in black and white.

Two sizes: A4, and the label of 100 by 70 mm, where each `Label` block is one page. Number, day, check code and page
stand in the margin of every page. Without a stamp the sheet is a draft and says so. Fonts come from the machine
(DejaVu Sans); nothing is loaded from anywhere.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import segno
from django.conf import settings
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from compliance.papers.labels import origin
from compliance.papers.paper import LABELS, Block, Label, Paper, Picture, Stamp, Table, name_of

QUIET_MODULES = 4  # white modules around a QR code
MODULE_MM = 0.6  # the least that a phone reads from greasy paper
WIDE, WIDEST = 7, 10  # columns from which a table is set smaller
SHORT = 14  # rows of a table that is kept on one page
ACROSS = 80  # letters of the longest words of all columns together that surely stand side by side
DRAFT = "draft, not issued"
_STYLES = Path(settings.BASE_DIR) / "templates" / "compliance" / "sheet.css"

# A drawing takes its look from the stylesheet of the page; on paper it carries its own, in black and grey.
INK = (
    "text { font-family: 'DejaVu Sans'; font-size: 10px; fill: #000 } .d-end { text-anchor: end } "
    ".d-middle { text-anchor: middle } .d-flow { fill: #c4c4c4 } .d-book { fill: #000 }"
)


@dataclass(frozen=True)
class Printed:
    """A finished file and how many pages it has."""

    pdf: bytes
    pages: int


@dataclass(frozen=True)
class Shown:
    """A block with what a template needs beside it.

    `rows` are those of a table: how each is set (sum, part or empty) and its cells as text, head and whether a number.
    """

    name: str
    block: Block
    rows: tuple[tuple[str, tuple[tuple[str, str, bool], ...]], ...] = ()
    heads: tuple[tuple[str, bool], ...] = ()
    size: str = ""
    picture: SafeString = SafeString("")  # as it is printed
    drawing: SafeString = SafeString("")  # as a page shows it


def as_html(paper: Paper, stamp: Stamp | None, code: str) -> str:
    """Return the sheet as HTML; `code` is the check code as printed, and empty for a draft."""
    context = {
        "paper": paper,
        "stamp": stamp,
        "code": code,
        "draft": DRAFT,
        "lines": runs(paper.lines),
        "where": f"{settings.ADDRESS}/verify/" if settings.ADDRESS else "",
        "look_up": qr_code(f"{settings.ADDRESS}/verify/?code={code}") if settings.ADDRESS and stamp else "",
        "labels": [one for one in map(shown, paper.blocks) if one.name == "label"] if is_label(paper) else [],
        "blocks": [one for one in map(shown, paper.blocks) if one.name != "label" or not is_label(paper)],
    }
    return render_to_string("compliance/sheet.html", context)


def address_on(paper: Paper) -> str:
    """Return where the codes on a sheet lead, such as ``https://book.lan``; empty where they lead nowhere."""
    return origin() if paper.kind == LABELS else str(settings.ADDRESS)


def as_pdf(paper: Paper, stamp: Stamp | None, code: str) -> bytes:
    """Return the sheet as a tagged PDF (pdf/ua-1)."""
    return printed(paper, stamp, code).pdf


def printed(paper: Paper, stamp: Stamp | None, code: str) -> Printed:
    """Return the sheet as a tagged PDF with the count of its pages."""
    from weasyprint import CSS, HTML  # imported when first needed: it is slow to load

    style = CSS(filename=str(_STYLES))
    page = HTML(string=as_html(paper, stamp, code), url_fetcher=fetch_nothing)
    laid_out = page.render(stylesheets=[style], pdf_variant="pdf/ua-1")
    return Printed(laid_out.write_pdf(pdf_variant="pdf/ua-1"), len(laid_out.pages))


def is_label(paper: Paper) -> bool:
    """Whether the paper is of label size."""
    return paper.size == "label"


def shown(block: Block) -> Shown:
    """Return a block with what a template needs beside it."""
    name = name_of(block)
    match block:
        case Table():
            return Shown(name, block, _rows(block), _heads(block), _size(block))
        case Label():
            return Shown(name, block, picture=qr_code(block.code) if block.code else SafeString(""))
        case Picture():
            return Shown(name, block, picture=on_paper(block.svg), drawing=SafeString(block.svg))
    return Shown(name, block)


def on_paper(svg: str) -> SafeString:
    """Return a drawing of the page with the look it has on paper."""
    return SafeString(svg.replace("</title>", f"</title><style>{INK}</style>", 1))


def qr_code(text: str) -> SafeString:
    """Return a QR code as SVG in millimetres: level Q, four white modules around, each module at least 0.6 mm."""
    code = segno.make(text, error="q", boost_error=False, micro=False)
    title = f"QR code: {text}"
    svg = code.svg_inline(scale=MODULE_MM, unit="mm", border=QUIET_MODULES, dark="#000", light="#fff", title=title)
    return SafeString(svg)


def fetch_nothing(url: str) -> dict[str, Any]:
    """Refuse to load anything: a document is made of itself alone."""
    raise ValueError(f"A document loads nothing, but asks for {url}.")


def runs(numbers: Iterable[int]) -> str:
    """Return numbers in words, three or more in a row as one: "3, 7 to 9"."""
    found: list[list[int]] = []
    for number in sorted(numbers):
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    said: list[str] = []
    for first, last in found:
        said += [f"{first} to {last}"] if last > first + 1 else map(str, range(first, last + 1))
    return ", ".join(said)


def _heads(table: Table) -> tuple[tuple[str, bool], ...]:
    return tuple((head, place in table.numeric) for place, head in enumerate(table.heads))


def _rows(table: Table) -> tuple[tuple[str, tuple[tuple[str, str, bool], ...]], ...]:
    heads = _heads(table)
    return tuple(
        (mark, tuple((text, head, num) for text, (head, num) in zip(row, heads, strict=True)))
        for row, mark in zip(table.rows, table.marks or [""] * len(table.rows), strict=True)
    )


def _size(table: Table) -> str:
    columns = len(table.heads)
    words = "widest" if columns >= WIDEST else "wide" if columns >= WIDE else ""
    return " ".join(filter(None, (words, "short" if len(table.rows) <= SHORT else "", "fits" if _fits(table) else "")))


def _fits(table: Table) -> bool:
    """Whether no word has to be broken for the table to stand on a sheet: breaking is slow to lay out."""
    across = sum(
        max(
            _longest(head, whole=False),
            max((_longest(row[place], whole=place in table.numeric) for row in table.rows), default=0),
        )
        for place, head in enumerate(table.heads)
    )
    return across <= ACROSS


def _longest(text: str, *, whole: bool) -> int:
    """Return the letters of the longest part of a text that stands on one line."""
    return len(text) if whole else max(map(len, re.split(r"[ \n]", text)))
