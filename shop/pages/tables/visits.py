"""The list of visits."""

from typing import Any

import django_tables2 as tables
from django import forms
from django.db.models import QuerySet

from inventory.models.likeness import written_in
from inventory.pages.fields.day import DayField
from inventory.pages.tables.columns import WhenColumn, to_page
from inventory.pages.tables.filters import FilterForm
from inventory.pages.tables.table import BookTable
from shop.models import Visit, Workshop
from shop.visits.log import asked_here


class VisitTable(BookTable):
    """Visits, newest first; what is still asked is counted from their steps."""

    nouns = ("visit", "visits")

    number = tables.Column(
        "Visit", attrs={"td": {"class": "num"}}, linkify=to_page("visit", lambda record: record.number)
    )
    plate = tables.Column("Vehicle", accessor="vehicle__registration")
    opened = WhenColumn("Began", accessor="opened_at")
    state = tables.Column("State")
    asked = tables.Column("Still asked", accessor="pk", orderable=False)

    class Meta:
        order_by = "-number"

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        self.workshop = workshop
        super().__init__(*args, **options)

    def render_number(self, value: int) -> str:
        return f"visit {value}"

    def value_number(self, value: int) -> int:
        return value

    def render_state(self, record: Visit) -> str:
        return state_words(record)

    def render_asked(self, record: Visit) -> str:
        words = [one.words for one in asked_here(record, self.access.units)]
        shown = ", ".join(words[:3])
        return f"{len(words)}: {shown}" + (" and more" if len(words) > 3 else "") if words else "nothing"

    def value_asked(self, record: Visit) -> int:
        return len(asked_here(record, self.access.units))


def state_words(visit: Visit) -> str:
    """Return the state of a visit in words: "waiting for a part"."""
    if visit.state == Visit.WAITING:
        return f"waiting for {visit.waiting_for or 'something not entered'}"
    return visit.state


class VisitFilter(FilterForm):
    """Open or handed over, plate, period."""

    state = forms.ChoiceField(
        label="State", choices=[("", "all"), ("open", "not handed over"), ("closed", "handed over")], required=False
    )
    plate = forms.CharField(label="Plate", required=False)
    first = DayField(label="From", required=False)
    last = DayField(label="To", required=False)

    def narrow(self, rows: QuerySet[Visit]) -> QuerySet[Visit]:
        """Return the visits that fit."""
        chosen = self.chosen
        if state := chosen.get("state"):
            rows = rows.filter(state=Visit.CLOSED) if state == "closed" else rows.exclude(state=Visit.CLOSED)
        if plate := chosen.get("plate"):
            rows = rows.filter(written_in("vehicle__registration_likeness", plate))
        if first := chosen.get("first"):
            rows = rows.filter(opened_at__date__gte=first)
        if last := chosen.get("last"):
            rows = rows.filter(opened_at__date__lte=last)
        return rows
