"""A workbook opened without its sheets being read through first.

openpyxl looks for the size of each sheet when it opens a workbook, and where none is written, as streaming programs
leave it out, it reads the whole sheet for it: seconds for each look at the first rows of a long one. Nothing here needs
the size, and rows are as long as they are.
"""

from typing import IO, Any

from openpyxl.reader.excel import ExcelReader
from openpyxl.worksheet._read_only import ReadOnlyWorksheet


class _Sheet(ReadOnlyWorksheet):
    def _get_size(self) -> None:
        """Leave the size open."""


class _Reader(ExcelReader):
    def read_worksheets(self) -> None:
        """Name the sheets of cells; those of charts hold none."""
        book: Any = self.wb
        for sheet, part in self.parser.find_sheets():
            if part.target in self.valid_files and "chartsheet" not in part.Type:
                book._sheets.append(_Sheet(book, sheet.name, part.target, self.shared_strings))


def load(raw: IO[bytes], *, values: bool) -> Any:
    """Return the workbook of an open file, its sheets to be read row by row: their values, else their formulas."""
    reader = _Reader(raw, read_only=True, data_only=values)
    reader.read()
    return reader.wb
