"""Pages of cylinders on the scale: gas moved from one into another, and the round of the floor."""

from django.contrib import messages
from django.http import HttpResponse
from django.urls import reverse

from inventory.acts import dropping, onscale
from inventory.book import weighing
from inventory.book.refusals import LedgerError, Refused
from inventory.measure.displays import in_book
from inventory.measure.own import Units
from inventory.measure.scans import read_scan
from inventory.models import Cylinder, Entry
from inventory.output.days import day, when
from inventory.pages import comeback
from inventory.pages.access import BookRequest, cylinder_of, writer_page
from inventory.pages.forms.act import see
from inventory.pages.forms.cylinders import DropForm, Row, StockTakeForm, TransferForm
from inventory.pages.oncylinder import Rows, holding, run_on_cylinder, weighed_after
from inventory.pages.running import ActPage, Understood, already_written, run, say_already
from inventory.shelf import queries
from inventory.shelf.meant import not_found, the_cylinder
from inventory.shelf.queries import content_of
from inventory.shelf.sentences import difference_sentence, room_sentence

HAS_MOVED = (
    "Has gas moved since? Then leave this, and weigh it again. Dropped, what has moved shows as unexplained at its "
    "next reading."
)


@writer_page
def transfer(request: BookRequest, number: int) -> HttpResponse:
    """Move gas from one cylinder into another."""
    found, access = cylinder_of(request, number), request.access
    form = TransferForm(request.POST or None, cylinder=found, access=access, initial=weighed_after(request))

    def understood() -> Understood:
        target = form.target_cylinder
        rows = [
            ("From", holding(found, form.content, access)),
            ("Into", holding(target, content_of(target.account), access)),
            *((name.capitalize(), f"{one.said} on {one.scale}") for name, one in form.readings.items()),
        ]
        return Understood(rows, room_sentence(target, form.content, access.jurisdiction, access.units.mass))

    def write() -> Entry:
        return onscale.transfer(
            request.book,
            form.act_on_it(),
            source=found,
            target=form.target_cylinder,
            before=form.readings.get("before"),
            after=form.readings["after"],
            jurisdiction=access.jurisdiction,
            happened=bool(form.cleaned_data.get("happened")),
        )

    return run_on_cylinder(
        request,
        form,
        f"Move gas from {found} into another",
        "Write it in the book",
        understood,
        write,
        places=["transfer"],
    )


@writer_page
def drop(request: BookRequest, number: int) -> HttpResponse:
    """Let a reading before that stands open on the scale stand by itself, with the reason."""
    found = cylinder_of(request, number)
    if (known := already_written(request)) is not None:
        return say_already(request, known, ("cylinder", number))
    before = weighing.open_before(found)
    if before is None:
        messages.info(request, f"{found} stands on no scale any more.")
        return see(request, "cylinder", number)
    form = DropForm(request.POST or None, access=request.access)

    def write() -> Entry:
        act = form.act(request.access, context=f"{dropping.CONTEXT}{before.entry.seq}", remark=form.cleaned_data["why"])
        return dropping.drop(request.book, act, before)

    stands = f"Before {before.said} on {before.scale}, {when(before.entry.occurred_at, request.access.units)}."
    back = comeback.way_back(request) or reverse("cylinder", args=[request.access.slug, number])
    return run(
        request,
        form,
        ActPage(f"Drop the weighing of {found}", "Drop the weighing", back, notes=[stands, HAS_MOVED]),
        understood=lambda: Understood([]),
        write=write,
        to=lambda _: ("cylinder", number),
        said=lambda entry: f"{found} is off the scale, written as line {entry.seq}. Its reading before stays.",
        made=lambda _: "",
    )


@writer_page
def stock_take(request: BookRequest) -> HttpResponse:
    """Weigh the cylinders on the floor in one round."""
    access = request.access
    found = list(
        queries.cylinders(request.book, access.jurisdiction).exclude(word__in=Cylinder.GONE).exclude(kind=Cylinder.TANK)
    )
    found.sort(key=lambda cylinder: (cylinder.place, cylinder.serial))
    said = request.POST.get("scan", "").strip()
    sent = {**request.POST.dict(), "scan": "", "change": "1"} if said else request.POST or None
    form = StockTakeForm(sent, access=access, rows=[_row(cylinder, access.units) for cylinder in found])
    if said:
        _lead_to(form, request, said)

    def understood() -> Understood:
        rows: Rows = []
        for name, gross in form.readings.items():
            try:
                settled = onscale.preview(request.book, gross)
            except LedgerError as error:
                form.refuse(error, name)
                continue
            net = f"{gross.said} gross, {in_book(settled.net_mg, access.units.mass)} inside"
            rows.append((str(gross.cylinder), f"{net}, {difference_sentence(settled, access.units.mass)}"))
        if form.errors:
            raise Refused("Nothing is written yet: look at the readings below.")
        left_out = len(form.rows) - len(form.readings)
        then = f"{left_out} not weighed in this round." if left_out else "Every cylinder on the floor was weighed."
        return Understood(rows, then, always=True)

    def write() -> Entry:
        act = form.act(access, context="stock-take", remark=form.cleaned_data.get("note", ""))
        return onscale.stock_take(request.book, act, list(form.readings.values()))

    shown = ActPage(
        "Stock-take",
        "Write it in the book",
        reverse("cylinders", args=[access.slug]),
        notes=[
            "One round of the floor: weigh each cylinder and enter its gross. What is left empty was not weighed. "
            "A machine’s tank is read on its machine, so it is not in the list."
        ],
        places=["weigh"],
    )
    return run(request, form, shown, understood=understood, write=write, to=lambda entry: ("entry", entry.seq))


def _lead_to(form: StockTakeForm, request: BookRequest, said: str) -> None:
    """Begin the form where the cylinder that was scanned is read; nothing is judged or written."""
    one = the_cylinder(request.book, said)
    gone = f"{one} has no reading in this round: it is {one.state if one.is_gone else one.kind}." if one else ""
    form.lead_to(one.account.number if one else None, gone or not_found(read_scan(said)))


def _row(cylinder: Cylinder, units: Units) -> Row:
    place = cylinder.place or "place not entered"
    return Row(cylinder, f"{place}; {cylinder.code} {cylinder.in_grade}; {_last(cylinder, units)}")  # type: ignore[attr-defined] # annotated


def _last(cylinder: Cylinder, units: Units) -> str:
    weighed = cylinder.last_weighed_at  # type: ignore[attr-defined] # annotated by the query
    return f"last weighed {day(weighed, units)}" if weighed else "never weighed"
