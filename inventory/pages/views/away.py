"""Pages of cylinders that leave the shelf, sent away, moved or lost, and that come back or turn up."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from inventory.acts import away, onscale, partners
from inventory.acts.away import Dispatch
from inventory.book.holdings import Content
from inventory.causes import CAUSES
from inventory.gases.cautions import cautions_for
from inventory.measure.displays import in_book
from inventory.models import Consignment, Entry, Partner
from inventory.models.access import Access
from inventory.pages.access import BookRequest, cylinder_of, writer_page
from inventory.pages.forms.act import page, see
from inventory.pages.forms.away import PURPOSES, AcceptForm, BackForm, ChooseForm, SendForm, SisterForm
from inventory.pages.forms.cylinders import GrossForm, LossForm
from inventory.pages.oncylinder import Rows, holding, run_on_cylinder, weighed_after, weighed_rows
from inventory.pages.running import Understood
from inventory.shelf import queries
from inventory.shelf.sentences import heel_sentence

ENDS = {"missing": "unexplained", "was-oil": "opening: it never was refrigerant"}
TO_AIR = "the air, on this workshop’s account"


@writer_page
def send_away(request: BookRequest) -> HttpResponse:
    """Choose the cylinder that goes away."""
    form = ChooseForm(request.GET or None, cylinders=queries.standing_here(request.book))
    if request.GET and form.is_valid():
        return see(request, "cylinder-send", int(form.cleaned_data["cylinder"]))
    status = 422 if form.is_bound and form.errors else 200
    context = {"form": form, "cautions": cautions_for("send-away")}
    return render(request, "inventory/send_away.html", context, status=status)


@writer_page
def send(request: BookRequest, number: int) -> HttpResponse:
    """Weigh a cylinder and send it away with all it holds."""
    found = cylinder_of(request, number)
    form = SendForm(request.POST or None, cylinder=found, access=request.access)
    content = form.content

    def understood() -> Understood:
        temperature, net_mg = form.cleaned_data.get("temperature"), onscale.preview(request.book, form.reading).net_mg
        rows = [
            ("Cylinder", f"{found}, {content[0]} {content[1]}" if content else f"{found}, empty by the book"),
            ("To", form.chosen_partner),
            ("What for", PURPOSES[form.cleaned_data["purpose"]][1]),
            *weighed_rows(request, form.reading),
        ]
        left = (content[0], content[1], net_mg) if content else None
        then = heel_sentence(found, left, temperature.si if temperature else None)
        return Understood(rows, then or f"{found} is then away.", always=True, facts=[content])

    def write() -> Entry:
        of, purpose = form.cleaned_data.get, form.cleaned_data["purpose"]
        cause = PURPOSES[purpose][0]
        dispatch = Dispatch(form.chosen_partner, cause, purpose, of("number", ""), of("paper_number", ""))
        return away.send_away(request.book, form.act_on_it(), form.reading, dispatch)

    return run_on_cylinder(request, form, f"Send {found} away", "Send it away", understood, write, places=["send-away"])


@writer_page
def accept(request: BookRequest, seq: int) -> HttpResponse:
    """Note what the receiver's paper says of a consignment."""
    rows = Consignment.objects.select_related("partner", "cylinder", "entry")
    found = get_object_or_404(rows, entry__book=request.book, entry__seq=seq)
    sent_mg = sum(int(one.mass_mg) for one in found.entry.movements.filter(target=found.partner.account_id))
    form = AcceptForm(request.POST or None, access=request.access, sent_mg=sent_mg)
    if request.method == "POST" and form.is_valid():
        cleaned = form.cleaned_data
        away.accept(
            found,
            accepted_mg=cleaned["accepted"].mg,
            oil_mg=cleaned["oil"].mg if cleaned.get("oil") else None,
            on=cleaned["accepted_on"],
            paper=cleaned.get("paper_number", ""),
        )
        return see(request, "entry", seq)
    cautions = cautions_for("consignment")
    return page(request, "inventory/accept.html", form, consignment=found, sent_mg=sent_mg, cautions=cautions)


