"""What tests of the papers of cylinders share.

desk        a workshop under European rules with two scales, whose people act an hour after each other
stock_of    stock_of(serial, grams, **fields): a cylinder with its opening stock of 1 January 2025
destroyer   a partner that destroys gas
destroyed   the line by which suspect gas went there
"""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from inventory import causes
from inventory.acts.away import Dispatch
from inventory.models import Account, Entry
from tests.compliance.papers.desk import START, Desk, G


@pytest.fixture
def desk(workshop: Any, technician: Any, clock: Callable[[datetime], datetime], make_scale: Callable[..., Any]) -> Desk:
    clock(START)
    workshop.jurisdiction = "eu"
    workshop.save()
    return Desk(workshop, technician, clock, (make_scale(), make_scale("S2", 2 * G)))


@pytest.fixture
def stock_of(clock: Callable[[datetime], datetime], make_cylinder: Callable[..., Any], post: Callable[..., Any]) -> Any:
    """Return stock_of(serial, grams, **fields): a cylinder with its opening stock of 1 January 2025."""

    def make(serial: str, grams: int = 0, **fields: Any) -> Any:
        at = clock(datetime(2025, 1, 1, 9, tzinfo=UTC))
        cylinder = make_cylinder(serial, **fields)
        if grams:
            opening = Account.objects.get(book=cylinder.account.book, kind=causes.OPENING)
            gas = {"refrigerant": cylinder.refrigerant, "grade": cylinder.grade}
            post("opening-stock", opening, cylinder, grams * G, basis="single", at=at, **gas)
        clock(START)
        return cylinder

    return make


@pytest.fixture
def destroyer(make_partner: Callable[..., Any]) -> Any:
    return make_partner("Northmoor Destruction", "destruction facility", address="Kiln Lane 1, Northmoor")


@pytest.fixture
def destroyed(desk: Desk, stock_of: Any, destroyer: Any) -> Entry:
    """3,358 g of R-12 on its way to be destroyed."""
    cylinder = stock_of("C-12", 3_358, refrigerant="R-12", grade="recovered", kind="recovery", tare_mg=6_850 * G)
    return desk.send(cylinder, 10_208, Dispatch(destroyer, "sent-away", "destruction", "PE-25-02"))
