"""The field for the scale of a reading, and the unit in which a reading of that scale is typed."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms

from inventory.measure.own import Units
from inventory.models import Scale
from inventory.pages.fields.quantity import MassField

NO_SCALE = "No scale is entered yet."


class _SaysUnits:
    """Choices of scales that say in which unit each is read, so that `scale-unit.js` lets the reading follow."""

    units: Mapping[str, str] = {}

    def create_option(self, name: str, value: Any, *more: Any, **options: Any) -> dict[str, Any]:
        option: dict[str, Any] = super().create_option(name, value, *more, **options)  # type: ignore[misc]
        if unit := self.units.get(str(value)):
            option["attrs"]["data-unit"] = unit
        return option


class _Few(_SaysUnits, forms.RadioSelect):
    pass


class _Many(_SaysUnits, forms.Select):
    pass


class ScaleField(forms.ChoiceField):
    """One of the book's scales; the cleaned value is the `Scale`, None where none was chosen."""

    created_by = "scale"  # see inventory.pages.comeback

    def __init__(self, scales: Sequence[Scale], **options: Any) -> None:
        self.scales = {str(scale.number): scale for scale in scales}
        options.setdefault("label", "Scale")
        options.setdefault("error_messages", {"required": "Choose the scale.", "invalid_choice": "Choose the scale."})
        choices = [(number, f"{scale.name}, {scale.step.words} steps") for number, scale in self.scales.items()]
        widget = _Few() if len(choices) < 6 else _Many()
        widget.units = {number: scale.step.reading_unit for number, scale in self.scales.items()}
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
