"""All that the benchmarks measure, as one table with limit, peer and ratio: ``make bench``.

Each part is a script of its own, which can be run by itself with other sizes. Times are CPU of one process where not
said otherwise, the books the same every time. QUICK=1 takes a tenth of the sizes.
"""

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parent
SIZE = 0.1 if os.environ.get("QUICK") == "1" else 1.0
MOVEMENTS, VISITS, POSTINGS, ROWS = (round(SIZE * n) for n in (1_000_000, 10_000, 300, 100_000))
FLAT = 1.3  # a page of a book ten times as large may take so many times as long

Row = tuple[str, str, str, str]


def said_by(script: str, *words: object) -> str:
    """Run a script of this folder and return what it prints."""
    command = [sys.executable, str(HERE / script), *map(str, words)]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def statement() -> Iterator[Row]:
    """A year's statement from a large book, against SQL by hand over its movements."""
    took = {
        name.strip(): float(s)
        for name, s in re.findall(r"^(.+?) +([\d.]+) s$", said_by("statement.py", MOVEMENTS), re.M)
    }
    hand = took.pop("by hand")
    limits = {"whole statement": "0.06 s"}
    for name, each in took.items():
        yield (
            f"{name}, of {MOVEMENTS:,} movements",
            f"{each:.3f} s",
            limits.get(name, ""),
            f"SQL by hand {hand:.3f} s: {each / hand:.2f}",
        )


def ledger() -> Iterator[Row]:
    """A posting against a bare insert that lasts."""
    for line in said_by("ledger.py", POSTINGS).splitlines():
        if found := re.match(r"(\w+), (.+): ([\d.]+) ms, ([\d.]+) times the bare insert", line):
            kind, name, ms, times = found.groups()
            yield (
                f"{name}, {kind}",
                f"{ms} ms",
                "6 times" if "readings" in name else "",
                f"bare insert by the driver: {times}",
            )


def importing() -> Iterator[Row]:
    """An import, memory and proof."""
    told = said_by("import_book.py", ROWS)
    for what, rows, s, peak in re.findall(r"(\w+): (\d+) rows in ([\d.]+) s, peak so far (\d+) MB", told):
        yield (
            f"import, {what} time, of {int(rows):,} rows",
            f"{int(rows) / float(s):,.0f} rows/s, {peak} MB",
            "10,000 rows/s",
            "",
        )
    for s in re.findall(r"verify: ([\d.]+) s", told):
        yield f"verify of {ROWS:,} lines", f"{ROWS / float(s):,.0f} lines/s", "80,000 lines/s", ""


def findings(folder: Path) -> Iterator[Row]:
    """The first page of books with findings."""
    for visits in (VISITS // 10, VISITS):
        os.environ["BENCHMARK_FILE"] = str(folder / f"{visits}.sqlite3")
        told = said_by("findings.py", visits)
        for name, p50, p95 in re.findall(r"(first page .+): p50 (\d+) ms, p95 (\d+) ms", told):
            yield f"{name}, {visits:,} visits", f"p50 {p50} ms, p95 {p95} ms", "p95 100 ms", ""
        for name, ms in re.findall(r"(first page): (\d+) ms as the first", told):
            yield f"{name} of a process, {visits:,} visits", f"{ms} ms", "", ""
        for name, s in re.findall(r"(whole judging): ([\d.]+) s", told):
            yield f"{name} of {visits:,} visits, in the background", f"{s} s", "", ""


def pages(folder: Path) -> Iterator[Row]:
    """Each page of a book against one a tenth of its size."""
    small, large = (_pages(folder, visits) for visits in (VISITS // 10, VISITS))
    for name, (queries, p50, p95) in large.items():
        before, middle, _ = small[name]
        ratio = f"{VISITS // 10:,} visits: {p50 / middle:.2f}, {before} queries"
        yield (
            f"{name}, {VISITS:,} visits",
            f"p50 {p50:.0f} ms, p95 {p95:.0f} ms, {queries} queries",
            f"{FLAT} times",
            ratio,
        )


def _pages(folder: Path, visits: int) -> dict[str, tuple[int, float, float]]:
    rows = [line.split("\t") for line in said_by("pages.py", folder / f"{visits}.sqlite3", visits).splitlines()]
    return {row[0]: (int(row[2]), float(row[3]), float(row[4])) for row in rows if len(row) == 5 and row[1] == "200"}


def start() -> Iterator[Row]:
    """A process from nothing to its first page, its memory, and what it has loaded by then."""
    told = said_by("start.py")
    for name, figure in re.findall(r"^(.+): (.+)$", told, re.M):
        yield name, figure, "", ""


def main() -> None:
    """Print the table, row by row as it is measured."""
    print("| What | Measured | Aim | Against |\n| --- | --- | --- | --- |", flush=True)
    with tempfile.TemporaryDirectory() as there:
        folder = Path(there)
        for part in (start(), ledger(), importing(), statement(), findings(folder), pages(folder)):
            for row in part:
                print(f"| {' | '.join(row)} |", flush=True)


if __name__ == "__main__":
    main()
