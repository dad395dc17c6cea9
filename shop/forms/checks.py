"""The form of one check, made from what the check takes; every value stays the text that was typed."""

from collections.abc import Mapping
from typing import Any

from django import forms

from inventory.fields import ReadingsField
from inventory.forms import PlainForm
from shop.checks import Check, CheckFault, Input


class ReadingsTextField(ReadingsField):
    """Rows of readings; cleaned to the text that a check reads, the chosen units written out."""

    def clean(self, value: Any) -> str:  # type: ignore[override]  # the text, not the readings
        rows = [row for row in value or [] if any(row.get(part, "").strip() for part in _PARTS)]
        return "; ".join(" ".join(_part(row, part) for part in _PARTS).strip() for row in rows)


_PARTS = ("time", "pressure", "temperature")


def _part(row: Mapping[str, str], part: str) -> str:
    text = row.get(part, "").strip()
    if not text or any(letter.isalpha() or letter in ":°" for letter in text):
        return text
    return f"{text} {'min' if part == 'time' else row.get(f'{part}_unit', '')}"


def check_form(check: Check) -> type[PlainForm]:
    """Return the form of a check: one field for each value that it takes."""
    fields: dict[str, forms.Field] = {one.key: _field(one) for one in check.inputs}
    return type("CheckForm", (PlainForm,), fields)


def _field(one: Input) -> forms.Field:
    if one.kind in ("readings", "rises"):
        holds = one.kind == "readings"
        return ReadingsTextField(
            label=one.label, pressure_unit="psi" if holds else "mbar", with_temperature=holds, rows=2
        )
    left_out = f" Left out: {one.default}." if one.default else ""
    return forms.CharField(
        label=one.label,
        required=one.required,
        help_text=f"Such as {one.example}.{left_out}",
        error_messages={"required": f"Enter the {one.label.lower()}."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )


def set_aside(form: PlainForm) -> list[forms.BoundField]:
    """Return the fields that may be left out."""
    return [field for field in form.visible_fields() if not field.field.required]


def typed_of(form: PlainForm) -> dict[str, str]:
    """Return what was typed, by key, without what was left empty; only of a form that is valid."""
    return {key: text for key, text in form.cleaned_data.items() if text}


def put_fault(form: PlainForm, fault: CheckFault) -> None:
    """Put the sentence beside its field."""
    form.add_error(fault.key if fault.key in form.fields else None, fault.sentence)
