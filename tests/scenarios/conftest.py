"""Port Ellery on the morning of 1 January 2025: scales, instruments, people, partners, nothing in stock yet."""

from collections.abc import Callable
from datetime import datetime

import pytest

from shop.demo.cast import DESTROYER, SUPPLIER
from tests.scenarios.shop_floor import OWNER, TECHNICIAN, TRAINEE, Floor, moment

PASSWORD = "four words of nine"


@pytest.fixture
def floor(db: None, clock: Callable[[datetime], datetime], request: pytest.FixtureRequest) -> Floor:
    clock(moment("01-01 08:00"))
    request.getfixturevalue("owner")
    one = Floor(clock, request.getfixturevalue("workshop"))
    one.at("01-01 08:00", OWNER)
    one.enter("settings/rules/", jurisdiction="none", gwp_basis="AR4", mass_unit="kg", pressure_unit="bar")
    one.enter("settings/scales/new/", name="S1", step="5 g", capacity="100 kg")
    one.enter("settings/scales/new/", name="S2", step="2 g", capacity="50 kg")
    for name, kind, typed in (
        ("G1", "pressure gauge", {"step": "0.1 bar"}),
        ("G9", "pressure gauge", {"step": "1 psi"}),
        ("G2", "vacuum gauge", {"step": "0.1 mbar", "absolute": True}),
        ("TH1", "thermometer", {"accuracy": "0.5 C"}),
        ("ID1", "identifier", {}),
        ("L1", "leak detector", {"step": "5 g a year"}),
    ):
        one.enter("settings/instruments/new/", name=name, kind=kind, **typed)
    for name, sign_in, typed in (
        (TECHNICIAN, "tobin", {}),
        (TRAINEE, "ilse", {"is_trainee": True, "enrolled_on": "2024-09-02"}),
    ):
        password = {"username": sign_in, "password": PASSWORD, "again": PASSWORD}
        one.enter("people/new/", display_name=name, role="technician: writes in the book", **password, **typed)
    one.enter("partners/new/", name=SUPPLIER, kind="supplier", address="4 Quay Row, Port Ellery")
    one.enter("partners/new/", name=DESTROYER, kind="destruction facility", address="Kiln Lane 1, Northmoor")
    return one
