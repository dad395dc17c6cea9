"""Builders, the cast and what holds for every test.

Clock and times
    now             a moment on the current second; builders write at it unless told another
    clock           clock(moment) sets what the book takes for the present, until the test ends

The book
    book            a Book named "Port Ellery", two hours ahead of UTC, with its single accounts
    sister_book     another Book, "Highmoor"
    make_book       make_book(name, zone="UTC")
    account         account(kind, book=None): the one air, unexplained, opening or process account
    make_account    make_account(kind="vehicle", label="", book=None): a further account
    vehicle_account an account of kind vehicle; no vehicle of the shop behind it
    make_partner    make_partner(name="Northgas", kind="supplier", book=None, **fields)
    partner         a supplier
    make_scale      make_scale(name="S1", step_mg=5_000, book=None, **fields)
    scale           S1, readable to 5 g
    make_cylinder   make_cylinder(serial=None, *, refrigerant="R-134a", grade="virgin", mass_mg=0, book=None, **fields);
                    with a mass it gets its opening stock
    cylinder        5 kg of virgin R-134a
    act             act(key=None, *, actor="p-technic", at=None, content=None, context="", remark=""): a ledger.Act
    post            post(cause, source, target, mass_mg, *, refrigerant="R-134a", grade="virgin", at=None, key=None,
                    basis=None, **line): one entry with one line; accounts, cylinders and partners alike
    held            held(account): {(refrigerant, grade): mg} as the book has it, without empty ones

The shop
    workshop        "Port Ellery" on `book`, at sea level, records only, address port-ellery
    other_workshop  "Highmoor" on `sister_book`, 1,500 m, address highmoor
    make_workshop   make_workshop(name, book=None, **fields)
    make_user       make_user(username, workshop=None, role=None, **fields)
    owner, technician, reader     members of `workshop`
    stranger        owner of `other_workshop`, unknown in `workshop`
    owner_client, technician_client, reader_client, stranger_client     signed-in test clients
    make_vehicle    make_vehicle(registration="V1", workshop=None, **fields)
    arrive          arrive(vehicle=None, at=None, *, note="", **said): a visit, opened by the technician three hours ago
                    unless told another moment; `said` are answers of its first step

Whole databases
    of_the_run      a folder that all processes of this run share
    migrated        address of an empty, migrated database, made once for the run, to be copied
    database_url    address of an empty, migrated copy of the database, guards on, for processes of its own

After every test that uses the database its books are audited; a test that breaks a book on purpose says so with
the mark ``tampers``.
"""

import gc
import itertools
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import hypothesis
import pytest
from _pytest.runner import runtestprotocol
from django.conf import settings
from django.contrib import auth
from django.contrib.sessions.backends.db import SessionStore
from django.core.management import call_command
from django.db import connection, transaction
from django.test import Client
from pytest_django import DjangoDbBlocker

from inventory.book import audit, changed, guards
from inventory.book.draft import Line
from tests import databases, engines

ROOT = Path(__file__).resolve().parent.parent

hypothesis.settings.register_profile(
    "tarebook",
    deadline=None,  # two cores shared with a database: a slow example is not a wrong one
    derandomize=True,  # the same examples everywhere; set HYPOTHESIS_PROFILE=explore for fresh ones
    suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture],
)
hypothesis.settings.register_profile(
    "explore", hypothesis.settings.get_profile("tarebook"), derandomize=False, max_examples=1_000
)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "tarebook"))


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--with-database", action="store_true", help="only the tests that ask the database (engines.py)")
    parser.addoption("--every-room", action="store_true", help="with it: all tests that use a database at all")


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave the files that another kind of database is not asked, where it is asked, unread."""
    chosen = config.getoption("--with-database") and not config.getoption("--every-room")
    is_file = collection_path.name.startswith("test_") and collection_path.suffix == ".py"
    return True if chosen and is_file and not engines.is_asked_of_all(collection_path) else None


@pytest.hookimpl(trylast=True)  # after the browser tests got their mark
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--with-database"):
        config.hook.pytest_deselected(items=[one for one in items if not engines.uses_database(one)])
        items[:] = [one for one in items if engines.uses_database(one)]


def with_room(call: Callable[[], Any]) -> Any:
    """Call it on a frame so large that all frames above it stand in the memory which Python asked for it.

    Else Python asks the system for 16 kB more wherever calls grow deeper, and gives it back when they return: where
    that happens in a loop, as in a page of a scenario, a tenth of the time is lost.
    """
    return call()


with_room.__code__ = with_room.__code__.replace(co_stacksize=20_000)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool:
    item.ihook.pytest_runtest_logstart(nodeid=item.nodeid, location=item.location)
    with_room(lambda: runtestprotocol(item, nextitem=nextitem))
    item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
    return True


def pytest_collection_finish() -> None:
    """Look seldom through what stays until the end, such as thousands of tests: pages make few rings of objects."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "tampers: breaks a book on purpose, so it is not audited afterwards")


