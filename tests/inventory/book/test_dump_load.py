"""A book dumped and loaded into an empty database is the same book, on the same kind of database and on the other."""

from pathlib import Path

import pytest

from tests import databases

pytestmark = pytest.mark.processes

FILL = """
from tests_path import set_up, charge
book = set_up("dumped")
for number in range(5): charge(book, f"act {number}", 100_000 + number)
"""


@pytest.fixture
def filled(manage) -> str:
    """Fill the copy with a book and return the path of its dump."""
    folder = Path(__file__).parent
    script = FILL.replace("tests_path", "book_process")
    shown = manage("shell", "--no-imports", "-c", f"import sys; sys.path.insert(0, {str(folder)!r})\n{script}")
    assert shown.returncode == 0, shown.stderr
    return manage("verify").stdout


@pytest.fixture
def other_url(manage, migrated: str, tmp_path: Path) -> str:
    """An empty SQLite database: the same kind where the tests run on SQLite, the other where on PostgreSQL."""
    url = f"sqlite:///{tmp_path / 'other.sqlite3'}"
    if not databases.ON_A_SERVER:
        databases.copy(migrated, url)
    elif (done := manage("migrate", "-v", "0", url=url)).returncode:
        pytest.fail(done.stderr)
    return url


def test_a_dump_loaded_into_an_empty_database_verifies(filled, manage, other_url, tmp_path):
    dump = tmp_path / "dump.json"
    assert "7 lines with 7 movements and 10 weighings" in filled
    steps = [
        (["dumpdata", "--natural-foreign", "-e", "contenttypes", "-e", "auth.permission", "-o", str(dump)], {}),
        (["loaddata", "-v", "0", str(dump)], {"url": other_url}),
    ]
    for words, where in steps:
        done = manage(*words, **where)
        assert done.returncode == 0, done.stderr
    loaded = manage("verify", url=other_url)
    assert (loaded.returncode, loaded.stdout) == (0, filled)


@pytest.mark.skipif(not databases.ON_A_SERVER, reason="the way back is of interest between two kinds of database")
def test_a_dump_comes_back_into_the_database_it_came_from(filled, manage, other_url, tmp_path):
    """There and back: what SQLite dumped is loaded where the tests run, into a database that was emptied of it."""
    out, back = tmp_path / "out.json", tmp_path / "back.json"
    common = ["-e", "contenttypes", "-e", "auth.permission"]
    empty = "from django.db import connection, transaction\nfrom inventory.book import guards\n"
    empty += "from django.core.management.sql import sql_flush\nfrom django.core.management.color import no_style\n"
    empty += "with transaction.atomic():\n    guards.remove()\n    cursor = connection.cursor()\n"
    empty += "    [cursor.execute(sql) for sql in sql_flush(no_style(), connection, allow_cascade=True)]\n"
    empty += "    guards.install()\n"
    steps = [
        (["dumpdata", *common, "-o", str(out)], {}),
        (["loaddata", "-v", "0", str(out)], {"url": other_url}),
        (["dumpdata", *common, "-o", str(back)], {"url": other_url}),
        (["shell", "--no-imports", "-c", empty], {}),
        (["loaddata", "-v", "0", str(back)], {}),
    ]
    for words, where in steps:
        done = manage(*words, **where)
        assert done.returncode == 0, done.stderr
    assert manage("verify").stdout == filled
