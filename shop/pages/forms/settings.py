"""Forms of the settings: the workshop, its rules and units, its scales, the checks of instruments."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.measure import displays
from inventory.measure.figures import plain
from inventory.measure.masses import read_mass
from inventory.measure.typed import QuantityError
from inventory.measure.uncertainty import oiml_limit
from inventory.models import Book, Scale
from inventory.output import stock
from inventory.output.days import ends
from inventory.pages.fields.day import FIRST_YEAR, DayField
from inventory.pages.fields.quantity import MassField, PercentField, StepField
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import choice, mg_of, text, typed_of
from shop.pages.forms.account import WorkshopForm
from shop.pages.forms.instruments import EnteredForm
from shop.people.instruments import LONGEST_YEARS, Due

DEFAULT_SPAN = "0.1"
OF_STATE = ("state_licence", "state_licence_until", "no_state_licence")
AS_KEPT = ("name", "serial", "accuracy_class", "calibrated_until", "retired")


class FactsForm(WorkshopForm):
    """What stands on every document, and where the workshop is."""

    jurisdiction = None  # type: ignore[assignment] # stands among the rules and units
    phone = text("Telephone", required=False, max_length=60)
    registration = text("Registration number", required=False, max_length=80)
    state_licence = text(
        "State licence or registration",
        required=False,
        max_length=80,
        help_text="Its number, where the state’s own law asks one of repair shops.",
    )
    state_licence_until = DayField(label="Good until", required=False)
    no_state_licence = forms.BooleanField(label="The state asks for none", required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.access is None or self.access.jurisdiction != "us":
            for name in OF_STATE:
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        number, until, none = (cleaned.get(name) for name in OF_STATE)
        if none and (number or until):
            self.add_error("no_state_licence", "A licence is entered, or the state asks for none. Take one away.")
        elif until and not number:
            self.add_error("state_licence", "Enter the number of the licence that is good until then.")
        elif until and until.year < FIRST_YEAR:
            self.add_error("state_licence_until", f"The year {until.year} is before {FIRST_YEAR}. Look at its figures.")
        return cleaned


class PapersForm(PlainForm):
    """What papers and labels are printed on."""

    paper = forms.ChoiceField(label="Papers on", choices=stock.SHEET_CHOICES, widget=forms.RadioSelect)
    labels = forms.ChoiceField(
        label="Labels on",
        choices=stock.LABEL_CHOICES,
        widget=forms.RadioSelect,
        help_text="Of cylinders and of converted vehicles. On a label stock each label is one page of its size.",
    )


class ScaleForm(EnteredForm):
    """A scale: step, errors, what it carries, until when it was checked."""

    set_aside_words = "Its error, class, serial number and check"
    model, noun, short = Scale, "a scale", ("name", "step", "capacity")

    name = forms.CharField(
        label="What it is called",
        max_length=40,
        help_text="As written on it: S1.",
        error_messages={"required": "Enter what the scale is called."},
    )
    step = StepField(
        label="Smallest step it shows",
        what="step",
        default_unit="g",
        units=displays.UNITS,
        help_text="Such as 5 g or 0.02 lb; with lb and oz, the ounces.",
    )
    capacity = MassField(label="Most it carries", what="capacity", required=False)
    serial = forms.CharField(label="Serial number", required=False, max_length=60)

    span = PercentField(
        label="Stated error of the load",
        what="stated error",
        required=False,
        help_text=f"Of its plate or papers; {DEFAULT_SPAN} % where none is stated.",
    )
    zero = MassField(
        label="How far its zero comes back",
        what="zero return",
        default_unit="g",
        required=False,
        help_text="One step where it is not known.",
    )
    accuracy_class = choice(
        "Class on its plate (OIML R 76)",
        [("", "none"), ("I", "I"), ("II", "II"), ("III", "III"), ("IIII", "IIII")],
        required=False,
        help_text="With a class, its limits take the place of the stated error.",
    )
    calibrated_until = DayField(label="Checked until", required=False)
    retired = forms.BooleanField(label="No longer used", required=False)
    field_order = (
        "name",
        "step",
        "capacity",
        "span",
        "zero",
        "accuracy_class",
        "serial",
        "calibrated_until",
        "retired",
    )

    def __init__(self, *args: Any, book: Book, scale: Scale | None = None, **options: Any) -> None:
        initial = _of_scale(scale) if scale else {}
        super().__init__(*args, book=book, entered=scale, initial=initial, **options)
        if self.access is not None and self.access.units.in_pounds:
            for name, unit in (("step", "lb"), ("capacity", "lb"), ("zero", "oz")):
                if isinstance(field := self.fields[name], MassField):
                    field.default_unit = unit

    def stands_already(self) -> bool:
        """Whether the very scale that was sent has been entered before: a second press."""
        if set(self.errors) != {"name"}:
            return False
        known = Scale.objects.filter(book=self.book, name=str(self.data.get("name", "")).strip()).first()
        step = self.cleaned_data.get("step")
        return known is not None and step is not None and known.step == displays.step_of(step)

    def clean_step(self) -> Any:
        """Refuse a step of nothing."""
        step = self.cleaned_data["step"]
        if step.mg <= 0:
            raise ValidationError("A step of nothing cannot be. Enter the smallest change that the scale shows.")
        return step

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        step, capacity, accuracy = cleaned.get("step"), cleaned.get("capacity"), cleaned.get("accuracy_class")
        if step and capacity and capacity.mg < step.mg:
            self.add_error("capacity", "It carries less than one step by this. Look at both figures.")
        elif step and accuracy:
            if capacity is None:
                self.add_error("capacity", "A scale with a class has its capacity on the plate. Enter it.")
            else:
                try:
                    oiml_limit(step.mg / 1000, capacity.mg / 1000, accuracy)
                except ValueError as error:
                    self.add_error("accuracy_class", f"{error} Look at the plate.")
        return cleaned

    def facts(self) -> dict[str, Any]:
        """Return the scale's columns, and what was typed."""
        cleaned = self.cleaned_data
        typed = {name: typed_of(cleaned[name]) for name in ("step", "capacity", "zero", "span") if cleaned.get(name)}
        step = displays.step_of(cleaned["step"])
        return {
            **{name: cleaned[name] for name in AS_KEPT},
            "step_mg": cleaned["step"].mg,
            "step_number": plain(step.number),
            "step_unit": step.unit,
            "capacity_mg": mg_of(cleaned["capacity"]),
            "span": cleaned["span"].si / 100 if cleaned["span"] else float(DEFAULT_SPAN) / 100,
            "zero_mg": mg_of(cleaned["zero"]),
            "typed": typed,
        }


