"""What the Find box answers of this floor: cylinders, partners, scales, and lines by number or paper.

A finder is a function of the request and what is asked that returns hits; it runs a number of queries that does not
grow with rows, reads at most `MOST` of a kind and one more, and returns only what the person of the request may see.
A way is such a function that returns links to what can be done where nothing fits.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property, reduce
from operator import or_
from typing import Any

from django.db.models import Min

from inventory.measure.displays import in_book
from inventory.measure.marks import likeness, mark, same
from inventory.measure.scans import Scan, read_scan
from inventory.models import Consignment, Cylinder, Entry, Movement, Partner, Scale
from inventory.models.likeness import words_in, written_in
from inventory.output.days import day
from inventory.pages.access import BookRequest
from inventory.pages.links import Link, address
from inventory.shelf.lines import sentences
from inventory.shelf.meant import cylinders_meant
from inventory.shelf.queries import contents

LONGEST_SERIAL = 60
MOST = 10  # of each kind that are listed


@dataclass(frozen=True)
class Asked:
    """What was typed or scanned into the Find box, and the words that the parts of it could be."""

    said: str

    @cached_property
    def scan(self) -> Scan:
        return read_scan(self.said)

    @property
    def text(self) -> str:
        """What names and numbers are compared with; empty for an address."""
        return "" if self.scan.is_address else self.scan.text

    def number_of(self, word: str) -> tuple[int | None, bool]:
        """Return the number that is asked, and whether `word` stood before it: "line 12", or "12" alone."""
        before, _, rest = self.text.lower().rpartition(" ")
        if not (rest.isascii() and rest.isdigit() and len(rest) < 10 and before in ("", word)):
            return None, False
        return int(rest), before == word

    @property
    def is_number(self) -> bool:
        return self.text.isascii() and self.text.isdigit()


@dataclass(frozen=True)
class Hit:
    """One thing that was found: what kind of thing, its name, its page and a line saying what it is."""

    kind: str
    name: str
    href: str
    words: str = ""
    is_exact: bool = False
    act: Link | None = None  # what is done with it most often


Finder = Callable[[Any, Asked], Iterable[Hit]]
Way = Callable[[Any, Asked], Iterator[Link]]


def joined(*parts: object) -> str:
    """Return what is known of the parts, with commas."""
    return ", ".join(str(part) for part in parts if part)


def cylinders(request: BookRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the cylinders by label or number, with what each holds and the scale beside it."""
    rows = Cylinder.objects.filter(account__book=request.book).select_related("account")
    exact = cylinders_meant(rows, asked.said)[: MOST + 1]
    near = rows.filter(written_in("likeness", asked.text)).exclude(pk__in=[one.pk for one in exact])
    found = [*exact, *near.order_by("serial", "pk")[: MOST + 1 - len(exact)]]
    held, access = contents(one.account_id for one in found), request.access
    for place, one in enumerate(found):
        number, inside = one.account.number, held.get(one.account_id)
        holds = f"{inside[0]} {inside[1]} {in_book(inside[2], access.units.mass)}" if inside else "empty by the book"
        weigh = address(access, "cylinder-weigh", number)
        is_weighed = access.may_write and one.kind != Cylinder.CANS and not one.is_gone
        yield Hit(
            "cylinder",
            one.serial,
            address(access, "cylinder", number),
            joined(one.kind, holds, one.state, one.place and f"stands at {one.place}"),
            place < len(exact),
            Link("Weigh", weigh) if weigh and is_weighed else None,
        )


