"""Pages that put right what a cylinder is: its facts, its empty mass; and that take it off the shelf."""

from django.http import HttpResponse
from django.shortcuts import render

from inventory.acts import describing
from inventory.book.refusals import LedgerError
from inventory.measure.displays import in_book
from inventory.models import Entry
from inventory.pages import comeback
from inventory.pages.access import BookRequest, writer_page
from inventory.pages.forms.act import page, see
from inventory.pages.forms.cylinders import TareForm
from inventory.pages.forms.describing import EditForm
from inventory.pages.oncylinder import run_on_cylinder
from inventory.pages.records import cylinder_of
from inventory.pages.running import Understood
from inventory.shelf.queries import content_of


@writer_page
def tare(request: BookRequest, number: int) -> HttpResponse:
    """Give a cylinder its true empty mass."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found.account)
    form = TareForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        rows = [
            ("Cylinder", f"{found}, empty and evacuated"),
            ("Empty mass", f"{form.reading.said}, was {in_book(int(found.tare_mg), access.mass_unit)}"),
            ("Why", form.cleaned_data["reason"]),
        ]
        held = in_book(content[2], access.mass_unit) if content else ""
        then = f"The book’s {held} in it goes to unexplained, as a tare corrected." if content else ""
        return Understood(rows, then, always=True, facts=[content])

    def write() -> Entry:
        return describing.correct_tare(request.book, form.act_on_it("reason"), form.reading)

    return run_on_cylinder(
        request,
        form,
        f"Correct the empty mass of {found}",
        "Correct the empty mass",
        understood,
        write,
        notes=["Only of a cylinder that is empty and evacuated. The earlier empty mass stays on its page."],
    )


@writer_page
def edit(request: BookRequest, number: int) -> HttpResponse:
    """Put right what a cylinder is and where it stands."""
    found = cylinder_of(request, number)
    form = EditForm(request.POST or None, cylinder=found, access=request.access)
    if request.method == "POST" and form.is_valid():
        try:
            describing.change_cylinder(found, **form.facts())
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            return comeback.back(request, number) or see(request, "cylinder", number)
    return page(request, "inventory/cylinder_edit.html", form, cylinder=found, content=content_of(found.account))


@writer_page
def done(request: BookRequest, number: int) -> HttpResponse:
    """Take an empty cylinder off the shelf for good."""
    found = cylinder_of(request, number)
    refused = ""
    if request.method == "POST":
        try:
            describing.discard(found)
        except LedgerError as error:
            refused = str(error)
        else:
            return see(request, "cylinder", number)
    context = {"cylinder": found, "content": content_of(found.account), "refused": refused}
    return render(request, "inventory/cylinder_done.html", context, status=422 if refused else 200)
