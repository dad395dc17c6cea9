"""Forms of a cylinder that goes away or comes back, and of what the receiver accepted."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.measure.slips import within
from inventory.models import Book, Cylinder, Partner
from inventory.models.access import Access
from inventory.pages.fields.day import DayField
from inventory.pages.fields.quantity import MassField, TemperatureField
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.cylinders import GrossForm
from inventory.pages.forms.partners import SISTER
from inventory.pages.forms.parts import CHOOSE, choice, partner_choices, partners_of, set_choices, text
from inventory.pages.forms.slips import ask
from inventory.shelf.plausible import Expected

PURPOSES = {
    "reclaim": ("sent-away", "to be reclaimed"),
    "destruction": ("sent-away", "to be destroyed"),
    "return to supplier": ("heel-returned", "back to the supplier, with what is in it"),
    "sale": ("passed-on", "sold"),
    "other": ("passed-on", "given to another owner"),
}


class WithPartner(GrossForm):
    """A cylinder goes to a partner, or comes back from one."""

    partners: dict[str, Partner]

    @property
    def chosen_partner(self) -> Partner:
        """The partner; only of a form that is valid."""
        return self.partners[self.cleaned_data["partner"]]


class SendForm(WithPartner):
    """A cylinder goes away with all it holds."""

    partner = choice("To whom", (), what="partner it goes to")
    purpose = choice("What for", [(name, words) for name, (_, words) in PURPOSES.items()], radio=True, what="purpose")
    number = text("Number of the consignment", required=False, help_text="Left empty, it takes the line’s number.")
    paper_number = text("Number of the papers", required=False)
    temperature = TemperatureField(
        label="Temperature of the cylinder",
        what="temperature",
        required=False,
        help_text="With it the page says how much of the heel (what stays in an emptied cylinder) is vapour alone.",
    )
    note = text("Note", required=False, long=True)
    field_order = ["partner", "purpose", "scale", "gross", "number", "paper_number", "temperature", "note"]

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.partners = {str(one.account.number): one for one in partners_of(access.book)}
        here = [one for one in self.partners.values() if one.kind != SISTER]
        set_choices(self, "partner", partner_choices(here))
        self.fields["partner"].created_by = "partner"  # type: ignore[attr-defined] # see inventory.pages.comeback


class ChooseForm(forms.Form):
    """Which cylinder goes away."""

    cylinder = choice("Which cylinder goes", (), what="cylinder")

    def __init__(self, *args: Any, cylinders: Iterable[Cylinder], **options: Any) -> None:
        super().__init__(*args, **options)
        words = [(str(one.account.number), f"{one}, {one.refrigerant} {one.grade}") for one in cylinders]
        set_choices(self, "cylinder", [CHOOSE, *words])
        self.fields["cylinder"].scanned = "one"  # type: ignore[attr-defined] # for the button that scans


class BackForm(WithPartner):
    """A cylinder comes back."""

    expected = Expected(alone=True)  # it was filled elsewhere, or not at all

    partner = choice("From whom", (), what="partner it comes from")
    cause = choice(
        "What comes back",
        [("came-back", "what was sent: refused or not taken"), ("returned-reclaimed", "own gas, reclaimed")],
        radio=True,
        initial="came-back",
        what="kind of return",
    )
    paper_number = text("Number of the papers", required=False)
    note = text("Note", required=False, long=True)
    field_order = ["partner", "cause", "scale", "gross", "paper_number", "note"]

    def __init__(self, *args: Any, access: Access, last: Partner | None, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.partners = {str(one.account.number): one for one in partners_of(access.book)}
        if last is not None:
            self.partners.setdefault(str(last.account.number), last)
            self.initial["partner"] = str(last.account.number)
        set_choices(self, "partner", partner_choices(self.partners.values()))


class SisterForm(GrossForm):
    """A cylinder moves to another workshop of the same person."""

    to = choice("To", (), what="workshop it goes to")
    note = text("Note", required=False, long=True)
    field_order = ["to", "scale", "gross", "note"]

    def __init__(self, *args: Any, books: Sequence[Book], **options: Any) -> None:
        super().__init__(*args, **options)
        self.books = {str(book.uid): book for book in books}
        set_choices(self, "to", [CHOOSE, *((uid, book.name) for uid, book in self.books.items())])

    @property
    def sister(self) -> Book:
        """The book it goes to; only of a form that is valid."""
        return self.books[self.cleaned_data["to"]]


class AcceptForm(PlainForm):
    """What the receiver's paper says of a consignment; it is noted beside it and moves nothing."""

    accepted = MassField(label="Refrigerant accepted", what="mass accepted")
    oil = MassField(
        label="Oil in it", what="mass of oil", units=("g", "kg", "oz", "lb"), default_unit="g", required=False
    )
    accepted_on = DayField(label="Day of the paper", error_messages={"required": "Enter the day of the paper."})
    paper_number = text("Number of the receiver’s paper", required=False, help_text="Kept beside the number of ours.")

    def __init__(self, *args: Any, access: Access, sent_mg: int, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.sent_mg = sent_mg

    def clean(self) -> dict[str, Any]:
        """Ask about a mass that is far from what was sent: oil and heel explain less, and nothing much more."""
        cleaned = super().clean() or self.cleaned_data
        accepted = cleaned.get("accepted")
        if accepted is not None and not self.sent_mg / 2 <= accepted.mg <= 1.1 * self.sent_mg:
            said, sent = (self.units.mass_said(mg) for mg in (accepted.mg, self.sent_mg))
            question = f"{sent} was sent by weighing, and {said} accepted? Enter the refrigerant alone, not the gross."
            ask(self, "accepted", question, likely=within(self.sent_mg / 2e6, 1.1 * self.sent_mg / 1e6))
        return cleaned

    def clean_accepted_on(self) -> date:
        day: date = self.cleaned_data["accepted_on"]
        if day > timezone.localdate():
            raise ValidationError("That day is still to come.")
        return day
