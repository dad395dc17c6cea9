"""The form of one round of the floor."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from inventory.models import Cylinder
from inventory.models.access import Access
from inventory.pages.forms.act import BookForm, echo_url
from inventory.pages.forms.parts import text
from inventory.pages.forms.weighing import (
    ScaleField,
    gross_field,
    reading_of,
    scale_field,
    scales_of,
    unit_of_readings,
)


@dataclass(frozen=True)
class Row:
    """One cylinder in a round of the floor."""

    cylinder: Cylinder
    words: str


class StockTakeForm(BookForm):
    """One round of the floor: a reading for each cylinder that was weighed; those left empty were not."""

    scale = ScaleField(())
    note = text("Note", required=False, long=True, help_text="Who was there, say.")

    def __init__(self, *args: Any, access: Access, rows: Sequence[Row], **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.fields["scale"] = scale_field(access)
        unit = unit_of_readings(scales_of(access.book), access.mass_unit)
        self.rows = {f"gross_{row.cylinder.account.number}": row for row in rows}
        for name, row in self.rows.items():
            what = f"gross mass of {row.cylinder}"
            field = gross_field(unit, f"{row.cylinder}", what=what, required=False)
            field.help_text, field.optional_words = row.words, "left empty: not weighed"
            field.echo_url = echo_url(access)
            self.fields[name] = field
        self.order_fields(["scale", *self.rows, "note", "occurred_at"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        scale = cleaned.get("scale")
        read = {name: reading_of(self, name, row.cylinder, scale) for name, row in self.rows.items()}
        self.readings = {name: gross for name, gross in read.items() if gross is not None}
        if not self.readings and not self.errors:
            self.add_error(None, "No cylinder was weighed. Enter at least one reading.")
        return cleaned
