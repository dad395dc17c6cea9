"""The examples for whoever runs the machine: systemd takes them; commands and paths that they name are there."""

import json
import os
import re
import shutil
import subprocess
import time
from pathlib import Path
from socket import create_server
from urllib.request import urlopen

import pytest
from django.core.management import get_commands

from tests.conftest import ROOT

EXAMPLES = ROOT / "shop" / "keeping" / "examples"
UNITS = sorted(path.name for path in EXAMPLES.iterdir() if path.suffix in (".service", ".timer"))


@pytest.fixture
def at_home(tmp_path: Path) -> Path:
    """The units as they would stand on a machine whose project lies here."""
    python = (ROOT / ".venv").resolve() / "bin"
    for name in UNITS:
        text = (EXAMPLES / name).read_text().replace("/srv/tarebook/.venv/bin", str(python))
        (tmp_path / name).write_text(text.replace("/srv/tarebook/", f"{ROOT}/"))
    return tmp_path


def test_there_are_units_to_look_at():
    assert {"tarebook.service", "tarebook-backup.service", "tarebook-backup.timer"} == set(UNITS)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="this machine has no systemd to ask")
@pytest.mark.parametrize("name", UNITS)
def test_systemd_takes_the_units(at_home, name):
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(at_home / name)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_the_commands_of_the_units_are_ours():
    named = re.findall(r"manage\.py (\w+)", "".join((EXAMPLES / name).read_text() for name in UNITS))
    assert named == ["backup", "witness"]
    assert set(named) <= set(get_commands())


def copied() -> list[str]:
    """Return what the container file copies into the image besides the lock."""
    lines = re.findall(r"^COPY (.+) \S+$", (EXAMPLES / "Containerfile").read_text(), re.MULTILINE)
    return [name for line in lines for name in line.split() if name != "requirements.lock"]


@pytest.mark.skipif(shutil.which("apt-get") is None, reason="no Debian here")
def test_each_program_of_the_container_file_is_one_of_debian():
    ran = " && ".join(re.findall(r"^RUN (.+?)(?<!\\)$", (EXAMPLES / "Containerfile").read_text(), re.M | re.S))
    programs = {one.split()[0] for one in re.split(r"&&", ran.replace("\\\n", " "))}
    assert programs == {"apt-get", "rm", "python3", ".venv/bin/pip", "useradd", "mkdir", "chown"}
    assert [
        one for one in programs - {".venv/bin/pip"} if shutil.which(one, path=os.defpath + ":/usr/sbin") is None
    ] == []


@pytest.mark.processes
def test_what_the_container_file_copies_is_enough_to_serve_a_book_and_has_no_secret_in_it(tmp_path):
    """No engine builds an image here: the same files in a folder of their own, started by the same command."""
    place, book = tmp_path / "srv", tmp_path / "book"
    place.mkdir()
    book.mkdir()
    for name in copied():
        one = ROOT / name
        shutil.copytree(one, place / name) if one.is_dir() else shutil.copy(one, place)
    assert [*place.rglob("*.sqlite3*"), *place.rglob("*.pem"), *place.rglob(".venv")] == []
    (place / ".venv").symlink_to((ROOT / ".venv").resolve())
    text = (EXAMPLES / "Containerfile").read_text()
    named = dict(pair.split("=", 1) for pair in re.search(r"^ENV (.+)$", text, re.MULTILINE)[1].split())
    with create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    environment = {name: value.replace("/book/", f"{book}/") for name, value in named.items()}
    environment |= {"PATH": os.environ["PATH"], "HOME": str(book), "PORT": str(port)}
    command = json.loads(re.search(r"^CMD (.+)$", text, re.MULTILINE)[1])
    with (tmp_path / "console").open("wb") as console:
        server = subprocess.Popen(command, cwd=place, env=environment, stdout=console, stderr=console)
    try:
        assert answered(f"http://127.0.0.1:{port}/health/", server) == 200, (tmp_path / "console").read_text()
    finally:
        server.terminate()
        server.wait(60)
    assert {one.name for one in book.iterdir()} >= {"book.sqlite3", "book.sqlite3-secret-key"}


def answered(url: str, server: subprocess.Popen[bytes]) -> int:
    for _ in range(1_200):
        if server.poll() is not None:
            return 0
        try:
            with urlopen(url, timeout=20) as answer:  # noqa: S310 - of this machine
                return int(answer.status)
        except OSError:
            time.sleep(0.1)
    return 0


def test_the_container_file_copies_what_is_there_and_installs_what_papers_need():
    text = (EXAMPLES / "Containerfile").read_text()
    assert (ROOT / "requirements.lock").is_file()
    assert 'CMD [".ci/serve", "run"]' in text
    needed = re.findall(r"want_library \S+ (libpango\S+)", (ROOT / ".ci" / "system").read_text())
    assert needed
    assert [name for name in set(needed) if name not in text] == []
