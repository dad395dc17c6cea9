"""Forms of visits, made from the data of `shop.visits.kinds`.

What is kept of a step is ``{"field": {"text": as typed, "si": value, "echo": as read}}``; a quantity keeps its unit
and an instrument its resolution beside, so that a verdict can be worked out from the step alone.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.measure.atmosphere import OutsideAtmosphere, barometer_doubt
from inventory.measure.masses import Mass
from inventory.measure.typed import Typed
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
from inventory.pages.fields.sent import INSISTED, Choice, Sent
from inventory.pages.fields.when import WhenField
from inventory.pages.forms.act import BookForm, pressure_knowledge
from inventory.pages.forms.parts import refrigerant_groups
from inventory.pages.forms.photos import PhotosField, photo_fields, sent_photos, taken_in
from shop.models import Membership, Step, User, Vehicle, Workshop
from shop.pages.forms.stepfields import (
    NOT_ENTERED,
    DecidingRadio,
    InstrumentField,
    NumberField,
    PersonField,
    SharesField,
    WrittenField,
    in_this_book,
)
from shop.pages.forms.usual import ask_about_step
from shop.visits.acts.entering import StepFacts
from shop.visits.shown import Units
from shop.visits.steps import OPTIONAL, READ_AGAINST, REQUIRED, StepField, StepKind, applicable

WHO_AND_WHEN = ("occurred_at", "doer", "answers", "note")
PHOTOS = "photos"
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


class StepForm(BookForm):
    """A step of a visit: its own fields, then when, who did it, who answers for it, and a note."""

    kind: StepKind
    shop: Workshop
    vehicle: Vehicle | None = None
    photos_later = False  # they are asked for on the page that reads back, since a browser cannot keep them till then

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["occurred_at"].label = "When it happened"
        self._air = self.access.air if self.access else None
        if self.kind.certified:
            self._name_certificates()
        if "barometer" in self.fields:
            self._echo_with_the_barometer()
        if self.is_bound and "barometer" in self.fields:
            self._read_against_the_barometer()

    def _name_certificates(self) -> None:
        """Say behind each name whose certificate does not hold on the day of the step."""
        for name in ("doer", "answers"):
            field = self.fields[name]
            assert isinstance(field, PersonField)  # noqa: S101 - for the type
            field.name_certificates(self._day, asked_for=self.shop.jurisdiction != "none")

    @property
    def _day(self) -> date:
        """The day of the step as it was entered; today where none was, or none that can be read."""
        try:
            found = WhenField().clean(self["occurred_at"].value())
        except ValidationError:
            found = None
        return timezone.localdate(found) if found else timezone.localdate()

    @property
    def certificate_words(self) -> str:
        """Who has no certificate that holds, though the step asks for one, and what may be said of it; else empty."""
        if not self.kind.certified:
            return ""
        doer, answers = (
            self.fields[name].without_certificate(self[name].value())  # type: ignore[attr-defined]
            for name in ("doer", "answers")
        )
        if not doer or (self["answers"].value() and not answers):
            return ""
        return f"{doer}. It is written as it was; say below who answers for it, if somebody does."

    def _echo_with_the_barometer(self) -> None:
        """Let what a gauge reading is echoed as count from the barometer that is typed beside it."""
        for field in self.fields.values():
            if isinstance(field, PressureField):
                field.echo_include, field.echo_from = "closest .quantity, [name^=barometer]", "[name^=barometer]"

    def _read_against_the_barometer(self) -> None:
        """Let gauge readings count from the barometer that was sent; one that cannot be read is put right first."""
        try:
            found = self.fields["barometer"].clean(self["barometer"].data)
        except ValidationError:
            return
        for name, field in self.fields.items():
            known = pressure_knowledge(field)
            if found is not None and known is not None and name != "barometer":
                known.update(atmosphere_pa=found.si, air=None)

    def clean_barometer(self) -> Any:
        """Ask about a barometer that is far from what the height gives; one that no weather reaches is refused."""
        found, sent = self.cleaned_data["barometer"], self["barometer"].data
        if found is None or self._air is None:
            return found
        try:
            question = barometer_doubt(found.si, self._air)
        except OutsideAtmosphere as error:
            raise ValidationError(str(error), code="unread") from None
        if question and not sent.insisted:
            said = sent.said if re.search(r"[a-z]", sent.said, re.I) else f"{sent.said} {sent.unit or 'mbar'}"
            choices = [Choice(f"{INSISTED}{said}", f"It does read {said}, here")]
            raise ValidationError(question, code="doubt", params={"choices": choices})
        return found

    def about(self, vehicle: Vehicle) -> "StepForm":
        """Ask by what is usual of a vehicle, and return the form."""
        self.vehicle = vehicle
        for one in self.kind.fields:
            knowledge = pressure_knowledge(self.fields[one.name]) if one.name in self.fields else None
            if knowledge is not None and "plausible_pa" in knowledge:
                knowledge["plausible_pa"] = one.known_of(vehicle.refrigerant)
        return self

    @property
    def set_aside(self) -> list[Any]:
        """The fields that stand folded away below the step's own."""
        return [self[name] for name in self._set_aside]

    @property
    def _set_aside(self) -> list[str]:
        photos = [] if self._wants_photos else photo_fields(self)
        return [name for name in (*WHO_AND_WHEN, *photos) if name in self.fields]

    @property
    def _wants_photos(self) -> bool:
        return any(one.type == "photo" for one in self.kind.fields)

    @property
    def set_aside_words(self) -> str:
        """What the folded part is called."""
        return "When, who, note, photos" if len(self._set_aside) > len(WHO_AND_WHEN) else "When, who, note"

    @property
    def set_aside_open(self) -> bool:
        """Whether one of those has to be put right, looked at, or photos chosen again."""
        return bool(self.certificate_words or sent_photos(self)) or any(field.errors for field in self.set_aside)

    @property
    def up_front(self) -> list[Any]:
        """The fields of the step itself."""
        hidden = [*self._set_aside, *([PHOTOS] if self.photos_later and not self.errors else [])]
        return [field for field in self.visible_fields() if field.name not in hidden]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        data = self.step_data
        for one in self.kind.fields:
            if one.decided(data) and not one.applies(data):
                self._errors.pop(one.name, None)  # not asked for, so nothing in it has to be put right
            needed = one.need == REQUIRED and one.only_if is not None and one.applies(data)
            if needed and one.name not in data and one.name not in self.errors:
                self.add_error(one.name, f"Enter: {one.words.lower()}.")
        ask_about_step(self, self.kind.fields, self.vehicle, self.shop)
        return cleaned

    @property
    def step_data(self) -> dict[str, dict[str, Any]]:
        """What is kept of the step, by field: neither what was left empty nor what its other answers do not ask for."""
        found = {one.name: kept(self.cleaned_data.get(one.name)) for one in self.kind.fields}
        found[READ_AGAINST] = self._read_against
        return applicable(self.kind, {name: entry for name, entry in found.items() if entry is not None})

    @property
    def _read_against(self) -> dict[str, Any] | None:
        """What the gauges were read against while no height was entered: the step is judged by it ever after."""
        read = self.reads_gauges and not self.cleaned_data.get("barometer")
        unknown = read and self._air is not None and not self._air.is_known
        return {"text": "", "si": self._air.pressure_pa, "echo": ""} if unknown and self._air else None

    @property
    def facts(self) -> StepFacts:
        """Who did it, what it holds and the pictures that came; only of a form that is valid."""
        cleaned = self.cleaned_data
        return StepFacts(cleaned["doer"], cleaned["answers"], self.step_data, cleaned["note"], photos=taken_in(self))


