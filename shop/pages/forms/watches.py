"""Forms of what is under way: starting it, a reading of it, how long; and what of it stands in the form of its step."""

import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils import timezone

from inventory.measure.typed import Typed
from inventory.pages.fields.quantity import DurationField, PressureField, QuantityField, TemperatureField
from inventory.pages.fields.readings import ReadingsField
from inventory.pages.fields.sent import Sent
from inventory.pages.fields.when import WhenField
from inventory.pages.forms.act import BookForm, PlainForm
from shop.bench.countdown import since_s
from shop.models import WatchReading
from shop.pages.forms.keeping import chosen, kept
from shop.pages.forms.stepfields import Making
from shop.visits.underway import UnderWay
from shop.visits.watches import WatchKind

PRESS_COUNTS = timedelta(minutes=10)  # so long a press may be on its way here
JUST_NOW_S = 300.0  # a step finished so soon after its last reading happened now, to the second
LEAST_S, MOST_S = 1.0, 7 * 86_400.0


class AgoInput(forms.HiddenInput):
    """Where script notes how many milliseconds ago the button was pressed first; a form that came back begins anew."""

    def __init__(self) -> None:
        super().__init__(attrs={"data-pressed": True})

    def format_value(self, value: Any) -> None:
        return None


class WatchForm(BookForm):
    """A form in which a pressure and, for some, a temperature are read."""

    ago = forms.CharField(required=False, widget=AgoInput())

    @property
    def occurred(self) -> datetime:
        """When it was read: as entered; else when the button was pressed, if that is not long ago; else now."""
        typed: datetime | None = self.cleaned_data.get("occurred_at")
        return typed or timezone.now() - self._ago

    @property
    def up_front(self) -> list[BoundField]:
        """What is read; when stands folded away below, since it is now."""
        return [field for field in self.visible_fields() if field.name != "occurred_at"]

    @property
    def set_aside(self) -> list[BoundField]:
        """The fields that stand folded away."""
        return [self["occurred_at"]]

    set_aside_words = "Not just now: when"

    @property
    def set_aside_open(self) -> bool:
        """Whether that has to be put right, or was filled in."""
        return bool(self["occurred_at"].errors or self["occurred_at"].value())

    @property
    def _ago(self) -> timedelta:
        """How long the press was on its way, as where a sending got lost and was tried again; none where not said."""
        text = self.cleaned_data.get("ago") or ""
        found = timedelta(milliseconds=int(text)) if re.fullmatch(r"[0-9]{1,9}", text) else timedelta()
        return found if found <= PRESS_COUNTS else timedelta()

    @property
    def reading(self) -> dict[str, Any]:
        """What is kept of the reading; empty where no pressure was read."""
        found = {name: kept(self.cleaned_data.get(name)) for name in ("pressure", "temperature")}
        if found["pressure"] is None:
            return {}
        if self["pressure"].data.insisted:
            found["pressure"]["sure"] = found["pressure"]["text"]
        return {name: entry for name, entry in found.items() if entry is not None}


def reading_form(kind: WatchKind, making: Making) -> type[WatchForm]:
    """Return the form of one more reading."""
    fields = {**_reading(kind, making, first=False), "occurred_at": WhenField(label="When it was read")}
    return type("ReadingForm", (WatchForm,), {**fields, "field_order": list(fields)})


def start_form(kind: WatchKind, making: Making) -> type[WatchForm]:
    """Return the form that starts the clock: the first reading, the instruments, how long."""
    fields: dict[str, forms.Field] = {**_reading(kind, making, first=True), "planned": planned_field(kind)}
    for name in kind.instruments:
        fields[name] = making.field(kind.step.field(name))
        fields[name].required = False
    fields["occurred_at"] = WhenField(label="Started at")
    return type("StartForm", (WatchForm,), {**fields, "field_order": list(fields)})


def length_form(kind: WatchKind) -> type[PlainForm]:
    """Return the form that changes the planned length."""
    return type("LengthForm", (PlainForm,), {"planned": planned_field(kind)})


def planned_field(kind: WatchKind) -> DurationField:
    """Return the field for the planned length."""
    return DurationField(
        label="Planned length",
        what="planned length",
        help_text=f"The clock says when it is over; it may run longer. Usual: {kind.usual_s / 60:g} min "
        f"({kind.usual_from}).",
        validators=[_refuse_length],
    )


def _refuse_length(value: Typed) -> None:
    if not LEAST_S <= value.si <= MOST_S:
        raise forms.ValidationError(f"{value.echo} cannot be watched. Enter 1 s to 7 days.", code="unread")


def _reading(kind: WatchKind, making: Making, *, first: bool) -> dict[str, forms.Field]:
    """Return the fields of one reading, read as the step will read them."""
    made = making.field(kind.step.field(kind.pressure))
    own = made.pressure if isinstance(made, ReadingsField) else made
    assert isinstance(own, QuantityField)  # noqa: S101 - for the type
    known = dict(own.known)
    needed = not first or bool(kind.begins_with)
    if not needed or kind.name == "pulling vacuum":
        known.pop("plausible_pa", None)  # a pump comes down through everything from the air on
    pressure = PressureField(
        label="Pressure", what="pressure", default_unit=own.default_unit, known=known, required=needed
    )
    if not kind.temperature:
        return {"pressure": pressure}
    label = "Temperature" if kind.temperature == kind.pressure else "Coldest part"
    unit = making.shop.temperature_unit
    temperature = TemperatureField(label=label, what=label.lower(), default_unit=unit, required=False)
    return {"pressure": pressure, "temperature": temperature}


