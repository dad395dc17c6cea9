"""The served process ended by SIGKILL at random moments, while people press; what `faults.py` plays beside writers.

    DATABASE_URL=... python -m tests.faults.served [--kills 30] [--people 4] [--seed 1]

The server is started as `make run` starts it, on an empty database that is filled with the short story. Each person
weighs cylinders through the pages, reads back and presses; where no answer comes the very form is sent again, as a
browser does. After the last kill each act that was answered must stand once, none twice, and `verify` find nothing.
"""

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from functools import partial
from http.client import HTTPException
from pathlib import Path
from socket import create_connection, create_server
from typing import Any
from uuid import uuid4

from tests.hostile.pressing import read_back_of
from tests.hostile.visitor import Sent, Visitor
from tests.hostile.world import PASSWORD

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 120
NOTHING = "nothing"  # went anywhere between two weighings
GROSS_G = {19: 17_495, 20: 5_620, 24: 17_925, 25: 15_870}  # of cylinders of the short story, as it ends


class Server:
    """A server in a group of its own, ended as a power switch would end it."""

    def __init__(self, console: Path) -> None:
        with create_server(("127.0.0.1", 0)) as free:
            self.port = int(free.getsockname()[1])
        self.console, self.up = console, threading.Event()
        self.running: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        environment = os.environ | {"PORT": str(self.port), "HOST": "127.0.0.1"}
        with self.console.open("ab") as console:
            self.running = subprocess.Popen(
                [sys.executable, "-m", "shop.serving", "run"],
                cwd=ROOT, env=environment, stdout=console, stderr=console, start_new_session=True,
            )  # fmt: skip
        for _ in range(PATIENCE_S * 10):
            assert self.running.poll() is None, self.console.read_text()
            try:
                create_connection(("127.0.0.1", self.port), timeout=5).close()
            except OSError:
                time.sleep(0.1)
            else:
                self.up.set()
                return
        raise AssertionError(f"no server in {PATIENCE_S} s")

    def kill(self) -> None:
        assert self.running
        self.up.clear()
        os.killpg(self.running.pid, signal.SIGKILL)
        self.running.wait()


class Person(threading.Thread):
    """Somebody who weighs one cylinder after the other; the keys of what was sent, and of what was answered."""

    def __init__(self, server: Server, number: int, chance: random.Random) -> None:
        super().__init__(daemon=True)
        self.server, self.chance, self.ended = server, chance, False
        self.visitor = Visitor(server.port, "technician", source=f"127.0.0.{10 + number}")
        self.sent: set[str] = set()
        self.answered: set[str] = set()
        self.again: set[str] = set()  # keys of what was sent more than once
        self.fault = ""

    def run(self) -> None:
        try:
            self._kept_up("", self.visitor.sign_in)
            while not self.ended:
                self._weigh()
        except Exception as error:  # noqa: BLE001 - whoever waits for this thread says it
            self.fault = f"{type(error).__name__}: {error}"

    def _kept_up(self, key: str, ask: Callable[[], Any]) -> Any:
        """Ask, as often as the server is ended meanwhile."""
        while True:
            try:
                return ask()
            except (HTTPException, OSError):
                self.again |= {key}
                assert self.server.up.wait(PATIENCE_S), "no server came back"
                time.sleep(0.5)

    def _weigh(self) -> None:
        number, key = self.chance.choice(list(GROSS_G)), str(uuid4())
        at, gross = f"/w/port-ellery/cylinders/{number}/weigh/", GROSS_G[number] - 5 * self.chance.randrange(20)
        sent: Sent = [("gross", f"{gross} g"), ("scale", "1"), ("occurred_at", ""), ("key", key)]
        self.sent.add(key)
        while sent:
            answer = self._kept_up(key, partial(self.visitor.send, at, sent))
            if answer.status >= 500 or answer.to_sign_in:
                raise AssertionError(f"{answer.status} to a weighing: {answer.headers.get('location', '')}")
            if answer.status == 303:
                self.answered.add(key)
            open_on_the_scale = answer.status == 422 and b"id_went" in answer.body and ("went", NOTHING) not in sent
            sent = [*sent, ("went", NOTHING)] if open_on_the_scale else read_back_of(answer)


def play(kills: int, people: int, seed: int, console: Path) -> tuple[list[Person], Server]:
    """Kill the server so many times while people press; return them, with the server ended."""
    chance, server = random.Random(seed), Server(console)
    server.start()
    crowd = [Person(server, number, random.Random(f"{seed} {number}")) for number in range(people)]
    try:
        for person in crowd:
            person.start()
        for _ in range(kills):
            _goes_on(crowd)
            time.sleep(chance.uniform(0.0, 0.5))
            server.kill()
            server.start()
        _goes_on(crowd)
        for person in crowd:
            person.ended = True
        for person in crowd:
            person.join(PATIENCE_S)
    finally:
        server.kill()
    return crowd, server


def _goes_on(crowd: list[Person]) -> None:
    """Wait until two more acts were answered: who has still to sign in is in the middle of nothing."""
    before, since = sum(len(one.answered) for one in crowd), time.monotonic()
    while sum(len(one.answered) for one in crowd) < before + 2:
        faults = [one.fault for one in crowd if one.fault]
        assert not faults, faults[0]
        assert time.monotonic() < since + PATIENCE_S, "no act is answered"
        time.sleep(0.02)


def counted(crowd: list[Person]) -> str:
    """Return what is wrong with the lines of what was sent, else nothing."""
    from inventory.models import Entry

    if faults := [person.fault for person in crowd if person.fault]:
        return faults[0]
    sent, answered = (set().union(*(getattr(one, name) for one in crowd)) for name in ("sent", "answered"))
    written = [str(key) for key in Entry.objects.filter(request_key__in=sent).values_list("request_key", flat=True)]
    if len(written) != len(set(written)):
        return "an act stands twice"
    lost = answered - set(written)
    return f"{len(lost)} acts were answered and are not there" if lost else ""


def main() -> int:
    asking = argparse.ArgumentParser(description="The served process ended at random moments.")
    asking.add_argument("--kills", type=int, default=30)
    asking.add_argument("--people", type=int, default=4)
    asking.add_argument("--seed", type=int, default=1)
    asked = asking.parse_args()
    os.environ.update(DJANGO_SETTINGS_MODULE="shop.settings", TAREBOOK_DEMO_PASSWORD=PASSWORD)
    import django
    from django.core.management import call_command

    django.setup()
    with tempfile.TemporaryDirectory() as made:
        os.environ["TAREBOOK_MEDIA"] = f"{made}/media"
        call_command("migrate", verbosity=0)
        call_command("demo_book", "--told", verbosity=0)
        crowd, _ = play(asked.kills, asked.people, asked.seed, Path(made) / "console")
        proved = subprocess.run(
            [sys.executable, "manage.py", "verify"], cwd=ROOT, capture_output=True, text=True, check=False
        )
    wrong = counted(crowd) or (proved.stderr if proved.returncode else "")
    if wrong:
        sys.stderr.write(f"{wrong}\n")
        return 1
    answered, again = (sum(len(getattr(one, name)) for one in crowd) for name in ("answered", "again"))
    sys.stdout.write(
        f"the server ended {asked.kills} times under {asked.people} people: {answered} acts answered, "
        f"{again} sent again, none lost, none twice; {proved.stdout.partition(' lines')[0]} lines proved\n"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
