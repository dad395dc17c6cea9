"""A real browser on a real server: Debian's Chromium, gunicorn, the invented year in a database file of its own.

    server        address of a server on a copy of the invented year, for tests that change nothing
    own_server    the same, started for one test alone: it may write, and kill it
    browser       Chromium, started once
    empty_server  a server on an empty book, as `make run` starts it, for one test alone
    visitor       visitor(server, *, width=1440, name="owner", script=True, dark=False): a signed-in page

Server and database are the same whatever database the other tests run on.
"""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
PASSWORD = "a password for the browser"
HOME = "/w/port-ellery/"
CHROMIUM = "/usr/bin/chromium"
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker("browser")


def _environment(database: Path) -> dict[str, str]:
    return {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{database}",
        "SECRET_KEY": "only for the browser tests, on loopback",
        "DEBUG": "0",
        "TAREBOOK_DEMO_PASSWORD": PASSWORD,
        "TAREBOOK_MEDIA": str(database.parent / "media"),
    }


@dataclass
class Server:
    """A gunicorn on loopback that can be killed and started again on the same database and port."""

    database: Path
    port: int
    process: subprocess.Popen[bytes] | None = None
    pages: list[Page] = field(default_factory=list)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "gunicorn", "shop.wsgi:application", "--bind", f"127.0.0.1:{self.port}"),
                *("--worker-class", "gthread", "--workers", "1", "--threads", "4", "--no-control-socket"),
                *("--log-level", "critical"),
            ],
            cwd=ROOT,
            env=_environment(self.database),
            start_new_session=True,
        )
        deadline = time.monotonic() + 120
        while time.monotonic() < deadline:
            try:
                urllib.request.urlopen(f"{self.address}/sign-in/", timeout=5).close()  # noqa: S310 - our own address
            except OSError:
                time.sleep(0.1)
            else:
                return
        raise RuntimeError("The server did not start.")

    def kill(self) -> None:
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None


def manage(database: Path, *command: str) -> str:
    """Run a command of the console on a database and return what it printed."""
    done = subprocess.run(
        [sys.executable, "manage.py", *command],
        cwd=ROOT,
        env=_environment(database),
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    return done.stdout


def invent_year(database: Path) -> None:
    """Fill a new database with the invented year."""
    for command in ("migrate", "demo_book"):
        manage(database, command, "--verbosity", "0")


@pytest.fixture(scope="session")
def invented_year(tmp_path_factory: pytest.TempPathFactory) -> Path:
    database = tmp_path_factory.mktemp("browser") / "year.sqlite3"
    invent_year(database)
    return database


def served(year: Path, folder: Path) -> Iterator[Server]:
    """Serve a copy of a book from a folder of its own until the test has ended."""
    database = folder / "book.sqlite3"
    shutil.copy(year, database)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    server = Server(database, port)
    try:
        server.start()
        yield server
    finally:
        server.kill()


@pytest.fixture(scope="session")
def server(invented_year: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    yield from served(invented_year, tmp_path_factory.mktemp("served"))


@pytest.fixture
def own_server(invented_year: Path, tmp_path: Path) -> Iterator[Server]:
    yield from served(invented_year, tmp_path)


@pytest.fixture(scope="session")
def empty_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    database = tmp_path_factory.mktemp("empty") / "empty.sqlite3"
    manage(database, "migrate", "--verbosity", "0")
    return database


@pytest.fixture
def empty_server(empty_book: Path, tmp_path: Path) -> Iterator[Server]:
    yield from served(empty_book, tmp_path)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    # Playwright keeps a loop running in this thread, and Django would take every later query for one made inside it.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
        yield chromium
        chromium.close()


@pytest.fixture
def visitor(browser: Browser) -> Iterator[Callable[..., Page]]:
    contexts = []

    def visit(
        server: Server, *, width: int = 1440, name: str = "owner", script: bool = True, dark: bool = False
    ) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": 800},
            java_script_enabled=script,
            color_scheme="dark" if dark else "light",
            accept_downloads=True,
        )
        contexts.append(context)
        page = context.new_page()
        sign_in(page, server, name)
        return page

    yield visit
    for context in contexts:
        context.close()


def sign_in(page: Page, server: Server, name: str) -> None:
    page.goto(f"{server.address}/sign-in/")
    page.fill("[name=username]", name)
    page.fill("[name=password]", PASSWORD)
    page.press("[name=password]", "Enter")
    page.wait_for_url(f"{server.address}{HOME}**")


def press(page: Page, words: str) -> None:
    """Press a button by its words and wait for the page that answers."""
    page.get_by_role("button", name=words, exact=True).click()
    page.wait_for_load_state("networkidle")


def lines_of(server: Server, sql: str) -> list[Any]:
    """Return rows of the server's database, read beside it."""
    import sqlite3
    from contextlib import closing

    with closing(sqlite3.connect(f"file:{server.database}?mode=ro", uri=True)) as connection:
        return connection.execute(sql).fetchall()
