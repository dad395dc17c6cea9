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
    words = ["--kills", "10", "--copies", "4", "--writers", "6", "--served", "1", "--only", kind]
    done = subprocess.run(
        [sys.executable, str(PROGRAM), *words], capture_output=True, text=True, timeout=600, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    told = done.stdout.splitlines()
    assert told[0].startswith(f"{kind}: 10 writers of 6 at a time killed: ")
    played = " ".join(told)
    last = {"sqlite": "2 copies whole, 2 copies with a log cut", "postgresql": "PostgreSQL stopped in the middle"}[kind]
    assert f"{kind}: {last}: " in played
    assert f"{kind}: a full disk" in played
    assert f"{kind}: the server ended 1 times under 4 people: " in played
