"""What a document is about: the words for it, and which kinds of document it may have. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from compliance.papers.paper import CONSIGNMENT, CONVERSION, LABELS, LOG, RECOVERY, REGISTER, USAGE, VISIT


@dataclass(frozen=True)
class Choice:
    """A document that may be issued of a record."""

    kind: str
    about: str


def words_of(about: str) -> str:
    """Return what ``visit:12``, ``cylinders:7,8``, ``people:2026-03-04`` or ``period:...`` names in words."""
    kind, _, rest = about.partition(":")
    if kind in ("visit", "cylinder", "line") and rest.isdigit():
        return f"{kind} {rest}"
    if kind == "period" and rest.count(":") in (1, 2):
        first, last, *basis = rest.split(":")
        return ", ".join((f"{first} to {last}", *basis))
    if kind == "people":
        return f"people on {rest}"
    return f"cylinders {rest.replace(',', ', ')}" if kind == "cylinders" else about


def choices_of(about: str, *, today: date, consigned: bool = False) -> Sequence[Choice]:
    """Return the documents that a record may have; `consigned`: the line sent gas away."""
    kind, _, rest = about.partition(":")
    if kind == "visit":
        return [Choice(one, about) for one in (VISIT, RECOVERY, CONVERSION)]
    if kind == "cylinder":
        return [Choice(LOG, about), Choice(LABELS, f"cylinders:{rest}")]
    if kind == "line" and consigned:
        return [Choice(CONSIGNMENT, about)]
    if kind == "people":
        return [Choice(REGISTER, f"people:{rest or today.isoformat()}")]
    if kind == "period":
        return [Choice(USAGE, about)]
    return []


def slug_of(kind: str) -> str:
    """Return a kind as it stands in an address."""
    return kind.replace(" ", "-")


def kind_of(slug: str) -> str:
    """Return the kind that an address names."""
    return slug.replace("-", " ")