def partners(request: BookRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the partners by name; one that is joined to another leads to that one."""
    rows = Partner.objects.filter(account__book=request.book).select_related("account__joined_to__partner")
    found = rows.filter(words_in("likeness", asked.text)).order_by("retired", "name", "pk")[: MOST + 1]
    kept: dict[int, tuple[Partner, Partner]] = {}
    for one in found:
        to = one.account.joined_to
        kept.setdefault((to or one.account).number, (one, to.partner if to is not None else one))
    for number, (one, own) in kept.items():
        other = f"joined: once {one}" if one != own else ""
        words = joined(own.kind, own.contact, other, own.retired and "no longer used")
        yield Hit("partner", own.name, address(request.access, "partner", number), words, same(one.name, asked.text))


def scales(request: BookRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the scales by name or serial number, of which a workshop has few."""
    for one in Scale.objects.filter(book=request.book).order_by("retired", "name"):
        if (exact := named(asked, one.name, one.serial)) is not None:
            page = address(request.access, "scale", one.number) if request.access.is_owner else ""
            words = joined(f"steps of {one.step.words}", one.serial, one.retired and "no longer used")
            yield Hit("scale", one.name, page or address(request.access, "settings"), words, exact)


def named(asked: Asked, *names: str) -> bool | None:
    """Return whether one of the names is what is asked; None where what is asked is not even a part of one."""
    key = likeness(asked.text)
    if not key or not any(key in likeness(name) for name in names):
        return None
    return any(same(name, asked.text) for name in names)


def lines(request: BookRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the line of a number."""
    number, is_named = asked.number_of("line")
    rows = Entry.objects.filter(book=request.book, seq=number) if number is not None else Entry.objects.none()
    rows = rows.prefetch_related("movements__source", "movements__target", "weighings__account", "weighings__scale")
    for one in rows.select_related("photo"):
        yield _line(
            request,
            one,
            joined(day(one.occurred_at, request.access.units), *sentences(one, request.access.units.mass, 1)),
            is_named,
        )


def papers(request: BookRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the lines by the number of the paper that came with gas or went with it."""
    if not likeness(asked.text):
        return
    came = Cylinder.objects.filter(written_in("paper_likeness", asked.text), account__book=request.book)
    came_here = list(came.select_related("account").order_by("-pk")[: MOST + 1])
    first = _first_lines(one.account_id for one in came_here)
    for one in came_here:
        if (entry := first.get(one.account_id)) is not None:
            words = f"paper {one.paper_number} of cylinder {one}, came {day(entry.occurred_at, request.access.units)}"
            yield _line(request, entry, words, mark(one.paper_number) == mark(asked.text))
    columns = ("number_likeness", "paper_likeness", "accepted_likeness")
    by_number = reduce(or_, (written_in(column, asked.text) for column in columns))
    went = Consignment.objects.filter(by_number, entry__book=request.book)
    for sent in went.select_related("entry", "partner", "cylinder").order_by("-pk")[: MOST + 1]:
        theirs = sent.accepted_paper and f"their paper {sent.accepted_paper}"
        papers_said = joined(f"consignment {sent.number}", sent.paper_number and f"paper {sent.paper_number}", theirs)
        words = f"{papers_said}: {sent.cylinder} to {sent.partner}, {day(sent.entry.occurred_at, request.access.units)}"
        is_it = any(same(one, asked.text) for one in (sent.number, sent.paper_number, sent.accepted_paper))
        yield _line(request, sent.entry, words, is_it)


def _first_lines(accounts: Iterable[int]) -> dict[int, Entry]:
    """Return the line that stands by which each cylinder’s first gas came in."""
    came = Movement.objects.standing().filter(target__in=list(accounts)).order_by().values("target")
    first = dict(came.annotate(first=Min("entry")).values_list("target", "first"))
    entries = Entry.objects.in_bulk(first.values())
    return {account: entries[entry] for account, entry in first.items()}


def _line(request: BookRequest, entry: Entry, words: str, is_exact: bool) -> Hit:
    return Hit("line", f"line {entry.seq}", address(request.access, "entry", entry.seq), words, is_exact)


def receive_it(request: BookRequest, asked: Asked) -> Iterator[Link]:
    """Yield the way to receive a cylinder with the number that was not found."""
    if request.access.may_write and asked.text and len(asked.text) <= LONGEST_SERIAL:
        page = address(request.access, "cylinder-receive", query={"serial": asked.text})
        yield Link(f"Receive a cylinder with the number {asked.text}", page)
