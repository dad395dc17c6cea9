"""An act that is killed before any one of its statements is there whole or not at all."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.processes
PROGRAM = Path(__file__).parent / "book_process.py"
KILLED = 9
BEFORE, AFTER = [2, 2, 0], [3, 3, 2]  # entries, movements, weighings


@pytest.fixture
def outcomes(database_url: str) -> list[tuple[int, list[int], int, list[str]]]:
    """Of each kill in turn: how the process ended, what stood then, the number of the act done again, faults."""
    done = subprocess.run(
        [sys.executable, str(PROGRAM), "kill"],
        env={**os.environ, "DATABASE_URL": database_url},
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    return [tuple(outcome) for outcome in json.loads(done.stdout)]


def test_an_act_killed_before_any_statement_is_whole_or_nothing(outcomes, manage):
    *killed, finished = outcomes
    assert len(killed) > 10, "an act has more statements than that: the wrapper saw only some"
    assert {ended for ended, *_ in killed} == {KILLED}
    assert [counts for _, counts, _, _ in killed] == [BEFORE] * len(killed)
    assert finished[:2] == (0, AFTER)
    # Whoever got no answer sends the form again: it is written then, or found.
    assert [again for _, _, again, _ in outcomes] == [3] * len(outcomes)
    assert [faults for *_, faults in outcomes] == [[]] * len(outcomes)
    verified = manage("verify")
    assert (verified.returncode, verified.stderr) == (0, "")
    assert len(verified.stdout.splitlines()) == len(outcomes)
