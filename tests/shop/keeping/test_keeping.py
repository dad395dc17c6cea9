"""Copies of everything: made while others write, proved, put away by age, and brought back into an empty place only."""

import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests import databases
from tests.conftest import ROOT, manage_py

pytestmark = pytest.mark.processes
PROGRAM = ROOT / "tests" / "inventory" / "book" / "book_process.py"
PHOTO = b"\xff\xd8 no picture, but a file that no line of a book names"


@pytest.fixture
def book(database_url: str) -> str:
    """A book of its own with some acts; returns the address of its database."""
    for words in (["set-up", "copied"], ["write", "copied", "one", "6", os.devnull]):
        run(database_url, *words)
    return database_url


@pytest.fixture
def media(tmp_path: Path) -> Path:
    photo = tmp_path / "media" / "photos" / "a-book" / "ab" / "ab.jpg"
    photo.parent.mkdir(parents=True)
    photo.write_bytes(PHOTO)
    return tmp_path / "media"


@pytest.fixture
def empty_url(tmp_path: Path) -> Any:
    """The address of a database that is not there yet, of the kind that the tests run on."""
    url = databases.beside("restored", tmp_path)
    databases.create(url)
    yield url
    databases.drop(url)


def run(url: str, *words: str) -> None:
    own = {**os.environ, "DATABASE_URL": url}
    subprocess.run([sys.executable, str(PROGRAM), *words], env=own, check=True, timeout=120)


Ours = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture
def ours(book: str, media: Path, monkeypatch: pytest.MonkeyPatch) -> Ours:
    monkeypatch.setenv("TAREBOOK_MEDIA", str(media))
    monkeypatch.setenv("SECRET_KEY", "the secret of the server")
    return lambda *words, url=book: manage_py(url, *words)


@pytest.fixture
def copy(ours: Ours, tmp_path: Path) -> Path:
    done = ours("backup", "--output", str(tmp_path / "copies"))
    assert done.returncode == 0, done.stderr
    return Path(done.stdout.strip())


def test_the_restored_book_is_what_was_copied_goes_on_and_is_known_to_be_older(ours, book, copy, empty_url, media):
    with zipfile.ZipFile(copy) as held:
        manifest = json.loads(held.read("manifest.json"))
        assert held.read("photos/a-book/ab/ab.jpg") == PHOTO
    assert ([head["book"] for head in manifest["books"]], manifest["proved"]) == (["copied"], "verify, on the copy")
    assert copy.stat().st_mode & 0o077 == 0
    photo, seen = media / "photos" / "a-book" / "ab" / "ab.jpg", copy.parent / "seen.json"
    photo.unlink()
    run(book, "write", "copied", "later", "2", os.devnull)
    assert ours("witness", "--output", str(seen)).returncode == 0
    newer = ours("backup", "--output", str(copy.parent)).stdout.strip()
    done = ours("restore", str(copy), "--database", empty_url, "--witness", str(seen))
    assert f"copied ends in it with line {manifest['books'][0]['line']} of " in done.stdout
    assert f"A newer copy lies beside it: {newer}" in done.stdout
    assert (done.returncode, "it was cut short" in done.stderr) == (1, True)
    assert photo.read_bytes() == PHOTO
    run(empty_url, "write", "copied", "another", "3", os.devnull)
    assert ours("verify", url=empty_url).returncode == 0
    again = ours("restore", newer, "--database", empty_url)
    assert (again.returncode, "Something stands there already" in again.stderr) == (1, True)


def test_what_was_acknowledged_before_a_copy_began_is_in_it_while_writers_go_on(ours, book, empty_url, tmp_path):
    log = tmp_path / "answers"
    own = {**os.environ, "DATABASE_URL": book}
    writers = [
        subprocess.Popen([sys.executable, str(PROGRAM), "write", "copied", name, "60", str(log)], env=own)
        for name in ("a", "b")
    ]
    while not log.exists() or len(log.read_text().splitlines()) < 5:
        assert any(writer.poll() is None for writer in writers)
    answered = log.read_text().splitlines()
    done = ours("backup", "--output", str(tmp_path / "copies"))
    assert [writer.wait(300) for writer in writers] == [0, 0]
    assert done.returncode == 0, done.stderr
    assert ours("restore", done.stdout.strip(), "--database", empty_url).returncode == 0
    there = {(str(seq), digest) for seq, digest in databases.rows(empty_url, "SELECT seq, digest FROM inventory_entry")}
    assert {tuple(line.split("\t")[1:]) for line in answered} <= there


def test_only_the_newest_copies_of_these_books_are_kept(ours, copy, tmp_path):
    other = tmp_path / "copies" / "letters.zip"
    other.write_text("not a copy")
    done = ours("backup", "--output", str(copy.parent), "--keep", "1")
    assert f"Put away: {copy}." in done.stderr
    assert set(copy.parent.iterdir()) == {other, Path(done.stdout.strip())}


def test_a_copy_that_is_not_as_written_is_kept_by_a_name_that_says_so(ours, book, copy):
    databases.change(book, "UPDATE inventory_holding SET mass_mg = mass_mg + 1 WHERE stock = '0'")
    done = ours("backup", "--output", str(copy.parent), "--keep", "1")
    assert done.returncode == 1
    assert "The copy is not proved: " in done.stderr
    assert done.stdout.strip().endswith("-not-proved.zip")
    assert copy.exists()


def test_secrets_are_named_or_go_along(ours, book, copy, empty_url, tmp_path):
    if databases.ON_A_SERVER:
        pytest.skip("there they lie in a folder of the project itself")
    beside = Path(f"{databases.name_of(book)}-secret-key")
    beside.write_text("made at random\n")
    named = ours("backup", "--output", str(tmp_path / "named"))
    assert "Not in it: secret: secret-key." in named.stderr
    whole = ours("backup", "--output", str(tmp_path / "whole"), "--with-secrets").stdout.strip()
    done = ours("restore", whole, "--database", empty_url)
    assert done.returncode == 0, done.stderr
    restored = Path(f"{databases.name_of(empty_url)}-secret-key")
    assert restored.read_text() == "made at random\n"
    assert restored.stat().st_mode & 0o077 == 0
