"""A form field for what a thing is called: a plate, a serial, a name. What may be another's is asked about.

What is the same as in the book but for case, spaces and signs is the same thing, and the form leads there. What could
be misread for it (0 and O) is a question with a button for that one, and one for "No, it is another".
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.utils.datastructures import MultiValueDict
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.measure.marks import same
from inventory.pages.fields.sent import INSISTED, Choice, QuantityBoundField

MOST_OFFERED = 4


class Said(str):
    """A name as it was typed or chosen; `insisted` where the person was asked and said that it is another."""

    insisted = False

    @classmethod
    def of(cls, text: str, insisted: bool = False) -> "Said":
        """Return the text with what was answered."""
        said = cls(text)
        said.insisted = insisted
        return said


@dataclass(frozen=True)
class Known:
    """Something in the book: its name, what is said of it ("last seen 2026-03-04") and its page."""

    name: str
    words: str = ""
    href: str = ""

    def __str__(self) -> str:
        return f"{self.name} ({self.words})" if self.words else self.name


class NamedInput(forms.TextInput):
    """A text input that knows the answer to a question, sent as ``x_reading``, and keeps it as ``x_sure``."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"autocomplete": "off", **(attrs or {})})

    def value_from_datadict(self, data: Mapping[str, Any], files: MultiValueDict[str, Any], name: str) -> Said:
        text, answer = str(data.get(name) or ""), str(data.get(f"{name}_reading") or "")
        if answer:
            return Said.of(answer.removeprefix(INSISTED), answer.startswith(INSISTED))
        return Said.of(text, bool(text) and data.get(f"{name}_sure") == text)

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        shown = super().render(name, value, attrs, renderer)
        if not getattr(value, "insisted", False):
            return shown
        return format_html('{}<input type="hidden" name="{}_sure" value="{}">', shown, name, value)


class NamedField(forms.CharField):
    """What a thing is called; the cleaned value is a `Said`, its spaces single."""

    def __init__(self, *, attrs: dict[str, Any] | None = None, **options: Any) -> None:
        super().__init__(widget=NamedInput(attrs), **options)

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> BoundField:
        return QuantityBoundField(form, self, field_name)

    def clean(self, value: Any) -> Said:
        text = super().clean(value)
        return Said.of(" ".join(text.split()), getattr(value, "insisted", False))


def refuse_same(said: str, known: Iterable[Known], words: str) -> None:
    """Refuse a name that something in the book has, with a link there; `words` is the sentence, with a place for it."""
    for one in known:
        if same(one.name, said):
            raise _stopped(words.format(one.name), "there", [Choice("", f"Open {one}", one.href)] if one.href else [])


def ask_look_alike(said: str, known: Iterable[Known], *, leads: bool = False) -> None:
    """Ask about a name that may be a misreading of another, once; with `leads` the other's button is a link."""
    others = [one for one in known if not same(one.name, said)][:MOST_OFFERED]
    if not others or getattr(said, "insisted", False):
        return
    choices = [Choice(one.name, f"Yes, {one.name}", one.href if leads else "") for one in others]
    choices.append(Choice(f"{INSISTED}{said}", "No, it is another"))
    raise _stopped(f"Did you mean {' or '.join(map(str, others))}?", "doubt", choices)


def _stopped(sentence: str, code: str, choices: list[Choice]) -> ValidationError:
    return ValidationError(sentence.replace("%", "%%"), code=code, params={"choices": choices})
