"""All rows of a list as a file."""

from collections.abc import Iterator
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils import timezone
from django_tables2.rows import BoundRow

from inventory.output.files import TYPES, WRITERS
from inventory.pages.tables.table import BookTable


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
