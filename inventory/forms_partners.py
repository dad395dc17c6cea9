"""The form of a partner."""

from typing import Any

from django import forms

from inventory.forms import PlainForm
from inventory.forms_cylinders import choice, text
from inventory.models import Partner

SISTER = "sister workshop"


class PartnerForm(PlainForm):
    """A supplier, reclaimer, destruction facility, customer or other party outside."""

    name = text("Name")
    kind = choice("Kind", [(kind, kind) for kind in Partner.KINDS if kind != SISTER], radio=True)
    address = text("Address", required=False, long=True, help_text="It stands on the papers of what is sent there.")
    registration = text("Registration number", required=False)
    contact = text("Whom to ask there", required=False)
    retired = forms.BooleanField(label="No longer used", required=False)

    def __init__(self, *args: Any, partner: Partner | None = None, **options: Any) -> None:
        names = ("name", "kind", "address", "registration", "contact", "retired")
        initial = {name: getattr(partner, name) for name in names} if partner else {}
        super().__init__(*args, initial=initial, **options)
        if partner is None:
            del self.fields["retired"]
        elif partner.kind == SISTER:
            del self.fields["kind"]

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if len(name) > 120:
            raise forms.ValidationError("That name is longer than 120 characters. Shorten it.")
        return name
