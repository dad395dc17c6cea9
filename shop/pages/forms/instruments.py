"""Forms of the instruments beside scales: gauges, thermometers, identifiers and leak detectors."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.measure.own import Units
from inventory.measure.typed import QuantityError, Typed
from inventory.measure.units import clean_text, find_pressure, in_unit, number_and_rest, number_readings
from inventory.models import Book, Gauge, Scale
from inventory.pages.fields.day import DayField
from inventory.pages.fields.quantity import QuantityField
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import choice, si_of, text

PRESSURES = ("bar", "psi", "kPa", "mbar", "micron", "inHg")
RATES_G = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}
G_A_YEAR, OZ_A_YEAR = "g a year", "oz a year"
ALL_UNITS = (*PRESSURES, "C", "F", G_A_YEAR, OZ_A_YEAR, "%")
UNITS_OF: Mapping[str, tuple[str, ...]] = {
    "pressure gauge": PRESSURES,
    "vacuum gauge": PRESSURES,
    "thermometer": ("C", "F"),
    "identifier": ("%",),
    "leak detector": (G_A_YEAR, OZ_A_YEAR),
}
_KELVIN = {"c": 1.0, "celsius": 1.0, "k": 1.0, "kelvin": 1.0, "f": 5 / 9, "fahrenheit": 5 / 9}
_DEGREES = re.compile(r"(?:°|deg\.?|degrees?)\s*")
_A_YEAR = re.compile(r"(kg|g|oz|lb)s?\.?\s*(?:/|a|per|each)\s*(?:y|yr|year|a|annum)\.?")
_EITHER_WAY = re.compile(r"^\s*(?:±|\+\s*/?\s*[-\u2212])\s*")


@dataclass(frozen=True)
class InBook:
    """The units in which a book's instruments read where nothing else is said."""

    pressure: str = "bar"
    vacuum: str = "mbar"
    temperature: str = "C"
    rate: str = G_A_YEAR

    def of(self, kind: str) -> str:
        """Return the unit of a kind of instrument."""
        own = {"pressure gauge": self.pressure, "vacuum gauge": self.vacuum, "thermometer": self.temperature}
        return {**own, "leak detector": self.rate, "identifier": "%"}.get(kind, "")

    def words(self, kind: str) -> str:
        """Say what a number alone is in."""
        if kind in UNITS_OF:
            return f"A number alone is in {self.of(kind)}."
        each = ", ".join(f"{self.of(one)} of a {one}" for one in UNITS_OF if one != "identifier")
        return f"A number alone is in {each}."


def in_book(units: Units) -> InBook:
    """Return the units in which a person's instruments read where nothing else is said."""
    rate = OZ_A_YEAR if units.in_pounds else G_A_YEAR
    return InBook(units.pressure, units.vacuum, units.temperature, rate)


def change_of(kind: str, typed: str, default_unit: str, what: str = "step") -> Typed:
    """Return a step or limit of error in pascal, kelvin, grams a year or per cent, by the kind of instrument.

    A number alone is in `default_unit`; "+-" before it says nothing more. Raises ``QuantityError`` with a sentence that
    speaks of `what` and says what to write.
    """
    such = f"Write the {what} such as {_example(kind, default_unit)}."
    sign, digits, unit_text = number_and_rest(clean_text(_EITHER_WAY.sub("", typed)))
    readings = number_readings(digits) if digits else ()
    if sign == "-" or len(readings) != 1:
        raise QuantityError(f"“{typed}” is no {what} that can be read here. {such}")
    number, named = readings[0], unit_text or default_unit
    size = _size_of(kind, named)
    if named == "%" and size is None:
        raise QuantityError(_not_per_cent(kind, what, number, default_unit, such))
    if size is None:
        raise QuantityError(f"“{named}” is no unit for the {what} of a {kind}. {such}")
    if not float(number):
        raise QuantityError(f"A {what} of nothing at all cannot be. Leave it empty where it is not known.")
    return Typed(f"{number} {named}", named, float(number) * size, f"{number} {named}")


