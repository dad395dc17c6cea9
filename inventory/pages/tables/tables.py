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

import csv
import json
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import IO, Any, ClassVar, cast
from urllib.parse import urlencode

import django_tables2 as tables
from django import forms
from django.core.exceptions import FieldError, ValidationError
from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import F, Model, Q, QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2.rows import BoundRow
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

MINUS = "\N{MINUS SIGN}"
NARROW = "\N{NARROW NO-BREAK SPACE}"
FORMATS = ("csv", "xlsx", "json")
SHEET_ROWS = 1_000_000  # a sheet of a workbook takes 1,048,576
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")

# Milligrams in one unit: the avoirdupois pound is 453.59237 g by definition (1959), sixteen ounces in it.
MG_IN = {"kg": Decimal(1_000_000), "g": Decimal(1000), "lb": Decimal("453592.37"), "oz": Decimal("28349.523125")}
DECIMALS = {"kg": 3, "g": 0, "lb": 2, "oz": 1}


def figure(value: Decimal | float | int, decimals: int) -> str:
    """Return a number for the page: fixed decimals, thousands parted by a narrow space, a true minus sign."""
    text = f"{value:,.{decimals}f}".replace(",", NARROW)
    zero = not any(char in "123456789" for char in text)
    return text.lstrip("-") if zero else text.replace("-", MINUS)


def mass_number(mass_mg: int, unit: str, decimals: int | None = None) -> Decimal:
    """Return `mass_mg` milligrams as a number of `unit` (kg, g, lb, oz), rounded half up to `decimals`."""
    places = DECIMALS[unit] if decimals is None else decimals
    return (Decimal(int(mass_mg)) / MG_IN[unit]).quantize(Decimal(1).scaleb(-places), rounding="ROUND_HALF_UP")


class NumberColumn(tables.Column):  # type: ignore[misc]  # django-tables2 has no types
    """Figures, to the right, with one unit (said in the header and in the name in files) and one count of decimals."""

    numeric = True

    def __init__(self, *args: Any, unit: str = "", decimals: int = 0, signed: bool = False, **options: Any) -> None:
        self.unit, self.decimals, self.signed = unit, decimals, signed
        super().__init__(*args, **options)

    def number(self, value: Any) -> Decimal | float | int:
        """Return the figure in the column's unit."""
        return cast("Decimal | float | int", value)

    def render(self, value: Any) -> str:
        number = self.number(value)
        return ("+" if self.signed and number > 0 else "") + figure(number, self.decimals)

    def value(self, value: Any) -> Decimal:
        return round(Decimal(str(self.number(value))), self.decimals)


class MassColumn(NumberColumn):
    """A mass from whole milligrams, in kg, g, lb or oz."""

    def __init__(self, *args: Any, unit: str = "kg", decimals: int | None = None, **options: Any) -> None:
        super().__init__(*args, unit=unit, decimals=DECIMALS[unit] if decimals is None else decimals, **options)

    def number(self, value: Any) -> Decimal:
        return mass_number(value, self.unit, self.decimals)


class DayColumn(tables.Column):  # type: ignore[misc]  # django-tables2 has no types
    """A day, as 2026-03-04; files have the same."""

    def render(self, value: Any) -> SafeString:
        day = _local_day(value)
        return format_html('<time datetime="{}">{}</time>', day, day)

    def value(self, value: Any) -> str:
        return _local_day(value)


class WhenColumn(tables.Column):  # type: ignore[misc]  # django-tables2 has no types
    """A moment in the workshop's zone, as 2026-03-04 10:58; files have it with the offset from UTC."""

    def render(self, value: datetime) -> SafeString:
        moment = timezone.localtime(value)
        return format_html('<time datetime="{}">{}</time>', moment.isoformat(), f"{moment:%Y-%m-%d %H:%M}")

    def value(self, value: datetime) -> str:
        return timezone.localtime(value).isoformat(timespec="seconds")


def _local_day(value: date | datetime) -> str:
    return (timezone.localtime(value).date() if isinstance(value, datetime) else value).isoformat()


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
class Link:
    """Words and where they lead."""

    words: str
    href: str


@dataclass(frozen=True)
class SortChoice:
    """One entry of "Sort by"."""

    value: str
    words: str
    chosen: bool


