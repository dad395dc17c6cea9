"""A real browser on a real server: Debian's Chromium, gunicorn, the invented year in a database of its own.

    server        a server on a fresh copy of the invented year: a test may write, and kill it
    empty_server  the same on an empty book, as `make run` starts it
    browser       Chromium, started once
    visitor       visitor(server, *, width=1440, name="owner", script=True, dark=False, worker=False): a signed-in page;
                  with `worker` it has the service worker, without it what a page asks for can be cut by its address

The databases are of the kind that the other tests run on. A visitor of the year brings the cookie of a person who has
signed in already (`tests.told`). A process starts each server once; between two tests the book is exchanged beneath it.
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
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, sync_playwright

from tests import databases
from tests.told import PASSWORD, SECRET_KEY, told_year

ROOT = Path(__file__).resolve().parents[2]
HOME = "/w/port-ellery/"
CHROMIUM = shutil.which("chromium-headless-shell") or "/usr/bin/chromium"  # the shell takes much less time
PATIENCE_S = 30
LOOK_AGAIN_MS = 40
# Another page is there, and htmx has settled what it swapped in.
IS_NEXT = """document.querySelector('#page') && !document.querySelector('#page').dataset.left
  && !document.querySelector('.htmx-swapping, .htmx-settling, .htmx-added')"""
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


@dataclass(frozen=True)
class Book:
    """A database and the folder of its photos, as the processes that open it are told of them."""

    url: str
    media: Path

    @property
    def environment(self) -> dict[str, str]:
        return {
            **os.environ,
            "DATABASE_URL": self.url,
            "SECRET_KEY": SECRET_KEY,
            "DEBUG": "0",
            "TAREBOOK_DEMO_PASSWORD": PASSWORD,
            "TAREBOOK_MEDIA": str(self.media),
        }

    def manage(self, *command: str) -> str:
        """Run a command of the console on the book and return what it printed."""
        words = [sys.executable, "manage.py", *command]
        return subprocess.run(
            words, cwd=ROOT, env=self.environment, check=True, stdout=subprocess.PIPE, text=True
        ).stdout


@cache
def code_of(empty: Book) -> str:
    """Return the code that the set-up of a book asks for; it follows from the secret key, so it is asked for once."""
    return empty.manage("setup_code").rpartition(" ")[2].strip()


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


@dataclass
class Server:
    """A gunicorn on loopback that can be killed and started again on the same book and port."""

    book: Book
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "gunicorn", "shop.wsgi:application", "--bind", f"127.0.0.1:{self.port}"),
                *("--worker-class", "shop.serving.worker.BufferingWorker", "--workers", "1", "--threads", "4"),
                *("--timeout", "0", "--no-control-socket", "--log-level", "critical"),
            ],
            cwd=ROOT,
            env=self.book.environment,
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

    def opens(self, source: Book) -> None:
        """Open a fresh copy of a book that has no photos; a server that was killed is started again."""
        databases.copy(source.url, self.book.url)
        shutil.rmtree(self.book.media, ignore_errors=True)
        if self.process is None:
            self.start()


@contextmanager
def served(name: str, source: Book, folder: Path) -> Iterator[Server]:
    """Serve a copy of a book from a folder of its own, as long as it is needed."""
    server = Server(Book(databases.beside(name, folder), folder / "media"))
    try:
        server.opens(source)
        yield server
    finally:
        server.kill()
        databases.drop(server.book.url)


@pytest.fixture(scope="session")
def empty_book(migrated: str, of_the_run: Path) -> Book:
    return Book(migrated, of_the_run / "media")


@pytest.fixture(scope="session")
def invented_year(empty_book: Book, of_the_run: Path) -> Book:
    return Book(told_year(empty_book.url, of_the_run), of_the_run / "media")


@pytest.fixture(scope="session")
def year_server(invented_year: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with served("served", invented_year, tmp_path_factory.mktemp("served")) as server:
        yield server


@pytest.fixture(scope="session")
def new_server(empty_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with served("new", empty_book, tmp_path_factory.mktemp("new")) as server:
        yield server


@pytest.fixture
def server(year_server: Server, invented_year: Book) -> Server:
    year_server.opens(invented_year)
    return year_server


@pytest.fixture
def empty_server(new_server: Server, empty_book: Book) -> Server:
    new_server.opens(empty_book)
    return new_server


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
        server: Server,
        *,
        width: int = 1440,
        name: str = "owner",
        script: bool = True,
        dark: bool = False,
        worker: bool = False,
    ) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": 800},
            java_script_enabled=script,
            color_scheme="dark" if dark else "light",
            accept_downloads=True,
            service_workers="allow" if worker else "block",
        )
        contexts.append(context)
        return known_as(name, context, server)

    yield visit
    for context in contexts:
        context.close()


def known_as(name: str, context: BrowserContext, server: Server) -> Page:
    """Return a page of one of the three, who signed in before the year was copied."""
    context.add_cookies([{"name": "sessionid", "value": f"signed-in-as-{name}", "url": server.address}])
    return context.new_page()


def sign_in(page: Page, server: Server, name: str, *, address: str = "") -> None:
    page.goto(address or f"{server.address}/sign-in/")
    page.fill("[name=username]", name)
    page.fill("[name=password]", PASSWORD)
    page.press("[name=password]", "Enter")
    page.wait_for_url(f"{server.address}{HOME}**")


@contextmanager
def next_page(page: Page) -> Iterator[None]:
    """Wait for the page that what is done inside leads to, by a load or by a swap; figures typed are read first."""
    until(page, "!document.querySelector('.quantity[data-typed]')")
    page.locator("#page").evaluate("page => { page.dataset.left = 'soon' }")
    yield
    until(page, IS_NEXT)
    page.wait_for_load_state("load")


def until(page: Page, true: str) -> None:
    """Wait until the page says so; the policy of the pages forbids what Playwright has for this."""
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        try:
            if page.evaluate(true):
                return
        except Error:  # between two pages
            pass
        page.wait_for_timeout(LOOK_AGAIN_MS)
    raise AssertionError(f"No answer came on {page.url}: {page.inner_text('body')}")


def press(page: Page, words: str) -> None:
    """Press a button by its words and wait for the page that answers."""
    with next_page(page):
        page.get_by_role("button", name=words, exact=True).click()


def lines_of(server: Server, sql: str) -> list[tuple[Any, ...]]:
    """Return rows of the server's database, read beside it."""
    return databases.rows(server.book.url, sql)
