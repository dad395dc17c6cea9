"""How long the first page takes in a book of many visits: after a start, after an act, and at rest.

Run by hand: ``python tests/benchmarks/findings.py [VISITS]`` (default 10,000). The book is filled in a temporary file,
or in the one named by BENCHMARK_FILE, which is kept and used again. Times are CPU seconds of this process.
"""

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from tests.benchmarks import books  # noqa: E402

TIMES = 40


def cpu(what: Callable[[], object]) -> float:
    """Return the CPU seconds of one call."""
    begun = time.process_time()
    what()
    return time.process_time() - begun


def main(visits: int, path: Path) -> None:
    """Fill the book where there is none, judge it once, and print the figures."""
    if books.use(path):
        begun = time.process_time()
        books.fill(visits)
        print(f"{visits:,} visits filled in {time.process_time() - begun:.0f} s, {path.stat().st_size / 1e6:,.0f} MB")
    from django.test import Client
    from django.utils import timezone

    from compliance.findings import judging
    from compliance.models import Finding, Judged
    from shop.models import User, Visit, Workshop
    from shop.visits.acts import entering
    from shop.visits.acts.entering import StepFacts

    workshop = Workshop.objects.get()
    print(f"whole judging: {cpu(lambda: judging.refresh(workshop)):.2f} s of CPU, {Finding.objects.count():,} findings")
    print(f"the same again, on the next day: {cpu(lambda: judging.refresh(workshop, anyway=True)):.2f} s of CPU")
    client = Client(headers={"host": "localhost"})
    client.force_login(User.objects.get(username=books.OWNER))
    address = f"/w/{books.SLUG}/"
    first = cpu(lambda: client.get(address))
    rest = [cpu(lambda: client.get(address)) for _ in range(TIMES)]
    # As if a process had the whole before it: none is to take the other core from what is measured.
    Judged.objects.update(begun_at=timezone.now() + timedelta(days=1))
    doer = User.objects.get(username="first")
    newest = list(Visit.objects.order_by("-number")[:TIMES])
    after = []
    for visit in newest:
        facts = StepFacts(doer, data=books.SAID["leak search"])
        entering.add_step(visit, "leak search", occurred_at=timezone.now(), key=uuid4(), facts=facts)
        after.append(cpu(lambda: client.get(address)))
    Judged.objects.update(begun_at=None)
    print(f"first page: {first * 1e3:.0f} ms as the first request of a process")
    for name, found in (("at rest", rest), ("after an act", after)):
        p50, p95 = statistics.median(found), statistics.quantiles(found, n=20)[-1]
        print(f"first page {name}: p50 {p50 * 1e3:.0f} ms, p95 {p95 * 1e3:.0f} ms")


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        main(count, Path(os.environ.get("BENCHMARK_FILE") or f"{folder}/book.sqlite3"))
