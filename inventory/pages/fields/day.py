"""The field for a day: by the browser's own control, or typed in the order of who types it."""

import re
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

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
