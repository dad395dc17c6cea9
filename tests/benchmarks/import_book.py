"""Time and peak memory of an import, on a database of its own: ``python tests/benchmarks/import_book.py [ROWS]``.

Not a test: it prints what it measured, in seconds of CPU over all processes. The invented year has 40 cylinders, 500
vehicles and 20 people.
"""

import os
import resource
import subprocess
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
HEADER = "occurred_at,cause,refrigerant,grade,from_kind,from_name,to_kind,to_name,mass,person,note\n"


def write_year(path: Path, rows: int) -> None:
    """Write opening stock for every cylinder, then charges in turn; `rows` lines below the header."""
    first = date(2024, 1, 2)
    with path.open("w", encoding="utf-8") as file:
        file.write(HEADER)
        for number in range(min(40, rows)):
            file.write(f"2024-01-01,opening-stock,R-134a,virgin,opening,,cylinder,A{number},900000 kg,P0,\n")
        for number in range(40, rows):
            day = first + timedelta(days=number * 360 // rows)
            ends = f"cylinder,A{number % 40},vehicle,V{number % 500}"
            file.write(f"{day},charge,R-134a,virgin,{ends},{300 + number % 400} g,P{number % 20},\n")


def run(*words: str) -> float:
    """Run a command of the project and return its seconds of CPU; raises CalledProcessError."""
    began = used_s()
    subprocess.run([sys.executable, str(ROOT / "manage.py"), *words], check=True)
    return used_s() - began


def used_s() -> float:
    """Return the CPU seconds of all commands that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """Import a made-up file once and once more, then verify."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/book.sqlite3"
        year = Path(folder) / "year.csv"
        write_year(year, rows)
        run("migrate", "--verbosity", "0")
        for what in ("first", "again"):
            seconds = run("import_book", str(year), "--book", "Benchmark", "--create")
            peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
            print(f"{what}: {rows} rows in {seconds:.1f} s, peak so far {peak_mb:.0f} MB", flush=True)
        print(f"verify: {run('verify', '--book', 'Benchmark'):.1f} s")


if __name__ == "__main__":
    main()
