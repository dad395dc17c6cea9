"""The forms of a bay sheet, laid out as the paper is: each line of it becomes the form of its ordinary step."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from inventory.measure.own import Units
from inventory.models import Cylinder, Scale
from inventory.models.access import Access
from inventory.pages.fields.quantity import PressureField
from inventory.pages.fields.scale import ScaleField, unit_of_readings
from inventory.pages.fields.when import WhenField
from inventory.pages.forms.act import LOST_KEY, PlainForm
from inventory.pages.forms.weighing import gross_field
from shop.pages.forms.stepfields import NOT_ENTERED, Making, PersonField, WrittenField
from shop.visits.kinds import BY_NAME
from shop.visits.steps import StepKind

LEGS = {"recovery": "recovered into", "charge": "charged from"}
PARTS = {"part out": "part out", "part in": "part in"}
NOTHING = ("", "nothing")
LEG_LINES, PART_LINES = 4, 3
ON_PAPER = {
    "standing pressure": ("pressure", "gauge", "air"),
    "pressure hold": ("gas", "allowed", "relief", "readings", "gauge"),
    "pulling vacuum": ("lowest", "gauge"),
    "vacuum hold": ("readings", "gauge"),
    "leak search": ("method", "sensitivity", "joints", "leaking", "where"),
}
"""Steps of which the paper has one line, with the fields that it names; what else is asked of them stays asked."""
PAPER = "paper sheet"  # the step that keeps a note by itself
MACHINERY = ("-key", "-seen", "_unit", "_rows", "_raw")  # ends of names that say nothing by themselves
NOT_OUT = {
    "oil_in": "Oil is put into a part that is fitted. Write it in a line of its own.",
    "number": "The maker’s number is kept of a part that is fitted. Write this one in the note.",
}
UNSAID = {"required": "Say who did it."}


class SheetForm(PlainForm):
    """What holds for the whole sheet: who did it, and on which scale."""

    def __init__(self, *args: Any, making: Making, scales: Sequence[Any], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["doer"] = PersonField(making.people, label="Done by", error_messages=UNSAID)
        self.fields["scale"] = ScaleField(scales, required=False)


class LineForm(PlainForm):
    """One line of the sheet. `key` makes it one entry, `seen` is what was read back of it."""

    key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    at = WhenField(label="When, by the sheet", optional_words="")
    note = WrittenField(label="Note", required=False)
    kinds: ClassVar[Mapping[str, str]]  # the steps that it may be, and what each is called here
    own: ClassVar[Sequence[str]] = ()  # fields of which one says that something stands in the line

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial.setdefault("key", uuid4())
        if "what" in self.fields:
            self.order_fields(["what"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.is_empty:
            return cleaned
        if not cleaned.get("key"):
            raise ValidationError(LOST_KEY)
        if "what" in self.fields and not cleaned.get("what"):
            self.add_error("what", "Say what this line of the sheet is.")
        if not cleaned.get("at") and "at" not in self.errors:
            self.add_error("at", "Enter the time that stands on the sheet.")
        return cleaned

    @property
    def step(self) -> str:
        """The name of the kind of step that the line is; only of a valid line in which something stands."""
        return str(self.cleaned_data.get("what") or next(iter(self.kinds)))

    @property
    def words(self) -> str:
        """What the line is called; empty where it says so itself."""
        return "" if "what" in self.fields else next(iter(self.kinds.values()))

    @property
    def is_empty(self) -> bool:
        """Whether nothing stands in this line, once it was judged."""
        names = [name for name in ("what", "at", "note", *self.own) if name in self.fields]
        return not any(self.cleaned_data.get(name) or name in self.errors for name in names)

    @property
    def sent_key(self) -> str:
        """The key of the line as it came, judged or not."""
        return str(self.data.get(self.add_prefix("key"), ""))

    @property
    def as_it_came(self) -> list[tuple[str, str]]:
        """All that came in for this line, judged or not."""
        return [(name, value) for name, value in self.data.items() if name.startswith(f"{self.prefix}-")]

    @property
    def typed(self) -> list[str]:
        """What a person typed or chose in it, judged or not."""
        return [value for name, value in self.as_it_came if value and not name.endswith(MACHINERY)]

    @property
    def at_time(self) -> datetime:
        """When it happened; only of a line that is valid and not empty."""
        at: datetime = self.cleaned_data["at"]
        return at

    def place_of(self, name: str) -> str | None:
        """Return beside which field of the line something is said about a field of its step; None: above them all."""
        place = {"occurred_at": "at"}.get(name, name)
        return place if place in self.fields else None

    def as_sent(self, doer: str, scale: str) -> QueryDict:
        """Return what the ordinary form of the step would have been sent for this line."""
        start, sent = f"{self.prefix}-", QueryDict(mutable=True)
        for name in self.data:
            if name.startswith(start):
                sent.setlist(name.removeprefix(start), self.data.getlist(name))  # type: ignore[attr-defined]
        for name in ("at", "at_reading", "what", "seen"):
            sent.pop(name, None)
        sent["key"], sent["occurred_at"] = str(self.cleaned_data["key"]), self.at_time.isoformat()
        sent["doer"], sent["scale"] = doer, scale
        return sent


class LegLine(LineForm):
    """Gas into or out of a cylinder, by its readings before and after."""

    kinds, own = LEGS, ("cylinder", "before", "after", "stopped")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("what") and not cleaned.get("cylinder"):
            self.add_error("cylinder", "Choose the cylinder.")
        return cleaned


class PartLine(LineForm):
    """A part taken out or fitted, with its oil."""

    kinds, own = PARTS, ("part", "number", "oil_found", "oil_in", "oil_type")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("what") == "part out":
            for name, words in NOT_OUT.items():
                if cleaned.get(name):
                    self.add_error(name, words)
        return cleaned


class NoteLine(LineForm):
    """What else stands on the paper, kept as a step that names it."""

    kinds: ClassVar[Mapping[str, str]] = {PAPER: "Note by itself"}
    sheet = ""

    def as_sent(self, doer: str, scale: str) -> QueryDict:
        sent = super().as_sent(doer, scale)
        sent["number"] = self.sheet
        return sent


def _leg(cylinders: Sequence[Cylinder], scales: Sequence[Scale], units: Units) -> type[LineForm]:
    def gross(name: str) -> forms.Field:
        unit = unit_of_readings(scales, units)
        field = gross_field(name.capitalize(), what=f"gross mass {name}", required=False, default_unit=unit)
        field.from_scale, field.optional_words = False, ""
        return field

    stops = [(one, one) for one in BY_NAME["recovery"].field("stopped").choices]
    fields = {
        "what": forms.ChoiceField(label="What", choices=(NOTHING, *LEGS.items()), required=False),
        "cylinder": forms.ChoiceField(
            label="Cylinder",
            choices=[NOT_ENTERED, *((str(one.account.number), str(one)) for one in cylinders)],
            required=False,
        ),
        "before": gross("before"),
        "after": gross("after"),
        "stopped": forms.ChoiceField(
            label="Why recovery stopped", choices=[NOT_ENTERED, *stops], required=False, help_text="Of a recovery alone"
        ),
    }
    return type("OneLeg", (LegLine,), {**fields, "field_order": ["what", "at", *fields]})


def _part(making: Making) -> type[LineForm]:
    what = forms.ChoiceField(label="Out or in", choices=(NOTHING, *PARTS.items()), required=False)
    fields = {"what": what, **_fields(making, BY_NAME["part in"], PartLine.own)}
    return type("OnePart", (PartLine,), {**fields, "field_order": ["what", "at", *fields]})


def _step(making: Making, kind: str) -> type[LineForm]:
    fields = _fields(making, BY_NAME[kind], ON_PAPER[kind])
    more = {"kinds": {kind: BY_NAME[kind].done}, "own": ON_PAPER[kind], "field_order": ["at", *fields]}
    return type("OneStep", (LineForm,), {**fields, **more})


def _fields(making: Making, kind: StepKind, names: Sequence[str]) -> dict[str, forms.Field]:
    """Return fields of a step as a line has them: none is needed yet, and what is unlikely its own form asks about."""
    found = {}
    for name in names:
        field = found[name] = making.field(kind.field(name))
        field.required = False
        field.optional_words = ""  # type: ignore[attr-defined] # read by _field.html
        for reader in (field, getattr(field, "pressure", None)):
            if isinstance(reader, PressureField):
                reader.known.pop("plausible_pa", None)
    return found


@dataclass(frozen=True)
class Blank:
    """What the forms of a sheet are made for: the person, the visit, what is at hand there."""

    access: Access
    number: int
    making: Making
    cylinders: Sequence[Cylinder]
    scales: Sequence[Scale]

    def parts(self, sent: QueryDict | None) -> list[tuple[str, list[LineForm]]]:
        """Return the parts of the sheet, as they stand on the paper: the words of each with its lines."""
        leg, part = _leg(self.cylinders, self.scales, self.access.units), _part(self.making)
        note = type("OneNote", (NoteLine,), {"sheet": f"of visit {self.number}"})

        def lines(kind: type[LineForm], name: str, count: int = 1) -> list[LineForm]:
            return [kind(sent, access=self.access, prefix=f"{name}{n}") for n in range(count)]

        def step(kind: str) -> list[LineForm]:
            return lines(_step(self.making, kind), BY_NAME[kind].slug)

        return [
            ("Into and out of cylinders", lines(leg, "leg", LEG_LINES)),
            ("Pressure hold", step("pressure hold")),
            ("Vacuum", [*step("pulling vacuum"), *step("vacuum hold")]),
            ("Parts and oil", lines(part, "part", PART_LINES)),
            (
                "Standing pressure, leak search, notes",
                [*step("standing pressure"), *step("leak search"), *lines(note, "note")],
            ),
        ]
