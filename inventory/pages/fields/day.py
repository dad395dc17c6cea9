"""The field for a day: by the browser's own control, or typed in the order of who types it."""

import re
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.measure.own import METRIC, Units
from inventory.measure.typed import QuantityError
from inventory.measure.typedday import read_day


class DayWidget(forms.DateInput):
    """The browser's own control; a plain input where it would drop what was typed."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d", attrs={"autocomplete": "off"})

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        shown = context["widget"]["value"]
        if shown and not re.fullmatch(r"\d{4}-\d\d-\d\d", shown):
            context["widget"]["type"] = "text"
        return context


FIRST_YEAR = 1950  # no vehicle, machine or paper here is older: few cars had air conditioning before


class DayField(forms.DateField):
    """A day; typed in figures it is read in the order of who fills the form in, see `inventory.measure.typedday`."""

    def __init__(self, **options: Any) -> None:
        self.order = METRIC.days
        super().__init__(widget=DayWidget(), **options)

    def speak(self, units: Units) -> None:
        """Read days in the order of who fills it in."""
        self.order = units.days

    def to_python(self, value: Any) -> date | None:
        if not isinstance(value, str):
            return super().to_python(value)
        if not value.strip():
            return None
        try:
            return read_day(value, self.order)
        except QuantityError as error:
            raise ValidationError(error.sentence, code="unread") from None


class PastDayField(DayField):
    """A day on which something was done: not to come, and not before anything here was made."""

    def validate(self, value: date | None) -> None:
        super().validate(value)
        if value is None:
            return
        if value.year < FIRST_YEAR:
            raise ValidationError(f"The year {value.year} is before {FIRST_YEAR}. Look at its figures.")
        if value > timezone.localdate():
            raise ValidationError("That day is still to come. Enter the day on which it was done.")
