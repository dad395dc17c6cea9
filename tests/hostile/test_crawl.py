"""A short run of the crawler, on a server that is really started; ``make crawl`` is the long one."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests import databases
from tests.told import told_year

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.processes
@pytest.mark.any_database
def test_hostile_requests_meet_no_fault_show_nothing_and_change_nothing(
    tmp_path: Path, of_the_run: Path, migrated: str
) -> None:
    databases.copy(told_year(migrated, of_the_run), f"sqlite:///{tmp_path}/book.sqlite3")
    environment = os.environ | {
        "DATABASE_URL": f"sqlite:///{tmp_path}/book.sqlite3",
        "TAREBOOK_MEDIA": f"{tmp_path}/media",
        "SECRET_KEY": "",
    }
    command = [sys.executable, "-m", "tests.hostile.crawl", "--requests", "400", "--seed", "7"]
    told = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    assert told.returncode == 0, told.stdout + told.stderr
    assert re.search(r"\n4\d\d requests at ", told.stdout), told.stdout
    assert "0 wrong." in told.stdout
    for who in ("anybody", "stranger", "reader"):
        (row,) = (line for line in told.stdout.splitlines() if line.startswith(f"| {who} |"))
        assert row.endswith("| 0 |"), row
