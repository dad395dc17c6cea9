"""Lists: order, leaves by key, words, and files with every row."""

import csv
import io
import json
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import django_tables2 as tables
import pytest
from django import forms
from django.template.loader import render_to_string
from django.test import RequestFactory
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from inventory.measure.figures import figure, mass_number
from inventory.models import Book, Cylinder
from inventory.models.access import READER, Access
from inventory.pages.links import Link
from inventory.pages.tables.columns import DayColumn, MassColumn, WhenColumn
from inventory.pages.tables.filters import FilterForm
from inventory.pages.tables.table import BookTable, export


class CylinderTable(BookTable):
    nouns = ("cylinder", "cylinders")
    serial = tables.Column("Number on it")
    tare = MassColumn("Tare", unit="kg", accessor="tare_mg")
    paper = MassColumn("On paper", unit="kg", accessor="paper_mass_mg")
    good = DayColumn("Requalify by", accessor="requalify_by")

    class Meta:
        order_by = "serial"


class GradeFilter(FilterForm):
    grade = forms.ChoiceField(label="Grade", choices=[("", "all grades"), ("virgin", "new"), ("suspect", "suspect")])

    def narrow(self, rows: Any) -> Any:
        return rows.filter(**self.chosen)


def asked(query: str = "") -> Any:
    request = RequestFactory().get(f"/list/?{query}")
    request.access = Access(Book(), "tables", READER, "someone")  # type: ignore[attr-defined]
    return request


def listed(query: str = "", **options: Any) -> CylinderTable:
    return CylinderTable(Cylinder.objects.all(), request=asked(query), **options)


def walked(sort: str, size: int = 3) -> list[str]:
    """Return the first cells of all leaves, following "On" from the first to the last."""
    found: list[str] = []
    table = listed(f"sort={sort}", page_size=size)
    for _ in range(50):
        found += [row.cells[0].value for row in table.page_rows]
        if not table.leaves.earlier:
            return found
        table = listed(table.leaves.earlier.split("?", 1)[1], page_size=size)
    raise AssertionError("The leaves never end.")


def walked_back(sort: str, size: int = 3) -> list[str]:
    table = listed(f"sort={sort}", page_size=size)
    while table.leaves.earlier:
        table = listed(table.leaves.earlier.split("?", 1)[1], page_size=size)
    found: list[str] = []
    while True:
        found = [row.cells[0].value for row in table.page_rows] + found
        if not table.leaves.later:
            return found
        table = listed(table.leaves.later.split("?", 1)[1], page_size=size)


@pytest.fixture
def shelf(make_cylinder):
    """Ten cylinders, some with nothing on paper, some with the same mass."""
    papers = [None, 5_000_000, 3_000_000, None, 5_000_000, 1, 9_000_000, 5_000_000, None, 2_000_000]
    for number, paper in enumerate(papers):
        make_cylinder(f"C{number}", paper_mass_mg=paper)
    return papers


@pytest.mark.django_db
class TestLeaves:
    @pytest.mark.parametrize("sort", ["serial", "-serial", "paper", "-paper"])
    def test_show_every_row_once_forwards_and_backwards(self, shelf, sort):
        there = walked(sort)
        assert sorted(there) == [f"C{number}" for number in range(len(shelf))]
        assert walked_back(sort) == there

    def test_are_in_order_with_what_is_missing_last(self, shelf):
        masses = [shelf[int(name[1:])] for name in walked("-paper")]
        known = [mass for mass in masses if mass is not None]
        assert known == sorted(known, reverse=True)
        assert masses[len(known) :] == [None] * 3

    @pytest.mark.parametrize("bad", ["after=x", "after=[1]", "before=%5B%22z%22%2C+%22q%22%5D", "after=[null,99e999]"])
    def test_an_unreadable_cursor_is_the_first_leaf(self, shelf, bad):
        assert len(listed(f"sort=paper&{bad}", page_size=3).page_rows) == 3

    def test_an_unknown_sort_is_the_usual_one(self, shelf):
        assert [row.cells[0].value for row in listed("sort=password").page_rows][:2] == ["C0", "C1"]

    def test_cost_the_same_number_of_queries_however_many_rows(self, shelf, django_assert_num_queries, make_cylinder):
        for number in range(20):
            make_cylinder(f"D{number}")
        table = listed(page_size=5)
        with django_assert_num_queries(2):  # the rows of the leaf, and the count for the caption
            render_to_string("_table.html", {"table": table})


