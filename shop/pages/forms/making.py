"""The field of a form for each field of a step: by its type, in the units of the workshop, with its instruments."""

from typing import Any

from django import forms

from inventory.models import Gauge
from inventory.pages.fields.air import BarometerField
from inventory.pages.fields.quantity import (
    DurationField,
    MassField,
    PercentField,
    PressureField,
    TemperatureField,
    VolumeField,
)
from inventory.pages.fields.readings import ReadingsField
from inventory.pages.fields.when import WhenField
from inventory.pages.forms.parts import refrigerant_groups
from shop.models import Membership, User, Workshop
from shop.pages.forms.stepfields import (
    NOT_ENTERED,
    InstrumentField,
    NumberField,
    PersonField,
    SharesField,
    WrittenField,
    in_this_book,
)
from shop.visits.steps import REQUIRED, StepField

KEPT_ELSEWHERE = "A photo that is kept elsewhere"


def people_of(shop: Workshop) -> list[User]:
    """Return the people who work or worked here, readers not counted."""
    members = Membership.objects.filter(workshop=shop, role__in=("owner", "technician")).select_related("user")
    members = members.prefetch_related("user__certifications")
    return [member.user for member in members.order_by("-active", "user__display_name", "user__username")]


class Making:
    """What is looked up once to make the fields of a form: instruments, people, units."""

    def __init__(self, shop: Workshop) -> None:
        self.shop = shop
        self.gauges = list(Gauge.objects.filter(book=shop.book, retired=False).order_by("name"))
        self.people = people_of(shop)

    def field(self, one: StepField) -> forms.Field:
        """Return the form field for one field of a step."""
        options: dict[str, Any] = {
            "label": one.words,
            "required": one.need == REQUIRED and one.only_if is None,
            "help_text": one.hint,
        }
        what = one.words[0].lower() + one.words[1:]
        if one.type in ("mass", "pressure", "temperature", "volume", "duration", "percent"):
            return self._quantity(one, what, options)
        if one.type in ("choice", "yes-no"):
            radio = len(one.choices) < 7
            choices = [(choice, choice) for choice in one.choices]
            return forms.ChoiceField(
                choices=choices if radio else [NOT_ENTERED, *choices],
                widget=forms.RadioSelect if radio else forms.Select,
                error_messages={"required": f"Choose: {one.words[0].lower()}{one.words[1:]}."},
                **options,
            )
        options["error_messages"] = {"required": f"Enter: {what}."}
        if one.type in ("readings", "rises"):
            known = {"default_reference": "absolute"} if one.absolute else {}
            if one.known:
                known["plausible_pa"] = one.known  # type: ignore[assignment]
            return ReadingsField(
                pressure_unit=self.shop.vacuum_unit if one.absolute else self.shop.pressure_unit,
                temperature_unit=self.shop.temperature_unit,
                with_temperature=one.type == "readings",
                rows=4 if one.absolute else 2,
                known=known,
                **options,
            )
        return self._words(one, what, options)

    def _words(self, one: StepField, what: str, options: dict[str, Any]) -> forms.Field:
        if one.type == "number":
            counted = one.unit == "joints"
            options["label"] = one.words if counted else f"{one.words}, {one.unit}"
            return NumberField(what=what, unit=one.unit, whole=counted, **options)
        if one.type == "when":
            return WhenField(optional_words="(optional)", **{**options, "required": options["required"]})
        if one.type == "shares":
            return SharesField(**options)
        if one.type == "refrigerant":
            codes = refrigerant_groups(in_this_book(self.shop.book))
            return forms.ChoiceField(choices=[NOT_ENTERED, *codes], **options)
        if one.type == "instrument":
            return InstrumentField(self.gauges, one.instruments, **options)
        if one.type == "person":
            return PersonField(self.people, **options)
        if one.type == "photo":
            field = WrittenField(**{**options, "label": "Its number, or where it is kept", "required": False})
            field.folded = KEPT_ELSEWHERE  # type: ignore[attr-defined] # read by _field.html
            return field
        return WrittenField(refused=one.refused, long=one.type == "long text", **options)

    def _quantity(self, one: StepField, what: str, options: dict[str, Any]) -> forms.Field:
        options["what"] = what
        if one.type == "mass":
            return MassField(default_unit=self.shop.small_mass_unit, **options)
        if one.name == "barometer":
            return BarometerField(default_unit=self.shop.barometer_unit, **options)
        if one.type == "pressure":
            known: dict[str, Any] = {"default_reference": "absolute"} if one.absolute else {}
            if one.known:
                known["plausible_pa"] = one.known
            unit = self.shop.vacuum_unit if one.absolute else self.shop.pressure_unit
            return PressureField(default_unit=unit, known=known, **options)
        if one.type == "temperature":
            return TemperatureField(default_unit=self.shop.temperature_unit, **options)
        if one.type == "volume":
            litres = one.name == "volume"
            return VolumeField(
                default_unit="L" if litres else self.shop.oil_unit,
                units=("L", "cc") if litres else ("mL", "fl oz"),
                **options,
            )
        return (DurationField if one.type == "duration" else PercentField)(**options)
