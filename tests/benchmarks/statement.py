"""How long the year's report takes from a book of many movements, against hand-written SQL on the same file.

Run by hand: ``python tests/benchmarks/statement.py [MOVEMENTS]`` (default 1,000,000). Uses SQLite in a temporary file
of its own, or the file named by BENCHMARK_FILE, which is kept and used again. Prints the best of three of each.
"""

import os
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import UUID

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from tests.benchmarks.books import hold_vehicles  # noqa: E402

YEAR = (date(2025, 1, 1), date(2025, 12, 31))
BLOCK = 5_000
# cause, kinds of both ends, basis, share of the movements
MIX = (
    ("purchase", "partner", "cylinder", "single", 8),
    ("recovery", "vehicle", "cylinder", "pair", 25),
    ("charge", "cylinder", "vehicle", "pair", 35),
    ("weighing-difference", "cylinder", "unexplained", "pair", 20),
    ("weighing-difference", "unexplained", "cylinder", "pair", 10),
    ("purge", "cylinder", "air", "computed", 1),
    ("sent-away", "cylinder", "partner", "single", 1),
)
CONTENTS = (
    ("R-134a", "virgin"),
    ("R-134a", "recovered"),
    ("R-134a", "recycled"),
    ("R-12", "recovered"),
    ("R-1234yf", "virgin"),
)

# The same figures by hand, over the tables as they are: opening, columns and closing per refrigerant.
BY_HAND = """
SELECT m.refrigerant,
  SUM(CASE WHEN m.booked_on >= :first THEN 0
      ELSE m.mass_mg * ((t.kind IN ('cylinder', 'rig')) - (s.kind IN ('cylinder', 'rig'))) END),
  SUM(CASE WHEN m.booked_on >= :first AND s.kind = 'partner' THEN m.mass_mg ELSE 0 END),
  SUM(CASE WHEN m.booked_on >= :first AND s.kind = 'vehicle' AND t.kind = 'cylinder' THEN m.mass_mg ELSE 0 END),
  SUM(CASE WHEN m.booked_on >= :first AND t.kind = 'vehicle' AND s.kind = 'cylinder' THEN m.mass_mg ELSE 0 END),
  SUM(CASE WHEN m.booked_on >= :first AND t.kind = 'partner' THEN m.mass_mg ELSE 0 END),
  SUM(CASE WHEN m.booked_on >= :first AND t.kind = 'air' AND s.kind = 'cylinder' THEN m.mass_mg ELSE 0 END),
  SUM(CASE WHEN m.booked_on >= :first AND t.kind = 'unexplained' AND s.kind = 'cylinder' THEN m.mass_mg
           WHEN m.booked_on >= :first AND s.kind = 'unexplained' AND t.kind = 'cylinder' THEN -m.mass_mg ELSE 0 END),
  SUM(m.mass_mg * ((t.kind IN ('cylinder', 'rig')) - (s.kind IN ('cylinder', 'rig'))))
FROM inventory_movement m
JOIN inventory_account s ON s.id = m.source_id
JOIN inventory_account t ON t.id = m.target_id
WHERE m.book_id = :book AND m.booked_on <= :last
GROUP BY m.refrigerant ORDER BY m.refrigerant
"""