@pytest.mark.django_db
class TestPage:
    def test_has_roles_scopes_and_one_sorted_head(self, shelf):
        html = render_to_string("_table.html", {"table": listed("sort=-tare")})
        assert html.count('aria-sort="descending"') == 1
        assert html.count("aria-sort") == 1
        assert html.count('scope="col"') == 4
        assert html.count('role="rowheader"') == 10
        assert html.count('<tr role="row"') == 11
        assert 'id="list-tare-sort"' in html
        assert "10 cylinders" in html

    def test_says_not_entered_where_there_is_nothing(self, shelf):
        row = listed().page_rows[0]
        assert [cell.value for cell in row.cells][2:] == ["not entered", "not entered"]

    def test_puts_figures_right_with_the_unit_in_the_head(self, shelf):
        table = listed()
        assert [head.words for head in table.heads][1] == "Tare, kg"
        assert table.page_rows[0].cells[1].css == "num"

    def test_offers_both_ways_of_each_column_to_narrow_pages(self, shelf):
        choices = listed("sort=-paper").sort_choices
        assert len(choices) == 8
        assert [one.words for one in choices if one.chosen] == ["On paper, highest first"]

    def test_an_empty_list_says_the_way_on(self, book):
        html = render_to_string("_table.html", {"table": listed(none_act=Link("Receive a cylinder", "/receive/"))})
        assert "None in the book yet." in html
        assert "Receive a cylinder" in html

    def test_filters_in_force_are_said_and_can_be_taken_away(self, shelf):
        request = asked("grade=virgin&sort=-tare&after=[1,2]")
        said = GradeFilter(request).said
        assert [one.words for one in said] == ["grade new"]
        assert said[0].remove == "/list/?sort=-tare"

    def test_a_filter_that_finds_nothing_offers_all(self, shelf):
        request = asked("grade=suspect")
        form = GradeFilter(request)
        rows = Cylinder.objects.all()
        table = CylinderTable(form.narrow(rows), request=request, filter=form, unfiltered=rows.count)
        html = render_to_string("_table.html", {"table": table})
        assert "None of 10 fit." in html
        assert "Show all 10" in html

    def test_an_unknown_choice_of_a_filter_is_said_and_filters_nothing(self, shelf):
        form = GradeFilter(asked("grade=nonsense"))
        assert form.narrow(Cylinder.objects.all()).count() == 10


def content(kind: str, table: BookTable) -> bytes:
    response = export(asked(f"format={kind}"), table, "list")
    assert response is not None
    return b"".join(response.streaming_content)  # type: ignore[attr-defined]


