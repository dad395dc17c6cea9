"""Pages of the lines of the book: the list, one line whole, and what answers it: a reversal, an explanation, a reading
put right, a year closed.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from inventory.acts import settling, undoing
from inventory.book import differences
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross
from inventory.causes import BASES, CAUSES
from inventory.measure.displays import moved, small
from inventory.measure.figures import NARROW, show_mass
from inventory.models import Book, Consignment, Cylinder, Entry, Movement, Weighing
from inventory.output.days import when
from inventory.pages import links
from inventory.pages.access import BookRequest, entry_of, owner_required, writer_page
from inventory.pages.forms.act import see
from inventory.pages.forms.lines import CloseForm, CorrectForm, ExplainForm, ReverseForm
from inventory.pages.panels import asked_of_charge
from inventory.pages.running import ActPage, Understood, already_written, run, say_already
from inventory.pages.tables.lines import EntryTable, LinesFilter, MovementTable
from inventory.pages.tables.table import export
from inventory.shelf import listing, queries
from inventory.shelf.accepted import accepted_of
from inventory.shelf.lines import earlier_readings, marks_of, reversed_by, sentences
from inventory.shelf.sentences import times

NOT_WEIGHED_DAYS = 30
OPEN_SHOWN = 50


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
    sent = Consignment.objects.filter(entry=found).select_related("partner__account", "cylinder").first()
    context = {
        "entry": found,
        "said": sentences(found, request.access.units.mass, most=100),
        "marks": marks_of(found, request.book),
        "days_late": _days_late(found),
        "by": listing.names_of([found.actor]).get(found.actor, found.actor),
        "movements": shown,
        "earlier": earlier_readings(found),
        "weighings": found.weighings.select_related("account", "scale").order_by("line"),
        "remarks": found.remarks.all(),
        "analyses": found.analyses.all(),
        "explained_by": Movement.objects.filter(explains__entry=found).select_related("entry").order_by("pk"),
        "place": place,
        "place_href": address,
        "reversal": reversed_by(found),
        "previous": previous or "",
        "consignment": sent,
        "accepted_said": _accepted_said(request, sent, shown, found.weighings.last()) if sent else "",
        "may_reverse": standing and request.access.may_write,
        "may_correct": standing and request.access.may_write and after,
        "wants_explaining": any(abs(one.open_mg or 0) > one.movement.can_tell_mg for one in shown),
        "may_explain": standing and request.access.may_write and any(one.open_mg for one in shown),
    }
    return render(request, "inventory/entry.html", context)


def _accepted_said(
    request: BookRequest, sent: Consignment, shown: Iterable[MovementShown], reading: Weighing | None
) -> str:
    """Return how what the receiver accepted stands to what was sent; empty where no paper of theirs is entered."""
    lines = [one.movement for one in shown if one.movement.target_id == sent.partner.account_id]
    sent_mg, u_mg = sum(int(one.mass_mg) for one in lines), max((one.u_mg for one in lines), default=0.0)
    found = accepted_of(sent, sent_mg=sent_mg, u_mg=u_mg, reading=reading)
    return found.words(lambda mg: moved(mg, request.access.units.mass)) if found else ""


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
        request.access.units.mass,
    )


@writer_page
def reverse_entry(request: BookRequest, seq: int) -> HttpResponse:
    """Reverse a line: a reason is asked, both lines stay."""
    found, access = entry_of(request, seq), request.access
    form = ReverseForm(request.POST or None, access=access)
    said = sentences(found, access.units.mass)

    def understood() -> Understood:
        rows = [
            ("Line", f"line {seq}, {when(found.occurred_at, access.units)}"),
            *(("Undone", words) for words in said),
            ("Why", form.cleaned_data["reason"]),
        ]
        return Understood(rows, "Both lines stay in the book; later weighings still stand.", always=True)

    def write() -> Entry:
        act = form.act(access, context=found.context, remark=form.cleaned_data["reason"], reverses=str(seq))
        return undoing.reverse(request.book, act, found)

    shown = ActPage(f"Reverse line {seq}", f"Reverse line {seq}", _to_line(request, seq), notes=said)
    return run(request, form, shown, understood=understood, write=write, to=lambda one: ("entry", one.seq))


@writer_page
def explain(request: BookRequest, seq: int) -> HttpResponse:
    """Account for a weighing difference of a line."""
    found, access = entry_of(request, seq), request.access
    differing = found.movements.standing().filter(cause="weighing-difference")
    still_open = [
        (movement, open_mg)
        for movement in differing.select_related("source", "target", "entry")
        if (open_mg := differences.open_mg(movement))
    ]
    if not still_open:
        if (known := already_written(request)) is not None:
            return say_already(request, known, ("entry", known.seq))
        context = {"entry": found, "said": sentences(found, access.units.mass)}
        return render(request, "inventory/nothing_to_explain.html", context)
    form = ExplainForm(request.POST or None, access=access, differences=still_open)

    def understood() -> Understood:
        movement, _ = form.chosen
        to = {"loss-explained": "the air, on this workshop’s account"}.get(form.cleaned_data["cause"])
        rows = [
            ("Difference", f"line {seq}, {movement.source} to {movement.target}"),
            ("Mass", show_mass(form.mass_mg)),
            ("What became of it", CAUSES[form.cleaned_data["cause"]].words),
            ("Where", to or form.chosen_vehicle),
            ("How it is known", form.cleaned_data["reason"]),
        ]
        late_into = form.chosen_vehicle if form.cleaned_data["cause"] == "late-charge" else None
        doubt = asked_of_charge(late_into, movement.refrigerant, movement.grade) if late_into else ""
        then = f"{doubt} Both lines stay; what is explained is no longer open.".strip()
        return Understood(rows, then, always=True, facts=[doubt])

    def write() -> Entry:
        act = form.act(access, context=found.context, remark=form.cleaned_data["reason"], explains=str(seq))
        return settling.explain(
            request.book,
            act,
            form.chosen[0],
            cause=form.cleaned_data["cause"],
            mass_mg=form.mass_mg,
            vehicle=form.chosen_vehicle,
        )

    shown = ActPage(f"Explain the difference of line {seq}", "Write it in the book", _to_line(request, seq))
    return run(request, form, shown, understood=understood, write=write, to=lambda one: ("entry", one.seq))


@writer_page
def correct(request: BookRequest, seq: int) -> HttpResponse:
    """Put an old reading after a charge or a recovery right."""
    found, access = entry_of(request, seq), request.access
    old = found.weighings.filter(role=Weighing.AFTER).select_related("account__cylinder", "scale").last()
    if old is None:
        return see(request, "entry", seq)
    cylinder: Cylinder = old.account.cylinder
    form = CorrectForm(request.POST or None, access=access, cylinder=cylinder, old=old)

    def understood() -> Understood:
        rows = [
            ("Line", f"line {seq}, reading after of {cylinder}"),
            ("Written", _as_read(old)),
            ("Should be", _as_read(form.reading) if form.reading else "not entered"),
            ("Why", form.cleaned_data["reason"]),
        ]
        then = "The line is reversed and written anew for the same time; what later weighings found still stands."
        return Understood(rows, then, always=True)

    def write() -> Entry:
        if form.reading is None:
            raise Refused("Enter the reading as it should have been.")
        act = form.act(access, context=found.context, remark=form.cleaned_data["reason"], corrects=str(seq))
        gross = form.reading
        return undoing.correct_after(request.book, act, found, gross_mg=gross.gross_mg, typed=gross.typed)[0]

    def said(reversal: Entry) -> str:
        anew = undoing.written_anew(reversal)
        return f"Line {seq} is reversed by line {reversal.seq} and written anew as line {anew.seq}."

    def to(reversal: Entry) -> tuple[object, ...]:
        return "entry", undoing.written_anew(reversal).seq

    notes = [*sentences(found, access.units.mass), f"Reading after of {cylinder}: {old.said} on {old.scale}."]
    shown = ActPage(f"Put the reading of line {seq} right", "Put it right", _to_line(request, seq), notes=notes)
    return run(request, form, shown, understood=understood, write=write, to=to, said=said)


def _as_read(reading: Gross | Weighing) -> str:
    """Return a reading as its scale shows it and, where that was typed in other words, as it was typed."""
    plain = reading.said.replace(NARROW, " ")
    return reading.said if reading.typed in ("", plain) else f"{reading.said} (typed: {reading.typed})"


def _to_line(request: BookRequest, seq: int) -> str:
    return reverse("entry", args=[request.access.slug, seq])


@owner_required
@require_http_methods(["GET", "POST"])
def close(request: BookRequest) -> HttpResponse:
    """Close the book through a day: the owner alone, read back, not to be undone."""
    access = request.access
    form = CloseForm(request.POST or None, access=access)

    def understood() -> Understood:
        rows = [
            ("Book", request.book),
            ("Closed through", f"{form.cleaned_data['through']:%-d %B %Y}"),
            ("Open differences", len(differences.open_differences(request.book))),
        ]
        then = "Nothing counts for a closed day any more. A later correction counts on the day it is written, as late."
        return Understood(rows, then, always=True)

    def write() -> Entry:
        return settling.close_through(request.book, form.act(access), form.cleaned_data["through"])

    shown = ActPage(
        "Close a year",
        "Close it for good",
        reverse("entries", args=[access.slug]),
        irrevocable="This cannot be undone: a closed day stays closed.",
    )
    since = timezone.now() - timedelta(days=NOT_WEIGHED_DAYS)
    return run(
        request,
        form,
        shown,
        understood=understood,
        write=write,
        to=lambda one: ("entry", one.seq),
        template="inventory/close.html",
        context={
            "book": request.book,
            "differences": _open_shown(request.book, request.access.units.mass),
            "not_weighed": queries.not_weighed_since(request.book, since),
            "days": NOT_WEIGHED_DAYS,
        },
    )


def _open_shown(book: Book, unit: str) -> list[tuple[int, str, str]]:
    """Return the newest open differences of a book as line number, cylinder and sentence."""
    newest = differences.open_differences(book)[:OPEN_SHOWN]
    return [(one.movement.entry.seq, str(one.cylinder), one.said(unit)) for one in newest]
