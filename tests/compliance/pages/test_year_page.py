"""The year at a look: drawings whose tables and files are the statement's figures, and who sees which of them."""

import json
import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from compliance.due.standing import due_of
from compliance.pages.yearly import last_twelve_months
from inventory.measure.figures import MINUS, NARROW
from tests.compliance.builders import Desk, noon, port_ellery_2025

pytestmark = pytest.mark.django_db

AT = "/w/port-ellery/year/"
YEAR = f"{AT}2025-01-01/2025-12-31/"
STATEMENT = "/w/port-ellery/statements/2025-01-01/2025-12-31/json/"


@pytest.fixture
def year(book: Any, workshop: Any, clock: Any) -> dict[str, Any]:
    return port_ellery_2025(book, clock)


def part_of(answer: Any, name: str) -> Any:
    return next(part for part, _ in answer.context["parts"] if part.name == name)


def rows_of(client: Client, part: str, query: str = "") -> list[dict[str, Any]]:
    answer = client.get(f"{YEAR}{part}/json/{query}")
    assert answer.status_code == 200
    return list(json.loads(b"".join(answer.streaming_content)))


def figure(text: str) -> float:
    return float(text.replace(MINUS, "-").replace(NARROW, ""))


def test_every_part_is_drawn_with_its_table_and_its_files(owner_client: Client, year: Any) -> None:
    answer = owner_client.get(YEAR)
    page = answer.content.decode()
    names = [part.name for part, _ in answer.context["parts"]]
    assert names == ["months", "co2", "stock", "cylinders", "people"]
    assert page.count('<svg xmlns="http://www.w3.org/2000/svg" class="drawing"') >= len(names)
    for part, files in answer.context["parts"]:
        assert part.drawing.rows
        assert [file.words for file in files] == ["CSV", "XLSX", "JSON"]
        for file in files:
            sent = owner_client.get(file.href)
            assert sent.status_code == 200
            assert len(b"".join(sent.streaming_content)) > 100


def test_the_files_of_the_months_add_up_to_the_file_of_the_statement(owner_client: Client, year: Any) -> None:
    months, whole = rows_of(owner_client, "months"), json.loads(owner_client.get(STATEMENT).content)
    for each in whole["refrigerants"]:
        own = [row for row in months if row["refrigerant"] == each["refrigerant"]]
        for name in ("acquired", "recovered", "other", "charged", "sent_away", "air", "unexplained"):
            assert sum(row[f"{name}_mg"] for row in own) == each[f"{name}_mg"], (each["refrigerant"], name)
        stock = [row for row in rows_of(owner_client, "stock") if row["refrigerant"] == each["refrigerant"]]
        assert (stock[0]["held_mg"], stock[-1]["held_mg"]) == (each["opening_mg"], each["closing_mg"])
    unexplained = sum(each["unexplained_mg"] for each in whole["refrigerants"])
    for part in ("cylinders", "people"):
        assert sum(row["unexplained_mg"] for row in rows_of(owner_client, part)) == unexplained


def test_the_page_shows_what_is_missing_with_a_minus(owner_client: Client, year: Any) -> None:
    months = part_of(owner_client.get(YEAR), "months")
    column = months.drawing.head.index("unexplained, kg")
    june = next(row for row in months.drawing.rows if row[0] == "2025-06")
    assert figure(june[column]) == -0.18
    (row,) = (row for row in rows_of(owner_client, "months") if row["month"] == "2025-06")
    assert row["unexplained_mg"] == 180_000, "a plus in the files, as in the statement's"


def test_one_refrigerant_may_be_looked_at_alone(owner_client: Client, year: Any) -> None:
    answer = owner_client.get(YEAR, {"refrigerant": "R-12", "basis": "AR5"})
    assert {row["refrigerant"] for row in rows_of(owner_client, "months", "?refrigerant=R-12")} == {"R-12"}
    assert part_of(answer, "stock").drawing.rows[0][0].startswith("R-12")
    assert "refrigerant=R-12" in answer.context["parts"][0][1][0].href
    assert owner_client.get(YEAR, {"refrigerant": "R-9"}).context["chosen"] == ""


