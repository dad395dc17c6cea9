"""What is asked to make the link of a visit for the owner of the car."""

from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.pages.fields.day import DayField
from inventory.pages.forms.act import BookForm

WEEKS = 4  # how long a link lasts unless another day is chosen


class OwnerLinkForm(BookForm):
    """Until when the owner of the car reads a visit, and whether its record bears the code."""

    until = DayField(label="Until the end of")
    on_paper = forms.BooleanField(
        label="Print it as a QR code on the visit record",
        required=False,
        help_text="On a record that is issued while the link stands. Whoever has the paper then has the link.",
    )
    occurred_at = None  # type: ignore[assignment] # a link is made when it is made

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial.setdefault("until", timezone.localdate() + timedelta(weeks=WEEKS))

    def clean_until(self) -> date:
        day: date = self.cleaned_data["until"]
        if day < timezone.localdate():
            raise ValidationError("That day has passed. A link ends today or later.")
        return day

    @property
    def ends_at(self) -> datetime:
        """The end of the chosen day in the workshop's zone."""
        last_moment = datetime.combine(self.cleaned_data["until"], time(23, 59, 59))
        return last_moment.replace(tzinfo=timezone.get_current_timezone())
