"""Lists of the lines of the book, their filter, and the lines of one account."""

from collections.abc import Mapping
from typing import Any, ClassVar

import django_tables2 as tables
from django import forms
from django.http import HttpRequest
from django.utils.functional import cached_property
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.causes import CAUSES, GRADES
from inventory.models import Account, Entry, Movement, PeriodTotal
from inventory.pages import links
from inventory.pages.access import BookRequest
from inventory.pages.fields.day import DayField
from inventory.pages.forms.parts import set_choices
from inventory.pages.tables.columns import (
    DayColumn,
    MassColumn,
    NumberColumn,
    WhenColumn,
    in_book_unit,
    linked,
    to_page,
)
from inventory.pages.tables.filters import ALL, FilterForm, same
from inventory.pages.tables.leaves import Leaf
from inventory.pages.tables.table import BookTable
from inventory.shelf import listing
from inventory.shelf.lines import marks_of, reversed_by, sentences
from inventory.shelf.listing import AccountLine, Wanted

KIND_WORDS = {
    Entry.POST: "moved",
    Entry.WEIGH: "weighed",
    Entry.REVERSE: "reversals",
    Entry.CLOSE: "closings",
    Entry.SEAL: "seals",
}


class LinesFilter(FilterForm):
    """Which lines of the book are shown. ``cause`` may stand several times in the address."""

    cause = forms.ChoiceField(label="Cause", choices=[ALL, *((one.name, one.words) for one in CAUSES.values())])
    refrigerant = forms.ChoiceField(label="Refrigerant")
    grade = forms.ChoiceField(label="Grade", choices=same(GRADES))
    account = forms.IntegerField(label="Account number", widget=forms.TextInput(attrs={"inputmode": "numeric"}))
    kind = forms.ChoiceField(label="What was done", choices=[ALL, *KIND_WORDS.items()])
    late = forms.BooleanField(label="written late")
    reversed = forms.BooleanField(label="reversed, or a reversal")

    def __init__(self, request: BookRequest) -> None:
        super().__init__(request)
        codes = PeriodTotal.objects.filter(book=request.book, whole_month=True).order_by("refrigerant")
        set_choices(self, "refrigerant", same(codes.values_list("refrigerant", flat=True).distinct()))
        self.book = request.book

    @cached_property
    def account_chosen(self) -> Account | None:
        """The account whose lines are wanted; None where none, or none of this book, was named."""
        number = self.chosen.get("account")
        return Account.objects.filter(book=self.book, number=number).first() if number else None

    @property
    def causes(self) -> list[str]:
        """The causes chosen."""
        return [name for name in self.request.GET.getlist("cause") if name in CAUSES]

    def wanted(self) -> Wanted:
        """Return the filter as the queries take it."""
        chosen = self.chosen
        return Wanted(
            causes=self.causes,
            refrigerant=chosen.get("refrigerant", ""),
            grade=chosen.get("grade", ""),
            since=chosen.get("from"),
            until=chosen.get("to"),
            account=self.account_chosen,
            late=bool(chosen.get("late")),
            reversed=bool(chosen.get("reversed")),
            kind=chosen.get("kind", ""),
        )

    def words_of(self, name: str, value: Any) -> str:
        if name == "cause":
            return ", ".join(CAUSES[one].words for one in self.causes)
        if name == "kind":
            return KIND_WORDS[value]
        if name == "account":
            found = self.account_chosen
            return f"{value}, {found}" if found else f"{value}, which is not in this book"
        return super().words_of(name, value)


# Two fields whose names are words of the language.
LinesFilter.base_fields["from"] = DayField(label="From")
LinesFilter.base_fields["to"] = DayField(label="To")


class EntryTable(BookTable):
    """Lines of the book, newest first: time in the margin, one row a line."""

    nouns = ("line", "lines")
    margin = True
    occurred_at = WhenColumn(verbose_name="When", orderable=False)
    seq = NumberColumn("Line", initial_sort_descending=True, linkify=to_page("entry", lambda record: record.seq))
    what = tables.Column("What", empty_values=(), orderable=False)
    marks = tables.Column("State", empty_values=(), orderable=False)
    actor = tables.Column("By", orderable=False)

    class Meta:
        order_by = "-seq"
        row_attrs: ClassVar = {"class": lambda record: "reversed" if reversed_by(record) else ""}

    @property
    def total(self) -> int:
        """How many lines there are; of the whole book the last number says it, as numbers have no gaps."""
        if self.filter is not None and not self.filter.chosen:
            return int(self.access.book.head_seq)
        return super().total

    @cached_property
    def names(self) -> Mapping[str, str]:
        """The names of who wrote what is shown."""
        return listing.names_of(entry.actor for entry in self.leaf().records)

    def render_seq(self, value: int) -> str:
        return f"line {value}"

    def render_what(self, record: Entry) -> SafeString:
        return format_html_join(
            SafeString("<br>"), "{}", ((words,) for words in sentences(record, self.access.units.mass))
        )

    def render_marks(self, record: Entry) -> str:
        return marks_of(record, self.access.book)

    def render_actor(self, value: str) -> str:
        return self.names.get(value, value)


