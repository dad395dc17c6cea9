"""Pages of the lines of the book: the list, and one line whole."""

from dataclasses import dataclass

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.book import differences
from inventory.causes import BASES, CAUSES
from inventory.measure.displays import small
from inventory.models import Consignment, Entry, Movement, Weighing
from inventory.pages import links
from inventory.pages.access import BookRequest
from inventory.pages.records import entry_of
from inventory.pages.tables.export import export
from inventory.pages.tables.lines import EntryTable, LinesFilter, MovementTable
from inventory.shelf import listing
from inventory.shelf.lines import marks_of, reversed_by, sentences
from inventory.shelf.sentences import times


@require_GET
def entries(request: BookRequest) -> HttpResponseBase:
    """Show the lines of the book, filtered; the files have a row for each movement."""
    chosen = LinesFilter(request)
    wanted = chosen.wanted()
    if chosen.chosen.get("account") and wanted.account is None:
        raise Http404("No such account in this book.")
    moved = listing.movements(request.book, wanted)
    files = MovementTable(moved.select_related("entry__reversal", "source", "target"), request=request, filter=chosen)
    table = EntryTable(
        listing.entries(request.book, wanted),
        request=request,
        filter=chosen,
        note="the files have a row for each movement",
        unfiltered=lambda: request.book.head_seq,
        none_words="No line in the book yet.",
    )
    context = {"table": table, "sums": listing.sums(moved) if wanted.causes else [], "account": wanted.account}
    return export(request, files, "lines") or render(request, "inventory/entries.html", context)


@dataclass(frozen=True)
class MovementShown:
    """A movement with its words and where its ends lead."""

    movement: Movement
    words: str
    basis: str
    source_href: str
    target_href: str
    open_mg: int | None
    unit: str

    @property
    def times(self) -> str:
        """How a difference compares with what its two readings can tell; empty for any other movement."""
        if self.movement.cause != "weighing-difference" or self.movement.reversal:
            return ""
        tell_mg = int(self.movement.can_tell_mg)
        tell = small(tell_mg, self.unit)
        if abs(int(self.movement.mass_mg)) <= tell_mg:
            return f"agrees: within what the two readings can tell ({tell})"
        return f"unexplained: {times(int(self.movement.mass_mg), tell_mg)} what the two readings can tell ({tell})"


@require_GET
def entry(request: BookRequest, seq: int) -> HttpResponse:
    """Show one line whole: movements, weighings, what it answers and what answers it, digests."""
    found = entry_of(request, seq)
    rows = found.movements.select_related("source", "target", "scale", "explains__entry").order_by("line")
    shown = [_shown(request, movement) for movement in rows]
    after = found.weighings.filter(role=Weighing.AFTER).exists()
    standing = reversed_by(found) is None and found.kind in (Entry.POST, Entry.WEIGH)
    previous = Entry.objects.filter(book=request.book, seq=seq - 1).values_list("digest", flat=True).first()
    place, address = links.of_context(request.access, found.context)
    context = {
        "entry": found,
        "said": sentences(found, request.access.mass_unit, most=100),
        "marks": marks_of(found, request.book),
        "days_late": _days_late(found),
        "by": listing.names_of([found.actor]).get(found.actor, found.actor),
        "movements": shown,
        "weighings": found.weighings.select_related("account", "scale").order_by("line"),
        "remarks": found.remarks.all(),
        "analyses": found.analyses.all(),
        "explained_by": Movement.objects.filter(explains__entry=found).select_related("entry").order_by("pk"),
        "place": place,
        "place_href": address,
        "reversal": reversed_by(found),
        "previous": previous or "",
        "consignment": Consignment.objects.filter(entry=found).select_related("partner__account", "cylinder").first(),
        "may_reverse": standing and request.access.may_write,
        "may_correct": standing and request.access.may_write and after,
        "wants_explaining": any(abs(one.open_mg or 0) > one.movement.can_tell_mg for one in shown),
        "may_explain": standing and request.access.may_write and any(one.open_mg for one in shown),
    }
    return render(request, "inventory/entry.html", context)


def _days_late(entry: Entry) -> int:
    """Return how many days after it happened a late line was written; 0 of any other."""
    happened, written = timezone.localdate(entry.occurred_at), timezone.localdate(entry.recorded_at)
    return (written - happened).days if entry.is_late else 0


def _shown(request: BookRequest, movement: Movement) -> MovementShown:
    differs = movement.cause == "weighing-difference" and not movement.reversal
    return MovementShown(
        movement,
        CAUSES[movement.cause].words,
        BASES[movement.basis],
        links.of_account(request.access, movement.source),
        links.of_account(request.access, movement.target),
        differences.open_mg(movement) if differs else None,
        request.access.mass_unit,
    )
