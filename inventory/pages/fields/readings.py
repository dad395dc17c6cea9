"""The field for the rows of a hold: times, pressures and temperatures."""

import copy
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.template.loader import render_to_string
from django.utils.datastructures import MultiValueDict
from django.utils.safestring import SafeString

from inventory.measure import quantities
from inventory.measure.own import Units
from inventory.measure.typed import QuantityError
from inventory.measure.typedday import read_clock
from inventory.pages.fields.quantity import PressureField, QuantityField, TemperatureField
from inventory.pages.fields.sent import Sent


@dataclass(frozen=True)
class RowRead:
    """One row of a hold: seconds since the first row, and the quantities as read (None where not taken)."""

    time_s: float
    pressure: Any
    temperature: Any
    typed: tuple[str, str, str]


PARTS = ("time", "pressure", "temperature")


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
            {part: str(data.get(f"{name}_{row}_{part}", "") or "") for part in (*PARTS, "sure")}
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
            pressure_units=self.field.pressure.offered(first.get("pressure_unit", "")),
            temperature_units=self.field.temperature.offered(first.get("temperature_unit", "")),
            may_grow=len(rows) < self.field.most,
        )
        return context

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        return SafeString(render_to_string(self.template_name, self.get_context(name, value, attrs)))


class ReadingsField(forms.Field):
    """Readings of time, pressure and (unless told not) temperature if taken, two or more; cleaned: `RowRead`s.

    Times are minutes, times with a unit ("20 min", "1.5 h") or clock times ("10:35"), the same manner in every row.
    """

    def __init__(
        self,
        *,
        with_temperature: bool = True,
        rows: int = 2,
        most: int = 40,
        known: Mapping[str, Any] | None = None,
        **options: Any,
    ) -> None:
        self.with_temperature, self.rows, self.most = with_temperature, rows, most
        self.pressure = PressureField(what="pressure", known=known)
        self.temperature = TemperatureField(what="temperature")
        super().__init__(widget=ReadingsWidget(self), **options)

    def __deepcopy__(self, memo: dict[int, Any]) -> "ReadingsField":
        result: ReadingsField = super().__deepcopy__(memo)
        result.pressure, result.temperature = copy.deepcopy(self.pressure, memo), copy.deepcopy(self.temperature, memo)
        result.widget = ReadingsWidget(result)
        return result

    def speak(self, units: Units) -> None:
        """Let the rows begin with the units of who fills them in."""
        self.pressure.speak(units)
        self.temperature.speak(units)

    def clean(self, value: Any) -> tuple[RowRead, ...]:
        filled = [
            (number, row)
            for number, row in enumerate(value or [], 1)
            if any(row.get(part, "").strip() for part in PARTS)
        ]
        if not filled and not self.required:
            return ()
        if len(filled) < 2:
            raise ValidationError("Enter two readings or more: time and pressure of each.", code="few")
        times_s = _times_s([(number, row.get("time", "").strip()) for number, row in filled])
        return tuple(self._reading(number, row, time_s) for (number, row), time_s in zip(filled, times_s, strict=True))

    def _reading(self, number: int, row: dict[str, str], time_s: float) -> RowRead:
        sure = row.get("sure", "")  # an unlikely pressure that was asked about where it was read
        pressure = self._part(number, self.pressure, row.get("pressure", ""), row.get("pressure_unit", ""), sure)
        temperature = None
        text = row.get("temperature", "")
        if self.with_temperature and text.strip():  # one that was not taken is none: the hold says what it then shows
            temperature = self._part(number, self.temperature, text, row.get("temperature_unit", ""))
        typed = (row.get("time", ""), row.get("pressure", ""), row.get("temperature", ""))
        return RowRead(time_s, pressure, temperature, typed)

    def _part(self, number: int, field: QuantityField, text: str, unit: str, sure: str = "") -> Any:
        try:
            found = field.read(Sent(text=text, unit=unit, sure=sure))
        except QuantityError as error:
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
    found = read_clock(text)
    if not found:
        raise ValidationError(f"Reading {number}: {text} is not a clock time such as 10:35 or 2:35 pm.", code="unread")
    hours, minutes, *seconds = map(int, found.split(":"))
    return hours * 3600.0 + minutes * 60 + sum(seconds)


def _span_s(number: int, text: str) -> float:
    if not text:
        raise ValidationError(f"Reading {number}: enter the time, in minutes or as 10:35.", code="missing")
    try:
        return float(quantities.read_duration(text, default_unit="min", what="time").si)
    except QuantityError as error:
        raise ValidationError(f"Reading {number}: {error.sentence}", code="unread") from None