def test_what_stands_by_a_name_is_the_owners_alone_and_accuses_nobody(
    owner_client: Client, technician_client: Client, reader_client: Client, year: Any
) -> None:
    people = part_of(owner_client.get(YEAR), "people")
    assert any("does not say who caused it" in words for words in people.words)
    assert {row[-1] for row in people.drawing.rows} <= {
        "within what the scales can tell", "more than the scales can tell"
    }  # fmt: skip
    for client in (technician_client, reader_client):
        assert "people" not in [part.name for part, _ in client.get(YEAR).context["parts"]]
        assert client.get(f"{YEAR}people/csv/").status_code == 404
        assert client.get(f"{YEAR}cylinders/csv/").status_code == 200


def test_what_is_due_is_what_falls_due_within_ninety_days(
    owner_client: Client, technician_client: Client, workshop: Any, make_scale: Any
) -> None:
    today = timezone.localdate()
    for name, days in (("S8", 89), ("S9", 91), ("S7", -3)):
        make_scale(name, calibrated_until=today + timedelta(days=days))
    answer = owner_client.get(AT)
    due = due_of(workshop, today, ahead=timedelta(days=90))
    assert len(answer.context["due"]) == len(due)
    said = " ".join(one.words for one in answer.context["due"])
    assert re.findall(r"Scale (S\d)", said) == ["S7", "S8"]
    sent = technician_client.get(answer.context["due_files"][2].href)
    rows = json.loads(b"".join(sent.streaming_content))
    assert [(row["name"], row["days_left"]) for row in rows] == [("Scale S7", -3), ("Scale S8", 89)]


@pytest.mark.parametrize(
    ("path", "status", "says"),
    [
        ("2025-12-31/2025-01-01/", 400, "before it begins on 2025-12-31"),
        ("2020-01-01/2025-12-31/", 400, "At most 36 months"),
        ("2025-01-01/2025-12-31/?basis=AR99", 400, "is not a basis"),
        ("yesterday/2025-12-31/", 404, ""),
        ("2025-01-01/2025-12-31/months/pdf/", 404, ""),
        ("2025-01-01/2025-12-31/wheels/csv/", 404, ""),
        ("2025-12-31/2025-01-01/months/csv/", 404, ""),
    ],
)
def test_what_cannot_be_shown_is_said(owner_client: Client, path: str, status: int, says: str) -> None:
    answer = owner_client.get(AT + path)
    assert answer.status_code == status
    assert says in answer.content.decode()
    assert status == 404 or "Choose a statement" in answer.content.decode()


def test_an_empty_book_has_a_year_too(owner_client: Client, reader_client: Client, stranger_client: Client) -> None:
    assert owner_client.get(AT).status_code == 200
    assert reader_client.get(AT).status_code == 200
    assert stranger_client.get(AT).status_code == 404


@pytest.mark.parametrize(
    ("today", "first"),
    [
        (date(2026, 11, 28), date(2025, 12, 1)),
        (date(2026, 12, 31), date(2026, 1, 1)),
        (date(2024, 2, 29), date(2023, 3, 1)),
    ],
)
def test_the_last_twelve_months_begin_with_a_month(today: date, first: date) -> None:
    assert last_twelve_months(today) == (first, today)


def test_queries_do_not_grow_with_the_lines(owner_client: Client, book: Any, year: Any, clock: Any) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as made:
            owner_client.get(YEAR)
        return len(made)

    queries()
    few = queries()
    desk = Desk(book, {one.label: one for one in book.accounts.exclude(label="")})
    for day in range(1, 20):
        clock(noon(12, 3 + day))  # a late line would have a query of its own
        desk.write(noon(12, 3 + day), ("weighing-difference", "C-44", "unexplained", "R-134a", "virgin", 1, "pair"))
    assert queries() == few