def step_form(
    kind: StepKind,
    making: Making,
    extra: Mapping[str, forms.Field] | None = None,
    *,
    leave_out: Sequence[str] = (),
    photos: bool = False,
) -> type[StepForm]:
    """Return the form of one kind of step for one workshop; `extra` fields (masses, readings) stand first.

    With `photos` it takes pictures too: where the kind asks for one beside that, else folded away.
    """
    fields: dict[str, Any] = dict(extra or {})
    for one in kind.fields:
        if one.name not in leave_out:
            if one.type == "photo" and photos:
                fields[PHOTOS] = _photos_field(one, kind.shows)
            fields[one.name] = making.field(one)
            # in the words of _field.html: what is asked may follow, and is listed until it does
            if one.only_if is not None:
                fields[one.name].depends = True  # read by _field.html; hidden until the answer asks for it
                decider, answers = one.only_if
                fields[decider].widget = DecidingRadio(answers, choices=fields[decider].choices)
            fields[one.name].optional_words = "(optional)" if one.need == OPTIONAL else "(stays asked if left out)"
    fields["doer"] = PersonField(making.people, label="Done by", error_messages={"required": "Say who did it."})
    fields["answers"] = PersonField(
        making.people,
        label="Answers for it",
        none="the same",
        required=False,
        help_text="Where the doer holds no certificate",
    )
    fields["note"] = WrittenField(label="Note", long=True, required=False)
    if photos:
        fields.setdefault(PHOTOS, PhotosField(label="Photos", shows=kind.shows))
    order = [name for name in fields if name not in WHO_AND_WHEN] + list(WHO_AND_WHEN)
    return type("KindForm", (StepForm,), {**fields, "kind": kind, "shop": making.shop, "field_order": order})


