"""A year kept elsewhere, from a CSV file into the book: all of it or nothing, and twice adds nothing.

The file is read once into a temporary table (`read`); then one transaction writes the entries in the order in which
they happened, with digests and holdings as `ledger` makes them (`write`). What cannot be read, or what the book
refuses, is a `Fault` with its line number.
"""

import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from zoneinfo import ZoneInfo

from django.db import transaction

from shop.importing.read import Faults, Progress, stage, staged_rows
from shop.importing.write import Imported, Writer
from shop.models import Workshop


def import_file(
    path: Path,
    zone: ZoneInfo,
    workshop: Callable[[], Workshop],
    *,
    progress: Progress = lambda done, total: None,
) -> Imported:
    """Write a CSV file into a workshop's book, in one transaction; raises `NotImported` with every fault.

    `zone` is the book's, for times without one. `workshop` is called inside the transaction, so that a workshop which
    it makes is there only if the rows are.
    """
    faults = Faults()
    with tempfile.TemporaryDirectory() as folder, closing(sqlite3.connect(Path(folder) / "rows")) as staged:
        total = stage(staged, path, zone, faults, progress)
        if total == 0 and not faults.count:
            faults.add(1, "There is no row below the header.")
        faults.stop_if_any()
        with transaction.atomic(durable=True):
            result = Writer(workshop(), faults, progress, total).write(staged_rows(staged, zone))
            faults.stop_if_any()
    return result
