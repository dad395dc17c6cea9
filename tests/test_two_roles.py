"""Two roles on PostgreSQL: the one that serves owns nothing, writes the book, and cannot take its guards away.

Its rights are those that the README gives it, read from there.
"""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest
from psycopg import sql

from tests import databases
from tests.told import SECRET_KEY

ROOT = Path(__file__).resolve().parent.parent
SERVES = f"tarebook_serves_{databases.WORKER}"

pytestmark = [
    pytest.mark.processes,
    pytest.mark.skipif(not databases.ON_A_SERVER, reason="a file of SQLite has no roles"),
]


def grants() -> list[str]:
    """Return the statements that the README names, for our role."""
    found = re.findall(r"`(GRANT [^`]+ TO )server`", (ROOT / "README.md").read_text())
    assert len(found) == 2
    return [f"{one}{SERVES}" for one in found]


@pytest.fixture
def served(database_url: str) -> Iterator[str]:
    """The address of an empty book for the role that serves."""
    name = sql.Identifier(SERVES)
    with psycopg.connect(database_url, autocommit=True) as owner:
        owner.execute(sql.SQL("CREATE ROLE {} LOGIN").format(name))
        for one in grants():
            owner.execute(one.encode())
    host = urlsplit(database_url)
    try:
        yield urlunsplit(host._replace(netloc=f"{SERVES}@{host.hostname}:{host.port}"))
    finally:
        with psycopg.connect(database_url, autocommit=True) as owner:
            owner.execute(sql.SQL("DROP OWNED BY {}").format(name))
            owner.execute(sql.SQL("DROP ROLE {}").format(name))


def manage(url: str, folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run a command of the product as whom the address names."""
    environment = {**os.environ, "DATABASE_URL": url, "SECRET_KEY": SECRET_KEY, "TAREBOOK_MEDIA": str(folder)}
    command = [sys.executable, "manage.py", *words]
    return subprocess.run(command, cwd=ROOT, env=environment, check=False, capture_output=True, text=True)


AROUND = (  # what somebody tries who has the server, and with it its role
    "ALTER TABLE inventory_movement DISABLE TRIGGER ALL",
    "ALTER TABLE inventory_movement DISABLE TRIGGER guard_inventory_movement_update",
    "DROP TRIGGER guard_inventory_movement_update ON inventory_movement",
    "CREATE OR REPLACE FUNCTION tarebook_refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
    "DROP FUNCTION tarebook_refuse() CASCADE",
    "SET session_replication_role = replica",
    "TRUNCATE inventory_movement",
    "TRUNCATE inventory_entry CASCADE",
    "DROP TABLE inventory_movement CASCADE",
    "ALTER TABLE inventory_movement RENAME TO elsewhere",
    "CREATE RULE quiet AS ON UPDATE TO inventory_movement DO INSTEAD NOTHING",
    "UPDATE inventory_movement SET mass_mg = mass_mg + 1",
    "DELETE FROM inventory_movement",
    "UPDATE inventory_entry SET seq = seq + 1",
    "DELETE FROM inventory_weighing",
    "DELETE FROM inventory_trace",
    "UPDATE inventory_book SET head_seq = head_seq - 1",
    "GRANT tarebook TO CURRENT_USER",
)


def test_the_role_that_serves_plays_a_year_and_cannot_take_the_guards_away(
    served: str, database_url: str, tmp_path: Path
) -> None:
    played = manage(served, tmp_path, "demo_book", "--told")
    assert played.returncode == 0, played.stderr
    lines = databases.rows(database_url, "SELECT count(*) FROM inventory_movement")
    assert lines[0][0]
    for statement in AROUND:
        with psycopg.connect(served) as server, pytest.raises(psycopg.errors.DatabaseError) as told:
            server.execute(statement.encode())
        assert isinstance(told.value, psycopg.errors.InsufficientPrivilege | psycopg.errors.RestrictViolation), (
            statement
        )
    assert databases.rows(database_url, "SELECT count(*) FROM inventory_movement") == lines
    proved = manage(served, tmp_path, "verify")
    assert proved.returncode == 0, proved.stdout + proved.stderr


def test_the_role_that_serves_cannot_migrate(served: str, tmp_path: Path) -> None:
    back = manage(served, tmp_path, "migrate", "inventory", "0013")
    assert back.returncode != 0
    assert "must be owner" in back.stderr or "permission denied" in back.stderr
