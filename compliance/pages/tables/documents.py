"""The list of issued documents."""

from typing import Any

import django_tables2 as tables
from django import forms
from django.db.models import F, QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from compliance.documents.subjects import words_of
from compliance.models import Document
from compliance.papers.paper import KINDS
from inventory.pages.tables.columns import NumberColumn, WhenColumn
from inventory.pages.tables.filters import FilterForm, same
from inventory.pages.tables.table import BookTable
from shop.models import Workshop

STANDS, REPLACED = "newest", "replaced"


class DocumentFilter(FilterForm):
    """Kind, record, and whether a newer one replaces it."""

    kind = forms.ChoiceField(label="Kind", choices=same(KINDS))
    about = forms.CharField(label="Record, such as visit:12", max_length=60)
    state = forms.ChoiceField(label="State", choices=[("", "all"), (STANDS, "issued"), (REPLACED, "replaced")])

    def narrow(self, rows: "QuerySet[Document]") -> "QuerySet[Document]":
        """Return the documents that fit."""
        chosen = self.chosen
        if "kind" in chosen:
            rows = rows.filter(kind=chosen["kind"])
        if "about" in chosen:
            rows = rows.filter(about=chosen["about"].strip())
        if "state" in chosen:
            rows = rows.filter(replaced_by__isnull=chosen["state"] == STANDS)
        return rows


def documents_of(workshop: Workshop) -> "QuerySet[Document]":
    """Return the issued documents of a workshop without their files, each with the number of a newer one."""
    rows = Document.objects.filter(workshop=workshop).defer("file", "content")
    return rows.select_related("issued_by").annotate(newer=F("replaced_by__number"))


def state_of(document: Any) -> str:
    """Return the state of a document in words."""
    return f"replaced by no. {document.newer}" if document.newer else "issued"


class DocumentTable(BookTable):
    """Issued documents, newest first."""

    nouns = ("document", "documents")
    none_words = "None issued yet."

    number = NumberColumn("No.")
    kind = tables.Column("Kind")
    about = tables.Column("Record")
    issued_at = WhenColumn(verbose_name="Issued")
    issued_by = tables.Column("By", orderable=False)
    state = tables.Column("State", accessor="newer", empty_values=(), orderable=False)
    code = tables.Column("Check code", orderable=False)

    class Meta:
        order_by = "-number"

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        self.workshop = workshop
        super().__init__(*args, **options)

    def render_number(self, value: int) -> SafeString:
        href = reverse("document", args=[self.workshop.slug, value])
        return format_html('<a class="touch" href="{}">no. {}</a>', href, value)

    def value_number(self, value: int) -> int:
        return value

    def render_about(self, value: str) -> str:
        return words_of(value)

    def value_about(self, value: str) -> str:
        return value

    def render_state(self, record: Document) -> str:
        return state_of(record)