def _size_of(kind: str, unit: str) -> float | None:
    """Return how much one of a unit is in what is kept for a kind of instrument, None where it is none of its units."""
    key = unit.casefold()
    if kind in ("pressure gauge", "vacuum gauge"):
        found = find_pressure(unit)  # a change has no reference: psi, psig and psi absolute are as large
        return float(in_unit("1", found[0].pint, "pascal")) if found else None
    if kind == "thermometer":
        return _KELVIN.get(_DEGREES.sub("", key))
    if kind == "identifier":
        return 1.0 if key in ("%", "per cent", "percent") else None
    rate = _A_YEAR.fullmatch(key)
    return RATES_G[rate[1]] if rate else RATES_G.get(key)


def _example(kind: str, unit: str) -> str:
    like = {"bar": "0.1 bar", "psi": "1 psi", "kPa": "10 kPa", "mbar": "0.1 mbar", "micron": "1 micron"}
    like |= {"inHg": "0.5 inHg", "C": "0.5 C", "F": "1 F", G_A_YEAR: "5 g a year", OZ_A_YEAR: "0.25 oz a year"}
    return like.get(unit, "1 %")


def _not_per_cent(kind: str, what: str, number: str, unit: str, such: str) -> str:
    if what == "step":
        return f"A step is the smallest change that it shows, not a share of the reading. {such}"
    if kind in ("pressure gauge", "vacuum gauge"):
        share = "1 % of 300 psi is 3 psi" if unit in ("psi", "micron", "inHg") else "1 % of 20 bar is 0.2 bar"
        return (
            f"{number} % is of the reading or of the whole range; a limit in a unit of pressure is needed. Take "
            f"that share of the highest pressure that you read with it: {share}. {such}"
        )
    return f"{number} % depends on the reading; what is needed is one limit, that at what you usually read. {such}"


class ChangeField(QuantityField):
    """A step or a limit of error; the form says of which kind of instrument, and what the book's unit for it is."""

    kind_name = "pressure"  # for its look alone: it is read by `change_of`
    use_echo = False
    instrument = ""
    own_unit = ""

    def take(self, kind: str, own: InBook) -> None:
        """Be of a kind of instrument: its units, the book's own chosen; with none, all units and none chosen."""
        self.instrument = kind if kind in UNITS_OF else ""
        self.own_unit = self.default_unit = own.of(kind) if self.instrument else ""
        self.units = UNITS_OF.get(kind, ("", *ALL_UNITS))

    def unit_of(self, typed: Sent) -> str:
        """Return the unit chosen; one of another kind of instrument gives way to the book's own."""
        return typed.unit if typed.unit in self.units else self.own_unit

    def read(self, typed: Sent) -> Any:
        if not typed.said or not self.instrument:  # without a kind the form is refused for that
            return None
        return change_of(self.instrument, typed.said, self.unit_of(typed), self.what)


AS_KEPT = ("name", "kind", "absolute", "serial", "calibrated_until", "retired")
HINTS = {
    "step": "",
    "accuracy": "As its papers state it, in a unit and not in per cent of the reading: {0} for ± {0}.",
}


