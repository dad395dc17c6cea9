"""What cells and headers of somebody's sheet say, and how its file is opened."""

import zipfile
from contextlib import suppress
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from inventory.measure.typed import QuantityError
from shop.importing.sheets import cells
from shop.importing.sheets.columns import guessed, head_of, meaning_of, order_of, unit_in
from shop.importing.sheets.opening import NotASheet, Sheet, first_rows, opened

LB_MG, OZ_MG = Decimal("453592.37"), Decimal("28349.523125")


@pytest.mark.parametrize(
    ("cell", "unit", "mark", "mg"),
    [
        ("410", "g", ".", 410_000),
        ("0.41 kg", "g", ".", 410_000),
        ("1,234.5", "g", ".", 1_234_500),
        ("1.234,5", "g", ",", 1_234_500),
        ("1 234,5", "g", ",", 1_234_500),
        ("1'234.5 g", "", ".", 1_234_500),
        ("0,62 kg", "g", ",", 620_000),
        ("18.5", "oz", ".", 524_466),
        ("1 lb 4 oz", "oz", ".", 566_990),
        ("20.5 lbs.", "", ".", 9_298_644),
        (18.25, "oz", ".", 517_379),
        (0.1 + 0.2, "kg", ".", 300_000),
        (1 / 3, "kg", ".", 333_333),
        (2, "kg", ",", 2_000_000),
        ("", "g", ".", 0),
        ("-", "g", ".", 0),
        ("n/a", "", ".", 0),
        (None, "", ".", 0),
        (0, "g", ".", 0),
    ],
)
def test_an_amount_is_read_with_its_own_unit_or_its_columns(cell: Any, unit: str, mark: str, mg: int) -> None:
    assert cells.amount_mg(cell, unit, mark)[0] == mg


@pytest.mark.parametrize(
    ("cell", "unit", "mark", "words"),
    [
        ("12", "", ".", "has no unit. Choose the unit of this column"),
        (12, "", ".", "has no unit"),
        ("12.5", "g", ",", "has a point, and the decimal mark of this sheet is a comma"),
        ("12,5", "g", ".", "has a comma, and the decimal mark of this sheet is a point"),
        ("1.2.5", "g", ".", "is not one number"),
        ("-3", "g", ".", "below zero"),
        (-3.5, "g", ".", "“-3.5” is below zero"),
        ("3 litres", "g", ".", "write a mass"),
        ("about 3", "g", ".", "no number"),
        ("#REF!", "g", ".", "an error of the sheet's own formula"),
        (cells.NO_VALUE, "g", ".", "saved without its value"),
        (datetime(2025, 3, 4), "g", ".", "is a day or a time, not an amount"),  # noqa: DTZ001 - a sheet knows no zone
        (1e300, "kg", ".", "more than any amount can be here"),
    ],
)
def test_what_is_no_amount_is_a_sentence(cell: Any, unit: str, mark: str, words: str) -> None:
    with pytest.raises(QuantityError, match=words):
        cells.amount_mg(cell, unit, mark)


@given(st.integers(0, 10**11), st.sampled_from([".", ","]), st.booleans())
def test_milligrams_written_in_kilograms_are_read_back(mg: int, mark: str, grouped: bool) -> None:
    whole, part = divmod(mg, 10**6)
    digits = f"{whole:,}" if grouped else str(whole)
    text = digits.replace(",", "," if mark == "." else ".") + f"{mark}{part:06d} kg"
    assert cells.amount_mg(text, "g", mark) == (mg, "kg" if mg else "kg")


@given(st.decimals(min_value=0, max_value=10_000, places=2), st.sampled_from(["oz", "lb"]))
def test_a_number_of_a_workbook_is_the_nearest_milligram(value: Decimal, unit: str) -> None:
    exact = value * (OZ_MG if unit == "oz" else LB_MG)
    assert abs(cells.amount_mg(float(value), unit, ".")[0] - exact) <= Decimal("0.5")


@given(st.text(max_size=20), st.sampled_from(["", "g", "oz", "lb oz"]), st.sampled_from([".", ","]))
def test_any_text_is_an_amount_or_a_sentence(text: str, unit: str, mark: str) -> None:
    with suppress(QuantityError):  # anything else that is raised is a fault
        assert cells.amount_mg(text, unit, mark)[0] >= 0


@given(st.dates(date(1970, 1, 1), date(2069, 12, 31)))
def test_a_day_is_read_in_every_way_it_is_written(day: date) -> None:
    said = {
        "mdy": (f"{day.month}/{day.day}/{day.year}", f"{day:%m/%d/%y}", f"{day:%b} {day.day}, {day.year}"),
        "dmy": (f"{day.day}.{day.month}.{day.year}", f"{day:%d/%m/%y}", f"{day.day} {day:%B} {day.year}"),
    }
    for order, texts in said.items():
        for text in (*texts, day.isoformat()):
            assert cells.day_of(text, order) == (day, None)
    assert cells.day_of(datetime.combine(day, time(15, 30)), "mdy") == (day, time(15, 30))
    assert cells.day_of(f"{day.month}/{day.day}/{day.year} 3:30 PM", "mdy") == (day, time(15, 30))
    assert cells.day_of(f"{day.isoformat()}T15:30", "dmy") == (day, time(15, 30))


@given(st.text(max_size=20), st.sampled_from(["mdy", "dmy"]))
def test_any_text_is_a_day_or_a_sentence(text: str, order: str) -> None:
    with suppress(QuantityError):
        assert isinstance(cells.day_of(text, order)[0], date)


@pytest.mark.parametrize("cell", [45720, 45720.5, "13/13/2025", "soon", "3/4", ""])
def test_what_is_no_day_is_a_sentence(cell: Any) -> None:
    with pytest.raises(QuantityError):
        cells.day_of(cell, "mdy")


