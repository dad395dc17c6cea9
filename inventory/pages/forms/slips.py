"""Refusals and questions beside a quantity, with what was probably meant as buttons.

Two functions for the ``clean`` of any form, or for a view after it, for values that only the whole form or the book
can judge. `refuse` is for what cannot be; `ask` for what is unlikely and may be insisted on::

    refuse(self, "gross", "83.55 kg is more than ...", possible=within(7.2, 19.9))
    ask(self, "charge", "9.5 kg is more than ...", likely=within(0.2, 2.5))

What was typed stays. A proposal's button sends the text as the answer to the question (``x_reading``), which is then
judged like any other; the last button of `ask` sends it as insisted on, after which `ask` adds nothing.
"""

from django import forms
from django.core.exceptions import ValidationError

from inventory.measure.masses import written_out
from inventory.measure.slips import Check, proposals
from inventory.pages.fields.quantity import QuantityField
from inventory.pages.fields.sent import INSISTED, Choice, Sent


def sent_of(form: forms.BaseForm, name: str) -> Sent:
    """Return what came in for the quantity in field `name`."""
    field = form.fields[name]
    assert isinstance(field, QuantityField)  # noqa: S101 - for the type
    sent: Sent = field.widget.value_from_datadict(form.data, form.files, form.add_prefix(name))
    return sent


def as_typed(form: forms.BaseForm, name: str) -> str:
    """Return the text as typed, with the unit chosen beside it where it has none."""
    field, sent = form.fields[name], sent_of(form, name)
    assert isinstance(field, QuantityField)  # noqa: S101 - for the type
    return sent.said if any(char.isalpha() for char in sent.said) else written_out(sent.said, field.unit_of(sent))


def refuse(form: forms.BaseForm, name: str, sentence: str, *, possible: Check, likely: Check | None = None) -> None:
    """Refuse the value in field `name` with a sentence, proposing the slips that would make it one that can be."""
    choices = slip_choices(form, name, possible=possible, likely=likely)
    form.add_error(name, ValidationError(sentence, code="cannot", params={"choices": choices}))


def ask(
    form: forms.BaseForm,
    name: str,
    sentence: str,
    *,
    possible: Check | None = None,
    likely: Check | None = None,
    first: tuple[str, ...] = (),
) -> bool:
    """Ask about the value in field `name`; return whether it was asked, which it is not once insisted on.

    Buttons: the texts in `first`, then the slips that would make it likely, then "It does read ...".
    """
    if sent_of(form, name).insisted:
        return False
    check = possible or likely
    slips = [] if check is None else slip_choices(form, name, possible=check, likely=likely)
    said = as_typed(form, name)
    choices = [*(Choice(one, one) for one in first), *slips, Choice(f"{INSISTED}{said}", f"It does read {said}")]
    form.add_error(name, ValidationError(sentence, code="doubt", params={"choices": choices}))
    return True


def slip_choices(form: forms.BaseForm, name: str, *, possible: Check, likely: Check | None = None) -> list[Choice]:
    """Return a button for each slip that would make the value in field `name` one that can be."""
    field = form.fields[name]
    assert isinstance(field, QuantityField)  # noqa: S101 - for the type
    sent = sent_of(form, name)
    found = proposals(
        sent.said, field.unit_of(sent), field.kind_name, possible, likely=likely, known=field.slip_knowledge
    )
    return [Choice(one.text, one.words) for one in found]
