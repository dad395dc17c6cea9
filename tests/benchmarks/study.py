"""Whether the rules find the tricks of the inspector's table in simulated years, and what they say of honest ones.

``make study``, or ``python tests/benchmarks/study.py [FIRST LAST]`` (seeds, default 3000 to 3099). Seeds 0 to 199 are
for tuning thresholds, 3000 to 3099 for the report. Each honest year is one of them; each trick at each size is played
in the first half, against the honest year of the same seed.

A trick counts as *found* at the end of a month when a rule that answers it (`study_tricks.ROWS`, set down beforehand)
is open or breached for a record that the trick touched, and says nothing of that record in the honest year of the same
seed. A pattern, and whatever names a line or a consignment, must say nothing at all in the honest year up to then.
Weighing differences beyond what readings can tell happen to the honest as well: one counts where it is larger than
every one of the honest year, or where by then there are twice as many as there and five more. Days count from the
first tricked act.
"""

import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from compliance.rules.all import BY_ID, rules_of  # noqa: E402
from compliance.rules.facts import Workshop  # noqa: E402
from compliance.rules.rule import BREACH, MET, Judgement, judge  # noqa: E402
from shop.demo.plans import WORKSHOP, Kind  # noqa: E402
from tests.benchmarks.study_tricks import DISAGREE, ROWS, SIZES, Row  # noqa: E402
from tests.benchmarks.study_year import Year  # noqa: E402

REPORT, TUNING = (3000, 3099), (0, 199)
RULES = rules_of("none")


@dataclass
class Honest:
    """What the rules say of an honest year: by rule and record the first month's end, and the largest difference."""

    said: dict[tuple[str, str], date] = field(default_factory=dict)
    first: dict[str, date] = field(default_factory=dict)
    breaches: set[tuple[str, str]] = field(default_factory=set)
    largest_mg: int = 0
    differ: dict[date, int] = field(default_factory=dict)  # differences open by the end of each month
    visits: int = 0
    left_open: int = 0
    weighings: int = 0
    beyond: int = 0


@dataclass
class Result:
    """What became of one trick at one size."""

    n: int = 0
    days: list[int] = field(default_factory=list)
    by: Counter[str] = field(default_factory=Counter)


def honest(seed: int, kind: Kind = WORKSHOP) -> Honest:
    """Play and judge an honest year, month by month."""
    found, year = Honest(), Year(seed, kind=kind)
    open_at_end: set[tuple[str, str, str]] = set()
    for facts in year.months():
        open_at_end = set()
        found.differ[facts.today] = _open_differences(facts)
        for rule in RULES:
            for one in judge(rule, facts):
                if one.state == MET:
                    continue
                found.said.setdefault((rule.id, one.about), facts.today)
                found.first.setdefault(rule.id, facts.today)
                open_at_end.add((rule.id, one.about, one.part))
                if one.state == BREACH:
                    found.breaches.add((rule.id, one.about))
    found.largest_mg = max((abs(one.open_mg) for one in year.differences), default=0)
    found.visits, found.left_open = len(year.visits), len(open_at_end)
    found.weighings = sum(one.role in ("before", "check") for one in year.readings)
    found.beyond = sum(abs(one.open_mg) > one.can_tell_mg for one in year.differences)
    return found


def tricked(seed: int, row: Row, size: float, twin: Honest) -> tuple[Year, date | None, list[str]]:
    """Play a tricked year until it is found; return it, the month's end or None, and the rules that found it."""
    year = Year(seed, row.make(size))
    for facts in year.months():
        by = [rule for rule in row.rules if any(_counts(rule, one, year, facts, twin) for one in said(rule, facts))]
        if by:
            return year, facts.today, by
    return year, None, []


def said(rule: str, facts: Workshop) -> Iterator[Judgement]:
    """Yield what a rule finds open or breached."""
    return (one for one in judge(BY_ID[rule], facts) if one.state != MET)


def _counts(rule: str, one: Judgement, year: Year, facts: Workshop, twin: Honest) -> bool:
    if one.about not in year.tricked:
        return False
    if rule == DISAGREE:
        many = _open_differences(facts) >= 2 * twin.differ[facts.today] + 5
        return many or any(
            f"line:{each.line}" == one.about and abs(each.open_mg) > twin.largest_mg for each in facts.differences
        )
    if BY_ID[rule].statistics or one.about.split(":")[0] in ("line", "consignment"):
        return twin.first.get(rule, date.max) > facts.today
    return twin.said.get((rule, one.about), date.max) > facts.today


