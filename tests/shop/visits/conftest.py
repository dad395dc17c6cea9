"""What the tests of visits share: the ways to send a form, a visit begun, its steps and its legs."""

from collections.abc import Callable
from typing import Any

import pytest

from inventory.models import Gauge
from shop.models import Vehicle, Visit
from tests.shop.visits.looking import Make


@pytest.fixture
def gauges(book: Any) -> dict[str, Gauge]:
    """A gauge in steps of 0.1 bar, one of 1 psi, a vacuum gauge of 0.1 mbar."""
    return {
        "G1": Gauge.objects.create(book=book, name="G1", kind="pressure gauge", step=10_000.0),
        "G9": Gauge.objects.create(book=book, name="G9", kind="pressure gauge", step=6_894.757),
        "G2": Gauge.objects.create(book=book, name="G2", kind="vacuum gauge", absolute=True, step=10.0),
    }


@pytest.fixture
def send(send: Make, gauges: Any) -> Make:
    """Send a form, with gauges to be named in it."""
    return send


@pytest.fixture
def start(send: Make, make_vehicle: Make) -> Callable[..., Visit]:
    """Open a visit of a vehicle that has not been here before."""

    def make(vehicle: Vehicle | None = None, state: str = "runs", **fields: Any) -> Visit:
        car = vehicle or make_vehicle(**{"registration": "V1", "nameplate_mg": None, **fields})
        assert send("visits/new/", registration=car.registration, state=state).status_code == 303
        return Visit.objects.order_by("-number").first()  # type: ignore[return-value]

    return make


@pytest.fixture
def step(send: Make) -> Make:
    """Write a step that moves no mass."""

    def write(visit: Visit, kind: str, **fields: Any) -> Any:
        return send(f"visits/{visit.number}/add/{kind}/", **fields)

    return write


@pytest.fixture
def leg(send: Make) -> Make:
    """Write a leg by two readings in kilograms."""

    def write(visit: Visit, cylinder: Any, scale: Any, before: str, after: str, **fields: Any) -> Any:
        way, name = ("recover", "target") if "stopped" in fields else ("charge", "source")
        readings = {"before": before, "after": after, "before_unit": "kg", "after_unit": "kg", "scale": scale.number}
        insist = {"before_reading": f"={before} kg", "after_reading": f"={after} kg"}
        path = f"visits/{visit.number}/{way}/?{name}={cylinder.account.number}"
        return send(path, **readings, **insist, **fields)

    return write
