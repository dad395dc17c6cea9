"""Form fields of steps: texts, numbers, what an identifier showed, instruments, people; and which field asks for which
field of a step, with the instruments of the workshop.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.gases import catalogue
from inventory.measure.own import METRIC, Units
from inventory.measure.quantities import read_number
from inventory.measure.spoken import in_own_units
from inventory.measure.typed import QuantityError, quote
from inventory.measure.typedday import how_written, read_day
from inventory.models import Book, Gauge
from inventory.pages.fields.quantity import (
    BarometerField,
    DurationField,
    MassField,
    PercentField,
    PressureField,
    QuantityField,
    TemperatureField,
    VolumeField,
)
from inventory.pages.fields.readings import ReadingsField
from inventory.pages.fields.when import WhenField
from inventory.pages.forms.parts import in_cylinders, refrigerant_groups
from shop.models import Membership, User, Vehicle, Workshop
from shop.pages.forms.instruments import G_A_YEAR, OZ_A_YEAR, change_of, in_book
from shop.people.certificates import held_on
from shop.visits.steps import NOT_KNOWN, REQUIRED, StepField

MOST_CHARACTERS = 2000
NOT_ENTERED = ("", "not entered")
NOT_HERE = "one that is not entered here"  # an answer: its step stays unknown, and nothing more is asked
CREATED_BY = {
    "pressure gauge": "gauge",
    "vacuum gauge": "vacuum-gauge",
    "thermometer": "thermometer",
    "identifier": "identifier",
    "leak detector": "leak-detector",
}


_ODOMETER = re.compile(r"\d[\d .,'’]*\s*(km|mi|miles?|kilomet(er|re)s?|h|hours?)?\.?", re.IGNORECASE)
_LATER = re.compile(
    r"\b(days?|weeks?|months?|years?|spring|summer|autumn|fall|winter|seasons?|service|km|mi|miles|h|hours"
    r"|not needed|not known)\b",
    re.IGNORECASE,
)


class WrittenField(forms.CharField):
    """A text, kept as typed; some words in it are refused with the sentence that says why."""

    def __init__(self, *, refused: Mapping[str, str] | None = None, long: bool = False, **options: Any) -> None:
        self.refused = dict(refused or {})
        widget = forms.Textarea(attrs={"rows": 3}) if long else forms.TextInput(attrs={"autocomplete": "off"})
        super().__init__(widget=widget, **options)

    def clean(self, value: Any) -> str:
        text: str = super().clean(value)
        if len(text) > MOST_CHARACTERS:
            raise ValidationError(
                f"This has {len(text)} characters, more than {MOST_CHARACTERS}. Shorten it.", code="long"
            )
        for word, sentence in self.refused.items():
            if word in text.lower():
                raise ValidationError(sentence, code="refused")
        return text


class OdometerField(WrittenField):
    """What an odometer shows, as it stands there; a number alone gets the unit of who writes it."""

    unit = METRIC.road

    def speak(self, units: Units) -> None:
        self.unit = units.road
        self.help_text = f"As it stands there; a number alone is in {self.unit}."

    def clean(self, value: Any) -> str:
        text = super().clean(value).strip()
        if not text or text.casefold() == NOT_KNOWN:
            return text
        if _ODOMETER.fullmatch(text) is None:
            raise ValidationError(
                f"{quote(text)} is not what an odometer shows. Write the number as it stands there, such as 148220, "
                f"with km or mi behind it where it is not in {self.unit}; or “{NOT_KNOWN}”.",
                code="unread",
            )
        return text if any(letter.isalpha() for letter in text) else f"{text} {self.unit}"


class LookAgainField(WrittenField):
    """When somebody is to look again, kept as typed: a day that is still to come, or how long until then."""

    order = METRIC.days

    def speak(self, units: Units) -> None:
        self.order = units.days

    def clean(self, value: Any) -> str:
        text = super().clean(value).strip()
        if not text or _LATER.search(text):
            return text
        try:
            day = read_day(text, self.order)
        except QuantityError:
            words = f"Write a day, such as {how_written(self.order)}, or how long until then, such as in 12 months."
            raise ValidationError(f"{quote(text)} says no time. {words}", code="unread") from None
        if day < timezone.localdate():
            raise ValidationError("That day is over. Write one that is still to come.", code="over")
        return text


class DecidingRadio(forms.RadioSelect):
    """Choices of which some ask for more: the style sheet shows the fields below for an answer in `asks_for_more`."""

    def __init__(self, asks_for_more: Sequence[str], **options: Any) -> None:
        self.asks_for_more = tuple(asks_for_more)
        super().__init__(**options)

    def create_option(self, name: str, value: Any, *more: Any, **options: Any) -> dict[str, Any]:
        option: dict[str, Any] = super().create_option(name, value, *more, **options)
        if str(value) in self.asks_for_more:
            option["attrs"]["data-asks-for-more"] = True
        return option


class NumberField(forms.CharField):
    """A number not below zero; the cleaned value is ``(text, number)`` or None."""

    def __init__(self, *, what: str, unit: str = "", whole: bool = False, **options: Any) -> None:
        self.what, self.unit, self.whole = what, unit, whole
        options.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        super().__init__(**options)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            number = read_number(text, what=self.what, lowest=0.0, highest=1e6, unit_word=self.unit)
        except QuantityError as error:
            raise ValidationError(error.sentence, code="unread") from None
        if self.whole and number != int(number):
            raise ValidationError(f"{text} is no whole number of {self.unit}. Count them.", code="unread")
        return text, number


class RateField(QuantityField):
    """The smallest leak that a detector shows, a mass a year; the cleaned value's ``.si`` is grams a year."""

    kind_name, reader = "rate", staticmethod(partial(change_of, "leak detector"))
    units = (G_A_YEAR, OZ_A_YEAR)
    use_echo = False

    def unit_for(self, units: Units) -> str:
        return in_book(units).rate