def _of_scale(scale: Scale) -> dict[str, Any]:
    return {
        **{name: getattr(scale, name) for name in AS_KEPT},
        "step": Sent(text=plain(scale.step.number), unit=scale.step.unit),
        "capacity": _as_entered(scale, "capacity", scale.capacity_mg),
        "zero": _as_entered(scale, "zero", scale.zero_mg),
        "span": f"{scale.span * 100:.6g} %",
    }


def _as_entered(scale: Scale, name: str, mg: int | None) -> str:
    """Return a mass of a scale's plate as it was typed, else in the unit of its display; read, it is the very same."""
    if mg is None:
        return ""
    typed = str(scale.typed.get(name, ""))
    try:
        return typed if read_mass(typed).mg == mg else displays.text_of(int(mg), scale.step.unit)
    except QuantityError:
        return displays.text_of(int(mg), scale.step.unit)


class CheckForm(PlainForm):
    """That an instrument was checked: when, until when, by whom, by which paper."""

    checked_on = DayField(label="Checked on", error_messages={"required": "Enter the day of the check."})
    until = DayField(label="Holds until", error_messages={"required": "Enter until when the check holds."})
    by = text(
        "Checked by",
        what="firm or the person that checked it",
        max_length=120,
        help_text="The firm or the person, as on the paper.",
    )
    paper = text("Number of the paper", required=False, max_length=80)

    def clean_checked_on(self) -> date:
        """Refuse a day that has not come."""
        day: date = self.cleaned_data["checked_on"]
        if day > timezone.localdate():
            raise ValidationError("That day has not come yet. Enter the day on the paper.")
        return day

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        checked_on, until = cleaned.get("checked_on"), cleaned.get("until")
        if checked_on and until:
            if until <= checked_on:
                self.add_error("until", "It would end before it begins. Look at both days on the paper.")
            elif until.year - checked_on.year > LONGEST_YEARS:
                self.add_error("until", f"No check holds for more than {LONGEST_YEARS} years. Look at the year.")
        return cleaned


class ManyChecksForm(CheckForm):
    """That several instruments were checked together: chosen are those past their check, any may be left out."""

    which = forms.MultipleChoiceField(
        label="Which were checked",
        widget=forms.CheckboxSelectMultiple,
        help_text="Take out those that were not, or that have another paper.",
        error_messages={"required": "Choose at least one."},
    )
    field_order = ("which",)

    def __init__(self, *args: Any, due: Sequence[Due], today: date, **options: Any) -> None:
        past = [one.key for one in due if one.is_past(today)] or [one.key for one in due]
        super().__init__(*args, initial={"which": past}, **options)
        which = self.fields["which"]
        assert isinstance(which, forms.MultipleChoiceField)  # noqa: S101 - for the type
        which.choices = [(one.key, f"{one.name}: {self._until(one, today)}") for one in due]

    def _until(self, one: Due, today: date) -> str:
        return "no check entered" if one.until is None else ends(one.until, self.units, today=today)