@pytest.mark.django_db
class TestFiles:
    def test_hold_every_row_not_the_leaf(self, shelf):
        for kind in ("csv", "json", "xlsx"):
            table = listed("sort=-paper&format=" + kind, page_size=3)
            body = content(kind, table)
            if kind == "csv":
                rows = list(csv.DictReader(io.StringIO(body.decode())))
                first, count = rows[0]["paper_kg"], len(rows)
            elif kind == "json":
                rows = json.loads(body)
                first, count = str(rows[0]["paper_kg"]), len(rows)
            else:
                sheet = load_workbook(io.BytesIO(body)).active
                assert sheet is not None
                cells = list(sheet.iter_rows(values_only=True))
                first, count = str(cells[1][2]), len(cells) - 1
            assert count == 10
            assert Decimal(first) == 9

    def test_leave_empty_what_was_not_entered(self, shelf):
        row = json.loads(content("json", listed("format=json")))[0]
        assert row["paper_kg"] is None
        assert row["good"] is None
        assert csv.DictReader(io.StringIO(content("csv", listed()).decode())).__next__()["paper_kg"] == ""

    def test_follow_the_filter(self, shelf, make_cylinder):
        make_cylinder("S1", grade="suspect")
        request = asked("grade=suspect&format=json")
        form = GradeFilter(request)
        table = CylinderTable(form.narrow(Cylinder.objects.all()), request=request, filter=form)
        assert [row["serial"] for row in json.loads(content("json", table))] == ["S1"]

    @pytest.mark.parametrize("text", ["=1+1", "+cmd", "-2", "@x"])
    def test_a_text_is_no_formula(self, make_cylinder, text):
        make_cylinder(text)
        assert list(csv.reader(io.StringIO(content("csv", listed()).decode())))[1][0] == f"'{text}"
        sheet = load_workbook(io.BytesIO(content("xlsx", listed()))).active
        assert sheet is not None
        assert sheet["A2"].value == text
        assert sheet["A2"].data_type == "s"
        assert json.loads(content("json", listed()))[0]["serial"] == text

    def test_an_unknown_kind_is_refused(self, shelf):
        response = export(asked("format=exe"), listed(), "list")
        assert response is not None
        assert response.status_code == 400

    def test_no_kind_is_no_file(self, shelf):
        assert export(asked(), listed(), "list") is None


def test_moments_are_shown_in_the_zone_and_written_with_its_offset(settings):
    class Moments(BookTable):
        at = WhenColumn("When")

    settings.TIME_ZONE = "UTC"
    table = Moments([{"at": datetime(2025, 3, 4, 9, 5, tzinfo=UTC)}], request=asked())
    assert "2025-03-04 09:05" in str(table.page_rows[0].cells[0].value)
    assert json.loads(content("json", table))[0]["at"] == "2025-03-04T09:05:00+00:00"


def test_a_plain_list_is_sorted_too():
    class Plain(BookTable):
        name = tables.Column("Name")

    table = Plain([{"name": "b"}, {"name": None}, {"name": "a"}], request=asked("sort=-name"))
    assert [row.cells[0].value for row in table.page_rows] == ["b", "a", "not entered"]


def test_figures_have_a_true_minus_and_parted_thousands():
    assert figure(Decimal("-1234.5"), 1) == "\N{MINUS SIGN}1\N{NARROW NO-BREAK SPACE}234.5"
    assert figure(-0.0001, 2) == "0.00"


@given(st.integers(-(10**12), 10**12), st.sampled_from(["kg", "g"]))
def test_a_mass_is_rounded_once_and_by_less_than_half_a_step(mass_mg: int, unit: str):
    size = {"kg": 10**6, "g": 10**3}[unit]
    step = {"kg": 10**3, "g": 10**3}[unit]
    assert abs(mass_number(mass_mg, unit) * size - mass_mg) * 2 <= step


def test_a_pound_is_its_definition():
    """International yard and pound agreement of 1959: 0.45359237 kg."""
    assert mass_number(453_592_370, "lb") == 1000


def test_on_a_phone_a_word_stands_alone_and_a_figure_with_its_name(make_cylinder: Any) -> None:
    class Listed(CylinderTable):
        state = tables.Column("State")
        place = tables.Column("Place", empty_values=("",))

    make_cylinder("A-1", place="", requalify_by=None)
    (row,) = Listed(Cylinder.objects.all(), request=asked()).page_rows
    css = {cell.name: cell.css for cell in row.cells}
    assert (css["Tare, kg"], css["State"]) == ("num", "worded")
    assert (css["Place"], css["Requalify by"]) == ("bare", "bare")
