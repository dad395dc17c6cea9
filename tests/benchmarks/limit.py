"""What the record could tell at most of the tricks that the rules do not always find: their limit of detection.

``python tests/benchmarks/limit.py [FIRST LAST]`` (seeds, default 3000 to 3099). For each such trick a test that knows
its form and size and the shares of honest years gives a year's record a likelihood ratio, or the one number on which
the ratio rises. Who plays it the test does not know: the largest of all people counts. Its threshold lets as many of
the honest years 0 to 199 pass as the rules of the trick do there, and what it finds is measured on other seeds.

Three tests: *beside colleagues* knows the honest share of empties only from the others' visits, as a rule has to; with
the *share known* it is given; both use only what the gas makes somebody write. *As played* uses also what the one
who plays is free to choose and chose badly (which repair is named, how full a cylinder is sent): a careful one leaves
none of that. Where the columns agree, the three tests are one.
"""

import sys
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import inf, log, sqrt
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from compliance.rules.all import BY_ID  # noqa: E402
from compliance.rules.facts import Consignment, Visit, Workshop  # noqa: E402
from compliance.rules.seen import arrived_open, moves, recovered_mg, taken_as_empty, worker  # noqa: E402
from shop.demo.plans import WORKSHOP  # noqa: E402
from shop.visits.steps import si_of  # noqa: E402
from tests.benchmarks.study import honest, play, said  # noqa: E402
from tests.benchmarks.study_shelf import Shelf, Trick  # noqa: E402
from tests.benchmarks.study_tricks import ROWS, SIZES, Row  # noqa: E402
from tests.benchmarks.study_year import Year  # noqa: E402

REPORT, TRAINING = (3000, 3099), range(200)
HEADS = ("Trick", "g a week", "Rules", "Beside colleagues", "Share known", "As played", "What would tell more")
Score = Callable[[Workshop, float], float]
Scores = Mapping[tuple[Score, float], float]

LEAKING, FULL, EMPTY, _ = WORKSHOP.arrivals
EMPTY_SHARE = EMPTY / (LEAKING + FULL + EMPTY)  # of vehicles that do not arrive open
CONTENT_G = 715 * (LEAKING * (0.6 + 0.4 * 4 / 6) + FULL * 0.975) / (LEAKING + FULL)
REPAIR_OF_EMPTY = 0.92  # a leak is found in so many of those that honestly arrive empty; else a part is renewed
REPAIR_OF_LET_GO = (LEAKING * (0.92 * 0.92 + 0.08) + FULL * 0.0) / (LEAKING + FULL)
LIGHTEST_MG = 8_600_000  # honest cylinders leave when no other car fits; with less in it none does
COMES_BACK_DAYS = 60


@dataclass(frozen=True)
class Counts:
    """Visits of one person that did not arrive open: how many, as empty, and as empty with a leak found."""

    n: int
    empty: int
    found: int


def counts(facts: Workshop) -> dict[str, Counts]:
    """Return each person's counts."""
    by: dict[str, list[Visit]] = defaultdict(list)
    for visit in facts.visits:
        if not arrived_open(visit):
            by[worker(visit)].append(visit)
    return {
        person: Counts(len(theirs), len(empty), sum(map(_leak_found, empty)))
        for person, theirs in by.items()
        if (empty := [one for one in theirs if taken_as_empty(one)]) or theirs
    }


def _leak_found(visit: Visit) -> bool:
    return any(float(si_of(deed.data, "leaking") or 0) > 0 for deed in visit.of("leak search"))


def let_go_share(grams: float, n: int) -> float:
    """Return the share of somebody's visits whose gas is let go at so much a week."""
    return min(0.75, grams * 52 / CONTENT_G / n)


def chance(one: Counts, share: float, grams: float = 0.0) -> float:
    """Return the logarithm of the likelihood of somebody's number of empties, so much a week being let go."""
    p = share + (1 - share) * let_go_share(grams, one.n) / (1 - EMPTY_SHARE)
    return one.empty * log(p) + (one.n - one.empty) * log(1 - min(p, 0.999))


def empties_by_share(facts: Workshop, grams: float) -> float:
    """Return the ratio where the honest share of empties is known."""
    return max(chance(one, EMPTY_SHARE, grams) - chance(one, EMPTY_SHARE) for one in counts(facts).values())


