"""What is asked to match a partner's list with the book: the file and the period."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from compliance.matching.lists import NotAList, read_list
from inventory.pages.fields.day import DayField
from inventory.pages.forms.act import PlainForm

LARGEST_BYTES = 2_000_000


class MatchForm(PlainForm):
    """A partner's list as CSV, and the days that it covers."""

    file = forms.FileField(
        label="Their list, as CSV",
        help_text="Columns date, refrigerant, mass (with its unit), and if they have them paper_number and direction.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,text/csv"}),
        error_messages={"required": "Choose the file.", "empty": "The file is empty."},
    )
    first = DayField(label="From")
    last = DayField(label="To")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        year = timezone.localdate().year - 1
        self.initial.setdefault("first", date(year, 1, 1))
        self.initial.setdefault("last", date(year, 12, 31))

    def clean_file(self) -> Any:
        upload = self.cleaned_data["file"]
        if upload.size > LARGEST_BYTES:
            raise ValidationError("The file is larger than 2 MB. Send it year by year.")
        try:
            return read_list(upload.read())
        except NotAList as error:
            raise ValidationError(error.faults) from error

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and last < first:
            self.add_error("last", "The period ends before it begins.")
        return cleaned
