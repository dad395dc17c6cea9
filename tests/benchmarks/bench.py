"""All that the benchmarks measure, as one table with limit, peer and ratio: ``make bench``.

Each part is a script of its own, which can be run by itself with other sizes. Times are CPU of one process where not
said otherwise, the books the same every time. QUICK=1 takes a tenth of the sizes.
"""

import os
import re
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parent
SIZE = 0.1 if os.environ.get("QUICK") == "1" else 1.0
VISITS, POSTINGS, ROWS = (round(SIZE * n) for n in (1_000, 300, 20_000))
TIMES = (1, 10, 100)  # as large as the smallest book, which has ten movements a visit
FLAT = 1.3  # a page of a book ten times as large may take so many times as long

Row = tuple[str, str, str, str]


def said_by(script: str, *words: object) -> str:
    """Run a script of this folder and return what it prints."""
    command = [sys.executable, str(HERE / script), *map(str, words)]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def size(times: int) -> str:
    """Return how large a book is, in words."""
    return f"{VISITS * times:,} visits, {VISITS * times * 10:,} movements"


def filled(folder: Path) -> Iterator[Row]:
    """Make the books that the other parts look at."""
    os.environ["VISITS"] = str(VISITS)
    for times in TIMES:
        grown = [] if times == 1 else [book(folder, times), times]
        begun = children_s()
        said_by("growing.py", book(folder, 1), *grown)
        yield f"the book itself, {size(times)}", f"{children_s() - begun:.0f} s of CPU", "", ""


def book(folder: Path, times: int) -> Path:
    """Return where a book lies."""
    return folder / f"{times}.sqlite3"


def children_s() -> float:
    """Return the CPU seconds of all scripts that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def statement(folder: Path) -> Iterator[Row]:
    """A year's statement from a large book, against SQL by hand over its movements and a tenth of the book."""
    limits = {"whole statement": f"0.06 s, {FLAT} times"}
    before: dict[str, float] = {}
    for times in TIMES[1:]:
        os.environ["BENCHMARK_FILE"] = str(book(folder, times))
        told = re.findall(r"^(.+?) +([\d.]+) s$", said_by("statement.py"), re.M)
        took = {name.strip(): float(s) for name, s in told}
        for name, each in took.items():
            against = f"SQL by hand {took['by hand']:.3f} s: {each / took['by hand']:.2f}"
            against += f"; a tenth of the book: {each / before[name]:.1f}" if before.get(name) else ""
            yield f"statement, {name}, {size(times)}", f"{each:.3f} s", limits.get(name, ""), against
        before = took


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
        rate = f"{int(rows) / float(s):,.0f} rows a second of CPU, {peak} MB"
        yield f"import, {what} time, of {int(rows):,} rows", rate, "10,000 rows/s", ""
    for s in re.findall(r"verify: ([\d.]+) s", told):
        yield (
            f"verify of {ROWS:,} lines",
            f"{ROWS / float(s):,.0f} lines a second of CPU",
            "40,000 (on two cores 80,000)",
            "",
        )


def findings(folder: Path) -> Iterator[Row]:
    """The first page of books with findings."""
    for times in TIMES:
        os.environ["BENCHMARK_FILE"] = str(book(folder, times))
        told = said_by("findings.py")
        for name, p50, p95 in re.findall(r"(first page .+): p50 (\d+) ms, p95 (\d+) ms", told):
            yield f"{name}, {VISITS * times:,} visits", f"p50 {p50} ms, p95 {p95} ms", "p95 100 ms", ""
        for name, ms in re.findall(r"(first page): (\d+) ms as the first", told):
            yield f"{name} of a process, {VISITS * times:,} visits", f"{ms} ms", "100 ms", ""


def pages(folder: Path) -> Iterator[Row]:
    """Each page of a book against one a tenth of its size."""
    small, large = (_pages(book(folder, times)) for times in TIMES[1:])
    for name, (queries, p50, p95) in large.items():
        before, middle, _ = small[name]
        ratio = f"a tenth of the book: {p50 / middle:.2f}, {before} queries"
        yield (
            f"{name}, {size(TIMES[-1])}",
            f"p50 {p50:.0f} ms, p95 {p95:.0f} ms, {queries} queries",
            f"{FLAT} times",
            ratio,
        )


def _pages(path: Path) -> dict[str, tuple[int, float, float]]:
    rows = [line.split("\t") for line in said_by("pages.py", path).splitlines()]
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
        for part in (
            start(),
            ledger(),
            importing(),
            filled(folder),
            statement(folder),
            findings(folder),
            pages(folder),
        ):
            for row in part:
                print(f"| {' | '.join(row)} |", flush=True)


if __name__ == "__main__":
    main()
