"""Forms of lines of the book: a reversal, an explanation, an old reading put right, a year closed."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.book.weighing import Gross
from inventory.measure.displays import small
from inventory.models import Account, Cylinder, Movement, Weighing
from inventory.models.access import Access
from inventory.pages.fields.day import DayField
from inventory.pages.fields.quantity import MassField
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.parts import CHOOSE, choice, set_choices, text
from inventory.pages.forms.weighing import reading_of
from inventory.shelf.plausible import Expected

EXPLANATIONS = {
    "loss-explained": "it went into the air: a leak found, a valve seen open",
    "late-charge": "it was charged into a vehicle, and nobody wrote it down",
    "late-recovery": "it was recovered from a vehicle, and nobody wrote it down",
}


class ReverseForm(BookForm):
    """A mistake is answered: a reason, and both lines stay."""

    reason = text("Why it is wrong", what="reason", long=True)
    occurred_at = None  # type: ignore[assignment] # a reversal happens when it is written


class ExplainForm(BookForm):
    """What became of a weighing difference."""

    difference = choice("Which difference", (), radio=True)
    cause = choice("What became of it", (), radio=True, what="explanation")
    mass = MassField(
        label="How much of it", what="mass", required=False, help_text="Left empty, all that is open of it."
    )
    vehicle = choice("Which vehicle", (), required=False)
    reason = text("Who found it, and how it is known", what="reason", long=True)

    def __init__(self, *args: Any, access: Access, differences: Sequence[tuple[Movement, int]], **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.differences = {str(movement.line): (movement, open_mg) for movement, open_mg in differences}
        words = [
            (
                number,
                f"{small(abs(open_mg), access.units.mass)} {'missing from' if open_mg > 0 else 'more in'} "
                f"{movement.source if open_mg > 0 else movement.target}",
            )
            for number, (movement, open_mg) in self.differences.items()
        ]
        set_choices(self, "difference", words)
        if len(words) == 1:
            self.initial["difference"] = words[0][0]
        missing = any(open_mg > 0 for _, open_mg in differences)
        found = any(open_mg < 0 for _, open_mg in differences)
        wanted = (*(("loss-explained", "late-charge") if missing else ()), *(("late-recovery",) if found else ()))
        set_choices(self, "cause", [(name, EXPLANATIONS[name]) for name in wanted])
        vehicles = Account.objects.filter(book=access.book, kind="vehicle", joined_to=None).order_by("label", "number")
        self.vehicles = {str(one.number): one for one in vehicles}
        set_choices(self, "vehicle", [CHOOSE, *((number, str(one)) for number, one in self.vehicles.items())])
        self.fields["vehicle"].created_by = "vehicle"  # type: ignore[attr-defined] # see inventory.pages.comeback

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        late = cleaned.get("cause") in ("late-charge", "late-recovery")
        if late and not cleaned.get("vehicle") and "vehicle" not in self.errors:
            self.add_error("vehicle", "Choose the vehicle. One that is not in the book yet is entered first.")
        return cleaned

    @property
    def chosen(self) -> tuple[Movement, int]:
        """The difference and what is open of it; only of a form that is valid."""
        return self.differences[self.cleaned_data["difference"]]

    @property
    def mass_mg(self) -> int:
        """How much is explained, in milligrams."""
        mass = self.cleaned_data.get("mass")
        return abs(self.chosen[1]) if mass is None else int(mass.mg)

    @property
    def chosen_vehicle(self) -> Account | None:
        """The vehicle's account, where one is needed."""
        needed = self.cleaned_data["cause"] != "loss-explained"
        return self.vehicles.get(self.cleaned_data.get("vehicle", "")) if needed else None


class CorrectForm(BookForm):
    """An old reading after a charge or a recovery, as it should have been written."""

    gross = MassField(label="The reading should have been", what="gross mass")
    reason = text("How it is known", what="reason", long=True, help_text="A photo of the scale, a paper sheet.")
    occurred_at = None  # type: ignore[assignment] # it counts for when the line happened

    def __init__(self, *args: Any, access: Access, cylinder: Cylinder, old: Weighing, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.cylinder, self.old = cylinder, old

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.reading: Gross | None = reading_of(self, "gross", self.cylinder, self.old.scale, Expected(alone=True))
        return cleaned


class CloseForm(BookForm):
    """The book is closed through a day."""

    through = DayField(label="Close through", error_messages={"required": "Enter the last day that is closed."})
    understood = forms.BooleanField(
        label="I have looked at the list above, and know that this cannot be undone",
        error_messages={"required": "Say that you know that this cannot be undone."},
    )
    occurred_at = None  # type: ignore[assignment] # a closing happens when it is written

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial.setdefault("through", date(timezone.localdate().year - 1, 12, 31))

    def clean_through(self) -> date:
        day: date = self.cleaned_data["through"]
        if day >= timezone.localdate():
            raise ValidationError(
                f"{self.units.day_said(day)} is not over yet: a book is closed through a day that has passed."
            )
        return day