class SharesField(forms.CharField):
    """What an identifier showed: ``R-134a 99.2, air 0.8``; cleaned: ``(text, {code: fraction})`` or None."""

    def __init__(self, **options: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}), **options)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        shares: dict[str, str] = {}
        for part in re.split(r"[;,]\s+|;|\n|,(?=\s*[A-Za-z])", text):
            code, per_cent = _share(part.strip())
            if code in shares:
                raise ValidationError(f"{code} stands twice. Write each part once.", code="twice")
            shares[code] = str(per_cent / 100)
        total = sum(Decimal(share) for share in shares.values()) * 100
        if not Decimal("98") <= total <= Decimal("101"):
            raise ValidationError(f"The parts add up to {total:f} %, not to 100. Read the display again.", code="sum")
        return text, shares


def _share(part: str) -> tuple[str, Decimal]:
    """Return the code and the per cent of one part, written either way round."""
    match = re.fullmatch(
        r"(?:(?P<n1>\d+(?:[.,]\d+)?)\s*%?\s+(?P<c1>.+)|(?P<c2>.*\S)\s+(?P<n2>\d+(?:[.,]\d+)?)\s*%?)", part
    )
    if match is None:
        raise ValidationError(
            f"“{part}” cannot be read. Write each part as R-134a 99.2, with a comma between two.", code="unread"
        )
    name = (match["c2"] or match["c1"]).strip()
    number = Decimal((match["n2"] or match["n1"]).replace(",", "."))
    if name.lower() in ("air", "non-condensables", "ncg"):
        return "air", number
    if name.lower() in ("hydrocarbon", "hydrocarbons", "hc"):
        return "R-290", number
    try:
        return catalogue.find(name).code, number
    except catalogue.UnknownRefrigerant as error:
        raise ValidationError(str(error), code="unknown") from None


def in_this_book(book: Book) -> set[str]:
    """Return the refrigerants that cylinders and vehicles of a book have, or vehicles had."""
    vehicles = Vehicle.objects.filter(account__book=book).values_list("refrigerant", "original_refrigerant").distinct()
    return in_cylinders(book).union(*vehicles)