def empties_beside_others(facts: Workshop, grams: float) -> float:
    """Return the ratio where only the colleagues tell which share is honest: each side takes the share likeliest."""
    all_of, best = list(counts(facts).values()), -inf
    shares = [k / 100 for k in range(4, 60)]
    none = max(sum(chance(one, share) for one in all_of) for share in shares)
    for who in all_of:
        some = max(sum(chance(one, share, grams if one is who else 0) for one in all_of) for share in shares)
        best = max(best, some - none)
    return best


def empties_as_played(facts: Workshop, grams: float) -> float:
    """Return the ratio that also looks which empties had a leak found: a full car keeps the part it came for."""
    best = -inf
    for one in counts(facts).values():
        v = let_go_share(grams, one.n)
        found, silent = EMPTY_SHARE * REPAIR_OF_EMPTY, EMPTY_SHARE * (1 - REPAIR_OF_EMPTY)
        ratio = one.found * log(1 + v * REPAIR_OF_LET_GO / found)
        ratio += (one.empty - one.found) * log(1 + v * (1 - REPAIR_OF_LET_GO) / silent)
        ratio += (one.n - one.empty) * log(max(1e-3, 1 - v / (1 - EMPTY_SHARE)))
        best = max(best, ratio)
    return best


def hands_in_two_cars(facts: Workshop, _: float) -> float:
    """Return how often one name began a car before its last one stood under vacuum: honest hands never do."""
    by: dict[tuple[str, object], list[Visit]] = defaultdict(list)
    for visit in facts.visits:
        by[worker(visit), visit.opened_at.date()].append(visit)
    pairs = (sorted(pair, key=_begun) for visits in by.values() for pair in combinations(visits, 2))
    return sum(second.opened_at < first.of("pulling vacuum")[0].at for first, second in pairs)


def _begun(visit: Visit) -> float:
    return visit.opened_at.timestamp()


def nothing(facts: Workshop, _: float) -> float:
    """Return nothing: no number of the record changes."""
    return 0.0


def sent_light(facts: Workshop, _: float) -> float:
    """Return how many cylinders were sent with room for another car."""
    return sum(one.mass_mg < LIGHTEST_MG for one in facts.consignments)


def charged_twice(facts: Workshop, _: float) -> float:
    """Return how often a vehicle was charged again within two months with nothing recovered between."""
    by: dict[int, list[Visit]] = defaultdict(list)
    for visit in facts.visits:
        by[visit.vehicle.number].append(visit)
    return sum(
        (later.opened_at - one.opened_at).days <= COMES_BACK_DAYS and not recovered_mg(later)
        for visits in by.values()
        for one, later in zip(visits, visits[1:], strict=False)
        if list(moves(one, "charge"))
    )


def year_of(cause: str) -> Score:
    """Return a score: what was written under a cause in the year, against what was recovered."""

    def score(facts: Workshop, _: float) -> float:
        recovered = sum(one.mass_mg for one in facts.lines if one.cause == "recovery")
        return sum(one.mass_mg for one in facts.lines if one.cause == cause) / max(1, recovered)

    return score


PURGED, OILED = year_of("purge"), year_of("was-oil")


def missing_from_bottles(facts: Workshop, _: float) -> float:
    """Return by how many standard deviations small losses of bottles in use add up."""
    small = [one for one in facts.differences if one.cylinder > 100 and abs(one.mass_mg) <= one.can_tell_mg]
    weights = sum(one.u_mg**-2 for one in small)
    return sum(one.mass_mg / one.u_mg**2 for one in small) / sqrt(weights) if small else 0.0


class GhostWaits(Trick):
    """Forged papers of one who waits until a cylinder is full, and of all that leave has every second one vented."""

    def consigned(self, year: Shelf, one: Consignment) -> Consignment:
        if sum(each.accepted_mg is not None for each in year.consignments) % 2:
            year.mark(one.on, f"consignment:{one.line}")
        return one


@dataclass(frozen=True)
class Trial:
    """A trick, the sizes at which it is tried, its tests, and what would tell more."""

    row: Row
    sizes: tuple[float, ...]
    tests: tuple[Score, Score, Score]
    more: str


def row(words: str) -> Row:
    """Return a trick of the study."""
    return next(one for one in ROWS if one.words == words)


