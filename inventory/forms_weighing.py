"""What the forms of every weighing share: the scale, the gross reading, and when a reading is a question.

A reading over what the scale carries is refused. One between its steps is a question: the two steps beside it are
offered, and what was typed may be insisted on.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory import uncertainty
from inventory.access import Access
from inventory.fields import INSISTED, Choice, MassField, QuantityField, Sent
from inventory.models import Book, Cylinder, Scale
from inventory.quantities import Mass, show_mass
from inventory.weighing import Gross, off_step

NO_SCALE = "No scale is entered yet."


def scales_of(book: Book) -> list[Scale]:
    """Return the scales of a book that are in use, by name."""
    return list(Scale.objects.filter(book=book, retired=False).order_by("name"))


class ScaleField(forms.ChoiceField):
    """One of the book's scales; the cleaned value is the `Scale`, None where none was chosen."""

    created_by = "scale"  # see inventory.comeback

    def __init__(self, scales: Sequence[Scale], **options: Any) -> None:
        self.scales = {str(scale.number): scale for scale in scales}
        options.setdefault("label", "Scale")
        options.setdefault("error_messages", {"required": "Choose the scale.", "invalid_choice": "Choose the scale."})
        choices = [
            (number, f"{scale.name}, {show_mass(scale.step_mg, unit='g', step_mg=scale.step_mg)} steps")
            for number, scale in self.scales.items()
        ]
        widget = forms.RadioSelect if len(choices) < 6 else forms.Select
        if not choices:
            options["help_text"] = NO_SCALE
        super().__init__(choices=choices, widget=widget, **options)

    def clean(self, value: Any) -> Scale | None:
        return self.scales.get(super().clean(value))


def scale_field(access: Access, **options: Any) -> ScaleField:
    """Return the field for the scale; where the book has one alone it is chosen."""
    scales = scales_of(access.book)
    if len(scales) == 1:
        options.setdefault("initial", str(scales[0].number))
    return ScaleField(scales, **options)


def gross_field(mass_unit: str, label: str = "Gross on the scale", **options: Any) -> MassField:
    """Return the field of a gross reading, in the workshop's unit of mass."""
    options.setdefault("what", "gross mass")
    return MassField(label=label, default_unit=mass_unit, from_scale=True, **options)


def reading_of(form: forms.Form, name: str, cylinder: Cylinder, scale: Scale | None) -> Gross | None:
    """Return the reading in field `name`, or None where there is none; adds the refusal or question to the form."""
    mass = form.cleaned_data.get(name)
    if not isinstance(mass, Mass) or scale is None:
        return None
    gross = Gross(cylinder, scale, mass.mg, _as_typed(form, name), restarted=bool(form.cleaned_data.get("restarted")))
    if (sentence := beyond_capacity(gross)) is not None:
        form.add_error(name, sentence)
        return None
    sent = _sent(form, name)
    if not sent.insisted and (question := off_step(gross)) is not None:
        choices = step_choices(gross, sent)
        form.add_error(name, ValidationError(question, code="doubt", params={"choices": choices}))
        return None
    return gross


def _sent(form: forms.Form, name: str) -> Sent:
    field = form.fields[name]
    assert isinstance(field, QuantityField)  # noqa: S101 - for the type
    sent: Sent = field.widget.value_from_datadict(form.data, form.files, form.add_prefix(name))
    return sent


def _as_typed(form: forms.Form, name: str) -> str:
    """Return the text as typed, with the unit chosen beside it where it has none."""
    sent = _sent(form, name)
    return sent.said if any(char.isalpha() for char in sent.said) else f"{sent.said} {sent.unit or 'kg'}"


def beyond_capacity(gross: Gross) -> str | None:
    """Return why a reading cannot be of this scale, or None."""
    capacity_mg = gross.scale.capacity_mg
    if capacity_mg is None or gross.gross_mg <= capacity_mg:
        return None
    return (
        f"{show_mass(gross.gross_mg)} is more than {gross.scale} carries ({show_mass(capacity_mg)}). "
        "Check the number and its unit, or choose the other scale."
    )


def step_choices(gross: Gross, sent: Sent) -> list[Choice]:
    """Return the steps of the scale beside a reading that lies between them, and the reading itself."""
    step = gross.scale.step_mg
    below = gross.gross_mg // step * step
    choices = [
        Choice(text, text)
        for mg in (below, below + step)
        if uncertainty.on_step_mg(mg, step) and (text := f"{Decimal(mg) / 1_000_000:f} kg")
    ]
    typed = sent.said if any(char.isalpha() for char in sent.said) else f"{sent.said} {sent.unit or 'kg'}"
    return [*choices, Choice(f"{INSISTED}{typed}", f"It does read {typed}")]
