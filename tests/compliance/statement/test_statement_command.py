"""``manage.py statement``: the words that scripts count on, and a sentence with status 1 for everything else."""

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from tests.compliance.builders import port_ellery_2025

pytestmark = [pytest.mark.django_db, pytest.mark.any_database]


def run(**changed: Any) -> str:
    out = io.StringIO()
    words = {"book": "Port Ellery", "from": "2025-01-01", "to": "2025-12-31", "basis": "AR4", "format": "json"}
    asked = [f"--{name}={value}" for name, value in (words | changed).items()]
    call_command("statement", *asked, stdout=out)
    return out.getvalue()


@pytest.fixture
def year(book: Any, clock: Any) -> None:
    port_ellery_2025(book, clock)


def test_json_goes_to_standard_output(year):
    content = json.loads(run())
    assert {each["refrigerant"]: each["closing_mg"] for each in content["refrigerants"]} == {
        "MIXED": 465_000,
        "R-12": 0,
        "R-1234yf": 2_520_000,
        "R-134a": 35_179_000,
    }


def test_csv_goes_to_standard_output(year):
    assert run(format="csv").startswith("refrigerant,grade,opening_mg,")


def test_every_format_goes_to_a_file(year, tmp_path: Path):
    for form, begins in (("pdf", b"%PDF-"), ("xlsx", b"PK"), ("json", b"{"), ("csv", b"refr")):
        path = tmp_path / f"report.{form}"
        assert run(format=form, output=path) == ""
        assert path.read_bytes().startswith(begins)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"book": "Nowhere"}, "There is no book 'Nowhere'. The books are: Port Ellery."),
        ({"from": "1 January"}, "--from is '1 January'; a day is written YYYY-MM-DD"),
        ({"to": "20251231"}, "--to is '20251231'; a day is written YYYY-MM-DD"),
        ({"to": "2025-02-30"}, "--to is '2025-02-30'"),
        ({"to": "2024-12-31"}, "before it begins"),
        ({"basis": "AR7"}, "'AR7' is not a basis. The bases are SAR, TAR, AR4"),
        ({"format": "docx"}, "'docx' is not a format. The formats are json, csv, xlsx, pdf."),
        ({"format": "pdf"}, "name a file with --output"),
        ({"output": "/nowhere/at/all.json"}, "/nowhere/at/all.json cannot be written"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(book, changed, says):
    with pytest.raises(CommandError, match=says.replace("(", r"\(").replace(".", r"\.")) as refused:
        run(**changed)
    assert refused.value.returncode == 1
