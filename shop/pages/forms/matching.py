"""The form that says what the columns of a sheet mean, and what holds for rows that do not say it themselves."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from inventory.causes import GRADES
from inventory.gases.catalogue import UnknownRefrigerant, find
from inventory.pages.forms.act import PlainForm
from shop.importing.people import GONE, NEW, proposed
from shop.importing.sheets.columns import AMOUNTS, MEANINGS, UNITS, Matching, wrong
from shop.importing.sheets.looking import MOST_HEAD, Column
from shop.models import User

ORDERS = {"mdy": "month first: 3/14/2025", "dmy": "day first: 14/3/2025, 14.3.2025"}
SOMEBODY_NEW = ((NEW, "somebody new, who works here"), (GONE, "somebody new, who is no longer here"))
MARKS = {".": "a point: 1.25", ",": "a comma: 1,25"}


class MatchForm(PlainForm):
    """What each column means, in which unit its bare numbers are, and what is taken where a row says nothing."""

    sheet = forms.ChoiceField(label="Sheet", required=False)
    head = forms.IntegerField(label="The headers stand in row", min_value=1, max_value=MOST_HEAD)
    order = forms.ChoiceField(label="Days such as 3/4/2025 are read", choices=list(ORDERS.items()))
    mark = forms.ChoiceField(label="The decimal mark is", choices=list(MARKS.items()))
    refrigerant = forms.CharField(label="Refrigerant, where a row names none", required=False, max_length=20)
    grade = forms.ChoiceField(label="Grade of what was charged or bought", choices=[(one, one) for one in GRADES])
    person = forms.CharField(label="Who did it, where a row names nobody", required=False, max_length=120)
    cylinder = forms.CharField(
        label="Cylinder charged from, where a row names none",
        required=False,
        max_length=40,
        help_text="The refrigerant is added to it, such as Stock R-134a: one for each.",
    )
    tank = forms.CharField(
        label="Cylinder recovered into, where a row names none",
        required=False,
        max_length=40,
        help_text="The refrigerant is added here too. A row that both recovers and charges is two movements.",
    )
    partner = forms.CharField(label="Supplier or receiver, where a row names none", required=False, max_length=120)
    empty_day = forms.BooleanField(label="An empty day is that of the row above", required=False)
    reckon_stock = forms.BooleanField(
        label="Enter the opening stock that the rows need",
        required=False,
        help_text="A list of charges does not say what was there before. The least that makes them possible is then "
        "entered on the first of January of their year, as reckoned and not weighed. Without it, a charge that no "
        "purchase covers is refused.",
    )

    def __init__(
        self,
        *args: Any,
        columns: Sequence[Column],
        sheets: Sequence[str],
        names: Sequence[str] = (),
        people: Sequence[User] = (),
        **options: Any,
    ) -> None:
        self.columns, self.people_named = columns, names
        super().__init__(*args, **options)
        self.fields["sheet"].choices = [(name, name) for name in sheets]  # type: ignore[attr-defined]
        if len(sheets) < 2:
            del self.fields["sheet"]
        for column in columns:
            about = f"column {column.header}"
            self.fields[f"c{column.place}"] = forms.ChoiceField(
                label=f"Meaning of {about}", choices=list(MEANINGS.items()), required=False
            )
            if self._may_be_amount(column):
                self.fields[f"u{column.place}"] = forms.ChoiceField(
                    label=f"Unit of bare numbers in {about}",
                    choices=[("", "none chosen"), *((unit, unit) for unit in UNITS)],
                    required=False,
                )

        self._ask_about(names, people)

    def _ask_about(self, names: Sequence[str], people: Sequence[User]) -> None:
        """Ask who is meant by each name, with who probably is."""
        chosen: dict[str, str] = self.initial.get("people", {})
        choices = [*((one.handle, str(one)) for one in people), *SOMEBODY_NEW]
        for place, name in enumerate(names):
            said = chosen.get(name, "")
            known = said in dict(choices)
            self.fields[f"n{place}"] = forms.ChoiceField(label=name, choices=choices)
            self.initial[f"n{place}"] = said if known else proposed(name, people)

    def _may_be_amount(self, column: Column) -> bool:
        """Whether a unit is asked for a column: it is an amount, or figures that were not taken for anything."""
        meaning = self.initial.get(f"c{column.place}", "")
        figures = any(text[:1].isdigit() for text in column.samples)
        return meaning in AMOUNTS or (meaning == "" and figures)

    @classmethod
    def initial_of(cls, matching: Matching) -> dict[str, Any]:
        """Return what the fields begin with."""
        said: dict[str, Any] = {name: getattr(matching, name) for name in matching.kept() if name in cls.base_fields}
        said["people"] = matching.people
        said |= {f"c{place}": meaning for place, meaning in matching.columns.items()}
        return said | {f"u{place}": unit for place, unit in matching.units.items()}

    @property
    def rows(self) -> list[tuple[Column, BoundField, BoundField | None]]:
        """Return each column with its meaning and, where it may be an amount, its unit."""
        units = {one.place: f"u{one.place}" for one in self.columns if f"u{one.place}" in self.fields}
        return [
            (one, self[f"c{one.place}"], self[units[one.place]] if one.place in units else None) for one in self.columns
        ]

    @property
    def where(self) -> list[BoundField]:
        """Return the fields that say where the headers are."""
        return [self[name] for name in ("sheet", "head") if name in self.fields]

    @property
    def how(self) -> list[BoundField]:
        """Return the fields about how cells are read."""
        return [self[name] for name in ("order", "mark", "empty_day", "reckon_stock")]

    @property
    def missing(self) -> list[BoundField]:
        """Return the fields about what a row does not say."""
        return [self[name] for name in ("refrigerant", "grade", "person", "cylinder", "tank", "partner")]

    @property
    def who(self) -> list[BoundField]:
        """Return the fields about whom the names mean."""
        return [self[f"n{place}"] for place in range(len(self.people_named))]

    @property
    def matching(self) -> Matching:
        """Return what was chosen."""
        said = self.cleaned_data
        columns = {one.place: said.get(f"c{one.place}", "") for one in self.columns}
        units = {place: said.get(f"u{place}", "") for place, meaning in columns.items() if meaning in AMOUNTS}
        people = {name: said.get(f"n{place}", "") for place, name in enumerate(self.people_named)}
        own = {name: said[name] for name in Matching.__dataclass_fields__ if name in said}
        return Matching(**{**own, "columns": columns, "units": units, "people": people})

    def clean_refrigerant(self) -> str:
        """Return the code of the refrigerant."""
        text: str = self.cleaned_data["refrigerant"].strip()
        try:
            return find(text).code if text else ""
        except UnknownRefrigerant as error:
            raise forms.ValidationError(str(error)) from None

    def clean(self) -> dict[str, Any]:
        """Refuse columns that cannot stand together."""
        if "head" in self.cleaned_data:
            for words in wrong(self.matching, [one.header for one in self.columns]):
                self.add_error(None, words)
        return self.cleaned_data
