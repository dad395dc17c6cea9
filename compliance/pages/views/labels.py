"""Choosing the cylinders whose labels are printed on one sheet."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from compliance.documents.issuing import ABOUT_LENGTH
from inventory.models import Cylinder
from inventory.pages.access import writer_required
from inventory.pages.forms.act import PlainForm, page, see
from inventory.shelf import queries
from shop.pages.middleware import ShopRequest

LABELS_SLUG = "cylinder-labels"


class LabelsForm(PlainForm):
    """The cylinders on the floor, each to be ticked."""

    cylinders = forms.MultipleChoiceField(
        label="Cylinders",
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": "Choose at least one cylinder.",
            "invalid_choice": "Cylinder %(value)s is not on the floor. Choose from the list.",
        },
    )

    def __init__(self, *args: Any, cylinders: list[Cylinder], **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["cylinders"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101 - for the type
        field.choices = [(str(one.account.number), _said(one)) for one in cylinders]

    def clean_cylinders(self) -> list[str]:
        chosen: list[str] = self.cleaned_data["cylinders"]
        fit = next((n for n in range(len(chosen), 0, -1) if len(about_of(chosen[:n])) <= ABOUT_LENGTH), 0)
        if fit < len(chosen):
            raise ValidationError(
                f"{len(chosen)} are too many for one sheet. Choose at most {fit}, and the others for another sheet."
            )
        return chosen


def _said(cylinder: Cylinder) -> str:
    place = f", {cylinder.place}" if cylinder.place else ""
    return f"{cylinder.serial}, {cylinder.refrigerant} {cylinder.grade}, {cylinder.kind}{place}"


def about_of(numbers: list[str]) -> str:
    """Return the name of a sheet of labels."""
    return f"cylinders:{','.join(numbers)}"


@writer_required
@require_http_methods(["GET", "HEAD", "POST"])
def choose(request: ShopRequest) -> HttpResponse:
    """Choose cylinders, then go to the page that shows and issues their labels."""
    here = list(queries.standing_here(request.book))
    ticked = {"cylinders": request.GET.getlist("cylinder")}
    sent = request.POST if request.method == "POST" else None  # one that is empty is judged too: nothing was ticked
    form = LabelsForm(sent, access=request.access, cylinders=here, initial=ticked)
    if form.is_valid():
        return see(request, "document-issue", LABELS_SLUG, about_of(form.cleaned_data["cylinders"]))
    return page(request, "compliance/labels.html", form, cylinders=here)
