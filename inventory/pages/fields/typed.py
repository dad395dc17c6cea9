"""Form fields for what people read off a scale, a gauge, a thermometer, a plate or a watch.

A quantity is a text input named ``x`` with unit choices named ``x_unit`` beside it; a unit in the text wins. The
cleaned value is the object that `inventory.measure.quantities` made of it (it keeps the text as typed). A text with two
readings is not guessed at: the error carries the readings, shown as buttons named ``x_reading`` that answer it.

Beside the input stands an ``<output>``: what was understood. It carries a hidden ``seen`` (``x=13482000``), so that
the form can tell whether the person saw the reading before pressing (see `inventory.pages.forms.act`).
"""

import copy
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.datastructures import MultiValueDict
from django.utils.safestring import SafeString

from inventory.book.ledger import FIRST_YEAR
from inventory.measure import quantities

AHEAD = timedelta(minutes=5)
STANDARD_PA = 101_325.0  # the standard atmosphere, ISO 2533

POUNDS_AND_OUNCES = "lb oz"
NOW = "now"  # an answer to a time that is still to come
INSISTED = "="  # stands before an answer that keeps an unlikely value
CUSTOMARY = frozenset(("lb", "oz", POUNDS_AND_OUNCES, "psi", "inHg", "micron", "F", "ft", "fl oz"))
UNIT_WORDS = {
    POUNDS_AND_OUNCES: "lb and oz",
    "C": "°C",
    "F": "°F",
    "d": "days",
}


@dataclass(frozen=True)
class Sent:
    """What came in for one quantity: text, unit choice, ounces, "below zero" and the answer to a question."""

    text: str = ""
    unit: str = ""
    ounces: str = ""
    below: bool = False
    reading: str = ""
    sure: str = ""

    @property
    def insisted(self) -> bool:
        """Whether the person was asked about an unlikely value, said that it is so, and left it."""
        return self.reading.startswith(INSISTED) or (not self.reading and bool(self.sure) and self.sure == self.text)

    @property
    def said(self) -> str:
        """The text that is read: the answer if a question was answered, else the text with its sign and ounces."""
        if self.reading:
            return self.reading.removeprefix(INSISTED)
        text, ounces = self.text.strip(), self.ounces.strip() if self.unit == POUNDS_AND_OUNCES else ""
        if ounces and re.fullmatch(r"[\d.,]*", text):
            text = f"{text} lb {ounces} oz" if text else f"{ounces} oz"
        if self.below and text and not text.startswith(("-", "\N{MINUS SIGN}")):
            text = f"-{text}"
        return text


