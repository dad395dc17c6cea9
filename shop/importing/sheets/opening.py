"""The rows of a file, whichever it is: CSV in any of the usual encodings, or a sheet of a workbook. Memory stays flat.

Of a workbook the values are read, as its program saved them. Where a formula was saved without a value, a mark stands
in its place. Cells that were merged: what they say stands in the first; for words and days in all of them.
"""

import codecs
import csv
import re
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shop.importing.sheets.cells import NO_VALUE, Cell, text_of

MOST_ROWS = 1_000_000
MOST_COLUMNS = 100
MOST_UNPACKED = 3_000_000_000
_OLE = b"\xd0\xcf\x11\xe0"
_MERGED = re.compile(rb'<mergeCell ref="([A-Z]+)(\d+):([A-Z]+)(\d+)"')

Row = tuple[int, list[Cell]]
Span = tuple[int, int, int, int]  # first and last row, first and last column


class NotASheet(Exception):
    """The file cannot be opened as a sheet; the sentence says why, and what to do."""


@dataclass(frozen=True)
class Sheet:
    """One sheet of a file. `merged` are the cells that were joined to one."""

    path: Path
    name: str = ""
    encoding: str = ""
    delimiter: str = ""
    formulas: bool = False
    merged: Sequence[Span] = ()

    def rows(self) -> Iterator[Row]:
        """Yield each row's number in the file and its cells; rows of nothing are left out."""
        found = self._text() if self.delimiter else self._workbook()
        for number, cells in found:
            if number > MOST_ROWS:
                raise NotASheet(f"The file has more than {MOST_ROWS:,} rows. Part it, and send the parts one by one.")
            if any(cell not in (None, "") for cell in cells):
                yield number, cells[:MOST_COLUMNS]

    def _text(self) -> Iterator[Row]:
        with self.path.open(encoding=self.encoding, errors="replace", newline="") as file:
            reader = csv.reader((line.replace("\0", "") for line in file), delimiter=self.delimiter)
            try:
                for number, cells in enumerate(reader, start=1):
                    yield number, [cell.strip() for cell in cells]
            except csv.Error as error:
                raise NotASheet(f"The file cannot be read as CSV from row {reader.line_num} on: {error}.") from None

    def _workbook(self) -> Iterator[Row]:
        spans = _Spans(self.merged)
        with _book(self.path, values=True) as book:
            values = book[self.name].iter_rows(values_only=True)
            if not self.formulas:
                for number, cells in enumerate(values, start=1):
                    yield number, spans.filled(number, list(cells))
                return
            with _book(self.path, values=False) as written:
                formulas = written[self.name].iter_rows(values_only=True)
                for number, (cells, said) in enumerate(zip(values, formulas, strict=False), start=1):
                    pairs = zip(cells, said, strict=False)
                    yield number, spans.filled(number, [_value(cell, formula) for cell, formula in pairs])


class _Spans:
    """Merged cells: what stands in the first of each is carried down and across, but for numbers, which count once."""

    def __init__(self, spans: Sequence[Span]) -> None:
        self.starting: dict[int, list[Span]] = {}
        for span in spans:
            if span[0] != span[1]:  # one row's merged cells are one cell to us
                self.starting.setdefault(span[0], []).append(span)
        self.open: list[tuple[Span, Cell]] = []

    def filled(self, number: int, cells: list[Cell]) -> list[Cell]:
        self.open = [(span, said) for span, said in self.open if number <= span[1]]
        for (_, _, left, right), said in self.open:
            cells[left : right + 1] = [said] * len(cells[left : right + 1])
        for span in self.starting.pop(number, ()):
            said = cells[span[2]] if span[2] < len(cells) else None
            if said is not None and not isinstance(said, (int, float)):
                self.open.append((span, said))
        return cells


def _value(cell: Any, formula: Any) -> Cell:
    is_formula = isinstance(formula, str) and formula.startswith("=") or type(formula).__name__ == "ArrayFormula"
    return NO_VALUE if cell is None and is_formula else cell


@contextmanager
def _book(path: Path, *, values: bool) -> Iterator[Any]:
    from shop.importing.sheets.workbooks import load  # it takes a quarter of a start; few processes read a workbook

    with path.open("rb") as raw:  # by its name it would be judged by its ending
        book = load(raw, values=values)
        try:
            yield book
        finally:
            book.close()


