"""The writer of files: a text is never a formula, whatever object it is the name of; a long list goes on."""

import csv
import io
from decimal import Decimal

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
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


TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
STARTS = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"


@given(st.lists(st.one_of(TEXTS, st.builds("{}{}".format, st.sampled_from(STARTS), TEXTS)), min_size=1, max_size=4))
@example(["=1+1", " =1+1", "\x0b", "\uffff"])
def test_no_text_is_a_formula_in_any_file(texts: list[str]) -> None:
    written = "".join(files.csv_of(texts, [texts, [Spoken(text) for text in texts]]))
    for row in csv.reader(io.StringIO(written, newline="")):
        for cell, text in zip(row, texts, strict=True):
            assert cell in (text, f"'{text}")
            assert not cell.lstrip().startswith(tuple(STARTS))
            assert not cell.startswith(tuple(STARTS))
    sheet = load_workbook(io.BytesIO(b"".join(files.xlsx_of(texts, [texts])))).active
    assert sheet is not None
    for row in sheet.iter_rows():
        for cell, text in zip(row, texts, strict=False):
            assert cell.data_type in ("s", "n" if not text else "s", "inlineStr")


class Spoken:
    """A record that is called as given."""

    def __init__(self, text: str) -> None:
        self.text = text

    def __str__(self) -> str:
        return self.text
