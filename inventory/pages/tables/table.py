"""Lists: columns said once, for the page and for the files.

A list page::

    class CylinderTable(BookTable):
        nouns = ("cylinder", "cylinders")
        serial = tables.Column("Number on it", linkify=...)
        held = MassColumn("Held", unit="kg", accessor="held_mg")
        class Meta:
            order_by = "serial"            # the order until another is chosen; a tuple works too

    table = CylinderTable(queryset, request=request, filter=form)   # filter: a `FilterForm`, optional
    return export(request, table, "cylinders") or render(request, "inventory/cylinders.html", {"table": table})

The template says ``{% load django_tables2 %}{% render_table table %}``. Sorting (``?sort=-held``), leaves by key
(``?after=`` / ``?before=``, no offset), the "Sort by" choice for narrow pages, the filters said in words and the links
to CSV, XLSX and JSON of *all* rows come with it. The query string is the whole state.

A column's ``order_by`` must be a field or annotation of the queryset; only its first term and the primary key are used.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, ClassVar, cast

import django_tables2 as tables
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils import timezone
from django_tables2.rows import BoundRow

from inventory.measure.displays import in_words
from inventory.measure.figures import figure
from inventory.models.access import Access
from inventory.output.files import TYPES, WRITERS
from inventory.pages.access import BookRequest
from inventory.pages.links import Link
from inventory.pages.tables.columns import DayColumn, WhenColumn
from inventory.pages.tables.filters import FilterForm, address_with
from inventory.pages.tables.leaves import Leaf, leaf_of, ordered, value_of


@dataclass(frozen=True)
class Head:
    """The head of one column."""

    id: str
    words: str
    numeric: bool
    href: str
    aria_sort: str


@dataclass(frozen=True)
class Cell:
    """One cell; `name` is the head's words, shown beside the value where rows are laid out as entries."""

    value: Any
    name: str
    css: str
    is_head: bool = False


@dataclass(frozen=True)
class Row:
    """One row of the page."""

    cells: list[Cell]
    css: str


@dataclass(frozen=True)
class SortChoice:
    """One entry of "Sort by"."""

    value: str
    words: str
    chosen: bool


@dataclass(frozen=True)
class Leaves:
    """The way to the rows before and after those shown."""

    later: str = ""
    earlier: str = ""
    later_words: str = "Back"
    earlier_words: str = "On"
    name: str = "Leaves of the list"


