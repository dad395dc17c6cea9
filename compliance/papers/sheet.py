"""A document as a sheet of paper: the blocks of a `Paper` as HTML, and from it a tagged PDF in black and white.

What is printed on, `stock.STOCKS` says. On a sheet, number, day, check code and page stand in the margin of every page.
On a label stock each `Label` block is one page in the largest letters that let it stand there, with number, day and
code in its last line. Without a stamp the sheet is a draft and says so. Fonts come from the machine (DejaVu Sans);
nothing is loaded from anywhere.
"""

import re
from bisect import bisect_left
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import segno
from django.conf import settings
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from compliance.papers.labels import origin
from compliance.papers.paper import LABELS, Block, Label, NothingToIssue, Paper, Picture, Stamp, Table, name_of
from inventory.measure.reach import stays_here
from inventory.output.stock import LABELS as LABEL_STOCKS
from inventory.output.stock import STOCKS

QUIET_MODULES = 4  # white modules around a QR code
MODULE_MM = 0.6  # the least that a phone reads from greasy paper
WIDE, WIDEST = 7, 10  # columns from which a table is set smaller
SHORT = 14  # rows of a table that is kept on one page
ACROSS = 80  # letters of the longest words of all columns together that surely stand side by side
DRAFT = "draft, not issued"
VARIANT = "pdf/a-3a"  # tagged, for keeping, and may hold the content as data
CONTENT = "content.json"
_STYLES = Path(settings.BASE_DIR) / "templates" / "compliance"
LETTERS_PT = (20.0, 17.0, 14.0, 12.0, 11.0, 10.0, 9.0, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5)  # of a label, the largest first
LONG_PT = 8.0  # of a label on a continuous stock, which is as long as it needs
LENGTHS_MM = range(20, 301, 4)

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
    here_alone = stays_here(settings.ADDRESS)  # a code of such an address would lead every phone nowhere
    context = {
        "paper": paper,
        "stamp": stamp,
        "code": code,
        "draft": DRAFT,
        "lines": runs(paper.lines),
        "where": f"{settings.ADDRESS}/verify/" if settings.ADDRESS else "",
        "here_alone": here_alone,
        "look_up": "" if here_alone or not stamp else qr_code(f"{settings.ADDRESS}/verify/?code={code}"),
        "blocks": [shown(one) for one in paper.blocks],
    }
    return render_to_string(f"compliance/{'label_sheet' if is_label(paper) else 'sheet'}.html", context)


def address_on(paper: Paper) -> str:
    """Return where the codes on a sheet lead, such as ``https://book.lan``; empty where they lead nowhere."""
    return origin() if paper.kind == LABELS else str(settings.ADDRESS)


def as_pdf(paper: Paper, stamp: Stamp | None, code: str) -> bytes:
    """Return the sheet as a tagged PDF (pdf/a-3a)."""
    return printed(paper, stamp, code).pdf


def printed(paper: Paper, stamp: Stamp | None, code: str, content: str = "") -> Printed:
    """Return the sheet as a tagged PDF, `content` attached as data, with its pages counted.

    Raises NothingToIssue where a label is too small.
    """
    from weasyprint import CSS, HTML, Attachment  # imported when first needed: it is slow to load

    page = HTML(string=as_html(paper, stamp, code), url_fetcher=fetch_nothing)
    styles = _stylesheet("label.css" if is_label(paper) else "sheet.css")

    def laid_out(**more: float) -> Any:
        return page.render(stylesheets=[styles, CSS(string=page_style(paper.size, **more))], pdf_variant=VARIANT)

    found = _on_labels(paper, laid_out) if is_label(paper) else laid_out()
    kept = [Attachment(string=content, name=CONTENT, description="what was sealed", relationship="Data")]
    return Printed(found.write_pdf(pdf_variant=VARIANT, attachments=kept if content else []), len(found.pages))


@cache
def _stylesheet(name: str) -> Any:
    """Return a stylesheet as it was read when first needed: to read it takes a tenth of a short paper's time."""
    from weasyprint import CSS

    return CSS(filename=str(_STYLES / name))


def page_style(size: str, *, height_mm: float = 0.0, letters_pt: float = 0.0) -> str:
    """Return the style that says how large a page is, and its letters where they are chosen."""
    stock = STOCKS[size]
    letters = f"html {{ font-size: {letters_pt}pt }}" if letters_pt else ""
    return f"@page {{ size: {stock.width_mm}mm {stock.height_mm or height_mm}mm }} {letters}"


def _on_labels(paper: Paper, laid_out: Callable[..., Any]) -> Any:
    """Return the labels as they are laid out, a page for each: in the largest letters, or on the shortest piece."""
    wanted, stock = len(paper.blocks), STOCKS[paper.size]
    if stock.height_mm is None:
        ways = [{"height_mm": float(length), "letters_pt": LONG_PT} for length in LENGTHS_MM]
    else:
        ways = [{"letters_pt": letters} for letters in LETTERS_PT]
    at = bisect_left(ways, True, key=lambda way: len(laid_out(**way).pages) == wanted)
    if at == len(ways):
        raise NothingToIssue(
            f"It does not stand on a label of {stock.words}, even in the smallest letters. Choose a larger label stock "
            "in the settings, or shorten what is printed on it."
        )
    return laid_out(**ways[at])


def is_label(paper: Paper) -> bool:
    """Whether the paper is printed on a label stock."""
    return paper.size in LABEL_STOCKS


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
