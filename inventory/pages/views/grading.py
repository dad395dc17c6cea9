"""Pages of what a content turns out to be: another grade, another refrigerant."""

from django.http import HttpResponse

from inventory.acts import grading
from inventory.models import Entry
from inventory.pages.access import BookRequest, writer_page
from inventory.pages.forms.tested import IdentifyForm, RegradeForm
from inventory.pages.oncylinder import holding, run_on_cylinder
from inventory.pages.records import cylinder_of
from inventory.pages.running import Understood
from inventory.shelf.queries import content_of


@writer_page
def regrade(request: BookRequest, number: int) -> HttpResponse:
    """Change the grade of all that a cylinder holds."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found.account)
    grade = content[1] if content else found.grade
    form = RegradeForm(request.POST or None, cylinder=found, access=access, held_grade=grade)

    def understood() -> Understood:
        rows = [
            ("Cylinder", holding(found, content, access)),
            ("It is now", form.cleaned_data["grade"]),
            ("What shows it", form.cleaned_data["evidence"]),
        ]
        return Understood(rows, always=form.cleaned_data["grade"] == "suspect", facts=[content])

    def write() -> Entry:
        return grading.regrade(request.book, form.act_on_it("evidence"), found, grade=form.cleaned_data["grade"])

    title = f"Change the grade of {found}"
    return run_on_cylinder(request, form, title, "Change the grade", understood, write)


@writer_page
def identify(request: BookRequest, number: int) -> HttpResponse:
    """Enter that an identifier says a content is something else."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found.account)
    form = IdentifyForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        cleaned = form.cleaned_data
        shares = ", ".join(f"{code} {float(share) * 100:.1f} %" for code, share in cleaned["parts"].items())
        rows = [
            ("Cylinder", holding(found, content, access)),
            ("It is", cleaned["refrigerant"]),
            ("Shown", shares),
        ]
        return Understood(rows, "What is MIXED is suspect: to be reclaimed or destroyed.", always=True, facts=[content])

    def write() -> Entry:
        return grading.reidentify(
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
