"""One database as a file and back, of either kind: SQLite's own online copy, PostgreSQL's own dump.

Unkept      it cannot be copied or filled; the text is a sentence
"""

import os
import secrets
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

import dj_database_url
import psycopg
from django.conf import settings
from django.db import connection
from psycopg import sql

SQLITE, POSTGRES = "sqlite", "postgresql"
SIGNED_IN = "django_session"  # whoever has its rows is signed in as others are: no copy holds them
BESIDE = ("", "-wal", "-shm", "-journal")  # the files of one database of SQLite


class Unkept(Exception):
    """What cannot be copied or brought back; the text is a sentence for the person."""


def copy_out(target: Path) -> str:
    """Write the database of the settings to a file while others write in it, without sign-ins; return its kind."""
    if connection.vendor == SQLITE:
        _copy_of_sqlite(Path(str(connection.settings_dict["NAME"])), target)
    else:
        _dump(connection.settings_dict, target)
    return connection.vendor


def _copy_of_sqlite(source: Path, target: Path) -> None:
    """Copy as one moment: a reader keeps no writer out, and what was acknowledged before it began is in it."""
    was = sqlite3.connect(f"file:{source}?mode=ro", uri=True, timeout=30)
    with closing(was), closing(sqlite3.connect(target)) as new:
        was.backup(new)
        new.execute("PRAGMA journal_mode=DELETE")
        new.execute("PRAGMA secure_delete=ON")
        new.execute(f"DELETE FROM {SIGNED_IN}")  # noqa: S608 - our own name
        new.commit()


def _dump(database: Mapping[str, Any], target: Path) -> None:
    _run(
        ["pg_dump", "--format=custom", f"--exclude-table-data={SIGNED_IN}", "--no-owner", "--no-privileges"],
        ["--file", str(target)],
        database,
    )


def is_empty(url: str) -> bool:
    """Whether nothing stands yet at the address of a database."""
    database = parsed(url)
    if _is_sqlite(database):
        return not any(Path(f"{database['NAME']}{end}").exists() for end in BESIDE)
    try:
        with psycopg.connect(**_asked(database)) as there:
            found = there.execute("SELECT 1 FROM pg_class WHERE relnamespace = 'public'::regnamespace LIMIT 1")
            return found.fetchone() is None
    except psycopg.OperationalError as error:
        raise Unkept(f"The database does not answer: {str(error).strip().splitlines()[0]}") from None


def fill(url: str, source: Path) -> None:
    """Bring what was copied out into an empty database; where that fails nothing of it stands there."""
    database = parsed(url)
    if not _is_sqlite(database):
        _restore_dump(database, source)
        return
    target = Path(str(database["NAME"]))
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(f"{target.name}.part")
    try:
        with part.open("xb") as new, source.open("rb") as was:
            os.fchmod(new.fileno(), 0o600)
            shutil.copyfileobj(was, new)
            new.flush()
            os.fsync(new.fileno())
        os.link(part, target)  # unlike a renaming it takes no other file's place
    finally:
        part.unlink(missing_ok=True)


def _restore_dump(database: Mapping[str, Any], source: Path) -> None:
    name = str(database["NAME"])
    words = ["pg_restore", "--no-owner", "--no-privileges", "--exit-on-error", "--single-transaction"]
    _run([*words, "--dbname", name], [str(source)], database)


@contextmanager
def tried(kind: str, copied: Path) -> Iterator[str]:
    """Yield the address at which the copy can be asked, for as long as that takes; empty where there is none.

    On PostgreSQL it is restored into a database of its own, where the role may make one.
    """
    if kind == SQLITE:
        yield f"sqlite:///{copied}"
        return
    asked = _asked(connection.settings_dict)
    name = f"tarebook_copy_{secrets.token_hex(4)}"
    with psycopg.connect(**asked, autocommit=True) as server:
        may = server.execute("SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user").fetchone()
        if not (may and may[0]):
            yield ""
            return
        server.execute(sql.SQL("CREATE DATABASE {} TEMPLATE template0").format(sql.Identifier(name)))
        try:
            _restore_dump({**connection.settings_dict, "NAME": name}, copied)
            yield _url(connection.settings_dict, name)
        finally:
            server.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))


