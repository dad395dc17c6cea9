"""The page on which gas is moved from one cylinder into another."""

from django.http import HttpResponse

from inventory.acts import pouring
from inventory.models import Entry
from inventory.pages.access import BookRequest, writer_page
from inventory.pages.forms.cylinders import TransferForm
from inventory.pages.oncylinder import holding, run_on_cylinder
from inventory.pages.records import cylinder_of
from inventory.pages.running import Understood
from inventory.shelf.queries import content_of
from inventory.shelf.sentences import room_sentence


@writer_page
def transfer(request: BookRequest, number: int) -> HttpResponse:
    """Move gas from one cylinder into another."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found.account)
    form = TransferForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        target = form.target_cylinder
        rows = [
            ("From", holding(found, content, access)),
            ("Into", holding(target, content_of(target.account), access)),
            *((name.capitalize(), f"{one.said} on {one.scale}") for name, one in form.readings.items()),
        ]
        return Understood(rows, room_sentence(target, content, access.jurisdiction, access.mass_unit))

    def write() -> Entry:
        return pouring.transfer(
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