class EnteredForm(PlainForm):
    """A scale or another instrument of a book: `short` is asked for at first, all of it where one is changed."""

    model: type[Scale] | type[Gauge]
    noun = ""
    short: tuple[str, ...] = ()

    def __init__(self, *args: Any, book: Book, entered: Scale | Gauge | None, **options: Any) -> None:
        self.book, self.entered = book, entered
        super().__init__(*args, **options)

    @property
    def up_front(self) -> list[Any]:
        """What it cannot do without; all of it where one is changed."""
        fields = self.visible_fields()
        return fields if self.entered else [field for field in fields if field.name in self.short]

    @property
    def set_aside(self) -> list[Any]:
        """What may be said of it later, folded away while it is entered."""
        if self.entered:
            return []
        return [field for field in self.visible_fields() if field.name not in (*self.short, "retired")]

    @property
    def set_aside_open(self) -> bool:
        """Whether one of those has to be put right."""
        return any(field.errors for field in self.set_aside)

    def clean_name(self) -> str:
        """Refuse the name of another."""
        name = str(self.cleaned_data["name"]).strip()
        others = self.model.objects.filter(book=self.book, name__iexact=name)
        if others.exclude(pk=self.entered.pk if self.entered else 0).exists():
            raise ValidationError(f"There is {self.noun} {name} already. Give this one another name.")
        return name


class GaugeForm(EnteredForm):
    """A gauge, thermometer, identifier or leak detector, with the smallest change that it shows."""

    model, noun, short = Gauge, "an instrument", ("name", "kind", "step")
    set_aside_words = "What it reads from, its error, serial number and check"

    name = text("What it is called", max_length=40, help_text="As written on it: G1.")
    kind = choice("Kind", [(one, one) for one in Gauge.KINDS])
    absolute = forms.BooleanField(label="It reads absolute pressure", required=False)
    step = ChangeField(label="Smallest step it shows", what="step", required=False, units=ALL_UNITS)
    accuracy = ChangeField(label="Stated limit of error", what="limit of error", required=False, units=ALL_UNITS)
    serial = text("Serial number", required=False, max_length=60)
    calibrated_until = DayField(label="Checked until", required=False)
    retired = forms.BooleanField(label="No longer used", required=False)

    def __init__(self, *args: Any, book: Book, gauge: Gauge | None = None, **options: Any) -> None:
        initial = options.pop("initial", {})
        if gauge is not None:
            initial = {**{name: getattr(gauge, name) for name in AS_KEPT}, **gauge.typed}
        super().__init__(*args, book=book, entered=gauge, initial=initial, **options)
        self._take_units(in_book(self.access.units if self.access else Units()))

    def _take_units(self, own: InBook) -> None:
        """Show the units of the kind beside the step and the error; of all kinds while none is chosen."""
        like = "2 psi" if own.pressure == "psi" else "0.1 bar" if own.pressure == "bar" else "10 kPa"
        kind = str(self.data.get("kind", "") if self.is_bound else self.initial.get("kind", ""))
        for name in ("step", "accuracy"):
            field = self.fields[name]
            assert isinstance(field, ChangeField)  # noqa: S101 - for the type
            field.take(kind, own)
            field.help_text = f"{HINTS[name].format(like)} {own.words(kind)}".strip()

    @property
    def set_aside_open(self) -> bool:
        """Whether one of those has to be put right, or was filled in."""
        return super().set_aside_open or any(self._is_said(field) for field in self.set_aside)

    @staticmethod
    def _is_said(field: Any) -> bool:
        """Whether something was filled in; a unit alone is nothing."""
        return bool(field.data.said if isinstance(field.data, Sent) else field.data)

    def stands_already(self) -> bool:
        """Whether the very instrument that was sent has been entered before: a second press."""
        if set(self.errors) != {"name"}:
            return False
        known = Gauge.objects.filter(book=self.book, name=str(self.data.get("name", "")).strip()).first()
        step = si_of(self.cleaned_data.get("step"))
        return known is not None and (known.kind, known.step) == (self.cleaned_data.get("kind"), step)

    def facts(self) -> dict[str, Any]:
        """Return the instrument's columns, and what was typed."""
        cleaned = self.cleaned_data
        return {
            **{name: cleaned[name] for name in AS_KEPT},
            "step": si_of(cleaned["step"]),
            "accuracy": si_of(cleaned["accuracy"]),
            "typed": {name: cleaned[name].text for name in ("step", "accuracy") if cleaned[name]},
        }