def sheets_of(path: Path) -> list[str]:
    """Return the names of the sheets in a workbook, "" for a file of text; raises NotASheet."""
    with path.open("rb") as file:
        head = file.read(8)
    if head.startswith(_OLE):
        raise NotASheet("This is an older workbook (.xls), or one that a password locks. Save it as .xlsx without one.")
    if not head.startswith(b"PK"):
        return [""]
    try:
        with zipfile.ZipFile(path) as file:
            names = set(file.namelist())
            if sum(one.file_size for one in file.infolist()) > MOST_UNPACKED:
                raise NotASheet("The workbook holds more than 3 GB unpacked. Save the sheet as CSV.")
        if "book.json" in names:
            raise NotASheet("This is a whole book as it was exported. manage.py import_book reads it into a new book.")
        if "xl/workbook.xml" not in names:
            raise NotASheet("This is no workbook that can be read here. Save the sheet as .xlsx or as CSV.")
        with _book(path, values=True) as book:
            return [sheet.title for sheet in book.worksheets]
    except NotASheet:
        raise
    except Exception:  # noqa: BLE001 - whatever is wrong inside a file from elsewhere, it is one sentence
        raise NotASheet(
            "The workbook cannot be opened: it was cut short or is damaged. Save it anew and send it."
        ) from None


def opened(path: Path, name: str = "") -> Sheet:
    """Return a sheet of a file, the first one with rows where none is named; raises NotASheet."""
    names = sheets_of(path)
    if names == [""]:
        encoding = _encoding(path)
        return Sheet(path, encoding=encoding, delimiter=_delimiter(path, encoding))
    chosen = name if name in names else _first_filled(path, names)
    formulas, merged = _scanned(path, names.index(chosen))
    return Sheet(path, name=chosen, formulas=formulas, merged=merged)


def _first_filled(path: Path, names: list[str]) -> str:
    for name in names:
        if any(len(cells) > 1 for _, cells in Sheet(path, name=name).rows()):
            return name
    return names[0]


def _scanned(path: Path, place: int) -> tuple[bool, list[Span]]:
    """Return whether a sheet has formulas, and which of its cells are merged, from its text alone."""
    formulas, merged, left = False, [], b""
    with _book(path, values=True) as book:
        part = book.worksheets[place]._worksheet_path
    with zipfile.ZipFile(path) as file, file.open(part) as raw:
        while chunk := raw.read(1 << 20):
            text = left + chunk
            formulas = formulas or b"<f>" in text or b"<f " in text
            end = text.rfind(b"<")
            left = text[end:] if end > 0 else b""
            merged += [_span(found.groups()) for found in _MERGED.finditer(text[:end] if end > 0 else text)]
    return formulas, merged[:10_000]


def _span(found: tuple[Any, ...]) -> Span:
    from openpyxl.utils import column_index_from_string

    left, top, right, bottom = (one.decode() for one in found)
    return int(top), int(bottom), column_index_from_string(left) - 1, column_index_from_string(right) - 1


def _encoding(path: Path) -> str:
    """Return how a file of text is written: by its mark, else UTF-8 where it is that, else Windows-1252."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    with path.open("rb") as file:
        head = file.read(4)
        if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        file.seek(0)
        try:
            while chunk := file.read(1 << 20):
                decoder.decode(chunk)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return "cp1252"
    return "utf-8-sig"


def _delimiter(path: Path, encoding: str) -> str:
    """Return what parts the cells: of semicolon, tab, bar and comma the one that parts the first rows most evenly."""
    with path.open(encoding=encoding, errors="replace", newline="") as file:
        lines = [line for _, line in zip(range(40), file, strict=False)]
    lines = lines or [""]

    def score(delimiter: str) -> tuple[int, int]:
        counts = [len(row) for row in csv.reader(lines, delimiter=delimiter) if row]
        usual = max(set(counts), key=lambda one: (counts.count(one), one), default=1)
        return (counts.count(usual) if usual > 1 else 0, usual)

    return max((";", "\t", "|", ","), key=score)


def first_rows(sheet: Sheet, most: int) -> list[tuple[int, list[str]]]:
    """Return the first rows as text, to look at."""
    found = sheet.rows()
    return [(number, [_shown(cell) for cell in cells]) for (number, cells), _ in zip(found, range(most), strict=False)]


def _shown(cell: Cell) -> str:
    return "formula without value" if cell == NO_VALUE else text_of(cell)[:200]
