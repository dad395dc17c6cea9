"""The commands that serve a book, as processes of their own, from an empty folder to a page in the hand."""

import http.cookiejar
import os
import re
import signal
import socket
import stat
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PATIENCE_S = 120  # a start fills a whole year and compiles every module once

pytestmark = pytest.mark.processes


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


class Visitor:
    """Someone with a browser that keeps cookies and runs no script."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.jar = http.cookiejar.CookieJar()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.jar))

    def get(self, path: str = "/") -> tuple[str, str]:
        """Return where the page was found in the end, and its text."""
        with self.opener.open(self.address + path, timeout=30) as answer:
            return urllib.parse.urlsplit(answer.url).path, answer.read().decode()

    def sign_in(self, username: str, password: str) -> str:
        """Return the page that the sign-in leads to."""
        _, page = self.get("/sign-in/")
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
        assert token
        form = {"username": username, "password": password, "csrfmiddlewaretoken": token[1]}
        body = urllib.parse.urlencode(form).encode()
        with self.opener.open(self.address + "/sign-in/", body, timeout=30) as answer:
            return str(urllib.parse.urlsplit(answer.url).path)


@contextmanager
def served(kind: str, folder: Path, **settings: str) -> Iterator[tuple[Visitor, str]]:
    """Serve a book whose files lie in `folder`; give a visitor and what the console said."""
    port = free_port()
    known = {name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ}
    environment = known | {"DATABASE_URL": f"sqlite:///{folder}/book.sqlite3", "PORT": str(port)} | settings
    console = folder / "console"
    with console.open("wb") as out:
        server = subprocess.Popen([".ci/serve", kind], cwd=ROOT, env=environment, stdout=out, stderr=subprocess.STDOUT)
    try:
        visitor = Visitor(f"http://127.0.0.1:{port}")
        wait_for(visitor, server, console)
        yield visitor, console.read_text()
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(30)


def wait_for(visitor: Visitor, server: subprocess.Popen[bytes], console: Path) -> None:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            visitor.get()
        except urllib.error.HTTPError as error:
            pytest.fail(f"The first page answers {error.code}:\n{console.read_text()}")
        except OSError:
            assert server.poll() is None, console.read_text()
            assert time.monotonic() < until, console.read_text()
            time.sleep(0.2)
        else:
            return


def test_an_empty_book_asks_for_the_code_on_the_console_and_keeps_its_key(tmp_path: Path) -> None:
    with served("run", tmp_path) as (visitor, said):
        path, page = visitor.get()
        assert path == "/set-up/"
        assert "csrfmiddlewaretoken" in page
        assert f"{visitor.address}/" in said
    key = tmp_path / "book.sqlite3-secret-key"
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    first = key.read_text()
    with served("run", tmp_path):
        assert key.read_text() == first
    assert len(first.strip()) >= 50


def test_the_invented_year_takes_the_printed_sign_ins_again_after_a_restart(tmp_path: Path) -> None:
    counts = []
    passwords = []
    for _ in range(2):
        with served("demo", tmp_path) as (visitor, said):
            password = re.search(r"Password of all three: (\S+)", said)
            assert password
            for username in ("owner", "technician", "reader"):
                assert Visitor(visitor.address).sign_in(username, password[1]).startswith("/w/")
            passwords.append(password[1])
        counts.append(verified(tmp_path))
    assert passwords[0] == passwords[1]
    assert counts[0] == counts[1]


def verified(folder: Path) -> str:
    """What `verify` says of the book in `folder`: its count of entries, or it fails here."""
    environment = os.environ | {"DATABASE_URL": f"sqlite:///{folder}/book.sqlite3"}
    command = [sys.executable, "manage.py", "verify"]
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=True).stdout


def test_a_given_password_is_the_one_that_signs_in(tmp_path: Path) -> None:
    with served("demo", tmp_path, TAREBOOK_DEMO_PASSWORD="given-by-hand-1"):
        pass
    with served("demo", tmp_path, TAREBOOK_DEMO_PASSWORD="another-by-hand-2") as (visitor, _):
        assert Visitor(visitor.address).sign_in("owner", "another-by-hand-2").startswith("/w/")
    assert not (tmp_path / "book.sqlite3-password").exists()


def test_a_taken_port_is_named_before_anything_is_written(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        environment = os.environ | {
            "DATABASE_URL": f"sqlite:///{tmp_path}/book.sqlite3",
            "PORT": str(taken.getsockname()[1]),
        }
        answer = subprocess.run(
            [".ci/serve", "run"], cwd=ROOT, env=environment, capture_output=True, text=True, check=False
        )
    assert answer.returncode == 1
    assert f"127.0.0.1:{environment['PORT']}" in answer.stderr
    assert list(tmp_path.iterdir()) == []
