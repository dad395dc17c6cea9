"""What a copy must be before anything of it is brought back: whole, of this version, and leading nowhere else."""

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shop.keeping import copies, databases
from shop.keeping.copies import Head, Manifest
from shop.keeping.databases import Unkept
from shop.keeping.restore import restore

HEAD = Head("Port Ellery", "6d1c7c10-0000-4000-8000-000000000000", 3, "ab" * 32, "2026-03-01")


def made(folder: Path, made_at: str = "2026-03-01T10:00:00+00:00", **more: Any) -> Path:
    content = folder / "content"
    content.write_bytes(b"a database and a half " * 2_000)
    manifest = Manifest(made_at=made_at, database=databases.SQLITE, migrations=[], books=[HEAD], **more)
    file = folder / f"tarebook-{made_at[:10]}T{made_at[11:19].replace(':', '')}Z.zip"
    copies.write(file, manifest, [(copies.DATABASE, content), ("photos/a/bc/bc.jpg", content)])
    return file


def refused(file: Path) -> str:
    """Return why a copy is not brought back; nothing stands in its place then."""
    place = file.parent / "place.sqlite3"
    with pytest.raises(Unkept) as error:
        restore(file, f"sqlite:///{place}")
    assert not place.exists()
    return str(error.value)


def test_a_whole_copy_is_what_it_says(tmp_path):
    manifest = copies.check(made(tmp_path))
    assert manifest.books == [HEAD]
    assert set(manifest.files) == {"database", "photos/a/bc/bc.jpg"}


def test_no_copy_takes_the_place_of_a_file(tmp_path):
    made(tmp_path)
    with pytest.raises(FileExistsError):
        made(tmp_path)


@pytest.mark.parametrize("place", [0.002, 0.01, 0.2, 0.5, 0.8, 0.99])
def test_one_bit_that_was_turned_anywhere_is_seen(tmp_path, place):
    file = made(tmp_path)
    content = bytearray(file.read_bytes())
    content[int(len(content) * place)] ^= 0x04
    file.write_bytes(bytes(content))
    assert "damaged" in refused(file)


@pytest.mark.parametrize("left", [0, 10, 1_000])
def test_a_copy_cut_short_is_seen(tmp_path, left):
    file = made(tmp_path)
    file.write_bytes(file.read_bytes()[:left])
    assert "damaged" in refused(file)


def test_a_file_that_is_not_there_is_said(tmp_path):
    assert "There is no file" in refused(tmp_path / "none.zip")


def rewritten(file: Path, change: Callable[[dict[str, Any]], None], **more: bytes) -> Path:
    other = file.with_name(f"again-{file.name}")
    with zipfile.ZipFile(file) as was, zipfile.ZipFile(other, "w") as new:
        for name in was.namelist():
            content = was.read(name)
            if name == copies.MANIFEST:
                said = json.loads(content)
                change(said)
                content = json.dumps(said).encode()
            new.writestr(name, content)
        for name, content in more.items():
            new.writestr(name, content)
    return other


def test_a_copy_of_a_newer_version_is_refused(tmp_path):
    newer = rewritten(made(tmp_path), lambda said: said["migrations"].append("inventory.9999_of_next_year"))
    assert "made by a newer version of Tarebook" in refused(newer)
    assert "form tarebook-backup-9" in refused(rewritten(newer, lambda said: said.update(format="tarebook-backup-9")))


def test_a_name_that_leads_elsewhere_is_refused(tmp_path):
    name = "photos/../../../out.jpg"
    named = {name: hashlib.sha256(b"x").hexdigest()}
    file = rewritten(made(tmp_path), lambda said: said["files"].update(named), **{name: b"x"})
    assert "leads out of the folder" in refused(file)


def test_another_file_than_was_named_is_refused(tmp_path):
    assert "does not hold the files that it names" in refused(rewritten(made(tmp_path), lambda said: None, more=b"x"))


def test_a_copy_of_the_other_kind_of_database_is_refused(tmp_path):
    file = rewritten(made(tmp_path), lambda said: said.update(database=databases.POSTGRES))
    assert "It is a copy of a database of PostgreSQL" in refused(file)


def test_a_place_where_a_file_stands_is_refused(tmp_path):
    for end in databases.BESIDE:
        there = tmp_path / f"there.sqlite3{end}"
        there.write_bytes(b"")
        with pytest.raises(Unkept, match="Something stands there already"):
            restore(made(tmp_path), f"sqlite:///{tmp_path}/there.sqlite3")
        assert there.read_bytes() == b""
        there.unlink()
        next(tmp_path.glob("tarebook-*")).unlink()


@pytest.mark.parametrize("url", ["", "mysql://x/y", "sqlite:///", "sqlite://:memory:"])
def test_an_address_of_no_database_is_refused(tmp_path, url):
    with pytest.raises(Unkept):
        restore(made(tmp_path), url)


def test_a_photo_that_stands_there_with_other_content_is_not_written_over(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path / "media"
    photo = tmp_path / "media" / "photos" / "a" / "bc" / "bc.jpg"
    photo.parent.mkdir(parents=True)
    photo.write_bytes(b"another one")
    assert "is not the photo of that name in the copy" in refused(made(tmp_path))
    assert photo.read_bytes() == b"another one"


def test_copies_of_the_same_books_are_listed_by_age(tmp_path):
    later = made(tmp_path, "2026-03-02T10:00:00+00:00")
    first = made(tmp_path)
    (tmp_path / "tarebook-2026-03-03T100000Z.zip").write_text("no copy")
    assert [path for _, path in copies.beside(tmp_path, {HEAD.uid})] == [first, later]
    assert copies.beside(tmp_path, {"another"}) == []