class BookTable(tables.Table):  # type: ignore[misc]  # django-tables2 has no types
    """A list; see the head of this module.

    `request` gives the query string. `nouns` (one, several) are counted in the caption. `note` follows it (period,
    basis). `html_id` tells two lists of one page apart; a prefix then stands before their names in the query string.
    `unfiltered` counts all rows where a filter found none. `none_act` is the way on from an empty list.
    """

    nouns: ClassVar[tuple[str, str]] = ("row", "rows")
    margin = False  # True: the first column is time or step, parted by the margin rule
    page_size = 50
    may_export = True
    none_words = "None in the book yet."

    def __init__(
        self,
        data: Any,
        *,
        request: HttpRequest,
        filter: FilterForm | None = None,  # noqa: A002 the word of the page
        note: str = "",
        html_id: str = "list",
        page_size: int | None = None,
        unfiltered: Callable[[], int] | None = None,
        none_words: str = "",
        none_act: Link | None = None,
        counted: bool = True,
        **options: Any,
    ) -> None:
        self.asked, self.filter, self.note, self.html_id = request, filter, note, html_id
        self.page_size = page_size or self.page_size
        self.unfiltered, self.none_act, self.counted = unfiltered, none_act, counted
        self.none_words = none_words or self.none_words
        self.prefixed = "" if html_id == "list" else f"{html_id}-"
        self.all_rows = data
        options.setdefault("default", "not entered")
        super().__init__([], order_by=(), **options)
        self._sort = self._chosen_sort()
        self._leaf: Leaf | None = None

    @property
    def access(self) -> Access:
        """What the person of the request may do."""
        return cast(BookRequest, self.asked).access

    @property
    def sort_name(self) -> str:
        """The name of the sort in the query string."""
        return f"{self.prefixed}sort"

    @property
    def _first_leaf(self) -> dict[str, str | None]:
        """What an address loses that leads to the first leaf."""
        return {f"{self.prefixed}after": None, f"{self.prefixed}before": None}

    def _chosen_sort(self) -> str:
        """Return the sort in force, such as ``-held``: what was asked if it is a column's, else the usual one."""
        asked = self.asked.GET.get(self.sort_name, "")
        if asked.lstrip("-") in self.columns and self._sortable(asked.lstrip("-")):
            return asked
        usual = self._meta.order_by
        return str(usual if isinstance(usual, str) else usual[0]) if usual else ""

    def _sortable(self, name: str) -> bool:
        column = self.columns[name].column
        return column.orderable is not False and (isinstance(self.all_rows, QuerySet) or column.order_by is None)

    def _order_term(self) -> tuple[str, bool]:
        """Return the field to order by (empty: the key alone) and whether it descends."""
        name, descends = self._sort.lstrip("-"), self._sort.startswith("-")
        if name not in self.columns:
            return name, descends
        bound = self.columns[name]
        term = str((bound.column.order_by or (bound.accessor,))[0]).replace(".", "__")
        return term.lstrip("-"), descends != term.startswith("-")

    def ordered(self) -> Any:
        """Return all rows in the order in force."""
        term, descends = self._order_term()
        if isinstance(self.all_rows, QuerySet):
            return ordered(self.all_rows, term, descends, backwards=False)
        if not term:
            return list(self.all_rows)
        filled = [row for row in self.all_rows if value_of(row, term) is not None]
        bare = [row for row in self.all_rows if value_of(row, term) is None]
        return sorted(filled, key=lambda row: value_of(row, term), reverse=descends) + bare

    def leaf(self) -> Leaf:
        """Return the rows of this page and whether there are more either side; read once."""
        if self._leaf is None:
            if isinstance(self.all_rows, QuerySet):
                term, descends = self._order_term()
                asked = self.asked.GET
                self._leaf = leaf_of(
                    self.all_rows,
                    term,
                    descends,
                    after=asked.get(f"{self.prefixed}after", ""),
                    before=asked.get(f"{self.prefixed}before", ""),
                    size=self.page_size,
                )
            else:
                self._leaf = Leaf(self.ordered())
        return self._leaf

    @property
    def page_rows(self) -> list[Row]:
        """The rows of this page, ready to be written."""
        return [self._row(BoundRow(record, table=self)) for record in self.leaf().records]

    def _row(self, bound: BoundRow) -> Row:
        cells = []
        for place, (column, value) in enumerate(bound.items()):
            css = "num" if _is_numeric(column) else ""
            css = f"{css} {column.column.attrs.get('td', {}).get('class', '')} {_on_a_phone(column, value)}".strip()
            cells.append(Cell(value, self._head_words(column), css, is_head=place == 0))
        made = self._meta.row_attrs.get("class", "")
        return Row(cells, str(made(record=bound.record) if callable(made) else made))

    @property
    def leaves(self) -> Leaves:
        """The addresses of the leaves before and after."""
        leaf = self.leaf()
        after, before = f"{self.prefixed}after", f"{self.prefixed}before"
        by_time = self._sort.startswith("-") and self.margin
        return Leaves(
            later=address_with(self.asked, **{before: leaf.first, after: None}) if leaf.more_before else "",
            earlier=address_with(self.asked, **{after: leaf.last, before: None}) if leaf.more_after else "",
            later_words="Later" if by_time else "Back",
            earlier_words="Earlier" if by_time else "On",
        )

    @property
    def total(self) -> int:
        """How many rows there are on all leaves."""
        if isinstance(self.all_rows, QuerySet):
            leaf = self.leaf()
            whole = not leaf.more_before and not leaf.more_after
            return len(leaf.records) if whole else self.all_rows.count()
        return len(self.all_rows)

    @property
    def caption(self) -> str:
        """Count, and the note: period, basis."""
        if not self.counted:
            return self.note or self.nouns[1].capitalize()
        total = self.total
        words = f"{figure(total, 0)} {self.nouns[0] if total == 1 else self.nouns[1]}"
        return f"{words}, {self.note}" if self.note else words

    @property
    def heads(self) -> list[Head]:
        """The heads of the columns, with the address that sorts by each."""
        return [self._head(column) for column in self.columns]

    def _head(self, column: Any) -> Head:
        href, aria_sort = "", ""
        if self._sortable(column.name):
            here = self._sort.lstrip("-") == column.name
            down = self._sort.startswith("-")
            aria_sort = ("descending" if down else "ascending") if here else ""
            first = f"-{column.name}" if column.column.initial_sort_descending else column.name
            following = (column.name if down else f"-{column.name}") if here else first
            href = address_with(self.asked, **{self.sort_name: following, **self._first_leaf})
        return Head(f"{self.html_id}-{column.name}", self._head_words(column), _is_numeric(column), href, aria_sort)

    def _head_words(self, column: Any) -> str:
        unit = getattr(column.column, "in_words", "") or getattr(column.column, "unit", "")
        return f"{column.header}, {in_words(unit)}" if unit else str(column.header)

    @property
    def sort_choices(self) -> list[SortChoice]:
        """The choices of "Sort by"."""
        found = []
        for column in self.columns:
            if self._sortable(column.name):
                low, high = ("lowest first", "highest first") if _is_numeric(column) else ("A to Z", "Z to A")
                if isinstance(column.column, (DayColumn, WhenColumn)):
                    low, high = "earliest first", "latest first"
                for value, way in ((column.name, low), (f"-{column.name}", high)):
                    found.append(SortChoice(value, f"{column.header}, {way}", value == self._sort))
        return found

    @property
    def kept_query(self) -> list[tuple[str, str]]:
        """What "Sort by" has to send along."""
        dropped = (self.sort_name, *self._first_leaf)
        return [(name, value) for name, values in self.asked.GET.lists() if name not in dropped for value in values]

    @property
    def kept_sort(self) -> list[tuple[str, str]]:
        """What the filter has to send along."""
        return [(self.sort_name, self.asked.GET[self.sort_name])] if self.sort_name in self.asked.GET else []

    @property
    def files(self) -> list[Link]:
        """The links to all rows as files."""
        if not self.may_export:
            return []
        name = f"{self.prefixed}format"
        return [Link(kind.upper(), address_with(self.asked, **self._first_leaf, **{name: kind})) for kind in WRITERS]

    @property
    def none_said(self) -> str:
        """What an empty list says."""
        if self.filter is None or not self.filter.chosen:
            return self.none_words
        total = self.unfiltered() if self.unfiltered else 0
        return f"None of {total} fit." if total else "None fit."

    @property
    def show_all(self) -> str:
        """The address without any filter, where a filter found nothing."""
        return self.asked.path if self.filter is not None and self.filter.chosen else ""

    @property
    def show_all_words(self) -> str:
        """The words of that link."""
        total = self.unfiltered() if self.unfiltered else 0
        return f"Show all {total}" if total else "Show all"