@writer_page
def come_back(request: BookRequest, number: int) -> HttpResponse:
    """Take a cylinder that was away back onto the shelf."""
    found, access = cylinder_of(request, number), request.access
    sent = found.consignments.select_related("partner__account").order_by("-pk").first()
    last: Partner | None = sent.partner if sent else None
    form = BackForm(request.POST or None, cylinder=found, access=access, last=last)

    def understood() -> Understood:
        net_mg = max(form.reading.gross_mg - found.tare_mg, 0)
        rows = [
            ("Cylinder", found),
            ("From", f"{form.chosen_partner}, {CAUSES[form.cleaned_data['cause']].words}"),
            ("Gross", f"{form.reading.said} on {form.reading.scale}"),
            ("Inside", in_book(net_mg, access.units.mass)),
        ]
        return Understood(rows, f"{found} then stands here.")

    def write() -> Entry:
        cleaned = form.cleaned_data
        papers = f"Papers {cleaned['paper_number']}" if cleaned.get("paper_number") else ""
        remark = ". ".join(part for part in (papers, cleaned.get("note", "")) if part)
        act = form.act(access, context=f"cylinder:{number}", remark=remark)
        return away.come_back(request.book, act, form.reading, form.chosen_partner, cause=cleaned["cause"])

    return run_on_cylinder(request, form, f"{found} came back", "Take it back", understood, write, places=["receive"])


@writer_page
def to_sister(request: BookRequest, number: int) -> HttpResponse:
    """Move a cylinder with its content into the book of another workshop of the same person."""
    found, access = cylinder_of(request, number), request.access
    form = SisterForm(request.POST or None, cylinder=found, access=access, books=access.other_books())

    def understood() -> Understood:
        rows = [
            ("Cylinder", holding(found, form.content, access)),
            ("To", form.sister),
            *weighed_rows(request, form.reading),
        ]
        return Understood(rows, "Both books get a line, in one go.", always=True, facts=[form.content])

    def write() -> Entry:
        there = partners.sister_partner(request.book, form.sister)
        here = partners.sister_partner(form.sister, request.book)
        return away.move_to_sister(form.act_on_it(), form.reading, there, here)[0]

    return run_on_cylinder(
        request, form, f"Move {found} to another workshop", "Move it", understood, write, places=["send-away"]
    )


@writer_page
def turned_up(request: BookRequest, number: int) -> HttpResponse:
    """Take a cylinder that the book thought gone or empty back onto the shelf, by its weighing."""
    found, access = cylinder_of(request, number), request.access
    form = GrossForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        net = in_book(max(form.reading.gross_mg - found.tare_mg, 0), access.units.mass)
        rows = [
            ("Cylinder", found),
            ("Gross", f"{form.reading.said} on {form.reading.scale}"),
            ("From unexplained", net),
        ]
        return Understood(rows, f"{found} then holds {net} and stands here.", always=True)

    def write() -> Entry:
        return away.turn_up(request.book, form.act_on_it(), form.reading)

    return run_on_cylinder(
        request, form, f"{found} turned up", "Take it onto the shelf", understood, write, places=["weigh"]
    )


@writer_page
def loss(request: BookRequest, number: int) -> HttpResponse:
    """Enter that gas left a cylinder other than into a vehicle, a cylinder or a consignment."""
    found, access = cylinder_of(request, number), request.access
    form = LossForm(request.POST or None, cylinder=found, access=access, initial=weighed_after(request))
    content = form.content

    def understood() -> Understood:
        cause = form.cleaned_data["cause"]
        rows = [
            ("From", holding(found, content, access)),
            ("To", ENDS.get(cause, TO_AIR)),
            ("What happened", CAUSES[cause].words),
            *_lost_rows(form, content, access),
            ("How it is known", form.cleaned_data["reason"]),
        ]
        return Understood(rows, always=True, facts=[content])

    def write() -> Entry:
        act, before, after = form.act_on_it("reason"), form.readings.get("before"), form.readings.get("after")
        return away.lose(request.book, act, found, form.cleaned_data["cause"], before=before, after=after)

    return run_on_cylinder(
        request, form, f"Gas lost from {found}", "Write the loss in the book", understood, write, places=["weigh"]
    )


def _lost_rows(form: LossForm, content: Content | None, access: Access) -> Rows:
    after = form.readings.get("after")
    if after is None:
        return [("Mass", f"{in_book(content[2], access.units.mass)}, all that it held" if content else "nothing")]
    before = form.readings.get("before")
    rows: Rows = []
    if before is not None:
        rows.append(("Before", f"{before.said} on {before.scale}"))
    rows.append(("After", f"{after.said} on {after.scale}"))
    start = before.gross_mg - form.cylinder.tare_mg if before else (content[2] if content else 0)
    rows.append(("Mass", in_book(start - (after.gross_mg - form.cylinder.tare_mg), access.units.mass)))
    return rows