def pytest_unconfigure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        databases.drop_shared()


# Whole databases


def manage_py(url: str, *words: str, **more: Any) -> subprocess.CompletedProcess[str]:
    """Run ``manage.py`` with words on a database; a warning is an error."""
    command = [sys.executable, "-W", "error", "manage.py", *words]
    environment = {**os.environ, "DATABASE_URL": url}
    return subprocess.run(
        command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120, **{"check": False, **more}
    )


@pytest.fixture(scope="session")
def of_the_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    own = tmp_path_factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


@pytest.fixture(scope="session")
def migrated(
    django_test_environment: None, django_db_blocker: DjangoDbBlocker, of_the_run: Path, pytestconfig: pytest.Config
) -> str:
    """Keep it beside pytest's own cache until a migration or a trigger is written otherwise."""

    def migrate(url: str) -> None:
        databases.create(url)
        with django_db_blocker.unblock(), databases.used(url):
            call_command("migrate", verbosity=0)

    written = [*ROOT.glob("*/migrations/*.py"), *ROOT.glob("*/apps.py"), ROOT / "requirements.lock"]
    triggers = [ROOT / "inventory/book/guards.py", ROOT / "compliance/findings/noticing.py"]
    cache = pytestconfig.cache.mkdir("databases") if hasattr(pytestconfig, "cache") else of_the_run
    kept = databases.Kept("empty", cache, (*written, *triggers))
    return databases.filled_once("empty", of_the_run, lambda url: kept.fill(url, migrate))


