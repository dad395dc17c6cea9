"""The field for the air's own pressure, from which gauges count."""

import re
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.datastructures import MultiValueDict

from inventory.pages.fields.quantity import PressureField
from inventory.pages.fields.sent import Sent

_NUMBER = r"\d+(?:[.,]\d+)?"


class BarometerField(PressureField):
    """The air's own pressure: it counts from nothing, in inches of mercury too, which on a gauge would be a vacuum."""

    use_echo = False  # the echo of a pressure knows gauges alone
    below_words = ""

    def __init__(self, **options: Any) -> None:
        super().__init__(units=("mbar", "inHg", "kPa"), known={"default_reference": "absolute"}, **options)

    def read(self, typed: Sent) -> Any:
        inches = re.fullmatch(rf"({_NUMBER})\s*(in\s*hg)?", typed.said, re.IGNORECASE)
        if inches and (inches[2] or self.unit_of(typed) == "inHg"):
            return self.kind.read(f"{inches[1]} inHg abs", "inHg", self.what, self.known)
        return super().read(typed)


def barometer_in(data: Mapping[str, Any]) -> float | None:
    """Return the barometer that was typed on a page, in pascal; None where none was or none can be read."""
    field = BarometerField(required=False)
    try:
        found = field.clean(field.widget.value_from_datadict(data, MultiValueDict(), "barometer"))
    except ValidationError:
        return None
    return float(found.si) if found is not None else None
