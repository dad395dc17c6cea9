"""Forms of acts on cylinders: by a reading, a pair of them, all that one held, or one round of the floor."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.utils.functional import cached_property

from inventory.book import weighing
from inventory.book.holdings import Content
from inventory.book.ledger import Act
from inventory.book.weighing import Gross
from inventory.models import Cylinder
from inventory.models.access import Access
from inventory.pages.fields.quantity import MassField
from inventory.pages.fields.scale import ScaleField, begin_as_scale_shows
from inventory.pages.forms.act import BookForm, echo_url
from inventory.pages.forms.parts import CHOOSE, choice, set_choices, text
from inventory.pages.forms.weighing import (
    NOTHING_KNOWN,
    gross_field,
    reading_of,
    scale_field,
)
from inventory.shelf.plausible import Expected
from inventory.shelf.queries import content_of


class OnCylinder(BookForm):
    """An act on one cylinder; where it has a scale, the field offers the book's."""

    expected = NOTHING_KNOWN  # of its readings

    def __init__(self, *args: Any, cylinder: Cylinder, access: Access, **options: Any) -> None:
        self.cylinder, self.of = cylinder, access
        super().__init__(*args, access=access, **options)
        if "scale" in self.fields:
            self.fields["scale"] = scale_field(access, required=self.fields["scale"].required)
        begin_as_scale_shows(self, access.units)
        self.readings: dict[str, Gross] = {}

    @cached_property
    def content(self) -> Content | None:
        """What the cylinder holds by the book: refrigerant, grade and milligrams; None where nothing."""
        return content_of(self.cylinder.account)

    def act_on_it(self, remark: str = "note") -> Act:
        """Return the act, which belongs to this cylinder; the text of the field `remark` is kept with it."""
        context = f"cylinder:{self.cylinder.account.number}"
        return self.act(self.of, context=context, remark=self.cleaned_data.get(remark, ""))

    def read(self, name: str, cylinder: Cylinder | None = None) -> None:
        """Keep the reading of field `name` in `readings`, or add what is to be put right."""
        if self.cleaned_data.get(name) is None:
            return
        scale = self.cleaned_data.get("scale")
        if scale is None:
            if "scale" not in self.errors:
                self.add_error("scale", "Choose the scale.")
            return
        expected = replace(self.expected, first=self.readings.get("before")) if name == "after" else self.expected
        gross = reading_of(self, name, cylinder or self.cylinder, scale, expected)
        if gross is not None:
            self.readings[name] = gross

    def read_pair(self, cylinder: Cylinder) -> None:
        """Keep the readings before and after; the one before may stand in the book already."""
        missing = self.cleaned_data.get("before") is None and "before" not in self.errors
        if missing and not weighing.open_before(cylinder):
            self.add_error("before", f"{cylinder} was not weighed before. Enter the reading before as well.")
        self.read("before", cylinder)
        self.read("after", cylinder)


class GrossForm(OnCylinder):
    """An act with one reading."""

    scale = ScaleField(())
    gross = MassField(label="Gross on the scale", what="gross mass", from_scale=True)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.read("gross")
        return cleaned

    @property
    def reading(self) -> Gross:
        """The reading; only of a form that is valid."""
        return self.readings["gross"]


class TareForm(GrossForm):
    """The true empty mass, by weighing the cylinder empty and evacuated."""

    expected = Expected(is_tare=True)
    gross = MassField(
        label="Reading of the empty, evacuated cylinder",
        what="empty mass",
        from_scale=True,
        help_text="With its valve, without its cap, as it is always weighed.",
    )
    reason = text("Why, and how it is proved", what="reason", long=True, help_text="A photo of the plate, say.")
    field_order = ["scale", "gross", "reason", "occurred_at"]


def before_field() -> MassField:
    """Return the field of a first reading, which may stand in the book already."""
    return MassField(
        label="Gross before",
        what="gross before",
        required=False,
        from_scale=True,
        help_text="Left empty where it stands on the scale already, with its reading before.",
    )


class TransferForm(OnCylinder):
    """Gas from this cylinder into another, by a pair of readings on either."""

    target = choice("Into", (), what="cylinder that it goes into")
    weighed = choice(
        "Which of the two stands on the scale",
        [("source", "the one it comes from"), ("target", "the one it goes into")],
        radio=True,
        initial="source",
        what="cylinder on the scale",
    )
    scale = ScaleField(())
    before = before_field()
    after = MassField(label="Gross after", what="gross after", from_scale=True)
    restarted = forms.BooleanField(
        label="The scale was switched off or zeroed between the two readings", required=False
    )
    happened = forms.BooleanField(label="It has happened already: write it even if a limit was passed", required=False)
    note = text("Note", required=False, long=True)

    def __init__(self, *args: Any, cylinder: Cylinder, access: Access, **options: Any) -> None:
        super().__init__(*args, cylinder=cylinder, access=access, **options)
        others = Cylinder.objects.filter(account__book=access.book).exclude(state__in=Cylinder.GONE)
        others = others.exclude(pk=cylinder.pk).select_related("account").order_by("serial")
        self.others = {str(one.account.number): one for one in others}
        words = [(number, f"{one}, {one.refrigerant} {one.grade}, {one.kind}") for number, one in self.others.items()]
        set_choices(self, "target", [CHOOSE, *words])
        self.fields["target"].scanned = "one"  # type: ignore[attr-defined] # for the button that scans

    @property
    def target_cylinder(self) -> Cylinder:
        """The cylinder that it goes into; only of a form that is valid."""
        return self.others[self.cleaned_data["target"]]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("target") not in self.others:
            return cleaned
        on_scale = self.cylinder if cleaned.get("weighed") == "source" else self.target_cylinder
        self.read_pair(on_scale)
        return cleaned


