"""Service ports entered in a visit stand on the page of the vehicle."""

from collections.abc import Callable

import pytest
from django.test import Client

from shop.models import Visit
from tests.answers import words
from tests.shop.visits.looking import HOME, Make

pytestmark = pytest.mark.django_db


def ports_on(client: Client, visit: Visit) -> str:
    """Return what the page of the vehicle says of its ports."""
    page = words(client.get(f"{HOME}vehicles/{visit.vehicle.account.number}/"))
    return page.partition("<dt>Ports</dt>")[2].partition("</dd>")[0]


def test_the_newest_that_was_seen_or_fitted_stands_there_with_its_visit(
    start: Callable[..., Visit], step: Make, technician_client: Client
) -> None:
    visit = start()
    assert "not entered" in ports_on(technician_client, visit)
    seen = {"high": "R-12 screw", "low": "R-12 screw", "adapters": "yes"}
    assert step(visit, "ports-seen", **seen).status_code == 303
    said = ports_on(technician_client, visit)
    assert "R-12 screw on both sides, with adapters on them" in said
    assert f"{HOME}visits/{visit.number}/" in said
    fitted = {"to": "R-134a", "high_fitting": "R-134a quick coupler", "low_fitting": ""}
    assert step(visit, "conversion-done", **fitted).status_code == 303
    assert "high side R-134a quick coupler, low side not entered" in ports_on(technician_client, visit)


def test_what_was_entered_of_the_vehicle_itself_is_kept_beside_it(
    start: Callable[..., Visit], step: Make, technician_client: Client
) -> None:
    visit = start(port_type="quick couplers")
    assert "quick couplers" in ports_on(technician_client, visit)
    assert step(visit, "ports-seen", high="R-134a quick coupler", low="not there").status_code == 303
    said = ports_on(technician_client, visit)
    assert "high side R-134a quick coupler, low side not there" in said
    assert "entered of the vehicle: quick couplers" in said