class MovementTable(BookTable):
    """Movements, a row each: what the files of a list of lines have."""

    nouns = ("movement", "movements")
    line = tables.Column("Line", accessor="entry__seq", order_by="entry__seq")
    part = tables.Column("Part", accessor="line", orderable=False)
    kind = tables.Column("Kind", accessor="entry__kind", orderable=False)
    occurred_at = WhenColumn(accessor="entry__occurred_at", orderable=False)
    recorded_at = WhenColumn(accessor="entry__recorded_at", orderable=False)
    booked_on = DayColumn(orderable=False)
    cause = tables.Column(orderable=False)
    basis = tables.Column(orderable=False)
    from_kind = tables.Column(accessor="source__kind", orderable=False)
    from_name = tables.Column(accessor="source", orderable=False)
    to_kind = tables.Column(accessor="target__kind", orderable=False)
    to_name = tables.Column(accessor="target", orderable=False)
    refrigerant = tables.Column(orderable=False)
    grade = tables.Column(orderable=False)
    mass = NumberColumn(accessor="mass_mg", unit="mg", orderable=False)
    standard_uncertainty = NumberColumn(accessor="u_mg", unit="mg", orderable=False)
    reversal = tables.Column(empty_values=(), orderable=False)
    late = tables.Column(empty_values=(), accessor="entry__is_late", orderable=False)
    reversed = tables.Column(empty_values=(), accessor="pk", orderable=False)
    person = tables.Column(accessor="entry__actor", orderable=False)

    class Meta:
        order_by = "-line"

    def value_reversal(self, value: bool) -> str:
        return "reversal" if value else ""

    def value_late(self, value: bool) -> str:
        return "late" if value else ""

    def value_reversed(self, record: Movement) -> str:
        return "reversed" if reversed_by(record.entry) else ""


class AccountLines(BookTable):
    """The lines of one account, newest first, read as the union of its two limited legs."""

    nouns = ("line", "lines")
    margin = True
    page_size = 25
    may_export = False
    occurred_at = WhenColumn(verbose_name="When", accessor="entry__occurred_at", orderable=False)
    what = tables.Column("What", empty_values=(), orderable=False)
    change = MassColumn("Change", accessor="gained_mg", signed=True, orderable=False)
    held = MassColumn("Held", accessor="held_mg", orderable=False)

    class Meta:
        order_by = "-pk"
        row_attrs: ClassVar = {"class": lambda record: "reversed" if reversed_by(record.entry) else ""}

    def __init__(self, account: Account, *, request: BookRequest, **options: Any) -> None:
        self.account = account
        stock = account.kind in ("cylinder", "rig")
        super().__init__(
            Movement.objects.none(),
            request=request,
            html_id="lines",
            counted=False,
            note=f"Lines of {account}, {'held after each, ' if stock else ''}newest first",
            none_words="Nothing has gone in or out yet.",
            exclude=() if stock else ("held",),
            **options,
        )
        in_book_unit(self, "change", "held")

    def leaf(self) -> Leaf:
        if self._leaf is None:
            self._leaf = self._read(self.asked)
        return self._leaf

    def _read(self, request: HttpRequest) -> Leaf:
        after, before = (_key(request.GET.get(f"lines-{name}", "")) for name in ("after", "before"))
        found = listing.legs(self.account, below=after, above=before, most=self.page_size + 1)
        more = len(found) > self.page_size
        shown = (found[1:] if before else found[:-1]) if more else found
        if not shown:
            return Leaf([])
        return Leaf(
            listing.lines_of(self.account, shown),
            str(shown[0].pk),
            str(shown[-1].pk),
            more_before=more if before else after is not None,
            more_after=True if before else more,
        )

    def render_what(self, record: AccountLine) -> SafeString:
        movement, entry = record.movement, record.entry
        words = CAUSES[movement.cause].words
        line = linked(links.address(self.access, "entry", entry.seq), f"line {entry.seq}")
        other = linked(links.of_account(self.access, record.other), record.other)
        direction = "from" if record.other == movement.source else "to"
        marks = marks_of(entry, self.access.book)
        said = format_html("{} {} {}", words[0].upper() + words[1:], direction, other)
        tail = "" if marks == "written" else f", {marks}"
        place, address = links.of_context(self.access, entry.context)
        visit = format_html(", {}", linked(address, place)) if place.startswith("visit") else ""
        gas = "" if self.account.kind == "cylinder" else f" {movement.refrigerant} {movement.grade}"
        return format_html("{}{}<br>{}{}{}", said, gas, line, visit, tail)


def _key(text: str) -> int | None:
    return int(text) if text.isdecimal() and len(text) < 19 else None
