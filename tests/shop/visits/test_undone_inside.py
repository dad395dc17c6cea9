"""What a visit says is inside after a line was reversed: by the lines that stand, whatever was written between."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from inventory.models import Entry
from tests.shop.visits.looking import HOME, Make, held_vacuum

pytestmark = pytest.mark.django_db
ALL_OF_IT = "All of it was charged here into an evacuated system."
HELD = [("0", "1.0"), ("5", "1.0"), ("10", "1.0"), ("20", "1.0"), ("30", "1.0")]


@pytest.fixture
def said(technician_client: Client) -> Callable[[], str]:
    """What the page of the visit shows, its spaces plain."""
    return lambda: " ".join(technician_client.get(f"{HOME}visits/1/").content.decode().split())


def test_a_charge_reversed_and_written_anew_leaves_the_vehicle_as_evacuated_as_it_was(
    start: Make, step: Make, leg: Make, send: Make, gauges: Any, cylinder: Any, scale: Any, said: Callable[[], str]
) -> None:
    visit = start(refrigerant="R-134a", volume_m3=0.002)
    step(visit, "vacuum-hold", **held_vacuum(HELD, gauges))
    gross = (cylinder.tare_mg + 5_000_000) / 1e6
    leg(visit, cylinder, scale, f"{gross:.3f}", f"{gross - 0.5:.3f}")
    assert ALL_OF_IT in said()
    charge = Entry.objects.latest("seq")
    assert send(f"lines/{charge.seq}/reverse/", reason="wrong car").status_code == 303
    assert "Evacuated: nothing is inside but what the pump left." in said()
    leg(visit, cylinder, scale, f"{gross:.3f}", f"{gross - 0.5:.3f}")
    assert ALL_OF_IT in said()
