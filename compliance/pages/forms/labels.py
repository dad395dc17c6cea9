"""Forms of labels: choosing cylinders, and what a conversion label lacks."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from compliance.documents.issuing import ABOUT_LENGTH
from inventory.models import Cylinder
from inventory.pages.forms.act import LOST_KEY, PlainForm
from inventory.pages.forms.parts import refrigerant_choices, set_choices

LONGEST = 80


def _line(label: str, hint: str, missing: str) -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=hint,
        max_length=LONGEST,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": missing},
    )


class ConversionForm(PlainForm):
    """What stands on a conversion label and was not entered: only the fields that are asked."""

    key = forms.UUIDField(widget=forms.HiddenInput, error_messages={"required": LOST_KEY, "invalid": LOST_KEY})
    asked = forms.CharField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, asked: Sequence[str], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields |= {name: field for name, field in self._every().items() if name in asked}
        if "from" in self.fields and self.access is not None:
            set_choices(self, "from", [("", "choose"), *refrigerant_choices(self.access.book)])

    def _every(self) -> dict[str, forms.Field]:
        return {
            "from": forms.ChoiceField(
                label="What it was for before",
                error_messages={"required": "Choose the refrigerant that it was for before."},
            ),
            "trade_name": _line(
                "Trade name of the refrigerant",
                "As its cylinder has it; where it has none, its number again, such as R-134a.",
                "Enter the trade name as the cylinder has it.",
            ),
            "lubricant": _line(
                "Lubricant and its amount", "Such as ester, 150 mL.", "Enter the lubricant and how much went in."
            ),
            "lubricant_maker": _line(
                "Maker of the lubricant", "As its bottle has it.", "Enter who made the lubricant."
            ),
        }


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
