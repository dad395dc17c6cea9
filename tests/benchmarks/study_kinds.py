"""Honest years of other kinds of workshop: what the rules say of them, beside those of the study.

``python tests/benchmarks/study_kinds.py [FIRST LAST]`` (seeds, default 4000 to 4049; thresholds are tuned on none of
these kinds). Every number of a kind is a guess. A chain is five books, each judged for itself, as the book has it.
"""

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from compliance.rules.all import BY_ID  # noqa: E402
from shop.demo.plans import OWNER, TECHNICIAN, TRAINEE, WORKSHOP, Kind  # noqa: E402
from tests.benchmarks.study import Honest, honest  # noqa: E402

SEEDS = (4000, 4049)
HEADS = ("Kind", "Visits", "Years with a false breach", "With an unusual pattern", "By rule", "Open at the end, median")
TWO = {OWNER: 0.8, TECHNICIAN: 0.2}
SIX = {OWNER: 0.1, TECHNICIAN: 0.25, TRAINEE: 0.1, "third": 0.25, "fourth": 0.2, "fifth": 0.1}
ONE = Kind("a workshop of one", {OWNER: 1.0}, (60, 150))
BUSY = Kind("of one, two cars at a time", {OWNER: 1.0}, (100, 200), two_at_once=0.6)
DRY = Kind("of one, 45 of 100 arrive empty", {OWNER: 1.0}, (60, 150), arrivals=(30, 15, 45, 10))
DEPOT = Kind(
    "a bus depot, 22 to 50 kg a system",
    {OWNER: 0.1, TECHNICIAN: 0.5, "second": 0.4},
    (60, 120),
    "bus",
    times=50,
    arrivals=(75, 13, 7, 5),
    again=0.7,
)
DISMANTLER = Kind(
    "a dismantler who only recovers",
    {OWNER: 0.3, TECHNICIAN: 0.7},
    arrivals=(30, 25, 30, 15),
    again=0.0,
    two_at_once=0.0,
    charges=False,
)
CHAIN = (
    WORKSHOP,
    Kind("of two", TWO, (80, 160)),
    Kind("of two in the heat", TWO, (150, 250), arrivals=(40, 15, 38, 7)),
    Kind("of six", SIX, (300, 500)),
    Kind("of three for a fleet", visits=(200, 350), arrivals=(70, 20, 7, 3), again=0.5),
)
KINDS: tuple[tuple[str, tuple[Kind, ...]], ...] = (
    *((one.words, (one,)) for one in (WORKSHOP, ONE, BUSY, DRY, DEPOT, DISMANTLER)),
    ("a chain of five, all books together", CHAIN),
)


def line_of(words: str, years: Sequence[Sequence[Honest]]) -> str:
    """Return the table's line of a kind: a year is found wrong where any of its books is."""
    visits = [sum(one.visits for one in books) for books in years]
    breached = sum(any(one.breaches for one in books) for books in years)
    spoke = [{rule for one in books for rule in one.first if BY_ID[rule].statistics} for books in years]
    which = Counter(rule for rules in spoke for rule in rules)
    which.update(rule for books in years for rule in {rule for one in books for rule, _ in one.breaches})
    cells = (
        words,
        f"{min(visits)} to {max(visits)}",
        f"{breached} of {len(years)}",
        f"{sum(map(bool, spoke))} of {len(years)}",
        ", ".join(f"`{rule}` {n}" for rule, n in which.most_common()) or "none",
        f"{median(sum(one.left_open for one in books) for books in years):.0f}",
    )
    return f"| {' | '.join(cells)} |"


def lines(seeds: Sequence[int]) -> Iterator[str]:
    """Yield the table, line by line."""
    yield from (f"| {' | '.join(HEADS)} |", f"|{' --- |' * len(HEADS)}")
    for words, kinds in KINDS:
        # Books of one chain differ by more than their kind: each has seeds of its own.
        yield line_of(words, [[honest(seed + 10_000 * k, kind) for k, kind in enumerate(kinds)] for seed in seeds])


def main() -> None:
    """Play the years and print what the rules say of them."""
    first, last = (int(one) for one in sys.argv[1:3]) if len(sys.argv) > 2 else SEEDS
    print(f"Seeds {first} to {last}, honest years.\n", flush=True)
    for line in lines(range(first, last + 1)):
        print(line, flush=True)


if __name__ == "__main__":
    main()
