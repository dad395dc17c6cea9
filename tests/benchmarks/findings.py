"""How long the first page takes in a book of many visits: after a start, after an act, and at rest.

Run by hand on a book that `growing.py` made, named by BENCHMARK_FILE. Times are CPU seconds of this process, which has
loaded what a server loads before its workers part.
"""

import os
import statistics
import sys
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


def main(path: Path) -> None:
    """Ask for the first page, and print the figures."""
    books.use(path)
    from django.test import Client
    from django.utils import timezone

    from compliance.models import Judged
    from shop.models import User, Visit
    from shop.visits.acts import entering
    from shop.visits.acts.entering import StepFacts
    from shop.wsgi import loaded

    loaded()
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
    main(Path(os.environ["BENCHMARK_FILE"]))
