"""Port Ellery on the morning of 1 January 2025: scales, instruments, people, partners, nothing in stock yet."""

from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from inventory.book import ledger
from shop.demo.cast import DESTROYER, SUPPLIER
from shop.models import Membership, User, Workshop
from tests import databases
from tests.scenarios.shop_floor import OWNER, TECHNICIAN, TRAINEE, Floor, moment

PASSWORD = "four words of nine"


@pytest.fixture(scope="session")
def entered(django_db_setup: None, django_db_blocker: Any, migrated: str, of_the_run: Path) -> str:
    """The address of a database with all this in it, entered once for all processes of the run."""

    def enter(url: str) -> None:
        databases.copy(migrated, url)
        with django_db_blocker.unblock(), databases.used(url), pytest.MonkeyPatch.context() as patch:

            def clock(now: datetime) -> None:
                patch.setattr("django.utils.timezone.now", lambda: now)

            clock(moment("01-01 08:00"))
            book = ledger.open_book("Port Ellery", "Etc/GMT-2")
            facts = {"name": book.name, "slug": "port-ellery", "zone": book.zone, "altitude_m": 0.0}
            workshop = Workshop.objects.create(book=book, address="1 Quay Road, Port Ellery", **facts)
            owner = User.objects.create_user("olga", password="a long password", display_name=OWNER)
            Membership.objects.create(user=owner, workshop=workshop, role="owner")
            furnish(clock, workshop)

    return databases.filled_once("furnished", of_the_run, enter)


@pytest.fixture(scope="module")
def furnished(entered: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Let the tests of a file have a copy of it; each is rolled back to there."""
    own = databases.beside("furnished", tmp_path_factory.mktemp("furnished"))
    databases.copy(entered, own)
    with databases.used(own):
        yield
    databases.drop(own)


@pytest.fixture
def floor(furnished: None, db: None, clock: Callable[[datetime], object]) -> Floor:
    one = Floor(clock, Workshop.objects.select_related("book").get())
    one.at("01-01 08:00", OWNER)
    return one


def furnish(clock: Callable[[datetime], object], workshop: Workshop) -> Floor:
    """Enter what stands in the workshop through its pages."""
    one = Floor(clock, workshop)
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
