"""A large book made of a small one by the database alone: each visit many times, on the days that it had.

``python tests/benchmarks/growing.py SMALL [LARGE TIMES]`` fills and judges a small book of a thousand visits where the
file has none (VISITS says otherwise), and writes one that is so many times as large.

Each copy of a visit has a vehicle, lines, readings, facts and findings of its own; cylinders, people and partners stay.
So a book of a million movements takes a minute and not half an hour, and what grows is visits, vehicles and findings.
"""

import os
import sqlite3
import sys
from collections.abc import Iterator, Mapping
from contextlib import closing
from pathlib import Path

import msgspec

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from tests.benchmarks import books  # noqa: E402

LINES, MOVEMENTS, READINGS = 4, 10, 4  # of one visit, as `books` writes them

# What numbers become in copy `c.n` of `:times`; `r` is the row of the small book.
_VISIT = "(({of}) * :times + c.n + 1)"  # of its number less one
_VEHICLE = "(SELECT MIN(id) FROM small_account WHERE kind = 'vehicle')"


def _nth(key: str, each: int) -> str:
    """Return the SQL of a number of which every visit has `each`, in the order of visits."""
    return f"((({key} - 1) / {each} * :times + c.n) * {each} + ({key} - 1) % {each} + 1)"


def _account(key: str) -> str:
    """Return the SQL of an account: a vehicle's copy, or the same shelf."""
    return f"CASE WHEN {key} < {_VEHICLE} THEN {key} ELSE {_VEHICLE} + ({key} - {_VEHICLE}) * :times + c.n END"


_ENTRY_KEY, _VISIT_KEY = _nth("{key}", LINES), _VISIT.format(of="{key} - 1")
_OF_VISIT = "CAST(substr(r.about, 7) AS INTEGER)"

# Of each table, the columns that a copy has otherwise; the rest is as it was. A condition says which rows are copied.
GROWN: Mapping[str, tuple[str, Mapping[str, str]]] = {
    "inventory_account": (
        "r.kind = 'vehicle'",
        {
            "id": _account("r.id"),
            "number": f"r.number - r.id + {_account('r.id')}",
            "label": "r.label || '-' || c.n",
        },
    ),
    "shop_vehicle": (
        "1",
        {
            "id": "r.id * :times + c.n",
            "account_id": _account("r.account_id"),
            "registration": "r.registration || '-' || c.n",
            "registration_likeness": "r.registration_likeness || 'X' || c.n",
        },
    ),
    "shop_visit": (
        "1",
        {
            "id": _VISIT_KEY.format(key="r.number"),
            "number": _VISIT_KEY.format(key="r.number"),
            "vehicle_id": "r.vehicle_id * :times + c.n",
            "state": "CASE WHEN c.n THEN 'handed over' ELSE r.state END",
            "closed_at": "CASE WHEN c.n THEN coalesce(r.closed_at, r.opened_at) ELSE r.closed_at END",
        },
    ),
    "inventory_entry": (
        "1",
        {
            "id": _nth("r.seq", LINES),
            "seq": _nth("r.seq", LINES),
            "context": f"'visit:' || {_VISIT_KEY.format(key='CAST(substr(r.context, 7) AS INTEGER)')}",
            "request_key": f"printf('%032x', {_nth('r.seq', LINES)})",
            "digest": f"printf('%064x', {_nth('r.seq', LINES)})",
        },
    ),
    "inventory_movement": (
        "1",
        {
            "id": _nth("r.id", MOVEMENTS),
            "entry_id": _nth("r.entry_id", LINES),
            "source_id": _account("r.source_id"),
            "target_id": _account("r.target_id"),
            # Weighing differences beyond what readings tell are few in a real book, whatever its size.
            "mass_mg": "CASE WHEN c.n AND r.can_tell_mg THEN min(r.mass_mg, r.can_tell_mg) ELSE r.mass_mg END",
        },
    ),
    "inventory_weighing": ("1", {"id": _nth("r.id", READINGS), "entry_id": _nth("r.entry_id", LINES)}),
    "shop_step": (
        "1",
        {
            "id": "r.id * :times + c.n",
            "visit_id": _VISIT_KEY.format(key="r.visit_id"),
            "entry_id": _nth("r.entry_id", LINES),
            "request_key": "printf('%032x', r.id * :times + c.n)",
        },
    ),
    "compliance_keptvisit": (
        "1",
        {
            "id": "r.id * :times + c.n",
            "visit_id": _VISIT_KEY.format(key="r.visit_id"),
            "facts": "facts_of(r.facts, c.n, :times)",
        },
    ),
    "compliance_finding": (
        "r.about LIKE 'visit:%'",
        {
            "id": "10000000 + r.id * :times + c.n",  # others keep theirs
            "about": f"'visit:' || {_VISIT_KEY.format(key=_OF_VISIT)}",
            "line": _nth("r.line", LINES),
        },
    ),
}
AFTERWARDS = (
    "UPDATE inventory_book SET head_seq = (SELECT MAX(seq) FROM inventory_entry)",
    "UPDATE compliance_judged SET size = size * :times, seq = (SELECT head_seq FROM inventory_book), "
    "alone_seq = (SELECT head_seq FROM inventory_book)",
    "DELETE FROM compliance_noticed",
    "DELETE FROM inventory_trace",
    "DELETE FROM inventory_periodtotal",
    "DELETE FROM inventory_holding WHERE NOT stock",
)


