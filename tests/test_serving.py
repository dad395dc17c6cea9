"""The commands that serve a book, as processes of their own, from an empty folder to a page in the hand."""

import hashlib
import http.cookiejar
import os
import re
import signal
import socket
import ssl
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
import zxingcpp
from PIL import Image, ImageOps

from shop.serving.certificates import certified
from tests import databases
from tests.told import told_year

ROOT = Path(__file__).resolve().parent.parent
PATIENCE_S = 120  # a start fills a whole year and compiles every module once

LIGHT = {"\u2588": ("upper", "lower"), "\u2580": ("upper",), "\u2584": ("lower",), " ": ()}

pytestmark = [pytest.mark.processes, pytest.mark.any_database]  # each book is a file of its own


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


class Visitor:
    """Someone with a browser that keeps cookies and runs no script; over https it trusts `authority` alone."""

    def __init__(self, address: str, authority: Path | None = None) -> None:
        self.address = address
        self.jar = http.cookiejar.CookieJar()
        handlers: list[urllib.request.BaseHandler] = [urllib.request.HTTPCookieProcessor(self.jar)]
        if authority is not None:
            handlers.append(urllib.request.HTTPSHandler(context=ssl.create_default_context(cafile=str(authority))))
        self.opener = urllib.request.build_opener(*handlers)

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
    environment = known | {"DATABASE_URL": address_in(folder), "PORT": str(port)} | settings
    console = folder / "console"
    with console.open("wb") as out:
        server = subprocess.Popen([".ci/serve", kind], cwd=ROOT, env=environment, stdout=out, stderr=subprocess.STDOUT)
    try:
        https = settings.get("HTTPS") == "1"
        authority = folder / "book.sqlite3-authority.crt" if https else None
        wait_for(port, server, console)
        visitor = Visitor(f"{'https' if https else 'http'}://127.0.0.1:{port}", authority)
        visitor.get()
        yield visitor, console.read_text()
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(30)


def address_in(folder: Path) -> str:
    """Return the address of the book that is served from `folder`."""
    return f"sqlite:///{folder}/book.sqlite3"


def wait_for(port: int, server: subprocess.Popen[bytes], console: Path) -> None:
    """Wait until somebody listens, who has then said all that is said before."""
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=5).close()
        except OSError:
            assert server.poll() is None, console.read_text()
            assert time.monotonic() < until, console.read_text()
            time.sleep(0.1)
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


@pytest.fixture
def year(tmp_path: Path, of_the_run: Path, migrated: str) -> Path:
    """A folder with the book of an invented year, the told one, which takes seconds."""
    databases.copy(told_year(migrated, of_the_run), address_in(tmp_path))
    return tmp_path


@pytest.fixture
def there_already(tmp_path: Path, migrated: str) -> Path:
    """A folder with an empty book that was served before, where a first start is not what is looked at."""
    databases.copy(migrated, address_in(tmp_path))
    return tmp_path


def test_the_invented_year_takes_the_printed_sign_ins_again_after_a_restart(year: Path) -> None:
    counts, passwords = [], []
    for people in (("owner",), ("owner", "technician", "reader")):
        with served("demo", year) as (visitor, said):
            password = re.search(r"Password of all three: (\S+)", said)
            assert password
            for username in people:
                assert Visitor(visitor.address).sign_in(username, password[1]).startswith("/w/")
            passwords.append(password[1])
        counts.append(databases.rows(address_in(year), "SELECT COUNT(*) FROM inventory_entry"))
    assert passwords[0] == passwords[1]
    assert counts[0] == counts[1]
    environment = os.environ | {"DATABASE_URL": address_in(year)}
    subprocess.run([sys.executable, "manage.py", "verify"], cwd=ROOT, env=environment, capture_output=True, check=True)


def test_a_given_password_is_the_one_that_signs_in(year: Path) -> None:
    with served("demo", year, TAREBOOK_DEMO_PASSWORD="another-by-hand-2") as (visitor, _):
        assert Visitor(visitor.address).sign_in("owner", "another-by-hand-2").startswith("/w/")
    assert not (year / "book.sqlite3-password").exists()


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


def test_with_https_it_proves_itself_by_an_authority_that_it_hands_out_and_keeps(there_already: Path) -> None:
    tmp_path = there_already
    with served("run", tmp_path, HTTPS="1", HOST="127.0.0.1") as (visitor, said):
        assert visitor.get()[0] == "/set-up/"
        assert {cookie.name: cookie.secure for cookie in visitor.jar} == {"__Host-csrftoken": True}
        first = taken(visitor)
        digest = re.sub(r"[^0-9a-f]", "", hashlib.sha256(first).hexdigest())
        assert digest in re.sub(r"[:\s]", "", said).lower()
        with pytest.raises(urllib.error.URLError, match="certificate verify failed"):
            Visitor(visitor.address, certificate_of_others(tmp_path)).get()
        believes_no_front_server(visitor)
    names = ("authority.key", "authority.crt", "https.key", "https.crt")
    files = [tmp_path / f"book.sqlite3-{name}" for name in names]
    assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}
    before = [file.read_bytes() for file in files]
    with served("run", tmp_path, HTTPS="1", HOST="127.0.0.1", ALLOWED_HOSTS="book.lan") as (visitor, _):
        assert taken(visitor) == first
    assert [was == file.read_bytes() for was, file in zip(before, files, strict=True)] == [True, True, False, False]
    with served("run", tmp_path) as (visitor, said):  # without https another day: nobody is locked out
        assert visitor.get()[0] == "/set-up/"
        assert "Only this machine reaches that address, no phone." in said


def taken(visitor: Visitor) -> bytes:
    """Return the certificate that a visitor who has not signed in takes."""
    with visitor.opener.open(f"{visitor.address}/trust/tarebook-authority.crt", timeout=30) as answer:
        assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
        return bytes(answer.read())


def certificate_of_others(folder: Path) -> Path:
    (folder / "others").mkdir()
    return certified(str(folder / "others" / "book"), "others", ["127.0.0.1"]).authority


def believes_no_front_server(visitor: Visitor) -> None:
    """A header that says otherwise changes nothing, and no browser is told to come over https for ever."""
    for said in ("http", "https"):
        asked = urllib.request.Request(visitor.address, headers={"X-Forwarded-Proto": said})  # noqa: S310
        with visitor.opener.open(asked, timeout=30) as answer:
            assert answer.status == 200
            assert "Strict-Transport-Security" not in answer.headers
            assert "__Host-csrftoken" in answer.headers["Set-Cookie"]


def test_served_to_the_net_it_prints_its_address_as_a_code(there_already: Path) -> None:
    everywhere = {"HOST": "0.0.0.0", "TAREBOOK_ADDRESS": "http://book.lan:8000", "LANG": "C.UTF-8"}  # noqa: S104
    with served("run", there_already, **everywhere) as (_, said):
        rows = [line for line in said.splitlines() if line and set(line) <= set(LIGHT)]
    dots = [[255 * (half in LIGHT[mark]) for mark in row] for row in rows for half in ("upper", "lower")]
    picture = Image.new("L", (len(dots[0]), len(dots)))
    picture.putdata([dot for line in dots for dot in line])
    large = picture.resize((picture.width * 8, picture.height * 8), Image.Resampling.NEAREST)
    assert [one.text for one in zxingcpp.read_barcodes(ImageOps.expand(large, 40, 255))] == ["http://book.lan:8000/"]
