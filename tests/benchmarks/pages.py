"""What each page costs in a small book and in one ten times as large: queries, and CPU at the middle and near the end.

Run by hand: ``python tests/benchmarks/pages.py FILE`` prints one line for each page of a book that `growing.py` made;
`bench.py` compares two.
"""

import statistics
import sys
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from tests.benchmarks import books  # noqa: E402

TIMES = 12


def addresses() -> Iterator[tuple[str, str]]:
    """Yield pages of a workshop by what they are, each with its address."""
    from inventory.models import Account
    from shop.models import Visit

    visit = Visit.objects.order_by("-number")[:10][9]
    year = date.today().year - 1  # noqa: DTZ011 - any day of a year will do
    cylinder = Account.objects.filter(kind="cylinder").order_by("number").values_list("number", flat=True)[0]
    yield "first page", ""
    yield "visits", "visits/"
    yield "a visit", f"visits/{visit.number}/"
    yield "vehicles", "vehicles/"
    yield "a vehicle", f"vehicles/{visit.vehicle.account.number}/"
    yield "cylinders", "cylinders/"
    yield "a cylinder", f"cylinders/{cylinder}/"
    yield "lines", "lines/"
    yield "a line", "lines/20/"
    yield "findings", "findings/"
    yield "findings, as a table", "findings/?sort=-day"
    yield "a year's statement", f"statements/{year}-01-01/{year}-12-31/"
    yield "the year at a look", f"year/{year}-01-01/{year}-12-31/"
    yield "find", "search/?q=V-"
    yield "settings", "settings/"


def main(path: Path) -> None:
    """Print page, status, queries, p50 and p95 in milliseconds of CPU."""
    books.use(path)
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    from shop.models import User

    client = Client(headers={"host": "localhost"})
    client.force_login(User.objects.get(username=books.OWNER))
    for name, rest in addresses():
        address = f"/w/{books.SLUG}/{rest}"
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            status = client.get(address).status_code
        queries = len(asked)  # here: each later request empties what was logged
        took = []
        for _ in range(TIMES):
            begun = time.process_time()
            client.get(address)
            took.append((time.process_time() - begun) * 1000)
        p50, p95 = statistics.median(took), statistics.quantiles(took, n=20)[-1]
        print(f"{name}\t{status}\t{queries}\t{p50:.1f}\t{p95:.1f}", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
