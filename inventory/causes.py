"""The closed lists of the mass book: account kinds, grades, bases and the causes of movements.

A *cause* says between which kinds of account a movement may run, which bases may stand behind it and
on whose account an emission counts. `ledger.write` refuses whatever is not in this table.
"""

from collections.abc import Iterable
from dataclasses import dataclass

CYLINDER, VEHICLE, PARTNER, RIG = "cylinder", "vehicle", "partner", "rig"
AIR, UNEXPLAINED, OPENING, PROCESS = "air", "unexplained", "opening", "process"
ACCOUNT_KINDS = (CYLINDER, VEHICLE, PARTNER, RIG, AIR, UNEXPLAINED, OPENING, PROCESS)
SINGLE_KINDS = (AIR, UNEXPLAINED, OPENING, PROCESS)
STOCK_KINDS = (CYLINDER, RIG)

GRADES = ("virgin", "recovered", "recycled", "reclaimed", "suspect")

BASES = {
    "pair": "two weighings",
    "single": "one weighing",
    "machine": "shown by a machine",
    "paper": "a partner's paper",
    "count": "cans counted",
    "computed": "computed",
    "rest": "what was left",
    "declared": "declared, not measured",
}

WORKSHOP, ON_THE_ROAD, EXEMPT = "workshop", "vehicle", "exempt"


@dataclass(frozen=True)
class Cause:
    """One row of the closed list; `routes` are (from, to) account kinds, `whose_air` names an emission's side."""

    name: str
    words: str
    routes: frozenset[tuple[str, str]]
    bases: frozenset[str]
    whose_air: str = ""


def _cause(name: str, words: str, routes: Iterable[str], bases: str, whose_air: str = "") -> Cause:
    pairs = frozenset((route.split(">")[0], route.split(">")[1]) for route in routes)
    allowed = frozenset(BASES) if bases == "any" else frozenset(bases.split())
    return Cause(name, words, pairs, allowed, whose_air)


_BOTH_WAYS = ("cylinder>unexplained", "unexplained>cylinder")

CAUSES = {
    cause.name: cause
    for cause in (
        _cause("opening-stock", "opening stock", ["opening>cylinder"], "single machine count"),
        _cause("purchase", "bought", ["partner>cylinder"], "single paper count"),
        _cause("returned-reclaimed", "back from reclaim", ["partner>cylinder"], "single paper"),
        _cause("came-back", "came back", ["partner>cylinder"], "rest single"),
        _cause("came-from-sister", "from a sister workshop", ["partner>cylinder"], "paper"),
        _cause("customer-gas-in", "customer's gas", ["partner>cylinder"], "single count"),
        _cause("found-in-vehicle", "found in the vehicle", ["opening>vehicle"], "any"),
        _cause("recovery", "recovered", ["vehicle>cylinder"], "pair single"),
        _cause(
            "recovery-through-machine",
            "recovered through a machine",
            ["vehicle>process", "process>cylinder"],
            "machine",
        ),
        _cause("charge", "charged", ["cylinder>vehicle"], "pair machine count"),
        _cause("transfer", "moved between cylinders", ["cylinder>cylinder"], "pair"),
        _cause("regrade", "change of grade", ["cylinder>process", "process>cylinder"], "rest"),
        _cause("re-identified", "identified as another", ["cylinder>process", "process>cylinder"], "rest"),
        _cause("was-oil", "was oil, not refrigerant", ["cylinder>opening"], "pair paper"),
        _cause("rig-filled", "left standing in hose or machine", ["cylinder>rig"], "computed"),
        _cause("rig-cleared", "hose or machine pulled empty", ["rig>cylinder", "rig>vehicle"], "rest computed"),
        _cause("sent-away", "sent away", ["cylinder>partner"], "single pair"),
        _cause("heel-returned", "heel returned", ["cylinder>partner"], "single"),
        _cause("passed-on", "passed on", ["cylinder>partner"], "single"),
        _cause("moved-to-sister", "to a sister workshop", ["cylinder>partner"], "single"),
        _cause("purge", "purged", ["cylinder>air", "rig>air"], "pair computed", WORKSHOP),
        _cause("leaked-from-stock", "leaked from stock", ["cylinder>air", "rig>air"], "pair rest", WORKSHOP),
        _cause("scrapped-with-rest", "scrapped with a rest", ["cylinder>air"], "single rest", WORKSHOP),
        _cause("can-rest", "rest in cans", ["cylinder>air"], "computed", WORKSHOP),
        _cause("evacuated-residue", "residue pumped out", ["vehicle>air"], "computed", WORKSHOP),
        _cause(
            "lost-in-our-hands",
            "lost in our hands",
            ["vehicle>air", "rig>air"],
            "pair rest computed",
            WORKSHOP,
        ),
        _cause("lost-on-the-road", "lost on the road", ["vehicle>air"], "rest", ON_THE_ROAD),
        _cause("released-exempt", "released, exempt", ["cylinder>air", "vehicle>air"], "any", EXEMPT),
        _cause("vehicle-shortfall", "short in the vehicle", ["vehicle>unexplained"], "rest"),
        _cause("out-of-sight", "out of sight", ["vehicle>opening"], "rest"),
        _cause("weighing-difference", "weighing difference", _BOTH_WAYS, "pair"),
        _cause("tare-corrected", "tare corrected", _BOTH_WAYS, "single"),
        _cause("missing", "missing", ["cylinder>unexplained"], "rest"),
        _cause("turned-up", "turned up", ["unexplained>cylinder"], "single"),
        _cause("loss-explained", "loss explained", ["unexplained>air"], "rest", WORKSHOP),
        _cause("late-charge", "charge not written down", ["unexplained>vehicle"], "rest"),
        _cause("late-recovery", "recovery not written down", ["vehicle>unexplained"], "rest"),
        _cause("balance-after-correction", "balance after a correction", _BOTH_WAYS, "computed"),
    )
}

# Causes whose lines may name, in `explains`, the difference that they account for.
EXPLAINING = frozenset({"loss-explained", "late-charge", "late-recovery", "balance-after-correction"})
# Those that use a difference up, never beyond its mass; a balance after a correction may also enlarge it.
USES_UP = EXPLAINING - {"balance-after-correction"}
