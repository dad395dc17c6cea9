"""Forms of visits, made from the data of `shop.visits.kinds`."""

import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.measure.atmosphere import OutsideAtmosphere, barometer_doubt
from inventory.pages import comeback
from inventory.pages.fields.quantity import PressureField
from inventory.pages.fields.sent import INSISTED, Choice
from inventory.pages.fields.when import WhenField
from inventory.pages.forms.act import BookForm, pressure_knowledge
from inventory.pages.forms.photos import PhotosField, photo_fields, sent_photos, taken_in
from shop.models import Vehicle, Workshop
from shop.pages.forms.keeping import kept
from shop.pages.forms.stepfields import DecidingRadio, Making, PersonField, WrittenField
from shop.pages.forms.usual import ask_about_step
from shop.visits.acts.entering import StepFacts
from shop.visits.gas import held_in
from shop.visits.steps import ASKED, OPTIONAL, READ_AGAINST, REQUIRED, StepField, StepKind, applicable, text_of
from shop.visits.watches import WATCH_BY_NAME

WHO_AND_WHEN = ("occurred_at", "doer", "answers", "note")
PHOTOS = "photos"
LABEL_READ = "label read"
_LEFT_OUT = {OPTIONAL: "(optional)", ASKED: "(stays asked if left out)", REQUIRED: "(needed with that answer)"}


class StepForm(BookForm):
    """A step of a visit: its own fields, then when, who did it, who answers for it, and a note."""

    kind: StepKind
    shop: Workshop
    vehicle: Vehicle | None = None
    folded: Sequence[str] = ()  # further fields that stand folded away unless they must be answered
    folded_words = "More"
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
            field.name_certificates(self._day, self.units, asked_for=self.shop.jurisdiction != "none")

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

    @property
    def certificate_way(self) -> comeback.Shown | None:
        """The button that leads to entering the certificate of who did it, or a sentence that says who can."""
        doer = self["doer"].value()
        if not self.certificate_words or self.access is None:
            return None
        if self.access.is_owner:
            return comeback.Shown(comeback.OFFERS["certificate"].words, f"certificate {doer}")
        owners = ", ".join(self.access.owners())
        return comeback.Shown(f"A certificate is entered by the owner: {owners}.")

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
        if "onto" in self.fields:
            self._name_what_is_inside(vehicle)
        return self

    def _name_what_is_inside(self, vehicle: Vehicle) -> None:
        """Say what the book has in the vehicle where a charge comes onto it; nothing is asked where it has nothing."""
        inside_mg = sum(mass for mass in held_in(vehicle).values() if mass > 0)
        if inside_mg:
            said = self.units.small_mass_said(inside_mg)
            self.fields[
                "onto"
            ].help_text = f"By the book {said} is inside. Asked where that and this charge pass the label"
        else:
            del self.fields["onto"]

    @property
    def set_aside(self) -> list[Any]:
        """The fields that stand folded away below the step's own."""
        return [self[name] for name in self._set_aside]

    @property
    def _set_aside(self) -> list[str]:
        asked = any(one.type == "photo" for one in self.kind.fields)
        folded = [name for name in self.folded if name in self.fields and not self._has_to_be_seen(name)]
        photos = [] if asked else photo_fields(self)
        return [*folded, *(name for name in (*WHO_AND_WHEN, *photos) if name in self.fields)]

    def _has_to_be_seen(self, name: str) -> bool:
        """Whether a field that could be folded away must be answered, since nothing stands in it."""
        return self.fields[name].required and not self.is_bound and not self[name].value()

    @property
    def set_aside_words(self) -> str:
        """What the folded part is called."""
        if self.folded:
            return self.folded_words
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
        if text_of(data, "label") == LABEL_READ and not {"refrigerant", "mass", "lubricant"} & set(data):
            self._say_what_was_read()
        ask_about_step(self, self.kind.fields, self.vehicle, self.shop)
        return cleaned

    def _say_what_was_read(self) -> None:
        """Refuse a label that was read and says nothing, unless what it says has to be put right anyhow."""
        if not {"refrigerant", "mass", "lubricant"} & set(self.errors):
            self.add_error("refrigerant", "Enter what the label says, or choose above that it cannot be read.")

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
        watch = str(cleaned.get("watch", ""))
        return StepFacts(
            cleaned["doer"],
            cleaned["answers"],
            self.step_data,
            cleaned["note"],
            photos=taken_in(self),
            watch=int(watch) if re.fullmatch(r"\d{1,18}", watch, re.ASCII) else None,
        )


def step_form(
    kind: StepKind,
    making: Making,
    extra: Mapping[str, forms.Field] | None = None,
    *,
    photos: bool = False,
) -> type[StepForm]:
    """Return the form of one kind of step for one workshop; `extra` fields (masses, readings) stand first.

    With `photos` it takes pictures too: where the kind asks for one beside that, else folded away.
    """
    fields: dict[str, Any] = dict(extra or {})
    for one in kind.fields:
        if one.type == "photo" and photos:
            fields[PHOTOS] = _photos_field(one, kind.shows)
        fields[one.name] = making.field(one)
        # in the words of _field.html: what is asked may follow, and is listed until it does
        if one.only_if is not None:
            fields[one.name].depends = True  # read by _field.html; hidden until the answer asks for it
            decider, answers = one.only_if
            fields[decider].widget = DecidingRadio(answers, choices=fields[decider].choices)
        fields[one.name].optional_words = _LEFT_OUT[one.need]
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
    if kind.name in WATCH_BY_NAME:
        fields["watch"] = forms.CharField(required=False, widget=forms.HiddenInput)  # what was under way and ends by it
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