SAY_LITTLE = ("not known", "unknown", "nobody", "nothing", "never", "none", "yes", "no")  # without their column's name


def _on_a_phone(column: Any, value: Any) -> str:
    """Return how a cell stands in the second line of a narrow row: left out where it has nothing, else by its words.

    A word says by itself what it is; a figure and a day need the name of their column.
    """
    if value == column.default:
        return "bare"
    of_figures = _is_numeric(column) or isinstance(column.column, (DayColumn, WhenColumn))
    needs_name = of_figures or str(value) in SAY_LITTLE
    return "" if needs_name else "worded"


def _is_numeric(column: Any) -> bool:
    return bool(getattr(column.column, "numeric", False))


def export(request: HttpRequest, table: BookTable, name: str) -> HttpResponseBase | None:
    """Return all rows of `table` as a file if the query string asks (``format=csv``), else None.

    Rows are streamed in the order and filter in force. The unit stands in the column's name; days and times are ISO.
    An unknown format is refused with 400; a stream that breaks off ends without its last chunk, which is an error.
    """
    kind = request.GET.get(f"{table.prefixed}format", "")
    if not kind:
        return None
    if kind not in WRITERS:
        return HttpResponse(f"Files are {', '.join(WRITERS)}.", status=400, content_type="text/plain; charset=utf-8")
    columns = [column for column in table.columns.iterall() if not column.column.exclude_from_export]
    names = [_file_name(column) for column in columns]
    rows = _file_rows(table, [column.name for column in columns])
    zone = timezone.get_current_timezone()
    response = StreamingHttpResponse(_in_zone(zone, WRITERS[kind](names, rows)), content_type=TYPES[kind])
    response["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return response


def _in_zone(zone: Any, parts: Iterator[Any]) -> Iterator[Any]:
    """Write each part in the workshop's zone, whoever asks for it and when."""
    while True:
        with timezone.override(zone):
            part = next(parts, None)
        if part is None:
            return
        yield part


def _file_name(column: Any) -> str:
    unit = getattr(column.column, "unit", "").replace("%", "percent").replace(" ", "_").replace("/", "_per_")
    return f"{column.name}_{unit}" if unit else str(column.name)


def _file_rows(table: BookTable, names: list[str]) -> Iterator[list[Any]]:
    rows = table.ordered()
    records = rows.iterator(chunk_size=2000) if isinstance(rows, QuerySet) else rows
    for record in records:
        bound = BoundRow(record, table=table)
        yield [bound.get_cell_value(name) for name in names]