def grow(small: Path, large: Path, times: int) -> None:
    """Write a book that is `times` as large as the one in a file, which `books.fill` wrote and `judging` has judged."""
    with closing(sqlite3.connect(small)) as old, closing(sqlite3.connect(large, isolation_level=None)) as new:
        old.backup(new)
        new.create_function("facts_of", 3, _facts, deterministic=True)
        new.execute("PRAGMA journal_mode=OFF")
        new.execute("PRAGMA synchronous=OFF")
        standing = new.execute("SELECT type, name, sql, tbl_name FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
        made = [one[:3] for one in standing if one[0] in ("index", "trigger") and one[3] in _TOUCHED]
        for kind, name, _ in made:
            new.execute(f'DROP {kind} "{name}"')
        new.execute("CREATE TEMP TABLE copies (n)")
        new.executemany("INSERT INTO copies VALUES (?)", [(n,) for n in range(times)])
        for statement in _statements(new):
            new.execute(statement, {"times": times} if ":times" in statement else {})
        for _, _, sql in sorted(made):
            new.execute(sql)
        new.execute("PRAGMA journal_mode=WAL")


_TOUCHED = (*GROWN, "inventory_book", "inventory_trace", "inventory_periodtotal", "inventory_holding",
            "compliance_noticed", "compliance_judged")  # fmt: skip


def _statements(new: sqlite3.Connection) -> Iterator[str]:
    for table in GROWN:
        yield f"CREATE TEMP TABLE small_{table.partition('_')[2]} AS SELECT * FROM {table}"  # noqa: S608 - our names
    for table, (which, others) in GROWN.items():
        columns = [row[1] for row in new.execute(f"PRAGMA table_info({table})")]
        small = f"small_{table.partition('_')[2]}"
        values = ", ".join(others.get(name, f"r.{name}") for name in columns)
        yield f"DELETE FROM {table} WHERE id IN (SELECT r.id FROM {small} r WHERE {which})"  # noqa: S608 - our names
        yield f"INSERT INTO {table} ({', '.join(columns)}) SELECT {values} FROM {small} r, copies c WHERE {which}"  # noqa: S608
    yield from AFTERWARDS


def _facts(text: str, copy: int, times: int) -> str:
    """Return the facts of a visit's copy: its own number, vehicle and lines."""
    found = msgspec.json.decode(text)

    def line(old: int | None) -> int | None:
        return old and ((old - 1) // LINES * times + copy) * LINES + (old - 1) % LINES + 1

    found["number"] = (found["number"] - 1) * times + copy + 1
    for deed in found["deeds"]:
        deed["line"] = line(deed["line"])
        for moved in deed["moved"]:
            moved["line"] = line(moved["line"])
    return msgspec.json.encode(found).decode()


def main(small: Path, large: Path | None, times: int) -> None:
    """Make the books; what is kept beside the lines is added up anew."""
    if large is not None:
        grow(small, large, times)
    new = books.use(large or small)
    from compliance.findings import judging
    from inventory.models import Book, Movement, PeriodTotal, totals
    from shop.models import Workshop

    if new:
        books.fill(int(os.environ.get("VISITS", "1000")))
    if large is None:
        judging.refresh(Workshop.objects.get())
        return
    totals.fill(Movement, PeriodTotal)
    books.hold_vehicles(Book.objects.get())


if __name__ == "__main__":
    grown = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    main(Path(sys.argv[1]), grown, int(sys.argv[3]) if grown else 1)