@dataclass(frozen=True)
class Said:
    """One filter in force, in words, and the address without it."""

    words: str
    remove: str


@dataclass(frozen=True)
class Leaves:
    """The way to the rows before and after those shown."""

    later: str = ""
    earlier: str = ""
    later_words: str = "Back"
    earlier_words: str = "On"
    name: str = "Leaves of the list"


class FilterForm(forms.Form):
    """A filter on GET. `narrow` applies it; `said` puts what is in force into words. No field is required."""

    def __init__(self, request: HttpRequest) -> None:
        self.request = request
        given = any(name in request.GET for name in self.base_fields)
        super().__init__(request.GET if given else None, auto_id="filter_%s")
        for one in self.fields.values():
            one.required = False
            one.widget.is_required = False

    def narrow(self, rows: Any) -> Any:
        """Return `rows` narrowed by what was chosen. Overridden; use `chosen`."""
        return rows

    @property
    def chosen(self) -> dict[str, Any]:
        """The values in force by field name."""
        if not self.is_bound:
            return {}
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value not in (None, "", [], False)}

    @property
    def said(self) -> list[Said]:
        """What is in force, each with the address that takes it away."""
        return [
            Said(f"{self[name].label.lower()} {self.words_of(name, value)}", self._without(name))
            for name, value in self.chosen.items()
        ]

    def words_of(self, name: str, value: Any) -> str:
        """Return how the value of a filter is said."""
        one = self.fields[name]
        if isinstance(one, forms.BooleanField):
            return ""
        if isinstance(one, forms.ChoiceField):
            return str(dict(_flat(cast("Iterable[Any]", one.choices))).get(str(value), value))
        return str(value)

    def _without(self, name: str) -> str:
        return _address(self.request, **{name: None, "after": None, "before": None})


def _flat(choices: Iterable[Any]) -> Iterator[tuple[str, str]]:
    for value, words in choices:
        if isinstance(words, (list, tuple)):
            yield from _flat(words)
        else:
            yield str(value), str(words)


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
        self._leaf: _Leaf | None = None

    # --- order ------------------------------------------------------------------------------------------------

    @property
    def sort_name(self) -> str:
        """The name of the sort in the query string."""
        return f"{self.prefixed}sort"

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
        if not self._sort:
            return "", False
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
            return _ordered(self.all_rows, term, descends, backwards=False)
        if not term:
            return list(self.all_rows)
        filled = [row for row in self.all_rows if _value_of(row, term) is not None]
        bare = [row for row in self.all_rows if _value_of(row, term) is None]
        return sorted(filled, key=lambda row: _value_of(row, term), reverse=descends) + bare

    # --- the rows of the page ---------------------------------------------------------------------------------

    def leaf(self) -> "_Leaf":
        """Return the rows of this page and whether there are more either side; read once."""
        if self._leaf is None:
            if isinstance(self.all_rows, QuerySet):
                term, descends = self._order_term()
                asked = self.asked.GET
                self._leaf = _leaf(
                    self.all_rows,
                    term,
                    descends,
                    after=asked.get(f"{self.prefixed}after", ""),
                    before=asked.get(f"{self.prefixed}before", ""),
                    size=self.page_size,
                )
            else:
                self._leaf = _Leaf(self.ordered())
        return self._leaf

    @property
    def page_rows(self) -> list[Row]:
        """The rows of this page, ready to be written."""
        return [self._row(BoundRow(record, table=self)) for record in self.leaf().records]

    def _row(self, bound: BoundRow) -> Row:
        cells = []
        for place, (column, value) in enumerate(bound.items()):
            css = "num" if _is_numeric(column) else ""
            css = f"{css} {column.column.attrs.get('td', {}).get('class', '')}".strip()
            cells.append(Cell(value, self._head_words(column), css, is_head=place == 0))
        made = self._meta.row_attrs.get("class", "")
        return Row(cells, str(made(record=bound.record) if callable(made) else made))

    @property
    def foot_cells(self) -> list[Cell]:
        """The cells of the foot; none where no column has one."""
        if not any(column.footer for column in self.columns):
            return []
        return [
            Cell(column.footer, self._head_words(column) if column.footer else "", "num" if _is_numeric(column) else "")
            for column in self.columns
        ]

    @property
    def leaves(self) -> Leaves:
        """The addresses of the leaves before and after."""
        leaf = self.leaf()
        after, before = f"{self.prefixed}after", f"{self.prefixed}before"
        by_time = self._sort.startswith("-") and self.margin
        return Leaves(
            later=_address(self.asked, **{before: leaf.first, after: None}) if leaf.more_before else "",
            earlier=_address(self.asked, **{after: leaf.last, before: None}) if leaf.more_after else "",
            later_words="Later" if by_time else "Back",
            earlier_words="Earlier" if by_time else "On",
        )

    # --- words around it --------------------------------------------------------------------------------------

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
            href = self._sorted_address(following)
        return Head(f"{self.html_id}-{column.name}", self._head_words(column), _is_numeric(column), href, aria_sort)

    def _sorted_address(self, sort: str) -> str:
        return _address(
            self.asked, **{self.sort_name: sort, f"{self.prefixed}after": None, f"{self.prefixed}before": None}
        )

    def _head_words(self, column: Any) -> str:
        unit = getattr(column.column, "unit", "")
        return f"{column.header}, {unit}" if unit else str(column.header)

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
        dropped = (self.sort_name, f"{self.prefixed}after", f"{self.prefixed}before")
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
        leaving = {f"{self.prefixed}after": None, f"{self.prefixed}before": None}
        return [
            Link(kind.upper(), _address(self.asked, **leaving, **{f"{self.prefixed}format": kind})) for kind in FORMATS
        ]

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


