"""The field for the scale of a reading, and the unit in which a reading of that scale is typed."""

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms

from inventory.measure.own import Units
from inventory.models import Scale
from inventory.pages.fields.quantity import MassField

NO_SCALE = "No scale is entered yet."


class ScaleField(forms.ChoiceField):
    """One of the book's scales; the cleaned value is the `Scale`, None where none was chosen."""

    created_by = "scale"  # see inventory.pages.comeback

    def __init__(self, scales: Sequence[Scale], **options: Any) -> None:
        self.scales = {str(scale.number): scale for scale in scales}
        options.setdefault("label", "Scale")
        options.setdefault("error_messages", {"required": "Choose the scale.", "invalid_choice": "Choose the scale."})
        choices = [(number, f"{scale.name}, {scale.step.words} steps") for number, scale in self.scales.items()]
        widget = forms.RadioSelect if len(choices) < 6 else forms.Select
        if not choices:
            options["help_text"] = NO_SCALE
        super().__init__(choices=choices, widget=widget, **options)

    def clean(self, value: Any) -> Scale | None:
        return self.scales.get(super().clean(value))

    def unit_shown(self, chosen: object, units: Units) -> str:
        """Return the unit in which a reading begins: what the chosen scale shows, or all of them, else one's own."""
        scale = self.scales.get(str(chosen))
        return unit_of_readings([scale] if scale else self.scales.values(), units)


def unit_of_readings(scales: Iterable[Scale], units: Units) -> str:
    """Return the unit in which readings are typed at first: that of all the scales' displays, else one's own."""
    shown = {scale.step.reading_unit for scale in scales}
    return shown.pop() if len(shown) == 1 else units.mass


def begin_as_scale_shows(form: forms.Form, units: Units) -> None:
    """Let the readings of a form begin with the unit that their scale shows."""
    scale = form.fields.get("scale")
    if not isinstance(scale, ScaleField):
        return
    name = form.add_prefix("scale")
    chosen = form.data.get(name) if form.is_bound else form.get_initial_for_field(scale, "scale")
    for field in form.fields.values():
        if isinstance(field, MassField) and field.from_scale:
            field.default_unit = scale.unit_shown(chosen, units)
