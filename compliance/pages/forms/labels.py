"""Choosing the cylinders whose labels are printed on one sheet."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from compliance.documents.issuing import ABOUT_LENGTH
from inventory.models import Cylinder
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import set_choices


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
        set_choices(self, "cylinders", [(str(one.account.number), _said(one)) for one in cylinders])

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
