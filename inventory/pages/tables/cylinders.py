"""The list of cylinders: columns and filter."""

from typing import Any

import django_tables2 as tables
from django import forms
from django.db.models import Q
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.causes import GRADES
from inventory.models import Cylinder
from inventory.models.likeness import written_in
from inventory.pages.access import BookRequest
from inventory.pages.forms.parts import set_choices
from inventory.pages.tables.columns import DayColumn, MassColumn, in_book_unit, to_page
from inventory.pages.tables.filters import FilterForm, same
from inventory.pages.tables.table import BookTable
from inventory.shelf import queries


class CylinderFilter(FilterForm):
    """Which cylinders are shown; without a choice those that are done with are left out."""

    kind = forms.ChoiceField(label="Kind", choices=same(Cylinder.KINDS))
    refrigerant = forms.ChoiceField(label="Refrigerant")
    grade = forms.ChoiceField(label="Grade", choices=same(GRADES))
    state = forms.ChoiceField(
        label="State", choices=[("", "all but done with"), *((one, one) for one in queries.STATE_WORDS), ("any", "any")]
    )
    place = forms.ChoiceField(label="Place")
    text = forms.CharField(label="Text", max_length=60)

    def __init__(self, request: BookRequest) -> None:
        super().__init__(request)
        own = Cylinder.objects.filter(account__book=request.book)
        codes = own.order_by("refrigerant").values_list("refrigerant", flat=True).distinct()
        places = own.exclude(place="").order_by("place").values_list("place", flat=True).distinct()
        set_choices(self, "refrigerant", same(codes))
        set_choices(self, "place", same(places))

    def narrow(self, rows: Any) -> Any:
        chosen = self.chosen
        state = chosen.get("state", "")
        if not state:
            rows = rows.exclude(word="done with")
        elif state != "any":
            rows = rows.filter(word=state)
        for name, field in (("kind", "kind"), ("refrigerant", "code"), ("grade", "in_grade"), ("place", "place")):
            if name in chosen:
                rows = rows.filter(**{field: chosen[name]})
        if "text" in chosen:
            said = chosen["text"]
            rows = rows.filter(written_in("likeness", said) | Q(label__iexact=said))
        return rows


class LevelColumn(tables.Column):  # type: ignore[misc]  # django-tables2 has no types
    """The level against the limit, drawn small and in words; files have the percentage."""

    def __init__(self, **options: Any) -> None:
        super().__init__(empty_values=(), orderable=False, **options)

    def render(self, record: Any) -> SafeString | str:
        share = level_share(record)
        if share is None:
            return "no filling limit known"
        width = round(min(share, 1.0) * 80, 1)
        return format_html(
            '<svg class="drawing level" width="84" height="14" viewBox="0 0 84 14" aria-hidden="true">'
            '<rect x="1" y="1" width="80" height="12" class="d-axis"/>'
            '<rect x="1" y="1" width="{}" height="12" class="d-flow"/>'
            '<line x1="81" y1="0" x2="81" y2="14" class="d-heavy"/></svg> {} %',
            width,
            f"{share * 100:.0f}",
        )

    def value(self, record: Any) -> int | None:
        share = level_share(record)
        return None if share is None else round(share * 100)


def level_share(record: Any) -> float | None:
    """Return what a cylinder holds as a share of its limit; None where no limit is known."""
    return None if not record.limit_mg else int(record.held_mg) / float(record.limit_mg)


class CylinderTable(BookTable):
    """Cylinders with what they hold."""

    nouns = ("cylinder", "cylinders")
    serial = tables.Column("Number on it", linkify=to_page("cylinder", lambda record: record.account.number))
    word = tables.Column("State")
    code = tables.Column("Refrigerant")
    in_grade = tables.Column("Grade")
    held = MassColumn("Held", accessor="held_mg", order_by="held_mg")
    level = LevelColumn(verbose_name="Of its limit")
    limit = MassColumn("Limit", accessor="limit_mg", order_by="limit_mg", default="not known")
    kind = tables.Column("Kind")
    place = tables.Column("Place")
    last_weighed_at = DayColumn(verbose_name="Last weighed", default="never")

    class Meta:
        order_by = "serial"

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        in_book_unit(self, "held", "limit")