@pytest.mark.parametrize(
    ("text", "at"),
    [("14:30", time(14, 30)), ("2:30 pm", time(14, 30)), ("12:05 AM", time(0, 5)), ("14.30", time(14, 30))],
)
def test_a_time_is_read(text: str, at: time) -> None:
    assert cells.time_of(text) == at
    with pytest.raises(QuantityError):
        cells.time_of("half past")


@pytest.mark.parametrize(
    ("header", "meaning", "unit"),
    [
        ("Date", "day", ""),
        ("Tag #", "vehicle", ""),
        ("License plate", "vehicle", ""),
        ("Kennzeichen", "vehicle", ""),
        ("Charged (oz)", "charged", "oz"),
        ("Amount charged lbs", "charged", "lb"),
        ("Charge lb/oz", "charged", "lb oz"),
        ("Füllmenge in g", "charged", "g"),
        ("Recovered [kg]", "recovered", "kg"),
        ("Abgesaugt (g)", "recovered", "g"),
        ("Recovery cylinder", "to_cylinder", ""),
        ("Charged from cylinder", "from_cylinder", ""),
        ("Technician", "person", ""),
        ("Flasche", "cylinder", ""),
        ("Kältemittel", "refrigerant", ""),
        ("Purchased lb", "bought", "lb"),
        ("Invoice no.", "note", ""),
        ("Colour", "", ""),
    ],
)
def test_a_header_says_what_its_column_is(header: str, meaning: str, unit: str) -> None:
    assert (meaning_of(header), unit_in(header)) == (meaning, unit)


def test_pounds_and_ounces_in_two_columns_are_one_amount_and_a_second_date_is_a_note() -> None:
    columns, units = guessed(["Date", "Charged lb", "Charged oz", "Paid date"])
    assert columns == {0: "day", 1: "charged", 2: "charged", 3: "note"}
    assert units == {1: "lb", 2: "oz"}


@pytest.mark.parametrize(
    ("days", "order"),
    [
        (["3/4/2025", "3/17/25", "a note"], "mdy"),
        (["3/4/2025", "17/3/2025"], "dmy"),
        (["04.03.2025", "05.03.2025"], "dmy"),
        (["3/4/2025", "5/6/2025"], "otherwise"),
        ([], "otherwise"),
    ],
)
def test_days_that_can_only_be_days_say_in_which_order_they_are(days: list[str], order: str) -> None:
    assert order_of(days, "otherwise") == order


def test_the_headers_are_the_row_with_the_most_that_is_known() -> None:
    rows = [
        (1, ["Usage of the year, by date and car"]),
        (2, [""]),
        (4, ["Date", "Plate", "Charged"]),
        (5, ["x", "y", "1"]),
    ]
    assert head_of(rows) == 4


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_text_is_opened_as_it_was_saved(tmp_path: Path, encoding: str, delimiter: str) -> None:
    path = tmp_path / "x"
    rows = [
        ["Datum", "Kältemittel", "Füllmenge"],
        ["4.3.2025", "R-134a", '"a\nb"'],
        ["", "", ""],
        ["5.3.2025", "ü", "1"],
    ]
    path.write_bytes("\r\n".join(delimiter.join(row) for row in rows).encode(encoding))
    assert first_rows(opened(path), 10) == [
        (1, ["Datum", "Kältemittel", "Füllmenge"]),
        (2, ["4.3.2025", "R-134a", "a b"]),
        (4, ["5.3.2025", "ü", "1"]),
    ]


def test_a_workbooks_first_sheet_with_rows_is_opened_and_any_by_name(tmp_path: Path) -> None:
    book = Workbook()
    book.create_sheet("Log").append(["Date", "Charged"])
    book.create_sheet("Other").append(["a", "b"])
    book.save(tmp_path / "x.xlsx")
    assert opened(tmp_path / "x.xlsx").name == "Log"
    assert first_rows(opened(tmp_path / "x.xlsx", "Other"), 5) == [(1, ["a", "b"])]


def test_more_rows_than_can_be_taken_is_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shop.importing.sheets.opening.MOST_ROWS", 3)
    (tmp_path / "x").write_text("a,b\n" * 5)
    with pytest.raises(NotASheet, match="Part it, and send the parts one by one"):
        list(opened(tmp_path / "x").rows())


def test_an_empty_file_has_no_rows(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("\n\n")
    assert list(Sheet(tmp_path / "x", encoding="utf-8", delimiter=",").rows()) == []


@pytest.mark.parametrize(("text", "own"), [(".5", ""), (".75 lb", "lb"), ("0.5", "")])
def test_a_number_without_a_nought_names_no_unit_but_its_own(text: str, own: str) -> None:
    assert cells.amount_mg(text, "lb", ".")[1] == own


def test_a_workbook_is_not_read_through_to_look_at_its_first_rows(tmp_path: Path) -> None:
    """Streaming programs leave out how large a sheet is: here what follows the first rows cannot even be read."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Log")
    for number in range(2_000):
        sheet.append([f"A{number}", "R134a", number])
    book.save(tmp_path / "whole.xlsx")
    with zipfile.ZipFile(tmp_path / "whole.xlsx") as whole, zipfile.ZipFile(tmp_path / "cut.xlsx", "w") as cut:
        for name in whole.namelist():
            text = whole.read(name)
            if name.endswith("sheet1.xml"):
                assert b"<dimension" not in text
                text = text[: 8 * len(text) // 10]
            cut.writestr(name, text)
    found = opened(tmp_path / "cut.xlsx")
    assert [texts[0] for _, texts in first_rows(found, 3)] == ["A0", "A1", "A2"]
    with pytest.raises(Exception, match="no element found|unclosed"):
        list(found.rows())
