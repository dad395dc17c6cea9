"""Form fields for what people read off a scale, a gauge, a thermometer, a plate or a watch.

A quantity is a text input named ``x`` with unit choices named ``x_unit`` beside it; a unit in the text wins. The
cleaned value is the object that `inventory.measure.typed` made of it (it keeps the text as typed). A text with two
readings is not guessed at: the error carries the readings, shown as buttons named ``x_reading`` that answer it.

Beside the input stands an ``<output>``: what was understood. It carries a hidden ``seen`` (``x=13482000``), so that
the form can tell whether the person saw the reading before pressing (see `inventory.pages.forms.act`).
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.template.loader import render_to_string
from django.utils.datastructures import MultiValueDict
from django.utils.safestring import SafeString

from inventory.measure import masses, pressures, quantities
from inventory.measure.atmosphere import SEA_LEVEL_PA
from inventory.measure.displays import POUNDS_AND_OUNCES
from inventory.measure.own import Units
from inventory.measure.typed import Doubtful, QuantityError, Typed
from inventory.pages.fields.sent import INSISTED, Choice, QuantityBoundField, Sent

CUSTOMARY = frozenset(("lb", "oz", POUNDS_AND_OUNCES, "psi", "inHg", "micron", "F", "ft", "fl oz"))
UNIT_WORDS = {POUNDS_AND_OUNCES: "lb and oz", "C": "°C", "F": "°F", "d": "days", "": "its unit"}


def _water_capacity(text: str, *, default_unit: str, what: str) -> Typed:
    """Read a water capacity: its reader asks about a bare number, so the chosen unit is written after it."""
    return quantities.read_water_capacity(f"{text} {default_unit}" if _is_bare(text) else text)


def _pressure(text: str, *, atmosphere_pa: float = SEA_LEVEL_PA, **known: Any) -> Typed:
    """Read a pressure; the standard atmosphere serves only a form outside any workshop."""
    return pressures.read_pressure(text, atmosphere_pa=atmosphere_pa, **known)


def _percent(text: str, *, default_unit: str, what: str) -> Typed:
    """Read a percentage; `si` is the number of per cent, 0 to 100."""
    value = quantities.read_percent(text, what=what)
    return Typed(text, default_unit, value, f"{value:g} %")


def _is_bare(text: str) -> bool:
    return re.search(r"[^\W\d_]", text) is None


def canonical(value: Typed) -> str:
    """Return the SI value as text: the same value gives the same text, whatever the unit it was typed in."""
    return str(value.mg) if isinstance(value, masses.Mass) else format(value.si, ".9g")


class QuantityWidget(forms.Widget):
    """A text input, its unit choices and the echo."""

    template_name = "_quantity.html"

    def __init__(self, field: "QuantityField") -> None:
        super().__init__()
        self.field = field

    def value_from_datadict(self, data: Mapping[str, Any], files: MultiValueDict[str, Any], name: str) -> Sent:
        return Sent.of(data, name)

    def value_omitted_from_data(self, data: Mapping[str, Any], files: MultiValueDict[str, Any], name: str) -> bool:
        return name not in data

    def id_for_label(self, id_: str, index: Any = None) -> str:
        return id_

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        typed = self.field.typed(value)
        unit = self.field.unit_of(typed)
        context["widget"].update(
            text=typed.reading.removeprefix(INSISTED) or typed.text,
            sure=typed.said if typed.insisted else "",
            units=self.field.offered(unit),
            unit=unit,
            pounds=POUNDS_AND_OUNCES in self.field.units and self.field.with_ounces,
            below_words="" if self.field.known.get("default_reference") == "absolute" else self.field.below_words,
            below=typed.below and not typed.reading,
            echo=self.field.echo(name, typed) | ({"seen": ""} if self.field.sent_before else {}),
            echo_url=self.field.echo_url,
            echo_include=self.field.echo_include,
            echo_from=self.field.echo_from,
            kind=self.field.kind_name,
            what=self.field.what,
            absolute=self.field.known.get("default_reference") == "absolute",
            scale=self.field.from_scale,
            raw=typed.raw if self.field.from_scale else "",
        )
        return context

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        return SafeString(render_to_string(self.template_name, self.get_context(name, value, attrs)))


class QuantityField(forms.Field):
    """A quantity with a unit. Subclasses name its kind; the cleaned value is a `measure.typed.Typed`.

    `default_unit` is chosen when the text has none; `units` are offered; `what` names the thing in refusals ("gross
    mass"); `from_scale` offers the reading of a scale by wire; `known` goes to the reader (such as ``atmosphere_pa``).
    """

    kind_name: ClassVar[str]
    reader: ClassVar[Callable[..., Any]]  # of `inventory.measure`, by text, default_unit, what and what is `known`
    units: Sequence[str]  # that may be chosen
    below_words: ClassVar[str] = ""
    echo_url = ""
    missing_words = ""  # said after "Enter the ...", where nothing was typed
    echo_include = ""  # what is sent to it, as a selector; empty: the quantity alone
    echo_from = ""  # what else it is asked anew by when it changes, as a selector
    use_echo = True
    stands: Typed | None = None  # what the record has, as it is shown: sent again as it stands it is the very same
    sent_before = False  # its form comes back to be changed or put right: what stands there is read back at the end
    with_ounces = True  # whether "36 6.5" is 36 lb 6.5 oz where pounds and ounces are chosen

    def __init__(
        self,
        *,
        default_unit: str = "",
        units: Sequence[str] = (),
        what: str = "",
        from_scale: bool = False,
        optional_words: str = "",
        known: Mapping[str, Any] | None = None,
        **options: Any,
    ) -> None:
        self.units = tuple(units) or self.units
        self.default_unit = default_unit or self.units[0]
        if self.default_unit not in self.units:
            self.units = (self.default_unit, *self.units)
        self.from_scale = from_scale
        self.optional_words = optional_words
        self.known = dict(known or {})
        self._what = what
        super().__init__(widget=QuantityWidget(self), **options)

    def __deepcopy__(self, memo: dict[int, Any]) -> "QuantityField":
        result: QuantityField = super().__deepcopy__(memo)
        result.widget = QuantityWidget(result)  # the widget speaks for this copy of the field, not for the class's
        result.widget.is_required = result.required
        result.known = dict(self.known)
        return result

    @property
    def what(self) -> str:
        """How the thing is called in a sentence."""
        return self._what or str(self.label or "this").lower()

    @property
    def slip_knowledge(self) -> dict[str, Any]:
        """What `inventory.measure.slips` has to know to read other texts for this field."""
        if self.kind_name != "pressure":
            return {}
        return {"atmosphere_pa": SEA_LEVEL_PA, **{n: v for n, v in self.known.items() if n != "plausible_pa"}}

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> BoundField:
        return QuantityBoundField(form, self, field_name)

    def typed(self, value: Any) -> Sent:
        """Return what stands in the input for `value`: what was typed, an initial text, or a quantity read before."""
        if isinstance(value, Sent):
            return value
        if value in (None, ""):
            return Sent()
        if isinstance(value, Typed):
            if value.unit in self.units or not _is_bare(value.text):
                return Sent(text=value.text, unit=value.unit)
            return Sent(text=f"{value.text} {value.unit}")
        return Sent(text=str(value))

    def read(self, typed: Sent) -> Any:
        """Return the quantity that `typed` says, or None if nothing; raises as `inventory.measure.typed` does."""
        known = {name: value for name, value in self.known.items() if name != "plausible_pa" or not typed.insisted}
        if not typed.said:
            return None
        if self.stands is not None and (typed.said, self.unit_of(typed)) == (self.stands.text, self.stands.unit):
            return self.stands
        return self.reader(typed.said, default_unit=self.unit_of(typed), what=self.what, **known)

    def unit_of(self, typed: Sent) -> str:
        """Return the unit chosen beside the text."""
        return typed.unit if typed.unit in self.units else self.default_unit

    def speak(self, units: Units) -> None:
        """Let the field begin with the unit of who fills it in; one that is written after a number still wins."""
        own = self.unit_for(units)
        if own and own not in self.units:
            self.units = (own, *self.units)
        self.default_unit = own or self.default_unit

    def unit_for(self, units: Units) -> str:
        """Return the unit of who fills it in; empty where there is one unit for all."""
        return ""

    def offered(self, chosen: str) -> list[tuple[str, str, bool]]:
        """Return the units as they are offered, with their words: the book's own, then its like, then the others."""
        own, chosen = self.default_unit, chosen or self.default_unit
        units = sorted(self.units, key=lambda one: (one != own, (one in CUSTOMARY) != (own in CUSTOMARY)))
        return [(unit, UNIT_WORDS.get(unit, unit), unit == chosen) for unit in units]

    def echo(self, name: str, typed: Sent) -> dict[str, str]:
        """Return what the output says of `typed` and the ``seen`` it carries; empty where nothing can be read yet."""
        try:
            value = self.read(typed)
        except QuantityError:
            return {}
        return {} if value is None else {"words": value.echo, "seen": f"{name}={canonical(value)}"}

    def doubt(self, typed: Sent) -> str:
        """Return the question that a doubtful text raises; empty for any other."""
        try:
            self.read(typed)
        except Doubtful as doubt:
            return doubt.sentence
        except QuantityError:
            return ""
        return ""

    def clean(self, value: Any) -> Any:
        try:
            found = self.read(self.typed(value))
        except Doubtful as doubt:
            choices = self.choices(doubt, self.typed(value))
            raise ValidationError(doubt.sentence, code="doubt", params={"choices": choices}) from None
        except QuantityError as error:
            raise ValidationError(error.sentence, code="unread") from None
        if found is None and self.required:
            raise ValidationError(f"Enter the {self.what}. {self.missing_words}".strip(), code="required")
        for validator in self.validators if found is not None else ():
            validator(found)
        return found

    def choices(self, doubt: Doubtful, typed: Sent) -> list[Choice]:
        """Return a button for each reading of a doubtful text; an unlikely one may be insisted on."""
        found = [Choice(one, one) for one in doubt.choices]
        if "plausible_pa" in self.known and not typed.insisted:
            said = f"{typed.said} {self.unit_of(typed)}" if _is_bare(typed.said) else typed.said
            found.append(Choice(f"{INSISTED}{said}", f"It does read {said}"))
        return found

    def has_changed(self, initial: Any, data: Any) -> bool:
        return self.typed(initial).said != self.typed(data).said


class MassField(QuantityField):
    """A mass; the cleaned value has ``.mg`` in whole milligrams. `default_unit` is kg, g, lb or oz."""

    kind_name, reader = "mass", staticmethod(masses.read_mass)
    units = ("kg", "g", "lb", "oz", POUNDS_AND_OUNCES)

    def unit_for(self, units: Units) -> str:
        own = "" if self.from_scale else {"kg": units.mass, "g": units.small_mass}.get(self.default_unit, "")
        return own if own in self.units else ""


class StepField(MassField):
    """A scale's step. With "lb and oz" chosen it is of ounces, and the unit of the cleaned mass is "lb oz"."""

    use_echo = False  # one reader for all masses takes a number with "lb and oz" for pounds
    with_ounces = False

    def read(self, typed: Sent) -> Any:
        if self.unit_of(typed) != POUNDS_AND_OUNCES:
            return super().read(typed)
        mass = super().read(replace(typed, unit="oz"))
        return replace(mass, unit=POUNDS_AND_OUNCES) if mass is not None and mass.unit == "oz" else mass


class PressureField(QuantityField):
    """A pressure; the cleaned value's ``.si`` is pascal absolute. ``known`` goes to `pressures.read_pressure`.

    The form sets ``atmosphere_pa`` from the workshop; ``plausible_pa`` makes an unlikely value a question.
    """

    kind_name, reader = "pressure", staticmethod(_pressure)
    units = ("bar", "psi", "kPa", "mbar", "micron", "inHg")
    below_words = "below atmosphere"

    def unit_for(self, units: Units) -> str:
        return units.vacuum if self.known.get("default_reference") == "absolute" else units.pressure


class TemperatureField(QuantityField):
    """A temperature; the cleaned value has ``.si`` in kelvin."""

    kind_name, reader = "temperature", staticmethod(quantities.read_temperature)
    units = ("C", "F")
    below_words = "below zero"

    def unit_for(self, units: Units) -> str:
        return units.temperature


class VolumeField(QuantityField):
    """A volume; the cleaned value has ``.si`` in cubic metres."""

    kind_name, reader = "volume", staticmethod(quantities.read_volume)
    units = ("L", "cc")

    def unit_for(self, units: Units) -> str:
        return {"L": units.volume, "mL": units.oil}.get(self.default_unit, "")


class WaterCapacityField(QuantityField):
    """A cylinder's water capacity, in litres or pounds of water; the cleaned value has ``.si`` in cubic metres."""

    kind_name, reader = "water capacity", staticmethod(_water_capacity)
    units = ("L", "lb")

    def unit_for(self, units: Units) -> str:
        return "lb" if units.in_pounds else "L"


class LengthField(QuantityField):
    """A length or height; the cleaned value has ``.si`` in metres."""

    kind_name, reader = "length", staticmethod(quantities.read_length)
    units = ("m", "ft")
    below_words = "below sea level"

    def unit_for(self, units: Units) -> str:
        return units.length


class DurationField(QuantityField):
    """A length of time; the cleaned value has ``.si`` in seconds."""

    kind_name, reader = "duration", staticmethod(quantities.read_duration)
    units = ("min", "h", "s", "d")


class PercentField(QuantityField):
    """A percentage; the cleaned value has ``.si`` from 0 to 100."""

    kind_name, reader = "percent", staticmethod(_percent)
    units = ("%",)


_NUMBER = r"\d+(?:[.,]\d+)?"


class BarometerField(PressureField):
    """The air's own pressure: it counts from nothing, in inches of mercury too, which on a gauge would be a vacuum."""

    use_echo = False  # the echo of a pressure knows gauges alone
    below_words = ""

    def __init__(self, **options: Any) -> None:
        super().__init__(units=("mbar", "inHg", "kPa"), known={"default_reference": "absolute"}, **options)

    def unit_for(self, units: Units) -> str:
        return units.barometer

    def speak(self, units: Units) -> None:
        super().speak(units)
        if units.barometer == "mbar":
            self.help_text = f"{self.help_text.rstrip('.')}. hPa is the same as mbar."

    def read(self, typed: Sent) -> Any:
        inches = re.fullmatch(rf"({_NUMBER})\s*(in\s*hg)?", typed.said, re.IGNORECASE)
        if inches and (inches[2] or self.unit_of(typed) == "inHg"):
            return self.reader(f"{inches[1]} inHg abs", default_unit="inHg", what=self.what, **self.known)
        return super().read(typed)


def barometer_in(data: Mapping[str, Any]) -> float | None:
    """Return the barometer that was typed on a page, in pascal; None where none was or none can be read."""
    field = BarometerField(required=False)
    try:
        found = field.clean(field.widget.value_from_datadict(data, MultiValueDict(), "barometer"))
    except ValidationError:
        return None
    return float(found.si) if found is not None else None
