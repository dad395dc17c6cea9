"""The form of a bay sheet: rows of what was written by hand, each turned into the form of its ordinary step."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import uuid4

from django import forms
from django.http import QueryDict

from inventory.models import Cylinder
from inventory.pages.fields.scale import ScaleField
from inventory.pages.fields.when import WhenField
from inventory.pages.forms.act import PlainForm
from shop.pages.forms.stepfields import NOT_ENTERED, Making, PersonField
from shop.visits.kinds import BY_NAME

LEGS = {"recovery": "recovered into", "charge": "charged from"}
PARTS = {"part out": "part out", "part in": "part in"}
VACUUMS = {"pulling vacuum": "vacuum pulled, lowest reading after"}
WHAT = (("", "nothing"), *LEGS.items(), *PARTS.items(), *VACUUMS.items())
ROWS = 6
UNSAID = {"required": "Say who did it."}
BESIDE = {
    "lowest": "after",
    "oil_found": "oil",
    "oil_in": "oil",
    "occurred_at": "at",
}  # steps' fields


class SheetForm(PlainForm):
    """What holds for the whole sheet: who did it, and on which scale."""

    def __init__(self, *args: Any, making: Making, scales: Sequence[Any], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["doer"] = PersonField(making.people, label="Done by", error_messages=UNSAID)
        self.fields["scale"] = ScaleField(scales, required=False)


class RowForm(PlainForm):
    """One line of the sheet; empty where nothing was chosen. `key` makes it one entry, `seen` is what was read back."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    what = forms.ChoiceField(label="What", choices=WHAT, required=False)
    at = WhenField(label="When, by the sheet", optional_words="")
    cylinder = forms.ChoiceField(label="Cylinder", required=False)
    before = forms.CharField(label="Before", required=False, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    after = forms.CharField(label="After", required=False, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    stopped = forms.ChoiceField(label="Why recovery stopped", required=False)
    part = forms.CharField(label="Part", required=False, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    oil = forms.CharField(
        label="Oil found in it, or put in", required=False, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )

    def __init__(self, *args: Any, cylinders: Sequence[Cylinder], **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial.setdefault("key", uuid4())
        self.fields["cylinder"].choices = [NOT_ENTERED, *((str(c.account.number), str(c)) for c in cylinders)]  # type: ignore[attr-defined]
        stops = BY_NAME["recovery"].field("stopped").choices
        self.fields["stopped"].choices = [NOT_ENTERED, *((one, one) for one in stops)]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not cleaned.get("what"):
            if any(cleaned.get(name) for name in ("at", "before", "after", "part", "oil")):
                self.add_error("what", "Say what this line of the sheet is.")
            return cleaned
        if not cleaned.get("at") and "at" not in self.errors:
            self.add_error("at", "Enter the time that stands on the sheet.")
        if cleaned["what"] in LEGS and not cleaned.get("cylinder"):
            self.add_error("cylinder", "Choose the cylinder.")
        return cleaned

    @property
    def is_empty(self) -> bool:
        """Whether nothing stands in this line; only of a form that is valid."""
        return not self.cleaned_data["what"]

    @property
    def at_time(self) -> datetime:
        """When it happened; only of a line that is valid and not empty."""
        at: datetime = self.cleaned_data["at"]
        return at

    def as_sent(self, doer: str, scale: str) -> QueryDict:
        """Return what the ordinary form of the step would have been sent for this line."""
        typed = self.cleaned_data
        sent = QueryDict(mutable=True)
        sent.update({"key": str(typed["key"]), "occurred_at": typed["at"].isoformat(), "doer": doer, "scale": scale})
        sent.update({name: typed[name] for name in ("before", "after") if typed["what"] in LEGS})
        if typed["what"] == "recovery":
            sent["stopped"] = typed["stopped"]
        if typed["what"] in PARTS:
            sent.update({"part": typed["part"], "oil_found" if typed["what"] == "part out" else "oil_in": typed["oil"]})
        if typed["what"] in VACUUMS:
            sent["lowest"] = typed["after"]
        return sent
