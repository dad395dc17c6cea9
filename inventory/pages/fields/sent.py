"""What came in for one quantity, and the readings that are offered where it is in doubt."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.forms.boundfield import BoundField

from inventory.measure.displays import POUNDS_AND_OUNCES

INSISTED = "="  # stands before an answer that keeps an unlikely value


@dataclass(frozen=True)
class Sent:
    """What came in for one quantity: text, unit choice, "below zero" and the answer to a question."""

    text: str = ""
    unit: str = ""
    below: bool = False
    reading: str = ""
    sure: str = ""
    raw: str = ""  # what a scale sent by wire

    @classmethod
    def of(cls, data: Mapping[str, Any], name: str) -> "Sent":
        """Return what came in under `name`, in a form or in an address."""

        def part(end: str) -> str:
            return str(data.get(f"{name}{end}", "") or "")

        said = part("_reading"), part("_sure"), part("_raw")
        text = _with_ounces(part(""), part("_oz")) if part("_unit") == POUNDS_AND_OUNCES else part("")
        return cls(text, part("_unit"), bool(part("_below")), *said)

    def named(self, name: str) -> dict[str, str]:
        """Return what was typed as it comes in under `name`, so that an address can carry it to another page."""
        parts = {name: self.text, f"{name}_unit": self.unit, f"{name}_raw": self.raw}
        return {part: value for part, value in parts.items() if value}

    @property
    def insisted(self) -> bool:
        """Whether the person was asked about an unlikely value, said that it is so, and left it."""
        return self.reading.startswith(INSISTED) or (not self.reading and bool(self.sure) and self.sure == self.text)

    @property
    def said(self) -> str:
        """The text that is read: the answer if a question was answered, else the text with its sign."""
        if self.reading:
            return self.reading.removeprefix(INSISTED)
        text = self.text.strip()
        if self.below and text and not text.startswith(("-", "\N{MINUS SIGN}")):
            text = f"-{text}"
        return text


def _with_ounces(text: str, ounces: str) -> str:
    """Return what two inputs say, of a form that a phone has kept from when the ounces had one of their own."""
    text, ounces = text.strip(), ounces.strip()
    if not ounces or not re.fullmatch(r"[\d.,]*", text):
        return text
    return f"{text} lb {ounces} oz" if text else f"{ounces} oz"


@dataclass(frozen=True)
class Choice:
    """One reading of a text that has several: what a button sends and what it says; with `href` it is a link."""

    text: str
    words: str
    href: str = ""


class QuantityBoundField(BoundField):
    """A field on a page that knows the readings of a doubtful text."""

    @property
    def doubts(self) -> list[Choice]:
        """The readings offered as buttons, where the text has more than one."""
        found = self.form.errors.as_data().get(self.name, [])
        return [choice for error in found if error.params for choice in error.params.get("choices", ())]
