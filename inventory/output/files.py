"""The one writer of files with rows: CSV, JSON and XLSX, all streamed.

Names stand in the first row, or on each row's values in JSON. Numbers have a decimal point, what is missing is empty
(null in JSON). A text in a CSV that a spreadsheet would take for a formula gets an apostrophe first; in a workbook a
text is a text, without the marks that a workbook cannot hold.
"""

import csv
import json
import re
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import groupby
from typing import IO, Any, cast

TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "json": "application/json",
}
SHEET_ROWS = 1_000_000  # a sheet of a workbook takes 1,048,576
FORMULA_STARTS = tuple(
    "=+-@\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}\N{FULLWIDTH HYPHEN-MINUS}\N{FULLWIDTH COMMERCIAL AT}"
)
SEPARATORS = ("\t", "\r", "\n")  # a spreadsheet may begin another cell behind one
NOT_IN_WORKBOOKS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")  # XML 1.0, section 2.2
LONGEST_CELL = 32_767  # of a workbook

Rows = Iterable[Sequence[object]]


def csv_of(names: Sequence[str], rows: Rows) -> Iterator[str]:
    """Yield a CSV line by line, beginning with the names."""
    writer = csv.writer(cast("IO[str]", _Echo()))
    yield cast(str, writer.writerow([_no_formula(name) for name in names]))
    for row in rows:
        yield cast(str, writer.writerow([_no_formula(value) for value in row]))


def json_of(names: Sequence[str], rows: Rows) -> Iterator[str]:
    """Yield a JSON list with one object for each row, line by line."""
    yield "["
    for number, row in enumerate(rows):
        line = {name: _json_value(value) for name, value in zip(names, row, strict=True)}
        yield ("," if number else "") + "\n" + json.dumps(line, ensure_ascii=False)
    yield "\n]\n"


def xlsx_of(names: Sequence[str], rows: Rows) -> Iterator[bytes]:
    """Yield a workbook of these rows, on as many sheets as they need."""
    yield from workbook(_parted(names, rows))


def workbook(sheets: Iterable[tuple[str, Sequence[str], Rows]]) -> Iterator[bytes]:
    """Yield a workbook of sheets, each given by its title, its names and its rows."""
    from openpyxl import Workbook  # a quarter of what it takes to start; most processes write no workbook

    book = Workbook(write_only=True)
    for title, names, rows in sheets:
        sheet = book.create_sheet(title)
        sheet.append([_cell(sheet, name) for name in names])
        for row in rows:
            sheet.append([_cell(sheet, value) for value in row])
    with tempfile.TemporaryFile() as file:
        book.save(file)
        file.seek(0)
        while part := file.read(65_536):
            yield part


WRITERS = {"csv": csv_of, "xlsx": xlsx_of, "json": json_of}


def _parted(names: Sequence[str], rows: Rows) -> Iterator[tuple[str, Sequence[str], Rows]]:
    number = None
    for number, part in groupby(enumerate(rows), key=lambda one: one[0] // SHEET_ROWS):
        yield f"rows {number * SHEET_ROWS + 1} on", names, (row for _, row in part)
    if number is None:
        yield "rows", names, ()


class _Echo:
    """What the csv writer writes to: it hands the line back."""

    def write(self, value: str) -> str:
        return value


def _is_number(value: object) -> bool:
    return isinstance(value, (bool, int, float, Decimal))


def is_formula(text: str) -> bool:
    """Whether a spreadsheet that opens a CSV might take a text for a formula."""
    return text.startswith(SEPARATORS) or text.lstrip().startswith(FORMULA_STARTS)


def _no_formula(value: object) -> object:
    if value is None or _is_number(value):
        return value
    return f"'{value}" if is_formula(str(value)) else str(value)


def _json_value(value: object) -> object:
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() and value.as_tuple().exponent == 0 else float(value)
    return value if value is None or _is_number(value) else str(value)


def _cell(sheet: Any, value: object) -> object:
    if value is None or _is_number(value):
        return value
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(sheet, value=NOT_IN_WORKBOOKS.sub("\ufffd", str(value))[:LONGEST_CELL])
    cell.data_type = "s"  # a text that begins with "=" is a text
    return cell
