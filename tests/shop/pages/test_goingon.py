"""Where a cylinder on the scale is gone on with: by what its reading before was taken for, whoever asks."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from inventory.book import weighing
from inventory.models import Weighing
from shop.models import Visit
from shop.pages.goingon import goes_on_at, leg_of, meant_for

HOME = "/w/port-ellery/"

pytestmark = pytest.mark.django_db


@pytest.fixture
def start(send: Callable[..., Any], make_vehicle: Callable[..., Any]) -> Callable[..., Visit]:
    def of(plate: str, **facts: Any) -> Visit:
        make_vehicle(plate, nameplate_tolerance_mg=15_000, **facts)
        send("visits/new/", registration=plate, state="runs")
        return Visit.objects.select_related("vehicle__account", "workshop__book").latest("number")

    return of


@pytest.fixture
def put_on(send: Callable[..., Any], scale: Any) -> Callable[..., Weighing]:
    """Take the reading before of a cylinder on a page."""

    def at(page: str, cylinder: Any, gross: str = "11.200 kg") -> Weighing:
        number = cylinder.account.number
        answer = send(page, cylinder=number, gross=gross, scale=scale.number)
        assert answer.status_code == 303
        before = weighing.open_before(cylinder)
        assert before is not None
        return before

    return at


@pytest.mark.parametrize(("page", "leg"), [("charge", "charge"), ("recover", "recovery")])
def test_the_leg_is_the_one_it_was_put_on_the_scale_for_in_any_session(
    page: str, leg: str, start: Any, put_on: Any, make_cylinder: Any, workshop: Any, owner_client: Client
) -> None:
    """A recovery cylinder with gas in it may serve either way, so what it holds cannot say which."""
    visit = start("V1")
    bottle = make_cylinder("C-REC", grade="recovered", kind="recovery", mass_mg=5_000_000)
    before = put_on(f"visits/1/{page}/", bottle)
    assert leg_of(visit, before) == leg
    at = f"{HOME}visits/1/{page}/{bottle.account.number}/"
    assert goes_on_at(workshop, before) == at
    assert f'href="{at}"' in owner_client.get(f"{HOME}cylinders/").content.decode()


@pytest.mark.parametrize(
    ("facts", "leg"),
    [
        ({"mass_mg": 5_000_000}, "charge"),
        ({"mass_mg": 5_000_000, "grade": "suspect"}, "recovery"),
        ({"mass_mg": 5_000_000, "refrigerant": "R-12", "grade": "recovered"}, "recovery"),
        ({"mass_mg": 5_000_000, "grade": "recovered", "kind": "recovery"}, "recovery"),
        ({"mass_mg": 5_000_000, "kind": "single-trip"}, "charge"),
    ],
)
def test_where_it_was_not_said_what_a_cylinder_holds_says_it(
    facts: dict[str, Any], leg: str, start: Any, put_on: Any, make_cylinder: Any
) -> None:
    visit = start("V1")
    bottle = make_cylinder("C-X", **facts)
    before = put_on(f"cylinders/{bottle.account.number}/weigh/", bottle)
    assert before.meant == ""
    assert leg_of(visit, before) == leg


def test_it_is_meant_for_the_visit_of_its_line_before_any_that_would_fit(
    start: Any, put_on: Any, cylinder: Any
) -> None:
    visits = [start("V1"), start("V2")]
    before = put_on("visits/2/charge/", cylinder)
    assert meant_for(before, visits) == visits[1]


def test_without_a_visit_of_its_own_it_is_meant_for_the_only_one_that_wants_its_gas(
    start: Any, put_on: Any, cylinder: Any
) -> None:
    other, fits = start("V1", refrigerant="R-1234yf"), start("V2")
    before = put_on(f"cylinders/{cylinder.account.number}/weigh/", cylinder)
    assert meant_for(before, [other, fits]) == fits
    assert meant_for(before, [other]) is None
    assert meant_for(before, [fits, start("V3")]) is None  # two would: the person says which
