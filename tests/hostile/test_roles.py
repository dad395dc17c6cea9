"""The table of who may what is the code's, and every address of a workshop answers as it says."""

from typing import Any

import pytest
from django.test import Client

from tests.hostile.roles import NARROWER, ROLES, in_readme, rows_of_addresses, table
from tests.test_permissions import address, everything  # noqa: F401 - a fixture

OPEN = {
    "/", "/appearance/", "/calendar/<token>/", "/car/<token>/", "/health/", "/metrics/", "/net-away/",
    "/read/<token>/",
    "/read/<token>/documents/<number>/", "/read/<token>/statement/<form>/", "/second-factor/check/", "/sending/",
    "/set-up/", "/sign-in/", "/sign-out/", "/trust/", "/trust/tarebook-authority.crt", "/verify/", "/worker.js",
}  # fmt: skip


def test_the_table_of_the_readme_is_made_from_the_code() -> None:
    assert in_readme() == table(), "python -m tests.hostile.roles writes it anew"


def test_what_is_open_to_anybody_is_named_here_one_by_one() -> None:
    found = list(rows_of_addresses())
    assert {route for route, least, _, _ in found if least == "anybody"} == OPEN
    assert {least for route, least, _, _ in found if route.startswith("/w/")} <= {"reader", "technician", "owner"}


@pytest.mark.django_db
@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("role", ["reader", "technician"])
def test_every_address_answers_a_role_as_the_table_says(
    everything: Any,  # noqa: F811
    workshop: Any,
    book: Any,
    role: str,
    method: str,
    request: pytest.FixtureRequest,
) -> None:
    client: Client = request.getfixturevalue(f"{role}_client")
    book.refresh_from_db()
    head, wrong, answered = book.head_seq, [], 0
    for shown, least, takes, narrower in rows_of_addresses():
        if not shown.startswith("/w/"):
            continue
        at = address(_route(shown), everything, workshop.slug)
        status = getattr(client, method)(at).status_code
        may = ROLES.index(role) >= ROLES.index(least)
        answered += may and status == 200
        refused = status == 403 or (method == "post" and status == 405 and takes == "reads")
        if refused and may and method == "get" and not narrower:
            wrong.append((at, status))
        if not refused and not may and status != 405:  # a page that is only sent to asks nobody who looks
            wrong.append((at, status))
        if role == "reader" and method == "post" and not refused and shown != "/w/.../units/":
            wrong.append((at, status))  # how the pages speak to a reader is all that a reader may send
        if status >= 500:
            wrong.append((at, status))
    assert wrong == []
    assert answered >= (1 if method == "post" else 20)
    book.refresh_from_db()
    assert role == "technician" or book.head_seq == head


def _route(shown: str) -> str:
    numbers = ("number", "pk", "seq", "step", "source", "target", "cylinder", "watch", "reading", "sheet")
    route = shown.removeprefix("/").replace("w/.../", "w/<slug:slug>/")
    for name in numbers:
        route = route.replace(f"<{name}>", f"<int:{name}>")
    return route


def test_what_is_narrower_than_its_guards_names_addresses_that_there_are() -> None:
    from django.urls import get_resolver

    from tests.test_permissions import routes

    assert set(NARROWER) <= {pattern.name for _, pattern in routes(get_resolver())}
