"""The page of an act on one cylinder: its facts stand above the form, and it leads back to the cylinder's own page."""

from collections.abc import Callable, Sequence

from django.http import HttpResponse
from django.urls import reverse

from inventory.acts import onscale
from inventory.book import ledger
from inventory.book.holdings import Content
from inventory.book.weighing import Gross
from inventory.measure.displays import in_book
from inventory.models import Cylinder, Entry
from inventory.models.access import Access
from inventory.pages.access import BookRequest
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.cylinders import OnCylinder
from inventory.pages.running import ActPage, Understood, run
from inventory.shelf.sentences import difference_sentence

Rows = list[tuple[str, object]]


def run_on_cylinder(
    request: BookRequest,
    form: OnCylinder,
    title: str,
    submit: str,
    understood: Callable[[], Understood],
    write: Callable[[], Entry],
    *,
    notes: Sequence[str] = (),
    places: Sequence[str] = (),
) -> HttpResponse:
    """Answer the request of an act on the cylinder of `form`, as `running.run` does."""
    number = form.cylinder.account.number
    back = reverse("cylinder", args=[request.access.slug, number])
    shown = ActPage(title, submit, back, notes=notes, places=places)
    return run(
        request,
        form,
        shown,
        understood=understood,
        write=write,
        to=lambda _: ("cylinder", number),
        context=facts_of(form),
    )


def weighed_after(request: BookRequest) -> dict[str, object]:
    """Return what a form begins with where its reading after was typed on the page of the scale."""
    if "after" not in request.GET:
        return {}
    return {"after": Sent.of(request.GET, "after"), "scale": request.GET.get("scale", "")}


def facts_of(form: OnCylinder) -> dict[str, object]:
    """Return what stands of a cylinder above a form: what it holds, and how it was last weighed."""
    found = form.cylinder
    return {"cylinder": found, "content": form.content, "last": ledger.last_weighing(found.account)}


def holding(cylinder: Cylinder, content: Content | None, access: Access) -> str:
    """Return a cylinder with what it holds, for the read-back page."""
    if content is None:
        return f"{cylinder}, empty"
    code, grade, mass_mg = content
    return f"{cylinder}, {code} {grade}, {in_book(mass_mg, access.units.mass)}"


def weighed_rows(request: BookRequest, gross: Gross) -> Rows:
    """Return the reading of an act and how it compares with the book, as it would be now."""
    settled, unit = onscale.preview(request.book, gross), request.access.units.mass
    inside = f"{in_book(settled.net_mg, unit)}, {difference_sentence(settled, unit)}"
    return [("Gross", f"{gross.said} on {gross.scale}"), ("Inside", inside)]