@pytest.fixture(scope="session")
def django_db_setup(
    django_test_environment: None, migrated: str, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[None]:
    """Let the tests of this process have a copy of the migrated database; pytest-django would migrate each anew."""
    own = databases.beside("tests", tmp_path_factory.mktemp("tests"))
    databases.copy(migrated, own)
    settings.PAPER_KEYS = tmp_path_factory.mktemp("papers")
    with databases.used(own):
        yield
    databases.drop(own)


@pytest.fixture
def database_url(transactional_db: None, tmp_path: Path) -> Iterator[str]:
    """Give processes a database of their own, as it stands before the test; it goes when the test ends."""
    copy = databases.beside("copy", tmp_path)
    connection.close()  # a database with a session in it cannot be copied
    databases.copy(databases.named(connection.settings_dict["NAME"]), copy)
    yield copy
    databases.drop(copy)


@pytest.fixture
def manage(database_url: str) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run ``manage.py`` with words on the copy of the database and return what it said."""
    return lambda *words, url=database_url: manage_py(url, *words)


# What holds for every test


@pytest.fixture(scope="session", autouse=True)
def flush_past_the_guards() -> Iterator[None]:
    """Let the runner empty the database after a test with real commits: guards off, empty, guards on, in one go."""
    from django.db.backends.base.operations import BaseDatabaseOperations

    from compliance.findings import noticing

    flush = BaseDatabaseOperations.execute_sql_flush

    def guarded_flush(self: BaseDatabaseOperations, sql_list: list[str]) -> None:
        using = self.connection.alias
        with transaction.atomic(using=using):
            guards.remove(using)
            noticing.remove(using)
            flush(self, sql_list)
            noticing.install(using)
            guards.install(using)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(BaseDatabaseOperations, "execute_sql_flush", guarded_flush)
        yield


@pytest.fixture(autouse=True)
def no_zone_is_left() -> Iterator[None]:
    """Leave the time zone that a page of a workshop has set with the test that opened it."""
    from django.utils import timezone

    yield
    timezone.deactivate()


@pytest.fixture(autouse=True)
def books_are_sound(request: pytest.FixtureRequest) -> Iterator[None]:
    """Audit every book after a test that used the database."""
    uses_database = bool(request.node.get_closest_marker("django_db")) or "db" in request.fixturenames
    if not (uses_database or "transactional_db" in request.fixturenames):
        yield
        return
    request.getfixturevalue("db")
    yield
    if request.node.get_closest_marker("tampers"):
        return
    from inventory.models import Book

    assert guards.missing() == []
    assert [str(fault) for book in Book.objects.all() for fault in audit.faults(book)] == []
    filled = _filled_models()
    assert [str(fault) for book in Book.objects.all() for fault in changed.faults(book, models=filled)] == []


def _filled_models() -> list[Any]:
    """Return the models whose states are kept and of which a row or a state is there: the others cannot differ."""
    kept = {str(model._meta.model_name): model for model in changed.kept_models()}
    there = [f"SELECT '{name}' WHERE EXISTS (SELECT 1 FROM {one._meta.db_table})" for name, one in kept.items()]  # noqa: S608
    with connection.cursor() as cursor:
        cursor.execute(" UNION ".join([*there, "SELECT model FROM inventory_trace"]))
        return [kept[name] for (name,) in cursor.fetchall() if name in kept]


# Clock and times


@pytest.fixture(scope="session")
def now() -> datetime:
    return datetime.now(UTC).replace(microsecond=0)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[datetime], datetime]:
    def set_clock(moment: datetime) -> datetime:
        monkeypatch.setattr("django.utils.timezone.now", lambda: moment)
        return moment

    return set_clock


# The book


@pytest.fixture
def make_book(db: None) -> Callable[..., Any]:
    from inventory.book import ledger

    def make(name: str = "Third Street", zone: str = "UTC") -> Any:
        return ledger.open_book(name, zone)

    return make


@pytest.fixture
def book(make_book: Callable[..., Any]) -> Any:
    return make_book("Port Ellery", "Etc/GMT-2")


@pytest.fixture
def sister_book(make_book: Callable[..., Any]) -> Any:
    return make_book("Highmoor", "Etc/GMT-2")


@pytest.fixture
def account(book: Any) -> Callable[..., Any]:
    from inventory.models import Account

    default = book

    def single(kind: str, book: Any = None) -> Any:
        return Account.objects.get(book=book or default, kind=kind)

    return single


@pytest.fixture
def make_account(book: Any) -> Callable[..., Any]:
    from inventory.book import ledger

    default = book

    def make(kind: str = "vehicle", label: str = "", book: Any = None) -> Any:
        with transaction.atomic():
            return ledger.open_account(book or default, kind, label or f"a {kind}")

    return make


@pytest.fixture
def vehicle_account(make_account: Callable[..., Any]) -> Any:
    return make_account("vehicle", "a car")


@pytest.fixture
def make_partner(make_account: Callable[..., Any]) -> Callable[..., Any]:
    from inventory.models import Partner

    def make(name: str = "Northgas", kind: str = "supplier", book: Any = None, **fields: Any) -> Any:
        return Partner.objects.create(account=make_account("partner", name, book), name=name, kind=kind, **fields)

    return make


@pytest.fixture
def partner(make_partner: Callable[..., Any]) -> Any:
    return make_partner()


@pytest.fixture
def make_scale(book: Any) -> Callable[..., Any]:
    from inventory.book import ledger

    default = book

    def make(name: str = "S1", step_mg: int = 5_000, book: Any = None, **fields: Any) -> Any:
        with transaction.atomic():
            return ledger.open_scale(book or default, name=name, step_mg=step_mg, **fields)

    return make


@pytest.fixture
def scale(make_scale: Callable[..., Any]) -> Any:
    return make_scale()


@pytest.fixture
def make_cylinder(make_account: Callable[..., Any], post: Callable[..., Any]) -> Callable[..., Any]:
    from inventory.models import Account, Cylinder

    numbers = itertools.count(1)

    def make(
        serial: str | None = None,
        *,
        refrigerant: str = "R-134a",
        grade: str = "virgin",
        mass_mg: int = 0,
        book: Any = None,
        **fields: Any,
    ) -> Any:
        serial = serial or f"C-{next(numbers)}"
        own = make_account("cylinder", serial, book)
        working = {"kind": "refillable", "tare_mg": 6_200_000, "water_capacity_m3": 0.012, **fields}
        cylinder = Cylinder.objects.create(account=own, serial=serial, refrigerant=refrigerant, grade=grade, **working)
        if mass_mg:
            opening = Account.objects.get(book=own.book, kind="opening")
            post("opening-stock", opening, own, mass_mg, refrigerant=refrigerant, grade=grade, basis="single")
        return cylinder

    return make


@pytest.fixture
def cylinder(make_cylinder: Callable[..., Any]) -> Any:
    return make_cylinder(mass_mg=5_000_000)


@pytest.fixture
def act(now: datetime) -> Callable[..., Any]:
    from inventory.book import ledger

    def make(
        key: UUID | None = None,
        *,
        actor: str = "p-technic",
        at: datetime | None = None,
        content: dict[str, Any] | None = None,
        context: str = "",
        remark: str = "",
    ) -> Any:
        return ledger.Act(key or uuid4(), actor, at or now, content or {}, context, remark)

    return make


@pytest.fixture
def post(act: Callable[..., Any]) -> Callable[..., Any]:
    from inventory import causes
    from inventory.book import ledger

    def write(
        cause: str,
        source: Any,
        target: Any,
        mass_mg: int,
        *,
        refrigerant: str = "R-134a",
        grade: str = "virgin",
        at: datetime | None = None,
        key: UUID | None = None,
        basis: str | None = None,
        **line: Any,
    ) -> Any:
        giver, taker = getattr(source, "account", source), getattr(target, "account", target)
        basis = basis or min(causes.CAUSES[cause].bases)
        content = {"cause": cause, "from": giver.reference, "to": taker.reference, "mass_mg": mass_mg}
        moved = Line(cause, giver, taker, refrigerant, grade, mass_mg, basis, **line)
        return ledger.write(giver.book, act(key, at=at, content=content), lambda draft: draft.move(moved))

    return write


@pytest.fixture
def held(db: None) -> Callable[..., Any]:
    from inventory.models import Holding

    def look(account: Any) -> dict[tuple[str, str], int]:
        rows = Holding.objects.filter(account=getattr(account, "account", account)).exclude(mass_mg=0)
        return {(row.refrigerant, row.grade): int(row.mass_mg) for row in rows}

    return look


# The shop


@pytest.fixture
def make_workshop(make_book: Callable[..., Any]) -> Callable[..., Any]:
    from shop.models import Workshop

    def make(name: str = "Third Street", book: Any = None, **fields: Any) -> Any:
        own = book or make_book(name)
        working = {
            "slug": name.lower().replace(" ", "-"),
            "zone": own.zone,
            "address": f"1 Quay Road, {name}",
            "altitude_m": 0.0,
            **fields,
        }
        return Workshop.objects.create(book=own, name=name, **working)

    return make


@pytest.fixture
def workshop(make_workshop: Callable[..., Any], book: Any) -> Any:
    return make_workshop("Port Ellery", book)


@pytest.fixture
def other_workshop(make_workshop: Callable[..., Any], sister_book: Any) -> Any:
    return make_workshop("Highmoor", sister_book, altitude_m=1_500.0)


@pytest.fixture
def make_user(db: None) -> Callable[..., Any]:
    from shop.models import Membership, User

    def make(username: str, workshop: Any = None, role: str | None = None, **fields: Any) -> Any:
        user = User.objects.create_user(username, password="a long password", **fields)
        if workshop is not None:
            Membership.objects.create(user=user, workshop=workshop, role=role or "technician")
        return user

    return make


@pytest.fixture
def owner(make_user: Callable[..., Any], workshop: Any) -> Any:
    return make_user("olga", workshop, "owner", display_name="Olga Moreau")


@pytest.fixture
def technician(make_user: Callable[..., Any], workshop: Any) -> Any:
    return make_user("tomas", workshop, "technician", display_name="Tomas Lind")


@pytest.fixture
def reader(make_user: Callable[..., Any], workshop: Any) -> Any:
    return make_user("rana", workshop, "reader", display_name="Rana Sethi")


@pytest.fixture
def stranger(make_user: Callable[..., Any], other_workshop: Any) -> Any:
    return make_user("sven", other_workshop, "owner", display_name="Sven Aalto")


def _signed_in(user: Any) -> Client:
    """Return a client with the session that a sign-in leaves behind; the sign-in itself has tests of its own."""
    session = SessionStore()
    session[auth.SESSION_KEY] = str(user.pk)
    session[auth.BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[auth.HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.save()
    client = Client()
    client.cookies[settings.SESSION_COOKIE_NAME] = str(session.session_key)
    return client


@pytest.fixture
def owner_client(owner: Any) -> Client:
    return _signed_in(owner)


@pytest.fixture
def technician_client(technician: Any) -> Client:
    return _signed_in(technician)


@pytest.fixture
def reader_client(reader: Any) -> Client:
    return _signed_in(reader)


@pytest.fixture
def stranger_client(stranger: Any) -> Client:
    return _signed_in(stranger)


@pytest.fixture
def make_vehicle(workshop: Any, make_account: Callable[..., Any]) -> Callable[..., Any]:
    from shop.models import Vehicle

    default = workshop

    def make(registration: str = "V1", workshop: Any = None, **fields: Any) -> Any:
        own = make_account("vehicle", registration, (workshop or default).book)
        working = {"refrigerant": "R-134a", "nameplate_mg": 550_000, "volume_m3": 0.0016, **fields}
        return Vehicle.objects.create(account=own, registration=registration, **working)

    return make


@pytest.fixture
def arrive(workshop: Any, technician: Any, make_vehicle: Callable[..., Any], now: datetime) -> Callable[..., Any]:
    from shop.visits.acts.entering import StepFacts, open_visit

    def make(vehicle: Any = None, at: datetime | None = None, *, note: str = "", **said: str) -> Any:
        data = {name: {"text": text, "echo": text} for name, text in said.items()}
        return open_visit(
            workshop,
            vehicle or make_vehicle(),
            opened_at=at or now - timedelta(hours=3),
            step_key=uuid4(),
            received=StepFacts(technician, data=data, note=note),
        )

    return make
