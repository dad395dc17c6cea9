"""The report as files: the same figures in each, exact where they are exact, tagged and numbered on paper."""

import csv
import io
import json
import re
from typing import Any

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from compliance.papers import usage
from compliance.statement import files
from compliance.statement.balance import COLUMNS, INWARD
from compliance.statement.figures import Statement, lines_of_period, read_statement
from compliance.statement.layout import Layout
from inventory.measure.figures import MINUS, NARROW
from inventory.models import Analysis, Book
from tests.compliance.builders import YEAR_2025, Desk, noon, port_ellery_2025

pytestmark = [pytest.mark.django_db, pytest.mark.any_database]


@pytest.fixture
def report(book: Book, workshop: Any, clock: Any) -> Statement:
    port_ellery_2025(book, clock)
    return read_statement(book, *YEAR_2025, "AR4")


def pages_of(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def words_of(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace(NARROW, " "))


def test_the_json_has_the_fixed_keys_and_adds_up(report):
    content = json.loads(files.as_json(report))
    assert {"book", "from", "to", "basis", "refrigerants"} <= set(content)
    assert (content["book"], content["from"], content["to"], content["basis"]) == (
        "Port Ellery",
        "2025-01-01",
        "2025-12-31",
        "AR4",
    )
    assert [each["refrigerant"] for each in content["refrigerants"]] == ["R-12", "R-134a", "R-1234yf", "MIXED"]
    for each in content["refrigerants"]:
        inward = each["opening_mg"] + each["acquired_mg"] + each["recovered_mg"] + each["other_mg"]
        outward = each["charged_mg"] + each["sent_away_mg"] + each["air_mg"] + each["unexplained_mg"]
        assert inward - outward == each["closing_mg"]
        assert all(isinstance(mass, int) for name, mass in each.items() if name.endswith("_mg") and name not in _NESTED)
        assert {"opening_u_mg", "closing_u_mg", "balance_u_mg", "opening_unweighed_mg"} <= set(each)
        assert {"air_co2e_kg", "charged_co2e_kg", "closing_co2e_kg", "air_odp_kg", "vehicle_air_mg"} <= set(each)


_NESTED = ("u_mg", "pair_mg", "declared_mg", "opening_u_mg", "closing_u_mg")  # or null


def test_the_json_counts_co2_by_the_published_potential(report):
    found = {each["refrigerant"]: each for each in files.as_data(report)["refrigerants"]}
    assert found["R-134a"]["charged_co2e_kg"] == pytest.approx(12.433 * 1430)
    assert found["R-134a"]["air_co2e_kg"] == pytest.approx(0.006 * 1430)
    assert found["R-134a"]["closing_co2e_kg"] == pytest.approx(35.179 * 1430)
    assert found["R-134a"]["air_odp_kg"] == 0
    assert found["R-12"]["sent_away_odp_kg"] == pytest.approx(3.358)


def test_what_cannot_be_computed_is_null_with_a_note(book, report):
    Analysis.objects.all().delete()
    content = files.as_data(read_statement(book, *YEAR_2025, "AR4"))
    mixed = content["refrigerants"][-1]
    assert (mixed["closing_co2e_kg"], mixed["notes"]) == (None, ["MIXED: composition not measured"])
    assert mixed["air_co2e_kg"] == 0  # nothing went to air, and nothing is worth nothing
    assert "MIXED: composition not measured" in content["notes"]


def test_the_csv_has_the_masses_of_the_json(report):
    rows = list(csv.DictReader(io.StringIO(files.as_csv(report))))
    found = {row["refrigerant"]: row for row in rows if row["grade"] == "all"}
    for each in files.as_data(report)["refrigerants"]:
        row = found[each["refrigerant"]]
        for name in ("opening", *COLUMNS, "closing", "vehicle_air"):
            assert int(row[f"{name}_mg"]) == each[f"{name}_mg"]
        assert row["basis"] == "AR4"
    grades = [row for row in rows if row["refrigerant"] == "R-134a" and row["grade"] != "all"]
    assert sum(int(row["closing_mg"]) for row in grades) == int(found["R-134a"]["closing_mg"])


def test_the_workbook_has_the_masses_as_numbers(book, report):
    book_file = load_workbook(io.BytesIO(files.as_xlsx(report)))
    rows = list(book_file["Refrigerants"].values)
    found = {row[0]: dict(zip(rows[0], row, strict=True)) for row in rows[1:]}
    assert found["R-134a"]["closing_mg"] == 35_179_000
    assert book_file["Vehicles"].max_row == 10
    assert {"About", "Causes", "Sources", "Certificates", "Late lines", "Reversals"} <= set(book_file.sheetnames)


def test_the_paper_says_every_mass_of_the_json(book, report):
    """Each row of each refrigerant's table stands in the text of the PDF as the JSON has it."""
    text = words_of(" ".join(pages_of(usage.draft(report))))
    refrigerants = files.as_data(report)["refrigerants"]
    for words, name in (
        ("At the start", "opening"),
        ("Acquired", "acquired"),
        ("Recovered", "recovered"),
        ("Charged", "charged"),
        ("Sent away", "sent_away"),
        ("To air, from stock", "air"),
        ("Unexplained, net (minus: missing)", "unexplained"),
        ("At the end", "closing"),
    ):
        figures = [_shown(name, each[f"{name}_mg"]) for each in refrigerants]
        # A column of one cause is said with it: "Acquired: bought".
        assert re.search(f"{re.escape(words)}(: [a-z ]+)? {re.escape(' '.join(figures))}", text)
    assert "291.7" in text  # the workshop's emissions, kg CO2e
    assert "balance by mass (40 CFR 98.203, T-1) 0.208" in text.replace("Balance", "balance")


def _shown(name: str, mass_mg: int) -> str:
    if name in ("opening", "closing"):
        return f"{mass_mg / 1e6:.3f}"
    signed = mass_mg if name in INWARD else -mass_mg
    sign = "" if not signed else "+" if signed > 0 else MINUS
    return f"{sign}{abs(signed) / 1e6:.3f}"


def test_the_paper_is_tagged_numbered_and_names_its_workshop(book, report):
    pdf = usage.draft(report)
    reader = PdfReader(io.BytesIO(pdf))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert reader.metadata is not None
    assert "Refrigerant usage report" in (reader.metadata.title or "")
    for number, text in enumerate(pages_of(pdf), start=1):
        assert f"page {number} of {len(reader.pages)}" in words_of(text)
        assert "draft, not issued" in words_of(text)
        assert "Port Ellery" in text
    first, last = (words_of(pages_of(pdf)[place]) for place in (0, -1))
    assert "1 Quay Road" in first
    assert report.head.short_digest in last
    assert "certifies nothing" in last


def test_an_empty_book_makes_a_report_that_says_so(book):
    report = read_statement(book, *YEAR_2025, "AR4")
    assert "The book has no lines" in words_of(" ".join(pages_of(usage.draft(report))))
    assert files.as_data(report)["refrigerants"] == []


def test_the_register_has_a_row_for_each_movement(book, report):
    rows = list(csv.DictReader(io.StringIO("".join(files.lines_csv(lines_of_period(report), book.zone)))))
    assert len(rows) == lines_of_period(report).count()
    charge = next(row for row in rows if row["cause"] == "charge")
    assert (charge["from"], charge["to"], charge["mass_mg"]) == ("C-34", "V1", "784000")
    assert charge["occurred_at"].endswith("+02:00")


def test_a_name_that_looks_like_a_formula_stays_a_text(book, clock):
    clock(noon(6, 1))
    desk = Desk(book)
    cylinder = desk.account("C-1")
    cylinder.label = "=1+1"
    cylinder.save()
    desk.write(noon(1, 2), ("opening-stock", "opening", "C-1", "R-134a", "virgin", 5_000, "single"))
    report = read_statement(book, *YEAR_2025, "AR4")
    rows = list(csv.DictReader(io.StringIO("".join(files.lines_csv(lines_of_period(report), book.zone)))))
    assert rows[0]["to"] == "'=1+1"


def test_pounds_are_shown_where_the_workshop_counts_in_them(report):
    layout = Layout(report, "lb")
    assert layout.mass(453_592) == "1.000"
    assert layout.masses(report.refrigerants, "All").caption == "All, lb"


def test_the_unexplained_has_one_sign_wherever_it_stands(book, clock):
    """20 g turned up of R-12 and 206 g of R-134a are missing."""
    clock(noon(6, 1))
    desk = Desk(book)
    for cylinder, code in (("C-1", "R-12"), ("C-2", "R-134a")):
        desk.write(noon(1, 2), ("opening-stock", "opening", cylinder, code, "virgin", 5_000, "single"))
    desk.write(noon(1, 3), ("weighing-difference", "unexplained", "C-1", "R-12", "virgin", 20, "pair"))
    desk.write(noon(1, 3), ("weighing-difference", "C-2", "unexplained", "R-134a", "virgin", 206, "pair"))
    layout = Layout(read_statement(book, *YEAR_2025, "AR4"), "kg")
    found = layout.statement.refrigerants
    words = "Unexplained, net (minus: missing)"
    figures = ("+0.020", f"{MINUS}0.206")
    table = next(row for row in layout.masses(found, "All").rows if row.label == words)
    behind = [next(row for row in layout.behind(each).rows if row.label == words).cells[0].text for each in found]
    bridge = [
        next(row for row in layout.bridge(each).rows if row.label.endswith("(minus: missing)")).cells[0].text
        for each in found
    ]
    assert tuple(cell.text for cell in table.cells) == tuple(behind) == tuple(bridge) == figures
    said = [words_of(layout.unexplained_words(each)) for each in found]
    assert said == [f"{words}: {one} kg, of which 0.000 kg explained since; {one} kg open." for one in figures]


def test_ten_refrigerants_fit_on_the_paper(book, clock):
    clock(noon(6, 1))
    codes = ["R-12", "R-134a", "R-1234yf", "R-152a", "R-290", "R-22", "R-404A", "R-407C", "R-410A", "R-744"]
    for number, code in enumerate(codes):
        move = ("opening-stock", "opening", f"C-{number}", code, "virgin", 1_000 + number, "single")
        Desk(book).write(noon(1, 1), move)
    text = words_of(" ".join(pages_of(usage.draft(read_statement(book, *YEAR_2025, "AR4")))))
    assert all(code in text for code in codes)