@dataclass(frozen=True)
class Choice:
    """One reading of a text that has several: what a button sends and what it says; with `href` it is a link."""

    text: str
    words: str
    href: str = ""


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: its reader in `inventory.measure.quantities` and the units that may be chosen."""

    reader: Callable[..., Any]
    units: tuple[str, ...]

    def read(self, text: str, unit: str, what: str, known: Mapping[str, Any]) -> Any:
        """Return the quantity in `text`; raises ``QuantityError`` or ``Doubtful`` of `inventory.measure.quantities`."""
        return self.reader(text, default_unit=unit, what=what, **known)


def _water_capacity(text: str, *, default_unit: str, what: str) -> quantities.Typed:
    """Read a water capacity: its reader asks about a bare number, so the chosen unit is written after it."""
    return quantities.read_water_capacity(f"{text} {default_unit}" if _is_bare(text) else text)


def _pressure(text: str, *, atmosphere_pa: float = STANDARD_PA, **known: Any) -> quantities.Typed:
    """Read a pressure; the standard atmosphere serves only a form outside any workshop."""
    return quantities.read_pressure(text, atmosphere_pa=atmosphere_pa, **known)


def _percent(text: str, *, default_unit: str, what: str) -> quantities.Typed:
    """Read a percentage; `si` is the number of per cent, 0 to 100."""
    value = quantities.read_percent(text, what=what)
    return quantities.Typed(text, default_unit, value, f"{value:g} %")


def _is_bare(text: str) -> bool:
    return re.search(r"[^\W\d_]", text) is None


def canonical(value: quantities.Typed) -> str:
    """Return the SI value as text: the same value gives the same text, whatever the unit it was typed in."""
    return str(value.mg) if isinstance(value, quantities.Mass) else format(value.si, ".9g")


KINDS = {
    "mass": Kind(quantities.read_mass, ("kg", "g", "lb", "oz", POUNDS_AND_OUNCES)),
    "pressure": Kind(_pressure, ("bar", "psi", "kPa", "mbar", "micron", "inHg")),
    "temperature": Kind(quantities.read_temperature, ("C", "F")),
    "volume": Kind(quantities.read_volume, ("L", "cc")),
    "water capacity": Kind(_water_capacity, ("L", "lb")),
    "length": Kind(quantities.read_length, ("m", "ft")),
    "duration": Kind(quantities.read_duration, ("min", "h", "s", "d")),
    "percent": Kind(_percent, ("%",)),
}


class QuantityBoundField(BoundField):
    """A field on a page that knows the readings of a doubtful text."""

    @property
    def doubts(self) -> list[Choice]:
        """The readings offered as buttons, where the text has more than one."""
        found = self.form.errors.as_data().get(self.name, [])
        return [choice for error in found if error.params for choice in error.params.get("choices", ())]


class QuantityWidget(forms.Widget):
    """A text input, its unit choices and the echo."""

    template_name = "_quantity.html"

    def __init__(self, field: "QuantityField") -> None:
        super().__init__()
        self.field = field

    def value_from_datadict(self, data: Mapping[str, Any], files: MultiValueDict[str, Any], name: str) -> Sent:
        return Sent(
            text=str(data.get(name, "") or ""),
            unit=str(data.get(f"{name}_unit", "") or ""),
            ounces=str(data.get(f"{name}_oz", "") or ""),
            below=bool(data.get(f"{name}_below")),
            reading=str(data.get(f"{name}_reading", "") or ""),
            sure=str(data.get(f"{name}_sure", "") or ""),
        )

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
            units=_offered(self.field, unit),
            unit=unit,
            ounces=typed.ounces,
            pounds=POUNDS_AND_OUNCES in self.field.units and self.field.with_ounces,
            below_words="" if self.field.known.get("default_reference") == "absolute" else self.field.below_words,
            below=typed.below and not typed.reading,
            echo=self.field.echo(name, typed),
            echo_url=self.field.echo_url,
            echo_include=self.field.echo_include,
            echo_from=self.field.echo_from,
            kind=self.field.kind_name,
            what=self.field.what,
            absolute=self.field.known.get("default_reference") == "absolute",
            scale=self.field.from_scale,
        )
        return context

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        return SafeString(render_to_string(self.template_name, self.get_context(name, value, attrs)))


class QuantityField(forms.Field):
    """A quantity with a unit. Subclasses name its kind; the cleaned value is an object of `measure.quantities`.

    `default_unit` is chosen when the text has none; `units` are offered; `what` names the thing in refusals ("gross
    mass"); `from_scale` offers the reading of a scale by wire; `known` goes to the reader (such as ``atmosphere_pa``).
    """

    kind_name: ClassVar[str]
    below_words: ClassVar[str] = ""
    echo_url = ""
    missing_words = ""  # said after "Enter the ...", where nothing was typed
    echo_include = ""  # what is sent to it, as a selector; empty: the quantity alone
    echo_from = ""  # what else it is asked anew by when it changes, as a selector
    use_echo = True
    with_ounces = True  # whether a second input takes the ounces where pounds and ounces are chosen

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
        self.kind = KINDS[self.kind_name]
        self.units = tuple(units) or self.kind.units
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
        return {"atmosphere_pa": STANDARD_PA, **{n: v for n, v in self.known.items() if n != "plausible_pa"}}

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> BoundField:
        return QuantityBoundField(form, self, field_name)

    def typed(self, value: Any) -> Sent:
        """Return what stands in the input for `value`: what was typed, an initial text, or a quantity read before."""
        if isinstance(value, Sent):
            return value
        if value in (None, ""):
            return Sent()
        if isinstance(value, quantities.Typed):
            if value.unit in self.units or not _is_bare(value.text):
                return Sent(text=value.text, unit=value.unit)
            return Sent(text=f"{value.text} {value.unit}")
        return Sent(text=str(value))

    def read(self, typed: Sent) -> Any:
        """Return the quantity that `typed` says, or None if nothing; raises as `inventory.measure.quantities` does."""
        known = {name: value for name, value in self.known.items() if name != "plausible_pa" or not typed.insisted}
        return self.kind.read(typed.said, self.unit_of(typed), self.what, known) if typed.said else None

    def unit_of(self, typed: Sent) -> str:
        """Return the unit chosen beside the text."""
        return typed.unit if typed.unit in self.units else self.default_unit

    def echo(self, name: str, typed: Sent) -> dict[str, str]:
        """Return what the output says of `typed` and the ``seen`` it carries; empty where nothing can be read yet."""
        try:
            value = self.read(typed)
        except quantities.QuantityError:
            return {}
        return {} if value is None else {"words": value.echo, "seen": f"{name}={canonical(value)}"}

    def doubt(self, typed: Sent) -> str:
        """Return the question that a doubtful text raises; empty for any other."""
        try:
            self.read(typed)
        except quantities.Doubtful as doubt:
            return doubt.sentence
        except quantities.QuantityError:
            return ""
        return ""

    def clean(self, value: Any) -> Any:
        try:
            found = self.read(self.typed(value))
        except quantities.Doubtful as doubt:
            choices = self.choices(doubt, self.typed(value))
            raise ValidationError(doubt.sentence, code="doubt", params={"choices": choices}) from None
        except quantities.QuantityError as error:
            raise ValidationError(error.sentence, code="unread") from None
        if found is None and self.required:
            raise ValidationError(f"Enter the {self.what}. {self.missing_words}".strip(), code="required")
        for validator in self.validators if found is not None else ():
            validator(found)
        return found

    def choices(self, doubt: quantities.Doubtful, typed: Sent) -> list[Choice]:
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

    kind_name = "mass"


class StepField(MassField):
    """A scale's step. With "lb and oz" chosen it is of ounces, and the unit of the cleaned mass is "lb oz"."""

    use_echo = False  # one reader for all masses takes a number with "lb and oz" for pounds
    with_ounces = False

    def read(self, typed: Sent) -> Any:
        if self.unit_of(typed) != POUNDS_AND_OUNCES:
            return super().read(typed)
        mass = super().read(replace(typed, unit="oz", ounces=""))
        return replace(mass, unit=POUNDS_AND_OUNCES) if mass is not None and mass.unit == "oz" else mass


class PressureField(QuantityField):
    """A pressure; the cleaned value's ``.si`` is pascal absolute. ``known`` goes to `quantities.read_pressure`.

    The form sets ``atmosphere_pa`` from the workshop; ``plausible_pa`` makes an unlikely value a question.
    """

    kind_name = "pressure"
    below_words = "below atmosphere"


class TemperatureField(QuantityField):
    """A temperature; the cleaned value has ``.si`` in kelvin."""

    kind_name = "temperature"
    below_words = "below zero"


class VolumeField(QuantityField):
    """A volume; the cleaned value has ``.si`` in cubic metres."""

    kind_name = "volume"


class WaterCapacityField(QuantityField):
    """A cylinder's water capacity, in litres or pounds of water; the cleaned value has ``.si`` in cubic metres."""

    kind_name = "water capacity"


class LengthField(QuantityField):
    """A length or height; the cleaned value has ``.si`` in metres."""

    kind_name = "length"
    below_words = "below sea level"


class DurationField(QuantityField):
    """A length of time; the cleaned value has ``.si`` in seconds."""

    kind_name = "duration"


class PercentField(QuantityField):
    """A percentage; the cleaned value has ``.si`` from 0 to 100."""

    kind_name = "percent"


class WhenWidget(forms.DateTimeInput):
    """The browser's own date and time control; also reads ``2026-03-04 10:58`` and ``10:58`` (today)."""

    input_type = "datetime-local"

    def __init__(self) -> None:
        super().__init__(attrs={"autocomplete": "off"})

    def value_from_datadict(self, data: Mapping[str, Any], files: MultiValueDict[str, Any], name: str) -> str:
        return str(data.get(f"{name}_reading") or data.get(name) or "").strip()

    def format_value(self, value: Any) -> str | None:
        if isinstance(value, datetime):
            value = timezone.localtime(value).strftime("%Y-%m-%dT%H:%M")
        return str(value) if value not in (None, "") else None

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        shown = context["widget"]["value"]
        if shown and not re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d", shown):
            context["widget"]["type"] = "text"  # the browser's control would drop what it cannot show
        return context


class WhenField(forms.Field):
    """When something happened, in the workshop's zone; the cleaned value is aware, or None where left empty (now).

    More than five minutes ahead is refused, and what the book does not reach back to. An hour that a change of clocks
    skips is refused, one that it repeats is a question.
    """

    def __init__(self, *, optional_words: str = "now unless you say otherwise", **options: Any) -> None:
        self.optional_words = optional_words
        options.setdefault("required", False)
        super().__init__(widget=WhenWidget(), **options)

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> BoundField:
        return QuantityBoundField(form, self, field_name)

    def to_python(self, value: Any) -> datetime | None:
        if value in (None, ""):
            return None
        if value == NOW:
            return timezone.now()
        if isinstance(value, datetime):
            return value
        found = _moment(str(value))
        if found > timezone.now() + AHEAD:
            now = f"{timezone.localtime():%H:%M}"
            raise ValidationError(
                f"That time is still to come: it is {now} here. Enter when it happened.",
                code="ahead",
                params={"choices": [Choice(NOW, f"Now, {now}")]},
            )
        return found


def _moment(text: str) -> datetime:
    """Return the moment that `text` names in the active zone; raises ``ValidationError`` with a sentence."""
    today = timezone.localdate().isoformat()
    whole = f"{today} {text}" if re.fullmatch(r"\d{1,2}:\d{2}", text) else text
    whole = re.sub(r"(?<!\d)(\d:\d\d)", r"0\1", whole)
    try:
        found = datetime.fromisoformat(whole.replace(" ", "T", 1))
    except ValueError:
        raise ValidationError(
            f"{text} is not a time that can be read. Write 2026-03-04 10:58, or 10:58 for today.", code="unread"
        ) from None
    if found.year < FIRST_YEAR:
        raise ValidationError(f"The year {found.year} is too long ago. Enter when it happened.", code="ago")
    if found.tzinfo is not None:
        return found
    zone = timezone.get_current_timezone()
    first, second = found.replace(tzinfo=zone, fold=0), found.replace(tzinfo=zone, fold=1)
    if first.utcoffset() == second.utcoffset():
        return first
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != found:
        raise ValidationError(f"{text} did not happen here: the clocks went forward past it.", code="unread")
    choices = [Choice(one.isoformat(), f"{one:%H:%M} {one.tzname()}") for one in (first, second)]
    raise ValidationError(
        f"{text} happened twice: the clocks went back. Which one was it?", code="doubt", params={"choices": choices}
    )


@dataclass(frozen=True)
class Reading:
    """One row of a hold: seconds since the first row, and the quantities as read (None where not taken)."""

    time_s: float
    pressure: Any
    temperature: Any
    typed: tuple[str, str, str]


class ReadingsWidget(forms.Widget):
    """Rows of time, pressure and temperature, with "One more reading"."""

    template_name = "_readings.html"
    use_fieldset = True

    def __init__(self, field: "ReadingsField") -> None:
        super().__init__()
        self.field = field

    def value_from_datadict(
        self, data: Mapping[str, Any], files: MultiValueDict[str, Any], name: str
    ) -> list[dict[str, str]]:
        count = self.row_count(data, name)
        return [
            {part: str(data.get(f"{name}_{row}_{part}", "") or "") for part in ("time", "pressure", "temperature")}
            | {unit: str(data.get(f"{name}_{unit}", "") or "") for unit in ("pressure_unit", "temperature_unit")}
            for row in range(count)
        ]

    def row_count(self, data: Mapping[str, Any], name: str) -> int:
        """How many rows came, and one more where that was asked; never more than the field takes."""
        sent = str(data.get(f"{name}_rows", "") or "")
        count = int(sent) if re.fullmatch(r"\d{1,3}", sent) else self.field.rows
        return min(max(count, 2) + bool(data.get(f"{name}_more")), self.field.most)

    def value_omitted_from_data(self, data: Mapping[str, Any], files: MultiValueDict[str, Any], name: str) -> bool:
        return f"{name}_rows" not in data

    def id_for_label(self, id_: str, index: Any = None) -> str:
        return f"{id_}_0_time"

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        rows = list(value or [])
        rows += [{} for _ in range(self.field.rows - len(rows))]
        first = rows[0]
        context["widget"].update(
            rows=rows,
            with_temperature=self.field.with_temperature,
            pressure_units=_offered(self.field.pressure, first.get("pressure_unit", "")),
            temperature_units=_offered(self.field.temperature, first.get("temperature_unit", "")),
            may_grow=len(rows) < self.field.most,
        )
        return context

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        return SafeString(render_to_string(self.template_name, self.get_context(name, value, attrs)))


def in_order(units: Iterable[str], own: str) -> list[str]:
    """Return units as they are offered: the book's own, then its like, then the others."""
    return sorted(units, key=lambda one: (one != own, (one in CUSTOMARY) != (own in CUSTOMARY)))


def _offered(field: QuantityField, chosen: str) -> list[tuple[str, str, bool]]:
    chosen = chosen or field.default_unit
    units = in_order(field.units, field.default_unit)
    return [(unit, UNIT_WORDS.get(unit, unit), unit == chosen) for unit in units]


class ReadingsField(forms.Field):
    """Readings of time, pressure and (unless told not) temperature if taken, two or more; cleaned: `Reading`s.

    Times are minutes, times with a unit ("20 min", "1.5 h") or clock times ("10:35"), the same manner in every row.
    """

    def __init__(
        self,
        *,
        pressure_unit: str = "bar",
        temperature_unit: str = "C",
        with_temperature: bool = True,
        rows: int = 2,
        most: int = 40,
        known: Mapping[str, Any] | None = None,
        **options: Any,
    ) -> None:
        self.with_temperature, self.rows, self.most = with_temperature, rows, most
        self.pressure = PressureField(default_unit=pressure_unit, what="pressure", known=known)
        self.temperature = TemperatureField(default_unit=temperature_unit, what="temperature")
        super().__init__(widget=ReadingsWidget(self), **options)

    def __deepcopy__(self, memo: dict[int, Any]) -> "ReadingsField":
        result: ReadingsField = super().__deepcopy__(memo)
        result.pressure = copy.deepcopy(self.pressure, memo)
        result.widget = ReadingsWidget(result)
        return result

    def clean(self, value: Any) -> tuple[Reading, ...]:
        filled = [
            (number, row)
            for number, row in enumerate(value or [], 1)
            if any(row.get(part, "").strip() for part in ("time", "pressure", "temperature"))
        ]
        if not filled and not self.required:
            return ()
        if len(filled) < 2:
            raise ValidationError("Enter two readings or more: time and pressure of each.", code="few")
        times_s = _times_s([(number, row.get("time", "").strip()) for number, row in filled])
        return tuple(self._reading(number, row, time_s) for (number, row), time_s in zip(filled, times_s, strict=True))

    def _reading(self, number: int, row: dict[str, str], time_s: float) -> Reading:
        pressure = self._part(number, self.pressure, row.get("pressure", ""), row.get("pressure_unit", ""))
        temperature = None
        text = row.get("temperature", "")
        if self.with_temperature and text.strip():  # one that was not taken is none: the hold says what it then shows
            temperature = self._part(number, self.temperature, text, row.get("temperature_unit", ""))
        typed = (row.get("time", ""), row.get("pressure", ""), row.get("temperature", ""))
        return Reading(time_s, pressure, temperature, typed)

    def _part(self, number: int, field: QuantityField, text: str, unit: str) -> Any:
        try:
            found = field.read(Sent(text=text, unit=unit))
        except quantities.QuantityError as error:
            raise ValidationError(f"Reading {number}: {error.sentence}", code="unread") from None
        if found is None:
            raise ValidationError(f"Reading {number}: enter the {field.what}.", code="missing")
        return found


def _times_s(times: list[tuple[int, str]]) -> list[float]:
    """Return seconds since the first row; raises ``ValidationError`` naming the first row that cannot be read."""
    clock = [":" in text for _, text in times]
    if any(clock) and not all(clock):
        raise ValidationError("Write all times as minutes, or all as clock times.", code="unread")
    found = [
        _clock_s(number, text) if is_clock else _span_s(number, text)
        for (number, text), is_clock in zip(times, clock, strict=True)
    ]
    for place in range(1, len(found)):
        if all(clock) and found[place] < found[place - 1]:
            found[place:] = [later + 86_400 for later in found[place:]]  # past midnight
        if found[place] <= found[place - 1]:
            raise ValidationError(f"Reading {times[place][0]} is not later than the one before it.", code="order")
    return [one - found[0] for one in found]


def _clock_s(number: int, text: str) -> float:
    match = re.fullmatch(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", text)
    if match is None:
        raise ValidationError(f"Reading {number}: {text} is not a clock time such as 10:35.", code="unread")
    hours, minutes, seconds = (int(part or 0) for part in match.groups())
    if hours > 23 or minutes > 59 or seconds > 59:
        raise ValidationError(f"Reading {number}: no clock shows {text}.", code="unread")
    return hours * 3600.0 + minutes * 60 + seconds


def _span_s(number: int, text: str) -> float:
    if not text:
        raise ValidationError(f"Reading {number}: enter the time, in minutes or as 10:35.", code="missing")
    try:
        return float(quantities.read_duration(text, default_unit="min", what="time").si)
    except quantities.QuantityError as error:
        raise ValidationError(f"Reading {number}: {error.sentence}", code="unread") from None
