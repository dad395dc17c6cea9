"""The plate by which a visit starts: the vehicle that is meant, one that may be meant, or a new one."""

from django import forms
from django.core.exceptions import ValidationError

from inventory.fields_named import NamedField, ask_look_alike
from inventory.forms import BookForm
from inventory.marks import same
from inventory.models import Book
from shop import identity

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
        ask_look_alike(plate, identity.known(form.access, found))
    except ValidationError as asked:
        form.add_error("registration", asked)
    return not form.errors