def _is_numeric(column: Any) -> bool:
    return bool(getattr(column.column, "numeric", False))


def _address(request: HttpRequest, **changes: str | None) -> str:
    """Return the address of this page with names of the query string changed or (None) taken away."""
    query = request.GET.copy()
    query.pop("format", None)
    for name, value in changes.items():
        if value is None:
            query.pop(name, None)
        else:
            query[name] = value
    said = urlencode([(name, one) for name, values in query.lists() for one in values])
    return f"{request.path}?{said}" if said else request.path


# --- leaves by key ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Leaf:
    records: Sequence[Any]
    first: str = ""
    last: str = ""
    more_before: bool = False
    more_after: bool = False
    _: Any = field(default=None, repr=False)


def _ordered(rows: "QuerySet[Any]", term: str, descends: bool, *, backwards: bool) -> "QuerySet[Any]":
    """Order by `term` with what is missing last, then by key; `backwards` turns all of it round."""
    if term in ("", "pk", "id"):
        return rows.order_by("-pk" if descends != backwards else "pk")
    down = descends != backwards
    first = F(term).desc(nulls_first=True) if backwards and down else None
    if first is None:
        first = F(term).desc(nulls_last=True) if down else F(term).asc(nulls_last=not backwards or None)
        if not down and backwards:
            first = F(term).asc(nulls_first=True)
    return rows.order_by(first, "-pk" if down else "pk")


def _leaf(rows: "QuerySet[Any]", term: str, descends: bool, *, after: str, before: str, size: int) -> _Leaf:
    """Return the `size` rows that follow the cursor `after` or precede `before`; an unreadable cursor is no cursor."""
    backwards = bool(before)
    try:
        cursor = _unpack(before or after)
        wanted = rows if cursor is None else rows.filter(_beyond(term, cursor, descends != backwards, backwards))
        found = list(_ordered(wanted, term, descends, backwards=backwards)[: size + 1])
    except (ValueError, TypeError, ValidationError, FieldError, OverflowError):
        cursor, backwards = None, False
        found = list(_ordered(rows, term, descends, backwards=False)[: size + 1])
    more = len(found) > size
    found = found[:size]
    if backwards:
        found.reverse()
    if not found:
        return _Leaf([])
    return _Leaf(
        found,
        _pack(found[0], term),
        _pack(found[-1], term),
        more_before=more if backwards else cursor is not None,
        more_after=True if backwards else more,
    )


def _beyond(term: str, cursor: tuple[Any, Any], down: bool, backwards: bool) -> Q:
    """Return the condition "comes after the cursor" in the order of `_ordered`."""
    value, key = cursor
    side = "lt" if down else "gt"
    if term in ("", "pk", "id"):
        return Q(**{f"pk__{side}": key})
    if value is None:
        same = Q(**{f"{term}__isnull": True, f"pk__{side}": key})
        return same | Q(**{f"{term}__isnull": False}) if backwards else same
    further = Q(**{f"{term}__{side}": value}) | Q(**{term: value, f"pk__{side}": key})
    return further if backwards else further | Q(**{f"{term}__isnull": True})


