"""The form of one check, made from what the check takes; every value stays the text that was typed."""

import re
from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.http import QueryDict

from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.pages.fields.readings import ReadingsField
from inventory.pages.fields.sent import INSISTED, Choice, QuantityBoundField
from inventory.pages.forms.act import PlainForm
from shop.bench import insides
from shop.checks.values import Check, CheckFault, Input

_BARE = re.compile(r"[-−+]?[\d.,]+")


def is_customary(kind: str, units: Units) -> bool:
    """Whether a person types a value of this kind in pounds, psi, Fahrenheit, fluid ounces or feet."""
    if kind in ("mass", "masses", "water"):
        return units.in_pounds
    if kind in ("pressure", "pressure-step", "barometer"):
        return units.pressure == "psi"
    if kind in ("temperature", "temperature-step"):
        return units.temperature == "F"
    return units.volume != "L"


class AskedField(forms.CharField):
    """A text as typed, that knows the readings which a question about it offers, and says an example of its kind."""

    def __init__(self, asked: Input, **options: Any) -> None:
        self.asked, self.in_fahrenheit = asked, False
        super().__init__(**options)

    def speak(self, units: Units) -> None:
        """Give the example in the units of who fills it in."""
        one = self.asked
        example = one.customary if one.customary and is_customary(one.kind, units) else one.example
        left_out = f" Left out: {in_own_units(one.default, units)}." if one.default else ""
        self.help_text = f"Such as {example}.{left_out}"
        self.in_fahrenheit = one.kind == "temperature" and is_customary(one.kind, units)

    def clean(self, value: Any) -> str:
        """Return the text as typed; a temperature without a unit is in the one of who fills it in."""
        text = str(super().clean(value))
        return f"{text} F" if self.in_fahrenheit and _BARE.fullmatch(text) else text

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> BoundField:
        return QuantityBoundField(form, self, field_name)


class ReadingsTextField(ReadingsField):
    """Rows of readings; cleaned to the text that a check reads, the chosen units written out."""

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> BoundField:
        return QuantityBoundField(form, self, field_name)

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
            label=one.label,
            known={} if holds else {"default_reference": "absolute"},
            with_temperature=holds,
            rows=2,
        )
    if one.kind == "class":
        choices = [("", "not said: a car is taken"), *((name, name) for name in insides.CLASSES)]
        unknown = "There is no such class: choose one of the list."
        return forms.ChoiceField(
            label=one.label,
            required=False,
            choices=choices,
            help_text="How much it has inside is then an estimate, said with the answer.",
            error_messages={"invalid_choice": unknown},
        )
    return AskedField(
        one,
        label=one.label,
        required=one.required,
        error_messages={"required": f"Enter the {one.label.lower()}."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )


ANSWER, UNIT = "_reading", "unit: "
OTHER_UNIT = {"psi": "bar", "bar": "psi"}


def put_fault(form: PlainForm, fault: CheckFault) -> None:
    """Put the question or the sentence beside its field, each answer to a question as a button."""
    choices = [Choice(one, one.partition(": ")[2] or one) for one in fault.choices]
    if fault.may_insist:
        choices += _other_unit(form, fault)
        choices.append(Choice(INSISTED, "It does read so"))
    name = fault.key if fault.key in form.fields else None
    if not choices:
        form.add_error(name, form.spoken(fault.question))
        return
    question = fault.question.replace("%", "%%")  # with `params` a sign of per cent would be a place to fill in
    form.add_error(name, ValidationError(question, code="doubt", params={"choices": choices}))


def _other_unit(form: PlainForm, fault: CheckFault) -> list[Choice]:
    """Return the unit that readings were most likely meant in, where the question asks that."""
    unit = OTHER_UNIT.get(str(form.data.get(f"{fault.key}_pressure_unit", "")))
    if unit is None or f" {unit}" not in fault.question.partition("Did you mean")[2]:
        return []
    return [Choice(f"{UNIT}{unit}", f"All pressures in {unit}")]


def answered(sent: QueryDict) -> QueryDict:
    """Return what was sent with the answers to questions put where they belong: a text, a row, a unit, or "so"."""
    found = sent.copy()
    for key in [key for key in sent if key.endswith(ANSWER)]:
        name, said = key.removesuffix(ANSWER), str(sent[key])
        del found[key]
        row = re.fullmatch(r"(\d+): (.+)", said)
        if said == INSISTED:
            found["as_read"] = "yes"
        elif said.startswith(UNIT):
            _in_unit(found, name, said.removeprefix(UNIT))
        elif row:
            part = "temperature" if row[2].endswith(("C", "F", "K")) else "pressure"
            found[f"{name}_{int(row[1]) - 1}_{part}"] = row[2]
        else:
            found[name] = said
    return found


def _in_unit(found: QueryDict, name: str, unit: str) -> None:
    """Read all pressures of rows in one unit; a unit written in a row gives way to it."""
    found[f"{name}_pressure_unit"] = unit
    for key in [key for key in found if re.fullmatch(rf"{re.escape(name)}_\d+_pressure", key)]:
        found[key] = re.sub(r"\s*[A-Za-z].*$", "", str(found[key]))