STAGED = row("leaked before arrival, photo and repair staged")
CAREFUL = row("the same, the leak found staged too")
FORGED = row("ghost consignment, forged paper")
WAITS = Row("the same, sent only when full", lambda _: GhostWaits(), FORGED.rules)
NO_SIZE = (0.0,)
AIR = "a measured air check before each bleed"
EYES = "the share of empties that is honest there, from other years or shops; a second pair of eyes on some gauges"
LIST = "the receiver's own list"
TRIALS = (
    Trial(STAGED, SIZES, (empties_beside_others, empties_by_share, empties_as_played), EYES),
    Trial(CAREFUL, (100.0, 200.0, 400.0), (empties_beside_others, empties_by_share, empties_by_share), EYES),
    Trial(FORGED, (200.0,), (nothing, nothing, sent_light), LIST),
    Trial(WAITS, NO_SIZE, (nothing, nothing, nothing), LIST),
    Trial(row("recovered gas booked as air"), (10.0, 50.0), (PURGED,) * 3, AIR),
    Trial(row("recovered gas booked as oil"), (10.0, 50.0), (OILED,) * 3, "the oil weighed for itself"),
    Trial(row("shared log-in"), NO_SIZE, (hands_in_two_cars,) * 3, "nothing more is needed"),
    Trial(row("a bus in two visits on two days"), NO_SIZE, (charged_twice,) * 3, "nothing more is needed"),
    Trial(row("skim of 3 g a visit"), NO_SIZE, (missing_from_bottles,) * 3, "a scale of finer steps"),
)


def scores(facts: Workshop, trials: Sequence[Trial]) -> dict[tuple[Score, float], float]:
    """Return what each test says of the record of a year, at each size that it is tried at."""
    asked = {(test, size) for one in trials for size in one.sizes for test in one.tests}
    return {(test, size): test(facts, size) for test, size in asked}


def at_end(year: Year) -> Workshop:
    """Return what the record of a year shows at its end."""
    *_, facts = year.months()
    return facts


@dataclass(frozen=True)
class Honest:
    """What tests and rules say of an honest year."""

    scores: Scores
    spoke: frozenset[str]  # patterns, at any month's end


def honest_year(seed: int) -> Honest:
    """Play an honest year and ask tests and patterns."""
    asked = {rule for one in TRIALS for rule in one.row.rules if BY_ID[rule].statistics}
    spoke: set[str] = set()
    for facts in Year(seed).months():
        spoke |= {rule for rule in asked - spoke if list(said(rule, facts))}
    return Honest(scores(facts, TRIALS), frozenset(spoke))


def cells(
    trial: Trial, size: float, training: Sequence[Honest], others: Sequence[Honest], seeds: Sequence[int]
) -> Iterator[str]:
    """Yield in how many tricked years the tests find a trick, and in brackets in how many honest ones they speak up.

    The threshold of a test is what as many of the honest training years exceed as the rules speak up in.
    """
    tricked = [scores(at_end(Year(seed, trial.row.make(size))), [trial]) for seed in seeds]
    allowed = sum(not one.spoke.isdisjoint(trial.row.rules) for one in training)
    for key in ((test, size) for test in trial.tests):
        above = sorted((one.scores[key] for one in training), reverse=True)[allowed]
        wrong = sum(one.scores[key] > above for one in others)
        yield f"{sum(one[key] > above for one in tricked)} ({wrong})"


def lines(seeds: Sequence[int]) -> Iterator[str]:
    """Yield the table, line by line."""
    training, others = ([honest_year(seed) for seed in which] for which in (TRAINING, seeds))
    twins = {seed: honest(seed) for seed in seeds}
    yield from (f"| {' | '.join(HEADS)} |", f"|{' --- |' * len(HEADS)}")
    for trial in TRIALS:
        spoke = sum(not one.spoke.isdisjoint(trial.row.rules) for one in others)
        for size in trial.sizes:
            rules = f"{len(play(trial.row, size, twins, seeds).days)} ({spoke})"
            tests = cells(trial, size, training, others, seeds)
            yield f"| {' | '.join((trial.row.words, f'{size:.0f}' if size else '', rules, *tests, trial.more))} |"


def main() -> None:
    """Print what the rules find, and what could be found at most."""
    first, last = (int(one) for one in sys.argv[1:3]) if len(sys.argv) > 2 else REPORT
    print(f"Seeds {first} to {last}; thresholds from {TRAINING[0]} to {TRAINING[-1]}.", flush=True)
    for line in lines(range(first, last + 1)):
        print(line, flush=True)


if __name__ == "__main__":
    main()
