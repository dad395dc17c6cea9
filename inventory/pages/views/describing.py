"""Pages that put right what a cylinder is and what is in it, or take it off the shelf."""

from django.http import HttpResponse

from inventory.acts import describing
from inventory.book.refusals import LedgerError
from inventory.measure.displays import in_book
from inventory.models import Entry
from inventory.pages import comeback
from inventory.pages.access import BookRequest, cylinder_of, writer_page
from inventory.pages.forms.act import page, see
from inventory.pages.forms.cylinders import TareForm
from inventory.pages.forms.describing import EditForm
from inventory.pages.forms.heel import DoneForm
from inventory.pages.forms.tested import IdentifyForm, RegradeForm
from inventory.pages.oncylinder import holding, run_on_cylinder
from inventory.pages.running import Understood
from inventory.shelf.queries import content_of


@writer_page
def tare(request: BookRequest, number: int) -> HttpResponse:
    """Give a cylinder its true empty mass."""
    found, access = cylinder_of(request, number), request.access
    form = TareForm(request.POST or None, cylinder=found, access=access)
    content = form.content

    def understood() -> Understood:
        rows = [
            ("Cylinder", f"{found}, empty and evacuated"),
            ("Empty mass", f"{form.reading.said}, was {in_book(int(found.tare_mg), access.units.mass)}"),
            ("Why", form.cleaned_data["reason"]),
        ]
        held = in_book(content[2], access.units.mass) if content else ""
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
            form.refuse(error)
        else:
            return comeback.back(request, number) or see(request, "cylinder", number)
    return page(request, "inventory/cylinder_edit.html", form, cylinder=found, content=content_of(found.account))


@writer_page
def done(request: BookRequest, number: int) -> HttpResponse:
    """Take an empty cylinder off the shelf for good."""
    found = cylinder_of(request, number)
    form = DoneForm(request.POST if request.method == "POST" else None, cylinder=found, access=request.access)
    if request.method == "POST" and form.is_valid():
        try:
            describing.discard(found, **form.cleaned_data)
        except LedgerError as error:
            form.refuse(error)
        else:
            return see(request, "cylinder", number)
    return page(request, "inventory/cylinder_done.html", form, cylinder=found, content=content_of(found.account))


@writer_page
def regrade(request: BookRequest, number: int) -> HttpResponse:
    """Change the grade of all that a cylinder holds."""
    found, access = cylinder_of(request, number), request.access
    form = RegradeForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        rows = [
            ("Cylinder", holding(found, form.content, access)),
            ("It is now", form.cleaned_data["grade"]),
            ("What shows it", form.cleaned_data["evidence"]),
        ]
        return Understood(rows, always=form.cleaned_data["grade"] == "suspect", facts=[form.content])

    def write() -> Entry:
        return describing.regrade(request.book, form.act_on_it("evidence"), found, grade=form.cleaned_data["grade"])

    title = f"Change the grade of {found}"
    return run_on_cylinder(request, form, title, "Change the grade", understood, write)


@writer_page
def identify(request: BookRequest, number: int) -> HttpResponse:
    """Enter that an identifier says a content is something else."""
    found, access = cylinder_of(request, number), request.access
    form = IdentifyForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        cleaned = form.cleaned_data
        shares = ", ".join(f"{code} {float(share) * 100:.1f} %" for code, share in cleaned["parts"].items())
        rows = [
            ("Cylinder", holding(found, form.content, access)),
            ("It is", cleaned["refrigerant"]),
            ("Shown", shares),
        ]
        return Understood(
            rows, "What is MIXED is suspect: to be reclaimed or destroyed.", always=True, facts=[form.content]
        )

    def write() -> Entry:
        return describing.reidentify(
            request.book,
            form.act_on_it(),
            found,
            refrigerant=form.cleaned_data["refrigerant"],
            parts=form.cleaned_data["parts"],
            instrument=form.cleaned_data.get("instrument", ""),
        )

    return run_on_cylinder(
        request,
        form,
        f"{found} identified as another",
        "Write it in the book",
        understood,
        write,
        places=["identified"],
    )
