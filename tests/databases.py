"""Databases for processes of their own, of the kind that the tests run on.

They are files of SQLite, or neighbours of the database of DATABASE_URL, and known by an address like that one. What
takes long to fill is filled once for all processes of a run (`filled_once`), and each copies it.
"""

import fcntl
import hashlib
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import psycopg
from django.db import connection
from psycopg import sql

SERVER = os.environ.get("DATABASE_URL", "")
ON_A_SERVER = SERVER.startswith("postgres")
SHARED = "test_tarebook_shared_"
WORKER = os.environ.get("PYTEST_XDIST_WORKER", "main")


def beside(name: str, folder: Path) -> str:
    """Return the address of a database of this process: a file in `folder`, or one on the server of DATABASE_URL."""
    return named(f"test_tarebook_{WORKER}_{name}" if ON_A_SERVER else f"{folder / name}.sqlite3")


def filled_once(name: str, folder: Path, fill: Callable[[str], None]) -> str:
    """Return the address of a database of this run, which `fill` makes in the first process that asks; others wait.

    `folder` is the run's own. Nobody may write in the database, or keep it open, afterwards.
    """
    url = named(f"{SHARED}{name}" if ON_A_SERVER else f"{folder / name}.sqlite3")
    there = folder / f"{name}.filled"
    with (folder / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not there.exists():
            fill(url)
            there.touch()
    return url


@dataclass(frozen=True)
class Kept:
    """A database of SQLite that is kept in a folder from run to run, while what made it is written as it was."""

    name: str
    folder: Path
    made_by: Iterable[Path]

    def fill(self, url: str, fill: Callable[[str], None]) -> None:
        """Make `url` what is kept, or fill it and keep that; one on a server is filled each time."""
        written = hashlib.sha256(b"".join(sorted(path.read_bytes() for path in self.made_by))).hexdigest()[:16]
        kept = self.folder / f"{self.name}-{written}.sqlite3"
        if ON_A_SERVER or not kept.exists():
            fill(url)
            self._keep(url, kept)
        else:
            copy(named(str(kept)), url)

    def _keep(self, url: str, kept: Path) -> None:
        if ON_A_SERVER:
            return
        for older in self.folder.glob(f"{self.name}-*.sqlite3"):
            older.unlink(missing_ok=True)
        half = kept.with_suffix(f".{os.getpid()}")
        copy(url, named(str(half)))
        half.replace(kept)


def drop_shared() -> None:
    """Leave none of what was filled once on the server; files go with their folder."""
    if ON_A_SERVER:
        with psycopg.connect(SERVER, autocommit=True) as server:
            found = server.execute("SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [SHARED])
            for (name,) in found.fetchall():
                drop(named(name))


def named(name: str) -> str:
    """Return the address of the file, or of the database on the server of DATABASE_URL, that has this name."""
    return urlunsplit(urlsplit(SERVER)._replace(path=f"/{name}")) if ON_A_SERVER else f"sqlite:///{name}"


def drop(url: str) -> None:
    """Have no such database, whoever looks at it."""
    if not ON_A_SERVER:
        _file(url).unlink(missing_ok=True)
        return
    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(_name(url)))


def create(url: str) -> None:
    """Make an empty database in place of what may be left of an earlier one; a file comes with its first table."""
    drop(url)
    if ON_A_SERVER:
        with psycopg.connect(SERVER, autocommit=True) as server:
            server.execute(sql.SQL("CREATE DATABASE {}").format(_name(url)))


def copy(source: str, target: str) -> None:
    """Make `target` what `source` is, also while a server looks at it; on PostgreSQL nobody may look at `source`."""
    if not ON_A_SERVER:
        with closing(sqlite3.connect(_file(source))) as was, closing(sqlite3.connect(_file(target), timeout=30)) as new:
            was.backup(new)
        return
    drop(target)
    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(_name(target), _name(source)))


@contextmanager
def used(url: str) -> Iterator[None]:
    """Let Django ask this database in place of its own."""
    own = connection.settings_dict["NAME"]
    connection.close()
    connection.settings_dict["NAME"] = name_of(url)
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["NAME"] = own


def name_of(url: str) -> str:
    """Return what Django calls the database of an address."""
    return urlsplit(url).path.removeprefix("/") if ON_A_SERVER else str(_file(url))


def rows(url: str, query: str) -> list[tuple[Any, ...]]:
    """Return what a query reads, beside whoever else looks at the database."""
    if ON_A_SERVER:
        with psycopg.connect(url) as connection:
            return connection.execute(query.encode()).fetchall()
    with closing(sqlite3.connect(f"file:{_file(url)}?mode=ro", uri=True)) as connection:
        return connection.execute(query).fetchall()


def change(url: str, statement: str) -> None:
    """Change rows as somebody would who holds the database and not the product."""
    if ON_A_SERVER:
        with psycopg.connect(url) as connection:
            connection.execute(statement.encode())
        return
    with closing(sqlite3.connect(_file(url))) as connection:
        connection.execute(statement)
        connection.commit()


def is_bare(url: str) -> bool:
    """Whether no table stands in a database, and on SQLite not even its file."""
    if ON_A_SERVER:
        return not rows(url, "SELECT 1 FROM pg_tables WHERE schemaname = 'public'")
    return not _file(url).exists()


def _file(url: str) -> Path:
    return Path(url.removeprefix("sqlite:///"))


def _name(url: str) -> sql.Identifier:
    return sql.Identifier(name_of(url))
