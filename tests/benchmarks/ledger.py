"""How long a posting takes against a bare durable insert by the driver, on the same database.

Run by hand: ``DATABASE_URL=... python tests/benchmarks/ledger.py [ROUNDS]`` (default 300). DATABASE_URL names an empty
database that is migrated and filled here; without it a SQLite file in a temporary folder is used. The acts take turns
in short rounds and the least of each is printed, so that other work on the machine counts little; ratios matter.
"""

import os
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from uuid import uuid4

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
CALLS = 5  # of one act in a round
BARE = "CREATE TABLE bare (id {key} PRIMARY KEY, key {uuid} UNIQUE, giver bigint, taker bigint, mass bigint, at {at})"
INSERT = "INSERT INTO bare (key, giver, taker, mass, at) VALUES (?, ?, ?, ?, ?)"


def least(acts: Mapping[str, Callable[[], object]], rounds: int) -> dict[str, tuple[float, float]]:
    """Return the milliseconds of one call of each act: by the clock on the wall, and of this process alone."""
    found = dict.fromkeys(acts, (float("inf"), float("inf")))
    for _ in range(rounds):
        for name, act in acts.items():
            begun, worked = time.perf_counter(), time.process_time()
            for _ in range(CALLS):
                act()
            took = time.perf_counter() - begun, time.process_time() - worked
            wall, own = found[name]
            found[name] = min(wall, took[0] / CALLS * 1e3), min(own, took[1] / CALLS * 1e3)
    return found


def bare_insert(connection: Any) -> Callable[[], None]:
    """Return an insert of one row as plain as a posting's facts, in a durable transaction of the driver's own."""
    if connection.vendor == "sqlite":
        lite = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
        lite.executescript("PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL")
        lite.execute(BARE.format(key="integer", uuid="char(32)", at="datetime"))

        def insert() -> None:
            lite.execute("BEGIN IMMEDIATE")
            lite.execute(INSERT, (uuid4().hex, 1, 2, 1_000, "2025-06-02 10:00:00"))
            lite.execute("COMMIT")

        return insert
    import psycopg
    from psycopg.conninfo import make_conninfo

    names = ("dbname", "host", "port", "user", "password")
    known = {name: value for name, value in connection.get_connection_params().items() if name in names}
    server = psycopg.connect(make_conninfo(**known), autocommit=True)
    server.execute(BARE.format(key="bigserial", uuid="uuid", at="timestamptz"))

    def insert_there() -> None:
        with server.transaction():
            server.execute(INSERT.replace("?", "%s"), (uuid4(), 1, 2, 1_000, "2025-06-02 10:00:00Z"))

    return insert_there


def main(rounds: int) -> None:
    """Measure on the database of the settings and print a line for each figure."""
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection, transaction
    from django.utils import timezone

    from inventory.book import ledger
    from inventory.book.draft import Draft, Line, Reading
    from inventory.models import Account, Scale

    call_command("migrate", verbosity=0)
    book = ledger.open_book("Benchmark", "UTC")
    with transaction.atomic():
        cylinder = ledger.open_account(book, "cylinder", "C-1")
        car = ledger.open_account(book, "vehicle", "car")
        scale: Scale = ledger.open_scale(book, name="S1", step_mg=5_000)
    opening = Account.objects.get(book=book, kind="opening")

    @ledger.one_entry()
    def stock(draft: Draft) -> None:
        draft.move(Line("opening-stock", opening, cylinder, "R-134a", "virgin", 10**11, "single"))

    @ledger.one_entry()
    def charge(draft: Draft, roles: tuple[str, ...]) -> None:
        for role in roles:
            draft.read(Reading(cylinder, role, 11_200_000, 6_200_000, 2_041, scale, "11.2 kg"))
        draft.move(Line("charge", cylinder, car, "R-134a", "virgin", 1_000, "pair", 2_041, 1, scale))

    def act() -> ledger.Act:
        return ledger.Act(uuid4(), "p-bench", timezone.now(), {})

    stock(book, act())
    acts = {
        "bare durable insert by the driver": bare_insert(connection),
        "one movement": lambda: charge(book, act(), ()),
        "a movement and its two readings": lambda: charge(book, act(), ("before", "after")),
    }
    found = least(acts, rounds)
    bare = next(iter(found.values()))
    for name, (took, worked) in found.items():
        print(
            f"{connection.vendor}, {name}: {took:.3f} ms, {took / bare[0]:.1f} times the bare insert; "
            f"{worked:.3f} ms of this process"
        )


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    os.environ.setdefault("SECRET_KEY", "of a benchmark")
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("DATABASE_URL", f"sqlite:///{folder}/benchmark.sqlite3")
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
