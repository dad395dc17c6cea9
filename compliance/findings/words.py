"""The records that findings speak of, in words: "visit 12", "cylinder C-34", a person's name."""

from collections.abc import Iterable, Mapping

from inventory.models import Account
from inventory.shelf.listing import names_of
from shop.models import Workshop

_BY_LABEL = ("cylinder", "vehicle", "partner")


def record_words(workshop: Workshop, about: str) -> str:
    """Return a record in words: "visit 12", "cylinder C-34", "line 214", a person's name, "the book"."""
    return records_words(workshop, [about])[about]


def records_words(workshop: Workshop, abouts: Iterable[str]) -> dict[str, str]:
    """Return many records in words, with two queries however many they are."""
    wanted = {about: about.partition(":")[::2] for about in abouts}
    numbers = {int(rest) for kind, rest in wanted.values() if kind in _BY_LABEL and rest.isdigit()}
    handles = {rest for kind, rest in wanted.values() if kind == "person"}
    rows = Account.objects.filter(book=workshop.book_id, number__in=numbers) if numbers else ()
    labels = {str(one.number): one.label for one in rows}
    names = names_of(handles) if handles else {}
    return {about: _words(kind, rest, labels, names) for about, (kind, rest) in wanted.items()}


def _words(kind: str, rest: str, labels: Mapping[str, str], names: Mapping[str, str]) -> str:
    if kind in _BY_LABEL:
        return f"{kind} {labels.get(rest) or rest}"
    if kind == "person":
        return names.get(rest, rest)
    if kind == "consignment":
        return f"consignment, line {rest}"
    return f"{kind} {rest}" if rest else f"the {kind or 'book'}"
