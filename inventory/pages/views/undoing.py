"""Pages of mistakes and differences: a line reversed, a difference explained, a reading put right."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse

from inventory.acts import correcting, explaining, undoing
from inventory.book import differences
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross
from inventory.causes import CAUSES
from inventory.measure.figures import NARROW
from inventory.measure.showing import show_mass
from inventory.models import Cylinder, Entry, Weighing
from inventory.output.days import when
from inventory.pages.access import BookRequest, writer_page
from inventory.pages.forms.act import see
from inventory.pages.forms.lines import CorrectForm, ExplainForm, ReverseForm
from inventory.pages.panels import asked_of_charge
from inventory.pages.records import entry_of
from inventory.pages.running import ActPage, Understood, already_written, run, say_already
from inventory.shelf.lines import sentences


@writer_page
def reverse_entry(request: BookRequest, seq: int) -> HttpResponse:
    """Reverse a line: a reason is asked, both lines stay."""
    found, access = entry_of(request, seq), request.access
    form = ReverseForm(request.POST or None, access=access)
    said = sentences(found, access.mass_unit)

    def understood() -> Understood:
        rows = [
            ("Line", f"line {seq}, {when(found.occurred_at)}"),
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
        context = {"entry": found, "said": sentences(found, access.mass_unit)}
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
        return explaining.explain(
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
        return correcting.correct_after(request.book, act, found, gross_mg=gross.gross_mg, typed=gross.typed)[0]

    def said(reversal: Entry) -> str:
        anew = correcting.written_anew(reversal)
        return f"Line {seq} is reversed by line {reversal.seq} and written anew as line {anew.seq}."

    def to(reversal: Entry) -> tuple[object, ...]:
        return "entry", correcting.written_anew(reversal).seq

    notes = [*sentences(found, access.mass_unit), f"Reading after of {cylinder}: {old.said} on {old.scale}."]
    shown = ActPage(f"Put the reading of line {seq} right", "Put it right", _to_line(request, seq), notes=notes)
    return run(request, form, shown, understood=understood, write=write, to=to, said=said)


def _as_read(reading: Gross | Weighing) -> str:
    """Return a reading as its scale shows it and, where that was typed in other words, as it was typed."""
    plain = reading.said.replace(NARROW, " ")
    return reading.said if reading.typed in ("", plain) else f"{reading.said} (typed: {reading.typed})"


def _to_line(request: BookRequest, seq: int) -> str:
    return reverse("entry", args=[request.access.slug, seq])
