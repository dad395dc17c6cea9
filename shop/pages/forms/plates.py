"""The plate by which a visit starts: the vehicle that is meant, one that may be meant, or a new one; and what is
said of vehicles that may be meant.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.measure.marks import same
from inventory.models import Book
from inventory.models.access import Access
from inventory.pages import links
from inventory.pages.fields.named import Known, NamedField, ask_look_alike
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.joining import JoinForm
from shop.models import Vehicle
from shop.people import identity

LONGEST_PLATE = 20


def plate_field() -> forms.Field:
    """Return the field; what is not in the book yet is added."""
    return NamedField(
        label="Plate",
        help_text="One that is not in the book yet is added.",
        error_messages={"required": "Enter the plate, or what the vehicle is known by."},
        attrs={"list": "plates", "autocapitalize": "characters"},
    )


def judged(form: BookForm, book: Book, plate: str) -> bool:
    """Whether a visit may start by this plate; asks where it may be a misreading of one in the book."""
    if len(plate) > LONGEST_PLATE:
        form.add_error("registration", f"{len(plate)} characters are more than a plate has (20). Shorten it.")
        return False
    found = identity.vehicles_like(book, plate)
    if found and same(found[0].registration, plate):
        return True
    assert form.access is not None  # noqa: S101 - for the type
    try:
        ask_look_alike(plate, known(form.access, found))
    except ValidationError as asked:
        form.add_error("registration", asked)
    return not form.errors


def known(access: Access, found: Iterable[Vehicle], *, by: str = "registration") -> list[Known]:
    """Return what a form says of vehicles that may be meant: the plate or number, when last seen, and the page."""
    return [
        Known(
            getattr(one, by), _last_seen(one, by), links.address(access, "vehicle", identity.kept(one).account.number)
        )
        for one in found
    ]


def _last_seen(vehicle: Vehicle, by: str) -> str:
    seen_at = getattr(vehicle, "seen_at", None)
    when = f"last seen {timezone.localtime(seen_at).date().isoformat()}" if seen_at else "not here in a visit yet"
    return when if by == "registration" else f"{vehicle.registration}, {when}"


class JoinVehicleForm(JoinForm):
    """Under which vehicle this one goes on: one that looks like it, or another by its plate."""

    plate = NamedField(label="Or the plate of another", required=False)

    def __init__(self, *args: Any, vehicle: Vehicle, likely: Mapping[int, Vehicle], **options: Any) -> None:
        self.vehicle, self.likely = vehicle, likely
        others = [(number, " ".join(filter(None, (f"{one},", one.make_model)))) for number, one in likely.items()]
        super().__init__(*args, others=[(number, words.rstrip(",")) for number, words in others], **options)
        self.fields["kept"].required = False
        if not likely:
            del self.fields["kept"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        plate, chosen = cleaned.get("plate"), cleaned.get("kept")
        if not plate and not chosen:
            self.add_error("plate", "Enter the plate of the record that is kept.")
        elif plate and not chosen:
            found = identity.vehicle_meant(self.vehicle.account.book, plate)
            if found is None or found.pk == self.vehicle.pk:
                self.add_error("plate", f"No other vehicle in the book has the plate {plate}.")
            cleaned["vehicle"] = found
        elif chosen:
            cleaned["vehicle"] = self.likely[int(chosen)]
        return cleaned
