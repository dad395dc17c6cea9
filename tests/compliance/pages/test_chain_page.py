"""The year of several workshops: it adds up to their statements, and shows nobody a book that is not theirs."""

import csv
import io
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from compliance.statement.chain import read_chain
from compliance.statement.figures import read_statement
from inventory.models import Account
from shop.models import Membership
from tests.answers import words
from tests.compliance.builders import noon, port_ellery_2025

pytestmark = pytest.mark.django_db
FIRST, LAST = date(2025, 1, 1), date(2025, 12, 31)
AT = "/chain/2025/"


@pytest.fixture
def year(book: Any, other_workshop: Any, workshop: Any, clock: Any) -> Any:
    """The told year in Port Ellery, and another in Highmoor."""
    told = port_ellery_2025(book, clock)
    port_ellery_2025(other_workshop.book, clock)
    return told


@pytest.fixture
def office(make_user: Callable[..., Any], year: Any, workshop: Any, other_workshop: Any, client: Client) -> Client:
    """A reader of both, signed in."""
    client.force_login(make_user("hanna", workshop, "reader"))
    call_command("head_office", "hanna", verbosity=0)
    return client


def test_the_chain_is_the_sum_of_its_statements(year: Any, workshop: Any, other_workshop: Any) -> None:
    found = read_chain([other_workshop, workshop], FIRST, LAST)
    alone = {one.pk: read_statement(one.book, FIRST, LAST, "AR4") for one in (workshop, other_workshop)}
    assert [(each.workshop.name, each.balance) for each in found.shares] == [
        (one.name, each) for one in (other_workshop, workshop) for each in alone[one.pk].refrigerants
    ]
    for each in found.refrigerants:
        parts = [one for report in alone.values() for one in report.refrigerants if one.refrigerant == each.refrigerant]
        assert each.opening_mg == sum(one.opening_mg for one in parts)
        assert each.closing_mg == sum(one.closing_mg for one in parts)
        for flow in each.all_flows:
            assert flow.mass_mg == sum(getattr(one, flow.name).mass_mg for one in parts)
            if flow.u_mg is not None:  # two workshops' scales have nothing in common
                assert flow.u_mg <= sum(getattr(one, flow.name).u_mg or 0 for one in parts) + 1e-6


def test_one_query_reads_the_totals_of_all_books(year: Any, workshop: Any, other_workshop: Any) -> None:
    with CaptureQueriesContext(connection) as asked:
        read_chain([other_workshop, workshop], FIRST, LAST)
    assert len(asked) == 1


def test_the_head_office_reads_both_and_takes_them_as_a_file(office: Client, workshop: Any) -> None:
    page = office.get(AT)
    assert page.status_code == 200
    assert "Port Ellery" in words(page)
    assert "Highmoor" in words(page)
    assert f'href="/w/{workshop.slug}/statements/2025-01-01/2025-12-31/"' in page.content.decode()
    rows = list(csv.DictReader(io.StringIO(b"".join(office.get(f"{AT}csv/")).decode().removeprefix("\ufeff"))))
    assert {row["workshop"] for row in rows} == {"Port Ellery", "Highmoor"}
    report = read_statement(workshop.book, FIRST, LAST, "AR4")
    mine = {row["refrigerant"]: int(row["closing_mg"]) for row in rows if row["workshop"] == "Port Ellery"}
    assert mine == {each.refrigerant: each.closing_mg for each in report.refrigerants}
    assert "The year of all of them" in words(office.get("/"))
    assert office.get("/chain/").status_code == 303


def test_a_role_taken_away_takes_the_book_out(office: Client, other_workshop: Any) -> None:
    Membership.objects.filter(workshop=other_workshop, user__username="hanna").update(active=False)
    assert office.get(AT).status_code == 404  # one is left, and has its own statement
    assert office.get(f"{AT}csv/").status_code == 404
    call_command("head_office", "hanna", verbosity=0)
    assert office.get(AT).status_code == 404


def test_who_belongs_to_one_workshop_has_no_chain(year: Any, owner_client: Client, client: Client) -> None:
    assert owner_client.get(AT).status_code == 404
    assert client.get(AT)["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("asked", ["0", "1899", "3000", "99999999999"])
def test_a_year_that_cannot_be_is_not_found(office: Client, asked: str) -> None:
    assert office.get(f"/chain/{asked}/").status_code == 404


def test_a_year_before_the_books_says_so(office: Client) -> None:
    assert "None of the books has a line" in words(office.get("/chain/2001/"))


def test_what_moved_between_sisters_is_said(office: Client, workshop: Any, post: Any, make_partner: Any) -> None:
    left = make_partner("Highmoor", "sister", workshop.book)
    cylinder = Account.objects.filter(book=workshop.book, kind="cylinder", holdings__mass_mg__gt=1_000_000).first()
    held = cylinder.holdings.get()
    like = {"refrigerant": held.refrigerant, "grade": held.grade, "at": noon(6, 30)}
    post("moved-to-sister", cylinder, left, 1_000_000, **like)
    page = words(office.get(AT))
    assert "1.000 kg left for a sister workshop and 0.000 kg came from one: not the same" in page.replace("\u202f", " ")


def test_nobody_of_that_name_is_said(db: None) -> None:
    with pytest.raises(CommandError, match="Nobody signs in as nobody"):
        call_command("head_office", "nobody")