def usual_typed(seconds: float) -> Sent:
    """Return a length as it would be typed: in hours where it is whole ones, else in minutes."""
    if seconds >= 7_200 and seconds % 3_600 == 0:
        return Sent(text=f"{seconds / 3600:g}", unit="h")
    return Sent(text=_minutes(seconds), unit="min")


def initial_of_reading(reading: WatchReading) -> dict[str, Any]:
    """Return what stands in the form in which a reading is put right."""
    found: dict[str, Any] = {name: typed_again(entry) for name, entry in reading.data.items()}
    return {**found, "occurred_at": moment_typed(reading.taken_at)}


def typed_again(entry: dict[str, Any]) -> Sent:
    """Return a quantity as it was typed, its unit chosen, and an unlikely one as insisted on."""
    return Sent(text=entry["text"], unit=chosen(entry["unit"]), sure=entry.get("sure", ""))


def moment_typed(moment: datetime) -> datetime | str:
    """Return a moment for its field: with its offset where the clocks showed that hour twice."""
    local = timezone.localtime(moment)
    twice = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
    return local.isoformat(timespec="minutes") if twice else moment


def filled(one: UnderWay) -> dict[str, Any]:
    """Return what stands in the form of the step that ends it: all that was read, as it was typed."""
    watch, readings = one.watch, one.readings
    found: dict[str, Any] = {"watch": str(watch.pk), **_instruments(watch.data)}
    if one.kind.temperature not in ("", "readings"):
        warm = [each.data["temperature"] for each in readings if "temperature" in each.data]
        found |= {one.kind.temperature: typed_again(warm[-1])} if warm else {}
    if one.kind.name == "recovery":
        return found | _waited(readings)
    if readings and since_s(readings[-1].taken_at, one.countdown.now) > JUST_NOW_S:
        found["occurred_at"] = moment_typed(readings[-1].taken_at)
    if one.kind.name == "pulling vacuum":
        return found | _pulled(one)
    return found | {"readings": _rows(readings)}


def _instruments(data: dict[str, Any]) -> dict[str, str]:
    return {
        name: str(entry["instrument"]["id"]) if "instrument" in entry else entry["text"] for name, entry in data.items()
    }


def _waited(readings: Sequence[WatchReading]) -> dict[str, Any]:
    """Return pressure at the stop, the wait up to the last reading, and the pressure then."""
    if not readings:
        return {}
    first, last = readings[0], readings[-1]
    found: dict[str, Any] = {"final_pressure": typed_again(first.data["pressure"])}
    if len(readings) > 1:
        found["pressure_after_wait"] = typed_again(last.data["pressure"])
        found["waited"] = Sent(text=_minutes(since_s(first.taken_at, last.taken_at)), unit="min")
    return found


def _pulled(one: UnderWay) -> dict[str, Any]:
    """Return begin and end of an evacuation, and its lowest reading."""
    end = one.readings[-1].taken_at if one.readings else one.countdown.now
    found: dict[str, Any] = {"start": moment_typed(one.watch.started_at), "end": moment_typed(end)}
    if one.readings:
        lowest = min((each.data["pressure"] for each in one.readings), key=lambda entry: entry["si"])
        found["lowest"] = typed_again(lowest)
    return found


def _rows(readings: Sequence[WatchReading]) -> list[dict[str, str]]:
    """Return the readings as rows: minutes since the first; a unit other than the first one's stands in its text."""
    units = {
        name: next((chosen(each.data[name]["unit"]) for each in readings if name in each.data), "")
        for name in ("pressure", "temperature")
    }

    def text(each: WatchReading, name: str) -> str:
        entry = each.data.get(name)
        if entry is None:
            return ""
        bare = not any(letter.isalpha() for letter in entry["text"])
        unit = chosen(entry["unit"])
        return f"{entry['text']} {unit}" if bare and unit != units[name] else str(entry["text"])

    return [
        {
            "time": _minutes(since_s(readings[0].taken_at, each.taken_at)),
            "pressure": text(each, "pressure"),
            "temperature": text(each, "temperature"),
            "sure": text(each, "pressure") if "sure" in each.data["pressure"] else "",
            "pressure_unit": units["pressure"],
            "temperature_unit": units["temperature"],
        }
        for each in readings
    ]


def _minutes(seconds: float) -> str:
    """Return a length in minutes to a thousandth, as it would be typed."""
    return f"{seconds / 60:.3f}".rstrip("0").rstrip(".")


def to_the_second(moment: datetime, known: datetime) -> datetime:
    """Return `known` where `moment`, typed to the minute, is of the same minute; else `moment`."""
    return known if int(known.timestamp() // 60) == int(moment.timestamp() // 60) else moment
