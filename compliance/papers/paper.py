"""What a document is made of: plain blocks of words, facts and tables. Pure: no database, no markup.

A builder turns records into a `Paper`; `as_json` is what is kept and sealed, and the sheet is made from the same
blocks, so that nothing stands on the sheet that the kept content does not hold. Every text is as it is printed;
`figures` repeats the numbers for scripts, key names end in their unit.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from typing import Any, TypeAlias

from inventory.measure.own import METRIC, Units
from inventory.output.stock import A4

VISIT, RECOVERY, CONVERSION, LABELS, LOG, CONSIGNMENT, REGISTER, USAGE = (
    "visit record",
    "recovery certificate",
    "conversion label",
    "cylinder labels",
    "cylinder log",
    "consignment note",
    "certificate register",
    "usage report",
)
KINDS = (VISIT, RECOVERY, CONVERSION, LABELS, LOG, CONSIGNMENT, REGISTER, USAGE)


class NothingToIssue(Exception):
    """The record cannot have such a document; the text is a sentence for the person."""


@dataclass(frozen=True)
class Facts:
    """Named facts, one under the other."""

    title: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """A table; `numeric` names the columns (from 0) that stand to the right.

    `marks` has one for each row, or is empty: "sum", "part" (of a row above), or "" for one that is not set off.
    """

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[int, ...] = ()
    marks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Words:
    """Paragraphs under a title (which may be empty); `strong` sets them off, such as a verdict or what is open."""

    title: str
    paragraphs: tuple[str, ...]
    strong: bool = False


@dataclass(frozen=True)
class Signatures:
    """Lines to be signed by hand: who signs."""

    rows: tuple[str, ...]


@dataclass(frozen=True)
class Label:
    """One sticker: large head, facts, and what its QR code holds (empty: none)."""

    head: str
    rows: tuple[tuple[str, str], ...]
    code: str = ""
    marks: tuple[str, ...] = ()  # words set off, such as "FLAMMABLE"


@dataclass(frozen=True)
class Picture:
    """A drawing with its sentence; the drawing itself is made anew from the figures and is not in the JSON."""

    svg: str
    sentence: str


Block: TypeAlias = Facts | Table | Words | Signatures | Label | Picture


@dataclass(frozen=True)
class Issuer:
    """Whose document it is."""

    name: str
    address: str
    phone: str = ""
    registration: str = ""


@dataclass(frozen=True)
class Paper:
    """A document before it is issued. `about` names its record, `lines` are the numbers of the lines it rests on."""

    kind: str
    title: str
    about: str
    issuer: Issuer
    blocks: tuple[Block, ...]
    lines: tuple[int, ...] = ()
    bases: tuple[str, ...] = ()  # such as "GWP: AR4"; "masses by two weighings unless said"
    sources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    figures: Mapping[str, Any] = field(default_factory=dict)
    size: str = A4  # one of `stock.STOCKS`; on a label stock each `Label` is one page, and nothing else is printed
    beside: tuple[str, ...] = ()  # said on the page that issues it: how a label is used; it is not printed


@dataclass(frozen=True)
class Stamp:
    """What issuing adds: number, time (in the workshop's zone), by whom, and where the book's chain stood."""

    number: int
    issued_at: datetime
    issued_by: str
    book: str
    book_uid: str
    head_seq: int
    head_digest: str
    replaces: int | None = None
    units: Units = METRIC

    @property
    def day_said(self) -> str:
        """The day it is dated, as the workshop writes days."""
        return self.units.day_said(self.issued_at.date())

    @property
    def when_said(self) -> str:
        """Day and time, as the workshop writes them."""
        return self.units.when_said(self.issued_at)

    @property
    def short_digest(self) -> str:
        """The sixteen digits that are printed."""
        return self.head_digest[:16]

    @property
    def day(self) -> date:
        """The day it is dated."""
        return self.issued_at.date()


# What of a block is kept and sealed: all that is printed, without how it is set.
_KEPT: Mapping[type[Block], tuple[str, ...]] = {
    Facts: ("title", "rows"),
    Table: ("caption", "heads", "rows"),
    Words: ("title", "paragraphs"),
    Signatures: ("rows",),
    Label: ("head", "rows", "code", "marks"),
    Picture: ("sentence",),
}


def name_of(block: Block) -> str:
    """Return what sort of block it is: "facts", "table"."""
    return type(block).__name__.lower()


def as_data(paper: Paper, stamp: Stamp) -> dict[str, Any]:
    """Return a document as plain data for JSON: who, what, where the book stood, blocks as printed, figures."""
    return {
        "document": paper.kind,
        "title": paper.title,
        "about": paper.about,
        "number": stamp.number,
        "issued_at": stamp.issued_at.isoformat(timespec="seconds"),
        "issued_by": stamp.issued_by,
        "replaces": stamp.replaces,
        "book": stamp.book,
        "book_uid": stamp.book_uid,
        "head_line": stamp.head_seq,
        "head_digest": stamp.head_digest,
        "workshop": asdict(paper.issuer),
        "bases": paper.bases,
        "blocks": [_block(one) for one in paper.blocks],
        "sources": paper.sources,
        "cautions": paper.cautions,
        "lines": paper.lines,
        "figures": paper.figures,
    }


def _block(block: Block) -> dict[str, Any]:
    return {"block": name_of(block), **{name: getattr(block, name) for name in _KEPT[type(block)]}}


def blocks_of(content: Mapping[str, Any]) -> tuple[Block, ...]:
    """Return the blocks of a kept content, to be shown as text; a drawing has its sentence alone."""
    kinds = {kind.__name__.lower(): kind for kind in _KEPT}
    try:
        return tuple(_block_of(kinds[one["block"]], one) for one in content.get("blocks", ()))
    except (KeyError, TypeError):  # of another kind, or changed since it was issued: the picture shows what was
        return ()


def _block_of(kind: Any, kept: Mapping[str, Any]) -> Block:
    fields = {name: _frozen(kept[name]) for name in _KEPT[kind]}
    block: Block = kind(**fields, **({"svg": ""} if kind is Picture else {}))
    return block


def _frozen(value: Any) -> Any:
    return tuple(map(_frozen, value)) if isinstance(value, list) else value
