"""Lists of the compliance floor: columns of findings."""

from functools import cached_property
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from compliance.findings.decisions import Shown, records_words, shown
from compliance.models import Finding
from compliance.pages.forms.findings import duty_of
from inventory.measure.spoken import in_own_units
from inventory.output.days import day
from inventory.pages.tables.columns import DayColumn
from inventory.pages.tables.table import BookTable
from inventory.shelf.listing import names_of
from shop.models import Workshop


class FindingTable(BookTable):
    """Findings, newest first, with the word for their state and what was decided."""

    nouns = ("finding", "findings")

    state = tables.Column("State")
    day = DayColumn(verbose_name="Day")
    about = tables.Column("Record")
    words = tables.Column("What the book shows", orderable=False)
    rule = tables.Column("Duty")
    person = tables.Column("Person", empty_values=())
    decided = tables.Column("Decided", accessor="pk", orderable=False)
    now = tables.Column("What to do now", accessor="rule", orderable=False, visible=False)  # in the files

    class Meta:
        order_by = "-day"

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        self.workshop = workshop
        super().__init__(*args, **options)

    @cached_property
    def _records(self) -> dict[str, str]:
        return records_words(self.workshop, self._used("about"))

    @cached_property
    def _names(self) -> dict[str, str]:
        return names_of(self._used("person"))

    def _used(self, field: str) -> set[str]:
        return set(Finding.objects.filter(workshop=self.workshop).values_list(field, flat=True))

    def render_state(self, record: Finding) -> str:
        return shown(record).word

    def render_about(self, value: str) -> str:
        return self._records.get(value, value)

    def render_words(self, value: str, record: Finding) -> SafeString:
        href = reverse("finding", args=[self.workshop.slug, record.pk])
        return format_html('<a href="{}">{}</a>', href, in_own_units(value, self.access.units))

    def value_words(self, value: str) -> str:
        return in_own_units(value, self.access.units)

    def render_rule(self, value: str) -> str:
        return duty_of(value)

    def render_now(self, record: Finding) -> str:
        one = shown(record)
        return one.rule.now if one.owed and one.rule else "nothing"

    def render_person(self, value: str) -> str:
        return self._names.get(value, value) if value else "nobody"

    def render_decided(self, record: Finding) -> str:
        return decided_words(shown(record))


def decided_words(one: Shown) -> str:
    """Return what was decided of a finding: "explained on 2025-06-18: seen at the valve"."""
    last = next(iter(one.finding.decisions.all()), None)
    if last is None:
        return "nothing"
    still = "" if one.decision or last.kind == last.REOPENED else ", which no longer covers it"
    return f"{last.kind} on {day(last.at)}: {last.reason}{still}"
