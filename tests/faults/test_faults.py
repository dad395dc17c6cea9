"""A short play of the faults that ``make faults`` plays at length, on the kind of database that the tests run on."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests import databases

PROGRAM = Path(__file__).parent / "faults.py"


@pytest.mark.processes
def test_what_was_answered_stands_after_every_fault() -> None:
    kind = "postgresql" if databases.ON_A_SERVER else "sqlite"
    words = ["--kills", "10", "--copies", "4", "--writers", "6", "--only", kind]
    done = subprocess.run(
        [sys.executable, str(PROGRAM), *words], capture_output=True, text=True, timeout=600, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    told = done.stdout.splitlines()
    assert told[0].startswith(f"{kind}: 10 writers of 6 at a time killed: ")
    last = {"sqlite": "2 copies whole, 2 copies with a log cut", "postgresql": "PostgreSQL stopped in the middle"}[kind]
    assert told[-1].startswith(f"{kind}: {last}: ")
