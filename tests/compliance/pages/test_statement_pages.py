"""The pages of the report: choose a period, read it, take it away; readers too, strangers not at all."""

import io
import json
import re
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from inventory.measure.figures import NARROW
from tests.compliance.builders import Desk, noon, port_ellery_2025

pytestmark = pytest.mark.django_db

AT = "/w/port-ellery/statements/"
YEAR = f"{AT}2025-01-01/2025-12-31/"


@pytest.fixture
def year(book: Any, workshop: Any, clock: Any) -> dict[str, Any]:
    return port_ellery_2025(book, clock)


def text_of(answer: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def test_a_period_is_chosen_and_shown(owner_client, year):
    assert owner_client.get(AT).status_code == 200
    answer = owner_client.get(AT, {"from": "2025-01-01", "to": "2025-12-31", "basis": "AR5"})
    assert (answer.status_code, answer["Location"]) == (303, f"{YEAR}?basis=AR5")
    assert "35.179" in text_of(owner_client.get(YEAR))


def test_the_presets_lead_to_their_periods(owner_client, year):
    hrefs = re.findall(rf'href="({AT}\d[^"]+)"', owner_client.get(AT).content.decode())
    assert len(hrefs) == 6
    assert all(owner_client.get(href.replace("&amp;", "&")).status_code == 200 for href in hrefs)


def test_the_page_says_with_which_sign_the_files_count_what_is_unexplained(owner_client, year):
    page, files = text_of(owner_client.get(YEAR)), json.loads(owner_client.get(f"{YEAR}json/").content)
    assert "what went out is a plus there, and so is gas that is missing." in page
    lost = next(each for each in files["refrigerants"] if each["unexplained_mg"])
    said = f"{-lost['unexplained_mg'] / 1e6:+.3f}".replace("-", "\N{MINUS SIGN}")
    assert re.search(rf"Unexplained, net \(minus: missing\)[^.]*{re.escape(said)}", page)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"from": "2025-12-31", "to": "2025-01-01", "basis": "AR4"}, "before it begins on 2025-12-31"),
        ({"from": "yesterday", "to": "2025-01-01", "basis": "AR4"}, "is not a day that can be read"),
        ({"from": "2025-01-01", "to": "", "basis": "AR4"}, "Enter the last day."),
        ({"from": "2025-01-01", "to": "2025-12-31", "basis": "AR99"}, "Choose the basis of CO2 equivalents."),
    ],
)
def test_a_period_that_cannot_be_stays_on_the_page_with_what_was_typed(owner_client, asked, says):
    answer = owner_client.get(AT, asked)
    assert answer.status_code == 422
    assert says in text_of(answer)
    assert f'value="{asked["from"]}"' in answer.content.decode()


def test_an_address_that_ends_before_it_begins_leads_to_the_form(owner_client):
    answer = owner_client.get(f"{AT}2025-12-31/2025-01-01/", follow=True)
    assert answer.status_code == 422
    assert "before it begins" in text_of(answer)


@pytest.mark.parametrize("path", ["2025-1-1/2025-12-31/", "20250101/20251231/", "x/y/", "2025-02-30/2025-12-31/"])
def test_an_address_that_is_no_period_is_not_found(owner_client, path):
    assert owner_client.get(AT + path).status_code == 404


def test_an_unknown_basis_in_the_address_leads_to_the_form(owner_client):
    answer = owner_client.get(f"{YEAR}?basis=AR99", follow=True)
    assert (answer.status_code, "Choose the basis" in text_of(answer)) == (422, True)


def test_the_files_come_down(reader_client, year):
    for form, kind in (
        ("pdf", "application/pdf"),
        ("csv", "text/csv"),
        ("xlsx", "application/vnd.openxmlformats"),
        ("json", "application/json"),
        ("lines", "text/csv"),
    ):
        answer = reader_client.get(f"{YEAR}{form}/?basis=AR4")
        assert answer.status_code == 200, form
        assert answer["Content-Type"].startswith(kind)
        assert "2025-01-01-to-2025-12-31" in answer["Content-Disposition"]
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        assert len(content) > 500, form


