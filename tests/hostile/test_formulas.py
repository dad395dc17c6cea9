"""A spreadsheet takes no cell of any file that the book gives for a formula, whatever people have entered."""

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from openpyxl import load_workbook

from inventory.models import Account, Cylinder, Partner
from shop.importing.whole.give import give
from shop.importing.whole.tables import unguarded
from shop.models import Customer, Vehicle
from tests.test_permissions import address, everything, of_a_workshop  # noqa: F401 - a fixture among them

pytestmark = pytest.mark.django_db
NUMBER = re.compile(r"[+-]?\d+(\.\d+)?(e[+-]?\d+)?", re.IGNORECASE)
FORMULA = re.compile(r"\s*[=+\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n]")


@pytest.fixture
def hostile(everything: Any) -> Any:  # noqa: F811
    """Every name of the workshop is a formula, written past the forms."""
    for number, (model, field) in enumerate(
        (
            (Account, "label"),
            (Cylinder, "serial"),
            (Partner, "address"),
            (Vehicle, "registration"),
            (Vehicle, "make_model"),
            (Customer, "name"),
        )
    ):
        for one in model.objects.all():
            said = ("=1+1", "@SUM(1)", "+1+1", "-1+1", "\uff1d1+1", "\t=1")[number]
            model.objects.filter(pk=one.pk).update(**{field: f"{said}{one.pk}"})
    return everything


def formulas_in(kind: str, content: bytes) -> list[str]:
    if kind == "csv":
        cells = (cell for row in csv.reader(io.StringIO(content.decode(), newline="")) for cell in row)
        return [cell for cell in cells if FORMULA.match(cell) and not NUMBER.fullmatch(cell)]
    book = load_workbook(io.BytesIO(content))
    return [str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]


def files_of(known: Any, slug: str, client: Client) -> Iterator[tuple[str, str, bytes]]:
    """Yield the kind and content of every file that an address gives when asked for one."""
    for route in of_a_workshop():
        for kind in ("csv", "xlsx"):
            at = address(route.replace("<str:form>", kind), known, slug)
            answer = client.get(at, None if route.endswith("<str:form>/") else {"format": kind})
            if answer.status_code == 200 and answer.get("Content-Disposition", "").endswith(f'.{kind}"'):
                yield at, kind, answer.getvalue()


def test_no_file_of_any_page_holds_a_formula(hostile: Any, workshop: Any, owner_client: Client) -> None:
    found = list(files_of(hostile, workshop.slug, owner_client))
    assert len(found) >= 16
    assert {at: wrong for at, kind, content in found if (wrong := formulas_in(kind, content))} == {}
    assert any(b"'=1+1" in content for _, kind, content in found if kind == "csv")


def test_the_whole_book_holds_none_and_reads_back_what_was_said(hostile: Any, workshop: Any, tmp_path: Any) -> None:
    give(workshop, tmp_path / "book.zip", pictures=False)
    with zipfile.ZipFile(tmp_path / "book.zip") as book:
        tables = {name: book.read(name) for name in book.namelist() if name.endswith(".csv")}
    assert {name: wrong for name, content in tables.items() if (wrong := formulas_in("csv", content))} == {}
    assert b"'=1+1" in tables["accounts.csv"]
    assert unguarded("'=1+1") == "=1+1"
