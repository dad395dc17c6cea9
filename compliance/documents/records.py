"""What a document is about: the words for it, its page, and which kinds of document it may have."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from compliance.papers.paper import CONSIGNMENT, CONVERSION, LABELS, LOG, RECOVERY, REGISTER, USAGE, VISIT
from inventory.models.access import Access

_PAGES = {"visit": "visit", "cylinder": "cylinder", "line": "entry"}


@dataclass(frozen=True)
class Record:
    """A record as it is named in `about`: its words, and the page and arguments that show it (empty: none)."""

    words: str
    page: str = ""
    args: tuple[str, ...] = ()

    def href(self, access: Access) -> str:
        """Return the address of the record's page; empty where it has none."""
        return reverse(self.page, args=[access.slug, *self.args]) if self.page else ""


@dataclass(frozen=True)
class Choice:
    """A document that may be issued of a record."""

    kind: str
    about: str

    def href(self, access: Access) -> str:
        """Return the address of the page that issues it."""
        return reverse("document-issue", args=[access.slug, slug_of(self.kind), self.about])


def record_of(about: str) -> Record:
    """Return what ``visit:12``, ``cylinders:7,8``, ``people:2026-03-04`` or ``period:...`` names."""
    kind, _, rest = about.partition(":")
    if kind in _PAGES and rest.isdigit():
        return Record(f"{kind} {rest}", _PAGES[kind], (rest,))
    if kind == "period" and rest.count(":") in (1, 2):
        first, last, *basis = rest.split(":")
        return Record(f"{first} to {last}{''.join(f', {one}' for one in basis)}", "statement", (first, last))
    if kind == "people":
        return Record(f"people on {rest}", "people")
    if kind == "cylinders":
        return Record(f"cylinders {rest.replace(',', ', ')}", "cylinders")
    return Record(about)


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