def _open_differences(facts: Workshop) -> int:
    return sum(abs(one.open_mg) > one.can_tell_mg for one in facts.differences)


def play(row: Row, size: float, twins: dict[int, Honest], seeds: Iterable[int]) -> Result:
    """Play a trick at a size against the honest years."""
    result = Result()
    for seed in seeds:
        year, when, by = tricked(seed, row, size, twins[seed])
        if year.first_trick is None:
            continue
        result.n += 1
        if when is not None:
            result.days.append((when - year.first_trick).days)
            result.by.update(by)
    return result


def line_of(row: Row, results: list[Result]) -> str:
    """Return the table's line of a trick: at each size how many were found, after how many days, and by which rules."""
    by = sum((one.by for one in results), Counter[str]())
    names = ", ".join(f"`{rule}`" for rule, _ in by.most_common(3)) or row.note
    return f"| {row.words} | {' | '.join(map(cell, results))} | {names} |"


def head_of(heads: list[str]) -> list[str]:
    """Return the two lines that head a table."""
    heads = ["Trick", *heads, "Found by"]
    return [f"| {' | '.join(heads)} |", f"|{' --- |' * len(heads)}"]


def cell(result: Result) -> str:
    """Return such as "98 of 100, 31 days"."""
    days = f", {median(result.days):.0f} days" if result.days else ""
    return f"{len(result.days)} of {result.n}{days}"


def words_of(twins: dict[int, Honest]) -> Iterator[str]:
    """Yield what the rules said of the honest years."""
    years = twins.values()
    n = len(twins)
    breaches = Counter(len(one.breaches) for one in years)
    which = Counter(rule for one in years for rule in {rule for rule, _ in one.breaches})
    patterns = Counter(rule for one in years for rule in one.first if BY_ID[rule].statistics)
    weighings = sum(one.weighings for one in years)
    beyond = sum(one.beyond for one in years)
    yield f"- Honest years: {n}, of {min(o.visits for o in years)} to {max(o.visits for o in years)} visits."
    yield (
        f"- With at least one false breach: {n - breaches[0]} of {n}; with more than one: "
        + str(n - breaches[0] - breaches[1])
        + f"; together {sum(k * v for k, v in breaches.items())} ({_counted(which)})."
    )
    yield f"- With at least one unusual pattern: {sum(any(BY_ID[r].statistics for r in o.first) for o in years)}; " + (
        f"by rule: {_counted(patterns)}."
    )
    left_open = median(one.left_open for one in years)
    yield f"- Open at the year's end, of slips that nobody put right: {left_open:.0f} findings (median)."
    yield f"- Weighings within what two readings can tell: {100 * (1 - beyond / weighings):.1f} of 100 ({weighings:,})."


def _counted(counts: Counter[str]) -> str:
    return ", ".join(f"{rule} {n}" for rule, n in counts.most_common()) or "none"


def main() -> None:
    """Play everything and print it as Markdown."""
    first, last = (int(one) for one in sys.argv[1:3]) if len(sys.argv) > 2 else REPORT
    seeds, begun = range(first, last + 1), time.perf_counter()
    half = seeds[: (len(seeds) + 1) // 2]
    print(f"Seeds {first} to {last}; thresholds are tuned on {TUNING[0]} to {TUNING[1]}.\n", flush=True)
    twins = {seed: honest(seed) for seed in seeds}
    print("\n".join(words_of(twins)), flush=True)
    played = len(twins)
    for sizes, heads in ((SIZES, [f"{size} g a week" for size in SIZES]), ((0,), ["found"])):
        print("\n" + "\n".join(head_of(heads)), flush=True)
        for row in (one for one in ROWS if one.sized == (sizes is SIZES)):
            results = [play(row, size, twins, half) for size in sizes]
            played += sum(one.n for one in results)
            print(line_of(row, results), flush=True)
    print(f"\n{played} workshop-years in {time.perf_counter() - begun:.0f} s.")


if __name__ == "__main__":
    main()
