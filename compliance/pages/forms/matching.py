"""What is asked to match a partner's list with the book: the file and the period."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from compliance.matching.sheet import NotAList, read_sheet
from inventory.models import Partner
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
    keep = forms.BooleanField(
        label="Keep it: findings say what differs",
        required=False,
        help_text="Without it the answer is only shown. A newer list of the same days takes the place of an older one.",
    )

    content, file_name = b"", ""

    def __init__(self, *args: Any, partner: Partner, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial.setdefault("keep", partner.lists_from is not None)
        year = timezone.localdate().year - 1
        self.initial.setdefault("first", date(year, 1, 1))
        self.initial.setdefault("last", date(year, 12, 31))

    def clean_file(self) -> Any:
        upload = self.cleaned_data["file"]
        if upload.size > LARGEST_BYTES:
            raise ValidationError("The file is larger than 2 MB. Send it year by year.")
        try:
            self.content, self.file_name = upload.read(), str(upload.name)
            return read_sheet(self.content, self.units.days)
        except NotAList as error:
            raise ValidationError(error.faults) from error

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last = cleaned.get("first"), cleaned.get("last")
        sheet = cleaned.get("file")
        if first and last and last < first:
            self.add_error("last", "The period ends before it begins.")
        elif first and last and sheet and not any(first <= one.on <= last for one in sheet.rows):
            days = [one.on for one in sheet.rows]
            said = f"None of its {len(days)} rows lies in this period: they are of {min(days)} to {max(days)}."
            self.add_error("first", self.spoken(f"{said} Look at the days, or at the file."))
        return cleaned