def test_page_paper_and_json_have_the_same_figures(owner_client, year):
    page = text_of(owner_client.get(f"{YEAR}?basis=AR4"))
    pdf = PdfReader(io.BytesIO(owner_client.get(f"{YEAR}pdf/?basis=AR4").content))
    paper = " ".join(each.extract_text() for each in pdf.pages)
    for each in json.loads(owner_client.get(f"{YEAR}json/?basis=AR4").content)["refrigerants"]:
        shown = f"{each['closing_mg'] / 1e6:.3f}"
        assert shown in page
        assert shown in paper


def test_the_overview_stands_first_and_adds_up_and_every_refrigerant_is_folded(owner_client, year):
    answer = owner_client.get(f"{YEAR}?basis=AR4")
    page, files = answer.content.decode(), json.loads(owner_client.get(f"{YEAR}json/?basis=AR4").content)
    overview = answer.context["overview"]
    assert len(overview.rows) == len(files["refrigerants"]) > 1
    for row, each in zip(overview.rows, files["refrigerants"], strict=True):
        shown = [float(cell.text.replace("\N{MINUS SIGN}", "-").replace(NARROW, "")) for cell in row.cells]
        assert row.label == each["refrigerant"]
        assert sum(shown[:-1]) == pytest.approx(shown[-1], abs=0.0021), "four figures, each rounded by half a gram"
        assert shown[-1] == pytest.approx(each["closing_mg"] / 1e6, abs=0.0005)
    assert page.index(overview.caption) < page.index("<details id=")
    assert not re.search(r"<details[^>]* open", page)


def test_there_is_no_other_file(owner_client, year):
    assert owner_client.get(f"{YEAR}docx/").status_code == 404
    assert owner_client.get(f"{AT}2025-12-31/2025-01-01/pdf/").status_code == 404


def test_every_linked_figure_leads_to_lines_that_add_up_to_it(owner_client, year):
    page = owner_client.get(YEAR).content.decode()
    found = re.findall(r'href="(/w/port-ellery/lines/\?[^"]*cause=[^"]*)">([^<]+)<', page)
    links = {href.replace("&amp;", "&"): figure.lstrip("+\N{MINUS SIGN}") for href, figure in found}
    # Gas that runs through a machine has two movements for one mass: into the process and out of it.
    links = {href: figure for href, figure in links.items() if "machine" not in href and "grade" not in href}
    assert len(links) > 10
    for href, figure in links.items():
        asked = parse_qs(urlsplit(href).query)
        together = f"Together {figure} kg {asked['refrigerant'][0]}"
        assert together in text_of(owner_client.get(href)).replace(NARROW, " ")


def test_a_stranger_finds_nothing(stranger_client, year):
    for path in (AT, YEAR, f"{YEAR}pdf/"):
        assert stranger_client.get(path).status_code == 404


def test_an_empty_period_names_the_way_on(owner_client, workshop):
    answer = owner_client.get(YEAR)
    assert "The book has no lines up to the end of this period" in text_of(answer)
    assert "Choose another period" in text_of(answer)


def test_queries_of_the_page_do_not_grow(owner_client, book, workshop, clock):
    desk = Desk(book)
    clock(noon(12, 31))
    desk.write(noon(1, 1), ("opening-stock", "opening", "C-1", "R-134a", "virgin", 50_000, "single"))

    def queries_with(times: int) -> int:
        for number in range(times):
            charge = ("charge", "C-1", f"V{number}", "R-134a", "virgin", 10, "pair")
            desk.reverse(desk.write(noon(6, 1), charge, context=f"visit:{number}"), noon(12, 31))
        with CaptureQueriesContext(connection) as queries:
            assert owner_client.get(YEAR).status_code == 200
        return len(queries)

    few = queries_with(2)
    assert queries_with(20) == few
