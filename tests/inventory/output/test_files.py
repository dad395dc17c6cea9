"""The writer of files: a text is never a formula, whatever object it is the name of; a long list goes on."""

import csv
import io
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from inventory.output import files


class Named:
    """A record that is written as what it is called."""

    def __str__(self) -> str:
        return "=1+1"


def test_the_name_of_a_record_is_no_formula_either() -> None:
    text = "".join(files.csv_of(["to", "mass"], [[Named(), Decimal("-2.5")], ["plain", None]]))
    assert list(csv.reader(io.StringIO(text))) == [["to", "mass"], ["'=1+1", "-2.5"], ["plain", ""]]
    sheet = load_workbook(io.BytesIO(b"".join(files.xlsx_of(["to"], [[Named()]])))).active
    assert sheet is not None
    assert (sheet["A2"].value, sheet["A2"].data_type) == ("=1+1", "s")


@pytest.mark.parametrize(
    ("count", "sheets"),
    [(0, {"rows": []}), (2, {"rows 1 on": [0, 1]}), (5, {"rows 1 on": [0, 1], "rows 3 on": [2, 3], "rows 5 on": [4]})],
)
def test_rows_go_on_on_another_sheet(monkeypatch: pytest.MonkeyPatch, count: int, sheets: dict[str, list[int]]) -> None:
    monkeypatch.setattr(files, "SHEET_ROWS", 2)
    book = load_workbook(io.BytesIO(b"".join(files.xlsx_of(["number"], ([one] for one in range(count))))))
    found = {sheet.title: [row[0] for row in sheet.iter_rows(values_only=True)] for sheet in book.worksheets}
    assert found == {title: ["number", *rows] for title, rows in sheets.items()}
