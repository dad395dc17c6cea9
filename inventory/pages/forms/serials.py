"""The number of a cylinder in a form: that of one in use is refused with a link, and what looks like one is asked."""

from uuid import UUID

from inventory.acts.describing import cylinders_like
from inventory.measure.marks import same
from inventory.models import Cylinder, Entry
from inventory.pages import links
from inventory.pages.fields.named import Known, NamedField, ask_look_alike, refuse_same
from inventory.pages.forms.act import PlainForm

STATE_SAID = {"away": "away; enter there that it came back", "put aside": "put aside"}


def serial_field() -> NamedField:
    """Return the field; its form judges the number by `serial_of_no_other`."""
    return NamedField(label="Number on it", error_messages={"required": "Enter the number on the cylinder."})


def serial_of_no_other(form: PlainForm, own: Cylinder | None = None) -> str:
    """Return the number that was entered, where no other cylinder in use has it; ask about a look-alike."""
    said, access = form.cleaned_data["serial"], form.access
    assert access is not None  # noqa: S101 - for the type
    if (own is not None and same(own.serial, said)) or _was_written(form):
        return str(said)
    others = [
        Known(one.serial, STATE_SAID.get(one.state, "here"), links.address(access, "cylinder", one.account.number))
        for one in cylinders_like(access.book, said, own)
    ]
    refuse_same(said, others, "A cylinder numbered {} is on the shelf already. Open it, or check the number.")
    ask_look_alike(said, others, leads=True)
    return str(said)


def _was_written(form: PlainForm) -> bool:
    """Whether this very form was written before: its number is then its own."""
    key = form.cleaned_data.get("key")
    assert form.access is not None  # noqa: S101 - for the type
    return isinstance(key, UUID) and Entry.objects.filter(book=form.access.book, request_key=key).exists()