class InstrumentField(forms.ChoiceField):
    """One of the workshop's instruments of `kinds`; the cleaned value is the `Gauge`, `NOT_HERE` or None."""

    def __init__(self, gauges: Sequence[Gauge], kinds: Sequence[str], **options: Any) -> None:
        self.entered = {
            str(gauge.pk): gauge for gauge in gauges if gauge.kind in kinds
        }  # see inventory.pages.comeback too
        self.created_by = CREATED_BY[kinds[0]]
        choices = [NOT_ENTERED, *((key, gauge.name) for key, gauge in self.entered.items()), (NOT_HERE, NOT_HERE)]
        super().__init__(choices=choices, **options)

    def clean(self, value: Any) -> Gauge | str | None:
        found = super().clean(value)
        return NOT_HERE if found == NOT_HERE else self.entered.get(found)


class PersonField(forms.ChoiceField):
    """One of the people of the workshop; the cleaned value is the `User` or None."""

    created_by = "person"  # see inventory.pages.comeback

    def __init__(self, people: Sequence[User], *, none: str = "not entered", **options: Any) -> None:
        self.lacking: dict[str, str] = {}
        self.people = {person.handle: person for person in people}
        self.nobody = ("", none)
        choices = [self.nobody, *((handle, str(person)) for handle, person in self.people.items())]
        super().__init__(choices=choices, **options)

    def name_certificates(self, day: date, units: Units, *, asked_for: bool) -> None:
        """Say behind a name whose certificate does not hold on `day`; `asked_for`: also where none was ever entered."""
        said = {
            handle: in_own_units(certificate_lack(person, day, asked_for), units)
            for handle, person in self.people.items()
        }
        self.lacking = {handle: f"{self.people[handle]}: {words}" for handle, words in said.items() if words}
        self.choices = [
            self.nobody,
            *((handle, self.lacking.get(handle, str(one))) for handle, one in self.people.items()),
        ]

    def without_certificate(self, handle: object) -> str:
        """Return who that is and what is the matter with the certificate; empty where nothing is."""
        return self.lacking.get(str(handle), "")

    def clean(self, value: Any) -> User | None:
        return self.people.get(super().clean(value))


def certificate_lack(person: User, day: date, asked_for: bool) -> str:
    """Return why no certificate of a person holds on `day`, as far as entered; empty where one does.

    A person of whom none was ever entered is named only where one is `asked_for`.
    """
    entered = list(person.certifications.all())
    if any(held_on(one, day) for one in entered):
        return ""
    ended = [one.expires_on for one in entered if one.expires_on is not None and one.expires_on < day]
    if ended:
        return f"certificate ran out on {max(ended):%Y-%m-%d}"
    if entered:
        return "no certificate entered that holds on that day"
    return "no certificate entered" if asked_for else ""


KEPT_ELSEWHERE = "A photo that is kept elsewhere"


def people_of(shop: Workshop) -> list[User]:
    """Return the people who work or worked here, readers not counted."""
    members = Membership.objects.filter(workshop=shop, role__in=("owner", "technician")).select_related("user")
    members = members.prefetch_related("user__certifications")
    return [member.user for member in members.order_by("-active", "user__display_name", "user__username")]


class Making:
    """What is looked up once to make the fields of a form: instruments and people."""

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
                with_temperature=one.type == "readings",
                rows=4 if one.absolute else 2,
                known=known,
                **options,
            )
        return self._words(one, what, options)

    def _words(self, one: StepField, what: str, options: dict[str, Any]) -> forms.Field:
        if one.type == "rate":
            return RateField(what=what, **options)
        if one.type == "number":
            counted = one.unit == "joints"
            options["label"] = one.words if counted else f"{one.words}, {one.unit}"
            return NumberField(what=what, unit=one.unit, whole=counted, **options)
        if one.type == "distance":
            return OdometerField(**options)
        if one.type == "look again":
            return LookAgainField(**options)
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
            return MassField(default_unit="g", **options)
        if one.name == "barometer":
            return BarometerField(**options)
        if one.type == "pressure":
            known: dict[str, Any] = {"default_reference": "absolute"} if one.absolute else {}
            if one.known:
                known["plausible_pa"] = one.known
            return PressureField(known=known, **options)
        if one.type == "temperature":
            return TemperatureField(**options)
        if one.type == "volume":
            return VolumeField(units=("L", "cc") if one.name == "volume" else ("mL", "fl oz"), **options)
        return (DurationField if one.type == "duration" else PercentField)(**options)