LOSSES = {
    "purge": "purged: air bled off the top, with refrigerant in it",
    "leaked-from-stock": "leaked: valve, relief or hose, seen or proved",
    "was-oil": "was oil: drained out, and had been booked as refrigerant",
    "scrapped-with-rest": "thrown away with a rest in it",
    "missing": "missing: stolen or not to be found",
    "released-exempt": "released, of a gas that the rules exempt",
}
BY_READINGS = ("purge", "was-oil")
ALL_OF_IT = ("scrapped-with-rest", "missing")


class LossForm(OnCylinder):
    """Gas left a cylinder: by a pair of readings, or all that it held."""

    cause = choice("What happened", list(LOSSES.items()), radio=True, what="kind of loss")
    how = choice(
        "How much",
        [("pair", "by the readings before and after"), ("rest", "all that it held")],
        radio=True,
        initial="pair",
        what="way in which the mass is known",
    )
    scale = ScaleField((), required=False)
    before = before_field()
    after = MassField(label="Gross after", what="gross after", required=False, from_scale=True)
    reason = text("How it is known", what="reason", long=True, help_text="Who saw it, the photo, the report’s number.")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if (self.content[0] if self.content else self.cylinder.refrigerant) != "R-744":
            set_choices(self, "cause", [pair for pair in LOSSES.items() if pair[0] != "released-exempt"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        cause, how = cleaned.get("cause"), cleaned.get("how")
        if how == "rest":
            if cause in BY_READINGS:
                self.add_error("how", "This is known by readings before and after. Weigh the cylinder.")
            return cleaned
        if how == "pair":
            self._read_pair(cause)
        return cleaned

    def _read_pair(self, cause: str | None) -> None:
        cleaned = self.cleaned_data
        if cause in ALL_OF_IT:
            self.add_error("how", "The whole cylinder is gone then: choose all that it held.")
            return
        if cleaned.get("after") is None and "after" not in self.errors:
            self.add_error("after", "Enter the gross mass after.")
        self.read_pair(self.cylinder)


@dataclass(frozen=True)
class Row:
    """One cylinder in a round of the floor."""

    cylinder: Cylinder
    words: str


class StockTakeForm(BookForm):
    """One round of the floor: a reading for each cylinder that was weighed; those left empty were not."""

    scan = text(
        "Number on a cylinder, or its label scanned",
        required=False,
        help_text="Goes to where its reading is entered, and keeps what is typed already.",
    )
    scale = ScaleField(())
    note = text("Note", required=False, long=True, help_text="Who was there, say.")

    def __init__(self, *args: Any, access: Access, rows: Sequence[Row], **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.fields["scale"] = scale_field(access)
        self.rows = {f"gross_{row.cylinder.account.number}": row for row in rows}
        for name, row in self.rows.items():
            what = f"gross mass of {row.cylinder}"
            field = gross_field(f"{row.cylinder}", what=what, required=False)
            field.help_text, field.optional_words = row.words, "left empty: not weighed"
            field.echo_url = echo_url(access)
            self.fields[name] = field
        self.fields["scan"].jumps = "id_gross_"  # type: ignore[attr-defined] # for the button that scans
        self.order_fields(["scale", "scan", *self.rows, "note", "occurred_at"])

    def lead_to(self, number: int | None, otherwise: str) -> None:
        """Begin at the reading of the cylinder of this number; say `otherwise` where the round has none for it."""
        name = f"gross_{number}"
        if name not in self.rows:
            self.fields[name := "scan"].help_text = otherwise
        self.fields[name].widget.attrs["autofocus"] = True

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        scale = cleaned.get("scale")
        read = {name: reading_of(self, name, row.cylinder, scale) for name, row in self.rows.items()}
        self.readings = {name: gross for name, gross in read.items() if gross is not None}
        if not self.readings and not self.errors:
            self.add_error(None, "No cylinder was weighed. Enter at least one reading.")
        return cleaned


class DropForm(BookForm):
    """Why an open reading before is dropped."""

    why = text("Why it is dropped", what="reason", help_text="Such as: the visit was put off, the wrong cylinder.")
    occurred_at = None  # type: ignore[assignment] # it happens when it is written
