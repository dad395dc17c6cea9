"""Pages of gas that was lost, and of a cylinder that turned up."""

from django.http import HttpResponse

from inventory.acts import lost
from inventory.book.draft import Content
from inventory.causes import CAUSES
from inventory.measure.displays import in_book
from inventory.models import Entry
from inventory.models.access import Access
from inventory.pages.access import BookRequest, writer_page
from inventory.pages.forms.cylinders import GrossForm, LossForm
from inventory.pages.oncylinder import Rows, holding, run_on_cylinder
from inventory.pages.records import cylinder_of
from inventory.pages.running import Understood
from inventory.shelf.queries import content_of

ENDS = {"missing": "unexplained", "was-oil": "opening: it never was refrigerant"}
TO_AIR = "the air, on this workshop’s account"


@writer_page
def turned_up(request: BookRequest, number: int) -> HttpResponse:
    """Take a cylinder that the book thought gone or empty back onto the shelf, by its weighing."""
    found, access = cylinder_of(request, number), request.access
    form = GrossForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        net = in_book(max(form.reading.gross_mg - found.tare_mg, 0), access.mass_unit)
        rows = [
            ("Cylinder", found),
            ("Gross", f"{form.reading.said} on {form.reading.scale}"),
            ("From unexplained", net),
        ]
        return Understood(rows, f"{found} then holds {net} and stands here.", always=True)

    def write() -> Entry:
        return lost.turn_up(request.book, form.act_on_it(), form.reading)

    return run_on_cylinder(
        request, form, f"{found} turned up", "Take it onto the shelf", understood, write, places=["weigh"]
    )


@writer_page
def loss(request: BookRequest, number: int) -> HttpResponse:
    """Enter that gas left a cylinder other than into a vehicle, a cylinder or a consignment."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found.account)
    held_code = content[0] if content else found.refrigerant
    form = LossForm(request.POST or None, cylinder=found, access=access, held_code=held_code)

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
        return lost.lose(request.book, act, found, form.cleaned_data["cause"], before=before, after=after)

    return run_on_cylinder(
        request, form, f"Gas lost from {found}", "Write the loss in the book", understood, write, places=["weigh"]
    )


def _lost_rows(form: LossForm, content: Content | None, access: Access) -> Rows:
    after = form.readings.get("after")
    if after is None:
        return [("Mass", f"{in_book(content[2], access.mass_unit)}, all that it held" if content else "nothing")]
    before = form.readings.get("before")
    rows: Rows = []
    if before is not None:
        rows.append(("Before", f"{before.said} on {before.scale}"))
    rows.append(("After", f"{after.said} on {after.scale}"))
    start = before.gross_mg - form.cylinder.tare_mg if before else (content[2] if content else 0)
    rows.append(("Mass", in_book(start - (after.gross_mg - form.cylinder.tare_mg), access.mass_unit)))
    return rows
