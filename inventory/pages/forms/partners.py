"""The form of a partner."""

from typing import Any

from django import forms

from inventory.acts.partners import partners_like
from inventory.measure.marks import same
from inventory.models import Partner
from inventory.pages import links
from inventory.pages.fields.day import FIRST_YEAR, DayField
from inventory.pages.fields.named import Known, NamedField, ask_look_alike, refuse_same
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import choice, text

SISTER = "sister workshop"


class PartnerForm(PlainForm):
    """A supplier, reclaimer, destruction facility, customer or other party outside."""

    name = NamedField(label="Name", error_messages={"required": "Enter the name."})
    kind = choice("Kind", [(kind, kind) for kind in Partner.KINDS if kind != SISTER], radio=True)
    address = text("Address", required=False, long=True, help_text="It stands on the papers of what is sent there.")
    registration = text("Registration number", required=False)
    contact = text("Whom to ask there", required=False)
    lists_from = DayField(
        label="Their own list is asked for each quarter, from",
        required=False,
        help_text="What they delivered and took back, held against the book. Findings then ask for it.",
    )
    retired = forms.BooleanField(label="No longer used", required=False)

    def __init__(self, *args: Any, partner: Partner | None = None, kind: str = "", **options: Any) -> None:
        self.partner = partner
        names = ("name", "kind", "address", "registration", "contact", "lists_from", "retired")
        initial = {name: getattr(partner, name) for name in names} if partner else {"kind": kind}
        super().__init__(*args, initial=initial, **options)
        if partner is None:
            del self.fields["retired"]
        elif partner.kind == SISTER:
            del self.fields["kind"], self.fields["lists_from"]  # its own book says the same

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if len(name) > 120:
            raise forms.ValidationError("That name is longer than 120 characters. Shorten it.")
        return name

    def clean_lists_from(self) -> Any:
        day = self.cleaned_data["lists_from"]
        if day is not None and day.year < FIRST_YEAR:
            raise forms.ValidationError(f"The year {day.year} is before {FIRST_YEAR}. Look at its figures.")
        return day

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("name") and self.access is not None and self.access.book is not None:
            self._ask_about(cleaned["name"], cleaned.get("kind") or (self.partner.kind if self.partner else ""))
        return cleaned

    def _ask_about(self, name: str, kind: str) -> None:
        """Refuse the name of another partner of the same kind, and ask about one that looks or is like it."""
        if self.partner is not None and same(self.partner.name, name):
            return
        assert self.access is not None  # noqa: S101 - for the type
        found = partners_like(self.access.book, name, self.partner)
        twins, others = [one for one in found if one.kind == kind], [one for one in found if one.kind != kind]
        try:
            refuse_same(name, self._known(twins), "{} is in the book already. Open it, or give this one another name.")
            ask_look_alike(name, self._known([*twins, *others]), leads=True)
        except forms.ValidationError as stopped:
            self.add_error("name", stopped)

    def _known(self, partners: list[Partner]) -> list[Known]:
        access = self.access
        assert access is not None  # noqa: S101 - for the type
        return [Known(one.name, one.kind, links.address(access, "partner", one.account.number)) for one in partners]
