"""What is asked to make a link for a reader."""

from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from compliance.models import Document, ReaderLink
from compliance.readers.links import Wanted
from inventory.gases.potentials import GWP_BASES
from inventory.pages.fields.day import DayField
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.parts import choice, set_choices, text
from shop.models import Vehicle, Workshop

WEEKS = 2  # how long a link lasts unless another day is chosen


class LinkForm(BookForm):
    """What a link shows, to whom and until when."""

    kind = choice(
        "It shows",
        [
            (ReaderLink.STATEMENT, "one statement"),
            (ReaderLink.VEHICLE, "one vehicle: its visits, what came out and went in, its documents"),
            (ReaderLink.DOCUMENTS, "documents that were issued"),
        ],
        radio=True,
        what="thing that the link shows",
    )
    first = DayField(label="Statement from", required=False)
    last = DayField(label="Statement to", required=False)
    basis = choice("Basis of its CO2 equivalents", [(one, one) for one in GWP_BASES], required=False)
    vehicle = choice("Vehicle", [], required=False)
    documents = forms.TypedMultipleChoiceField(
        label="Documents", coerce=int, required=False, widget=forms.CheckboxSelectMultiple
    )
    for_whom = text("For whom", what="name or office that the link is for", max_length=120)
    until = DayField(label="Until the end of")
    occurred_at = None  # type: ignore[assignment] # a link is made when it is made

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        self.workshop = workshop
        super().__init__(*args, **options)
        today = timezone.localdate()
        self.initial.setdefault("until", today + timedelta(weeks=WEEKS))
        self.initial.setdefault("basis", workshop.gwp_basis)
        self.initial.setdefault("first", date(today.year - 1, 1, 1))
        self.initial.setdefault("last", date(today.year - 1, 12, 31))
        own = Vehicle.objects.filter(account__book=workshop.book, account__joined_to=None)
        vehicles = own.select_related("account")
        set_choices(
            self,
            "vehicle",
            [("", "none"), *((str(one.account.number), str(one)) for one in vehicles.select_related("account"))],
        )
        issued = Document.objects.filter(workshop=workshop).defer("file", "content").order_by("-number")
        set_choices(self, "documents", [(one.number, f"no. {one.number}, {one.title}") for one in issued])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        kind = cleaned.get("kind")
        first, last = cleaned.get("first"), cleaned.get("last")
        if kind == ReaderLink.STATEMENT and not (first and last):
            self.add_error("first", "Enter the first and the last day of the statement.")
        elif kind == ReaderLink.STATEMENT and first and last and last < first:
            self.add_error("last", "The statement ends before it begins.")
        if kind == ReaderLink.VEHICLE and not cleaned.get("vehicle"):
            self.add_error("vehicle", "Choose the vehicle that the link shows.")
        if kind == ReaderLink.DOCUMENTS and not cleaned.get("documents"):
            self.add_error("documents", "Choose the documents that the link shows.")
        return cleaned

    def clean_until(self) -> date:
        day: date = self.cleaned_data["until"]
        if day < timezone.localdate():
            raise ValidationError(f"{day} has passed. A link ends today or later.")
        return day

    @property
    def wanted(self) -> Wanted:
        """What the link is to show; only of a form that is valid."""
        cleaned = self.cleaned_data
        if cleaned["kind"] == ReaderLink.STATEMENT:
            basis = cleaned.get("basis") or self.workshop.gwp_basis
            return Wanted(cleaned["kind"], f"period:{cleaned['first']}:{cleaned['last']}:{basis}")
        if cleaned["kind"] == ReaderLink.VEHICLE:
            return Wanted(cleaned["kind"], f"vehicle:{cleaned['vehicle']}")
        chosen = Document.objects.filter(workshop=self.workshop, number__in=cleaned["documents"]).defer("file")
        return Wanted(cleaned["kind"], "", tuple(chosen))

    @property
    def ends_at(self) -> datetime:
        """The end of the chosen day in the workshop's zone."""
        last_moment = datetime.combine(self.cleaned_data["until"], time(23, 59, 59))
        return last_moment.replace(tzinfo=timezone.get_current_timezone())