def rows(url: str, query: str) -> list[tuple[Any, ...]]:
    """Return what a query reads in the database of an address."""
    database = parsed(url)
    if _is_sqlite(database):
        with closing(sqlite3.connect(f"file:{database['NAME']}?mode=ro", uri=True)) as asked:
            return asked.execute(query).fetchall()
    with psycopg.connect(**_asked(database)) as there:
        return there.execute(query.encode()).fetchall()


def own_url() -> str:
    """Return the address of the database of the settings."""
    own = connection.settings_dict
    return f"sqlite:///{own['NAME']}" if connection.vendor == SQLITE else _url(own, str(own["NAME"]))


def manage(url: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Run a command of ours on the database of an address."""
    own = {"DATABASE_URL": url, "TAREBOOK_MEDIA": str(settings.MEDIA_ROOT), "SECRET_KEY": settings.SECRET_KEY}
    command = [sys.executable, "manage.py", *words]
    return subprocess.run(  # noqa: S603 - our own command
        command, cwd=settings.BASE_DIR, env={**os.environ, **own}, capture_output=True, text=True, check=False
    )


def parsed(url: str) -> Mapping[str, Any]:
    """Return what Django calls the parts of a database's address."""
    try:
        found: Mapping[str, Any] = dj_database_url.parse(url)
    except (dj_database_url.ParseError, dj_database_url.UnknownSchemeError):
        found = {}
    if str(found.get("ENGINE", "")).rpartition(".")[2] not in ("sqlite3", POSTGRES):
        raise Unkept("The address of a database begins with sqlite:/// or postgres://.")
    if not found["NAME"] or found["NAME"] == ":memory:":
        raise Unkept(f"{url} names no database.")
    return found


def kind_of(url: str) -> str:
    """Return which kind of database an address is of."""
    return SQLITE if _is_sqlite(parsed(url)) else POSTGRES


def _is_sqlite(database: Mapping[str, Any]) -> bool:
    return str(database["ENGINE"]).endswith("sqlite3")


def _asked(database: Mapping[str, Any]) -> dict[str, Any]:
    names = {"HOST": "host", "PORT": "port", "USER": "user", "PASSWORD": "password", "NAME": "dbname"}
    return {ours: database[theirs] for theirs, ours in names.items() if database.get(theirs)}


def _url(database: Mapping[str, Any], name: str) -> str:
    who = quote(str(database.get("USER") or ""), safe="")
    word = f":{quote(str(database['PASSWORD']), safe='')}" if database.get("PASSWORD") else ""
    port = f":{database['PORT']}" if database.get("PORT") else ""
    host = str(database.get("HOST") or "")
    host = quote(host, safe="") if host.startswith("/") else host
    return f"postgres://{who}{word}{'@' if who else ''}{host}{port}/{quote(name, safe='')}"


def _run(program: list[str], words: list[str], database: Mapping[str, Any]) -> None:
    """Run a program of PostgreSQL; the password goes by its environment, where no list of processes shows it."""
    asked = {name: str(value) for name, value in _asked(database).items()}
    variables = {"host": "PGHOST", "port": "PGPORT", "user": "PGUSER", "password": "PGPASSWORD", "dbname": "PGDATABASE"}
    own = {variables[name]: value for name, value in asked.items()}
    if shutil.which(program[0]) is None:
        raise Unkept(f"{program[0]} is not on this machine; it comes with PostgreSQL’s client programs.")
    done = subprocess.run(  # noqa: S603 - a fixed program, given our own words
        [*program, *words], env={**os.environ, **own}, capture_output=True, text=True, check=False
    )
    if done.returncode:
        said = done.stderr.strip().splitlines() or ["nothing was said"]
        raise Unkept(f"{program[0]} ended with {done.returncode}: {said[0]}")
