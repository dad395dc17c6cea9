"""How long a posting takes against a bare durable insert, and how long `verify` takes, on the same database.

Run by hand: ``DATABASE_URL=... python tests/benchmarks/ledger.py [POSTINGS]`` (default 2,000). DATABASE_URL names an
empty database that is migrated and filled here; without it a SQLite file in a temporary folder is used. Ratios matter,
not the absolutes: all figures come from one run on one machine.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
TRIES = 3


def best(what: Callable[[], None], times: int) -> float:
    """Return the seconds of one call, the best of three rounds of `times` calls."""
    rounds = []
    for _ in range(TRIES):
        begun = time.perf_counter()
        for _ in range(times):
            what()
        rounds.append((time.perf_counter() - begun) / times)
    return min(rounds)


def main(postings: int) -> None:
    """Measure on the database of the settings and print a line for each figure."""
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection, models, transaction
    from django.utils import timezone

    from inventory.book import audit, ledger
    from inventory.book.draft import Build, Draft, Line, Reading
    from inventory.models import Account, Scale

    class Bare(models.Model):
        """A row as plain as a posting's facts."""

        key = models.UUIDField(unique=True)
        giver = models.BigIntegerField()
        taker = models.BigIntegerField()
        mass_mg = models.BigIntegerField()
        occurred_at = models.DateTimeField()

        class Meta:
            app_label = "benchmark"

        def __str__(self) -> str:
            return str(self.key)

    call_command("migrate", verbosity=0)
    with connection.schema_editor() as editor:
        editor.create_model(Bare)
    book = ledger.open_book(f"Benchmark {uuid4()}", "UTC")
    with transaction.atomic():
        cylinder = ledger.open_account(book, "cylinder", "C-1")
        car = ledger.open_account(book, "vehicle", "car")
        scale: Scale = ledger.open_scale(book, name="S1", step_mg=5_000)
    opening = Account.objects.get(book=book, kind="opening")

    def write(build: Build) -> None:
        with transaction.atomic(durable=True):
            ledger.write(book, ledger.Act(uuid4(), "p-bench", timezone.now(), {}), build)

    def post() -> None:
        line = Line("charge", cylinder, car, "R-134a", "virgin", 1_000, "pair", 2_041, 1, scale)
        write(lambda draft: draft.move(line))

    def weigh() -> None:
        def build(draft: Draft) -> None:
            for role in ("before", "after"):
                draft.read(Reading(cylinder, role, 11_200_000, 6_200_000, 2_041, scale, "11.2 kg"))
            draft.move(Line("charge", cylinder, car, "R-134a", "virgin", 1_000, "pair", 2_041, 1, scale))

        write(build)

    def orm() -> None:
        with transaction.atomic(durable=True):
            Bare._default_manager.create(key=uuid4(), giver=1, taker=2, mass_mg=1_000, occurred_at=timezone.now())

    def raw() -> None:
        values = [uuid4().hex if connection.vendor == "sqlite" else uuid4(), 1, 2, 1_000, str(timezone.now())]
        with transaction.atomic(durable=True), connection.cursor() as cursor:
            cursor.execute(
                "INSERT INTO benchmark_bare (key, giver, taker, mass_mg, occurred_at) VALUES (%s, %s, %s, %s, %s)",
                values,
            )

    stock = Line("opening-stock", opening, cylinder, "R-134a", "virgin", 10**11, "single")
    write(lambda draft: draft.move(stock))
    bare_raw, bare_orm = best(raw, postings), best(orm, postings)
    print(f"{connection.vendor}: bare durable insert, raw {bare_raw * 1e3:.2f} ms, ORM {bare_orm * 1e3:.2f} ms")
    for name, act in (("one movement", post), ("two readings and a movement", weigh)):
        took = best(act, postings)
        print(f"{name}: {took * 1e3:.2f} ms, {took / bare_raw:.1f} x raw, {took / bare_orm:.1f} x ORM")
    begun, worked = time.perf_counter(), time.process_time()
    with audit.snapshot():
        faults, count = list(audit.faults(book)), audit.count(book)
    took, each = time.perf_counter() - begun, (time.process_time() - worked) / count.entries
    print(f"verify: {count} in {took:.2f} s, {each * 1e6:.0f} us of this process a line, {len(faults)} faults")
    with connection.schema_editor() as editor:
        editor.delete_model(Bare)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("DATABASE_URL", f"sqlite:///{folder}/benchmark.sqlite3")
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 2_000)