def fill(movements: int) -> None:
    """Write a book of `movements`, two to an entry, three years of them, straight into the tables."""
    from django.db import transaction

    from inventory.book import ledger
    from inventory.models import Account, Book, Entry, Movement, PeriodTotal, Scale, totals

    draw = random.Random(12)  # the same book every time
    book = ledger.open_book("Benchmark", "UTC")
    accounts: dict[str, list[Account]] = {}
    for kind, count in (("cylinder", 200), ("vehicle", 5_000), ("partner", 10)):
        rows = [Account(book=book, number=100 + 10_000 * len(accounts) + n, kind=kind, label="") for n in range(count)]
        accounts[kind] = Account.objects.bulk_create(rows)
    for single in Account.objects.filter(book=book, number__lt=100):
        accounts[single.kind] = [single]
    scales = [Scale.objects.create(book=book, number=n, name=f"S{n}", step_mg=5_000) for n in (1, 2)]
    begin, seq = datetime(2023, 1, 1, 8, tzinfo=UTC), 0
    causes = [each for each in MIX for _ in range(each[4])]
    while seq * 2 < movements:
        entries = []
        for _ in range(min(BLOCK, (movements - seq * 2 + 1) // 2)):
            seq += 1
            at = begin + timedelta(days=1095 * seq * 2 / movements)
            entries.append(
                Entry(
                    book=book, seq=seq, kind="post", occurred_at=at, recorded_at=at, booked_on=at.date(),
                    actor="p-bench", context=f"visit:{seq // 4}", request_key=UUID(int=seq),
                    request_digest="0" * 64, digest=f"{seq:064x}",
                )
            )  # fmt: skip
        with transaction.atomic():
            Entry.objects.bulk_create(entries)
            Movement.objects.bulk_create(list(_lines(draw, book, entries, accounts, causes, scales)), batch_size=BLOCK)
    Book.objects.filter(pk=book.pk).update(head_seq=seq, head_digest=f"{seq:064x}")
    totals.fill(Movement, PeriodTotal)
    hold_vehicles(book)


def _lines(draw, book, entries, accounts, causes, scales) -> Iterator:  # type: ignore[no-untyped-def, type-arg]
    from inventory.models import Movement

    for entry in entries:
        for line in (1, 2):
            cause, source, target, basis, _ = draw.choice(causes)
            code, grade = draw.choice(CONTENTS)
            yield Movement(
                entry=entry, line=line, book=book, booked_on=entry.booked_on, cause=cause, basis=basis,
                source=draw.choice(accounts[source]), target=draw.choice(accounts[target]), refrigerant=code,
                grade=grade, mass_mg=draw.randrange(1_000, 900_000), u_random_mg=2_041, u_span_mg=300,
                scale=draw.choice(scales),
            )  # fmt: skip


def best_of_three(what: Callable[[], object]) -> float:
    """Return the shortest of three runs, in seconds of CPU."""
    times = []
    for _ in range(3):
        begun = time.process_time()
        what()
        times.append(time.process_time() - begun)
    return min(times)


def main() -> None:
    """Fill the book where the file has none, and print the figures."""
    movements = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    path = os.environ.get("BENCHMARK_FILE") or str(Path(tempfile.mkdtemp()) / "benchmark.sqlite3")
    os.environ["DATABASE_URL"] = f"sqlite:///{path}"
    os.environ["DJANGO_SETTINGS_MODULE"] = "shop.settings"
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection

    from compliance.statement import figures, files, lines, sums
    from compliance.statement.sums import vehicle_holdings
    from inventory.models import Book, Movement

    call_command("migrate", verbosity=0)
    if not Book.objects.exists():
        fill(movements)
    book = Book.objects.get(name="Benchmark")
    named: dict[str, str | int] = {"first": YEAR[0].isoformat(), "last": YEAR[1].isoformat(), "book": book.pk}

    def by_hand() -> list[tuple[object, ...]]:
        with connection.cursor() as cursor:
            return list(cursor.execute(BY_HAND, named).fetchall())

    report = figures.read_statement(book, *YEAR, "AR4")
    ours = [
        (each.refrigerant, each.opening_mg, *(flow.mass_mg for flow in (each.acquired, each.recovered, each.charged,
         each.sent_away, each.air, each.unexplained)), each.closing_mg)
        for each in report.refrigerants
    ]  # fmt: skip
    if sorted(ours) != sorted(by_hand()):
        raise SystemExit("The two do not agree.")
    print(f"{Movement.objects.count():,} movements, {Path(path).stat().st_size / 1e6:,.0f} MB; figures agree")
    print(f"by hand               {best_of_three(by_hand):7.2f} s")
    print(f"out of the totals     {best_of_three(lambda: sums.summed(report)):7.2f} s")
    print(f"counts of the period  {best_of_three(lambda: lines.activity(report)):7.2f} s")
    print(f"whole statement       {best_of_three(lambda: figures.read_statement(book, *YEAR, 'AR4')):7.2f} s")
    print(f"vehicles' holdings    {best_of_three(lambda: vehicle_holdings(report)):7.2f} s")
    print(f"JSON                  {best_of_three(lambda: files.as_json(report)):7.2f} s")


if __name__ == "__main__":
    main()