def _pack(record: Any, term: str) -> str:
    key = record["pk"] if isinstance(record, dict) else record.pk
    value = None if term in ("", "pk", "id") else _value_of(record, term)
    return json.dumps([value.pk if isinstance(value, Model) else value, key], cls=_Exact)


def _unpack(text: str) -> tuple[Any, Any] | None:
    if not text:
        return None
    value, key = json.loads(text)
    return value, int(key)


class _Exact(DjangoJSONEncoder):
    """Moments to the microsecond, so that a cursor meets its row again."""

    def default(self, o: Any) -> Any:
        return o.isoformat() if isinstance(o, datetime) else super().default(o)


def _value_of(record: Any, term: str) -> Any:
    for part in term.split("__"):
        if record is None:
            return None
        record = record.get(part) if isinstance(record, dict) else getattr(record, part)
    return record


# --- files ------------------------------------------------------------------------------------------------------


def export(request: HttpRequest, table: BookTable, name: str) -> HttpResponseBase | None:
    """Return all rows of `table` as a file if the query string asks (``format=csv``), else None.

    Rows are streamed in the order and filter in force. The unit stands in the column's name; numbers have a decimal
    point, days and times are ISO. A text in a CSV that a spreadsheet would take for a formula gets an apostrophe first.
    An unknown format is refused with 400; a stream that breaks off ends without its last chunk, which is an error.
    """
    kind = request.GET.get(f"{table.prefixed}format", "")
    if not kind:
        return None
    if kind not in FORMATS:
        return HttpResponse(f"Files are {', '.join(FORMATS)}.", status=400, content_type="text/plain; charset=utf-8")
    columns = [column for column in table.columns.iterall() if not column.column.exclude_from_export]
    names = [_file_name(column) for column in columns]
    rows = _file_rows(table, [column.name for column in columns])
    made, content_type = {
        "csv": (_csv, "text/csv; charset=utf-8"),
        "json": (_json, "application/json"),
        "xlsx": (_xlsx, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    }[kind]
    zone = timezone.get_current_timezone()
    response = StreamingHttpResponse(_in_zone(zone, made(names, rows)), content_type=content_type)
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


class _Echo:
    """What the csv writer writes to: it hands the line back."""

    def write(self, value: str) -> str:
        return value


def _csv(names: list[str], rows: Iterator[list[Any]]) -> Iterator[str]:
    writer = csv.writer(cast("IO[str]", _Echo()))
    yield cast(str, writer.writerow(names))
    for row in rows:
        yield cast(str, writer.writerow([_csv_cell(value) for value in row]))


def _csv_cell(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    return "" if value is None else value


def _json(names: list[str], rows: Iterator[list[Any]]) -> Iterator[str]:
    yield "["
    for number, row in enumerate(rows):
        line = {name: _json_value(value) for name, value in zip(names, row, strict=True)}
        yield ("," if number else "") + "\n" + json.dumps(line, ensure_ascii=False)
    yield "\n]\n"


def _json_value(value: Any) -> Any:
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() and value.as_tuple().exponent == 0 else float(value)
    return value if value is None or isinstance(value, (bool, int, float)) else str(value)


def _xlsx(names: list[str], rows: Iterator[list[Any]]) -> Iterator[bytes]:
    book = Workbook(write_only=True)
    sheet: Any = None
    for number, row in enumerate(rows):
        if number % SHEET_ROWS == 0:
            sheet = book.create_sheet(f"rows {number + 1} on")
            sheet.append(names)
        sheet.append([_xlsx_cell(sheet, value) for value in row])
    if sheet is None:
        book.create_sheet("rows").append(names)
    with tempfile.TemporaryFile() as file:
        book.save(file)
        file.seek(0)
        while part := file.read(65_536):
            yield part


def _xlsx_cell(sheet: Any, value: Any) -> Any:
    if value is None or isinstance(value, (bool, int, float, Decimal)):
        return value
    cell = WriteOnlyCell(sheet, value=str(value))
    cell.data_type = "s"  # a text that begins with "=" is a text
    return cell
