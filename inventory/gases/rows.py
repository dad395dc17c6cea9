"""The files of published figures in ``inventory/gases/data/``: each row with its source, and whether from memory."""

import csv
from pathlib import Path

DATA = Path(__file__).resolve().parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a file such as ``gwp.csv``, by the names of its columns."""
    with (DATA / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def is_from_memory(row: dict[str, str]) -> bool:
    """Return whether a row was written from memory, so that its figure wants checking."""
    return row["from_memory"] == "true"
