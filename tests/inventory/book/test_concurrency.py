"""Several processes write to one book at once, send forms twice and are killed: nothing answered is lost or doubled."""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

pytestmark = pytest.mark.processes
PROGRAM = Path(__file__).parent / "book_process.py"
WRITERS, KILLED, ACTS = 6, 3, 60
LINE_PARTS = 3


@pytest.fixture
def start(database_url: str) -> Callable[..., subprocess.Popen[str]]:
    def run(*words: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, str(PROGRAM), *words],
            env={**os.environ, "DATABASE_URL": database_url},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )

    return run


def finish(process: subprocess.Popen[str]) -> str:
    """Wait for a process and return what it complained of."""
    return process.communicate(timeout=90)[1]


def answered(log: Path) -> list[tuple[str, int, str]]:
    """Return the acts that a writer was answered: name, number, digest. A kill may cut the last line short."""
    lines = [line.split("\t") for line in log.read_text().splitlines() if line.endswith(tuple("0123456789abcdef"))]
    return [(line[0], int(line[1]), line[2]) for line in lines if len(line) == LINE_PARTS]


def entries(manage: Callable[..., subprocess.CompletedProcess[str]]) -> dict[int, tuple[str, str]]:
    """Return digest and request key of every entry by its number, as the database has them."""
    script = (
        "from inventory.models import Entry\n"
        "for e in Entry.objects.order_by('seq'): print(e.seq, e.digest, e.request_key, sep='\\t')"
    )
    shown = manage("shell", "--no-imports", "-c", script)
    assert shown.returncode == 0, shown.stderr
    return {int(seq): (digest, key) for seq, digest, key in (line.split("\t") for line in shown.stdout.splitlines())}


def test_all_that_was_answered_is_in_the_book_once_whoever_was_killed(start, manage, tmp_path):
    assert finish(start("set-up", "busy")) == ""
    logs = [tmp_path / f"writer-{number}" for number in range(WRITERS)]
    # Those who will be killed have more to do than they can finish before it.
    writers = [
        start("write", "busy", f"w{number}", str(ACTS if number >= KILLED else 1_000 * ACTS), str(log))
        for number, log in enumerate(logs)
    ]
    chance = random.Random(7)
    for victim, log in zip(writers[:KILLED], logs, strict=False):
        until = time.monotonic() + 60
        while (not log.exists() or log.stat().st_size < chance.randrange(200, 3_000)) and time.monotonic() < until:
            time.sleep(0.01)
        victim.send_signal(signal.SIGKILL)
    complaints = [finish(writer) for writer in writers]
    assert [writer.returncode for writer in writers[:KILLED]] == [-signal.SIGKILL] * KILLED
    assert (complaints[KILLED:], {writer.returncode for writer in writers[KILLED:]}) == (
        [""] * (WRITERS - KILLED),
        {0},
    )

    book = entries(manage)
    answers = [answer for log in logs for answer in answered(log)]
    assert all(book[seq][0] == digest for _, seq, digest in answers), "something answered is not there"
    numbers: dict[str, set[int]] = {}
    for name, seq, _ in answers:
        numbers.setdefault(name, set()).add(seq)
    assert all(len(seqs) == 1 for seqs in numbers.values()), "one form became two lines"
    assert len({key for _, key in book.values()}) == len(book)
    # Whole writers did all their acts; killed ones may have written one more than they were told.
    assert len(numbers) <= len(book) - 2 <= len(numbers) + KILLED
    assert sorted(book) == list(range(1, len(book) + 1))
    verified = manage("verify")
    assert (verified.returncode, verified.stderr) == (0, "")


def test_a_reading_of_the_book_is_clean_while_others_write(start, manage, tmp_path):
    assert finish(start("set-up", "busy")) == ""
    writers = [start("write", "busy", f"w{number}", str(ACTS), str(tmp_path / f"{number}")) for number in range(2)]
    while not all((tmp_path / f"{number}").exists() for number in range(2)):
        time.sleep(0.01)
    verified = manage("verify")
    assert (verified.returncode, verified.stderr) == (0, "")
    assert [finish(writer) for writer in writers] == ["", ""]
