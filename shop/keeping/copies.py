"""The file of a copy: a ZIP with the database, the photos and, where asked for, the secrets, and what it holds.

``manifest.json`` says when it was made, of which kind the database is, which migrations it has had, where each book
ended, and the SHA-256 of every other file. Format: the README beside.
"""

import hashlib
import json
import re
import shutil
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from shop.keeping.databases import Unkept

FORMAT = "tarebook-backup-1"
MANIFEST, DATABASE, PHOTOS, SECRETS = "manifest.json", "database", "photos/", "secrets/"
NAMED = re.compile(r"tarebook-\d{4}-\d\d-\d\dT\d{6}Z(-\d+)?\.zip")
CHUNK = 1 << 20
_DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, ValueError, NotImplementedError, RuntimeError)


@dataclass(frozen=True)
class Head:
    """Where a book ended when it was copied."""

    book: str
    uid: str
    line: int
    digest: str
    day: str  # of its last line, as it counts; empty where the book is


@dataclass(frozen=True)
class Manifest:
    """What a copy says of itself."""

    made_at: str
    database: str
    migrations: list[str]
    books: list[Head]
    left_out: list[str] = field(default_factory=list)
    proved: str = ""
    files: dict[str, str] = field(default_factory=dict)
    format: str = FORMAT

    @property
    def uids(self) -> set[str]:
        return {head.uid for head in self.books}


def write(target: Path, manifest: Manifest, files: Iterable[tuple[str, Path]]) -> Manifest:
    """Write a copy under a name that nothing has yet, and read it again; returns it with the digest of each file."""
    digests: dict[str, str] = {}
    with zipfile.ZipFile(target, "x", zipfile.ZIP_DEFLATED, compresslevel=3) as into:
        for name, path in files:
            into.write(path, name, zipfile.ZIP_STORED if name.startswith(PHOTOS) else None)
            digests[name] = digest_of(path)
        whole = Manifest(**{**asdict(manifest), "files": digests, "books": manifest.books})
        into.writestr(MANIFEST, json.dumps(asdict(whole), indent=1, sort_keys=True))
    target.chmod(0o600)
    check(target)
    return whole


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def read(path: Path) -> Manifest:
    """Return what a copy says of itself; raises Unkept where the file is none, or of a later form."""
    try:
        with zipfile.ZipFile(path) as copy:
            found: Mapping[str, Any] = json.loads(copy.read(MANIFEST))
        if found["format"] != FORMAT:
            raise Unkept(f"{path} is a copy of the form {found['format']}, which this version does not read.")
        return Manifest(**{**found, "books": [Head(**one) for one in found["books"]]})
    except FileNotFoundError:
        raise Unkept(f"There is no file {path}.") from None
    except OSError as error:
        raise Unkept(f"{path} cannot be read: {error.strerror}.") from None
    except (*_DAMAGED, KeyError, TypeError):
        raise Unkept(f"{path} is no copy made by manage.py backup, or it is damaged.") from None


def check(path: Path) -> Manifest:
    """Return what a copy says of itself once every file in it was read and is what it says; raises Unkept."""
    manifest = read(path)
    try:
        with zipfile.ZipFile(path) as copy:
            if sorted(set(copy.namelist()) - {MANIFEST}) != sorted(manifest.files):
                raise Unkept(f"{path} is damaged: it does not hold the files that it names.")
            for name, digest in manifest.files.items():
                with copy.open(name) as file:
                    whole = hashlib.sha256()
                    while part := file.read(CHUNK):
                        whole.update(part)
                if whole.hexdigest() != digest:
                    raise Unkept(f"{path} is damaged: {name} in it is not what was copied.")
    except (*_DAMAGED, OSError) as error:
        raise Unkept(f"{path} is damaged: {error}.") from None
    return manifest


def take_out(path: Path, name: str, target: Path) -> None:
    """Write one file of a copy to a place of its own, for this account alone."""
    with zipfile.ZipFile(path) as copy, copy.open(name) as was, target.open("xb") as new:
        target.chmod(0o600)
        shutil.copyfileobj(was, new)


def beside(folder: Path, uids: set[str]) -> list[tuple[str, Path]]:
    """Return when each copy of one of these books in a folder was made, and its file, the oldest first."""
    found = []
    for path in folder.iterdir():
        if NAMED.fullmatch(path.name) and path.is_file():
            try:
                manifest = read(path)
            except Unkept:
                continue
            if manifest.uids & uids or not uids:
                found.append((manifest.made_at, path))
    return sorted(found)