def _photos_field(one: StepField, shows: str) -> PhotosField:
    """Return the field for pictures beside a step's own question for one, which may hang on another answer."""
    if one.only_if is not None:
        words = f"{one.words} is evidence. {PhotosField().help_text}"
        return PhotosField(label="Photos", shows=shows, help_text=words)
    field = PhotosField(label=one.words, shows=shows)
    field.optional_words = "(optional)" if one.need == OPTIONAL else "(stays asked if left out)"  # type: ignore[attr-defined]
    return field


def kept(value: Any) -> dict[str, Any] | None:
    """Return what a step keeps of a cleaned value; None where nothing was entered."""
    if value in (None, "", (), []):
        return None
    if isinstance(value, Mass):
        return {"text": value.text, "unit": value.unit, "si": value.si, "mg": value.mg, "echo": value.echo}
    if isinstance(value, Typed):
        return {"text": value.text, "unit": value.unit, "si": value.si, "echo": value.echo}
    if isinstance(value, Gauge):
        facts = {"id": value.pk, "step": value.step, "accuracy": value.accuracy, "absolute": value.absolute}
        return {"text": value.name, "si": None, "echo": value.name, "instrument": facts}
    if isinstance(value, User):
        return {"text": value.handle, "si": None, "echo": ""}
    if isinstance(value, datetime):
        moment = timezone.localtime(value)
        return {
            "text": moment.isoformat(timespec="minutes"),
            "si": value.timestamp(),
            "echo": f"{moment:%Y-%m-%d %H:%M}",
        }
    if isinstance(value, tuple) and len(value) == 2 and isinstance(value[0], str):
        return {"text": value[0], "si": value[1], "echo": value[0]}
    if isinstance(value, tuple):
        return _kept_readings(value)
    return {"text": str(value), "si": None, "echo": str(value)}


def _kept_readings(readings: Sequence[Any]) -> dict[str, Any]:
    """Keep each reading with time in seconds, pascal absolute and kelvin."""
    rows = [
        {
            "time_s": reading.time_s,
            "pressure_pa": reading.pressure.si,
            "temperature_k": reading.temperature.si if reading.temperature else None,
        }
        for reading in readings
    ]
    typed = [
        {
            "time": reading.typed[0],
            "pressure": reading.typed[1],
            "temperature": reading.typed[2],
            "pressure_unit": reading.pressure.unit,
            "temperature_unit": reading.temperature.unit if reading.temperature else "",
        }
        for reading in readings
    ]
    minutes = readings[-1].time_s / 60
    first, last = readings[0].pressure.echo, readings[-1].pressure.echo
    return {"text": typed, "si": rows, "echo": f"{len(rows)} readings over {minutes:g} min: {first}, then {last}"}


def initial_of(step: Step, kind: StepKind) -> dict[str, Any]:
    """Return what stands in the form where a step is entered again: what was typed, as it was typed."""
    initial: dict[str, Any] = {"doer": step.doer.handle, "note": step.note, "occurred_at": step.occurred_at}
    initial["answers"] = step.answers.handle if step.answers else ""
    for one in kind.fields:
        entry = step.data.get(one.name)
        if not entry:
            continue
        if "unit" in entry:
            initial[one.name] = Sent(text=entry["text"], unit=entry["unit"])
        elif "instrument" in entry:
            initial[one.name] = str(entry["instrument"]["id"])
        elif one.type == "when":
            initial[one.name] = datetime.fromisoformat(entry["text"])
        else:
            initial[one.name] = entry["text"]
    return initial


def nameplate_of(vehicle: Vehicle, units: Units) -> dict[str, Any]:
    """Return target and tolerance of a charge from the vehicle's record, to the very milligram."""
    kept = {"target": vehicle.nameplate_mg, "tolerance": vehicle.nameplate_tolerance_mg}
    return {name: Sent(*units.small_mass_typed(int(mass_mg))) for name, mass_mg in kept.items() if mass_mg}
