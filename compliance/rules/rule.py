"""A rule: a duty in our words, where it stands, since when, and a pure check of the facts. Pure: no database.

What is written of a rule stands in `duties.csv`, one row each; its check in the module of its subject.
"""

import csv
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from compliance.rules.facts import Workshop

OPEN, BREACH, MET = "open", "breach", "met"
LAW, PRACTICE = "law", "practice"
WAYS = {
    "check": "Check scales and gauges",
    "weigh": "Weigh cylinders",
    "visit": "Complete a visit's record",
    "vehicle": "Complete a vehicle's record",
    "cylinder": "See to a cylinder",
    "partner": "Ask a partner",
    "certificate": "Enter certificates",
    "workshop": "Complete the workshop's record",
    "authority": "Ask the authority",
    "reason": "Say what happened",
    "pattern": "Look behind a pattern",
}
"""What closes a finding, in the order in which it is shown: many alike are closed in one go."""
READ, RESTATED, MEMORY = "read", "restated elsewhere", "from memory"  # how its text is known to us


@dataclass(frozen=True)
class Record:
    """What a judgement speaks of, to be judged.

    `about` names the record: visit:12, cylinder:7, line:214, person:p-7x, consignment:<line>, instrument:<name>, book.
    `part` tells two judgements of one rule and record apart.
    """

    about: str
    day: date | None = None  # of the act, or since when it is owed; the workshop's today where None
    line: int | None = None
    person: str = ""
    part: str = ""

    def met(self, words: str) -> "Judgement":
        """Return that a rule is met."""
        return Judgement(**vars(self), state=MET, words=words)

    def open(self, words: str, way_out: str) -> "Judgement":
        """Return that something is owed."""
        return Judgement(**vars(self), state=OPEN, words=words, way_out=way_out)

    def breach(self, words: str, way_out: str) -> "Judgement":
        """Return that the record shows that it was not done."""
        return Judgement(**vars(self), state=BREACH, words=words, way_out=way_out)


@dataclass(frozen=True, kw_only=True)
class Judgement(Record):
    """What a rule says of one record: *open* (something is owed), *breach* (a record shows it was not done), *met*.

    `words` is one sentence with the numbers; `way_out` one that says how to close it, empty where met.
    """

    state: str
    words: str
    way_out: str = ""


Check = Callable[[Workshop], Iterable[Judgement]]


@dataclass(frozen=True)
class Rule:
    """One duty. `jurisdictions` empty: whatever the jurisdiction. A guide is shown, never a breach.

    `closed_by` is one of `WAYS`; `now` says in one line what to do about a finding of it. `since` and `until` bound the
    days of acts to which it applies (the day of the act counts, not of today).
    """

    id: str  # ours: "us-certified-person"
    duty: str
    source: str  # section and year
    check: Check
    closed_by: str
    now: str
    jurisdictions: tuple[str, ...] = ()
    since: date | None = None
    until: date | None = None
    standing: str = LAW  # or practice
    known: str = READ
    statistics: bool = False  # says "unusual", never more
    by_vehicle: bool = False  # its judgements of visits need nothing but the visits of one vehicle, people and workshop

    @property
    def guide(self) -> bool:
        """Whether it is shown as guidance only: its text could not be verified, or it is no law but a custom."""
        return self.known == MEMORY

    def covers(self, day: date) -> bool:
        """Whether it applies to an act of that day."""
        return (self.since is None or day >= self.since) and (self.until is None or day <= self.until)


with Path(__file__).with_name("duties.csv").open(encoding="utf-8", newline="") as _lines:
    DUTIES = {row["id"]: row for row in csv.DictReader(_lines)}


def rules_with(checks: Mapping[str, Check]) -> tuple[Rule, ...]:
    """Return the rules whose checks are given by their ids, with what `duties.csv` says of them."""
    return tuple(_rule(DUTIES[name], check) for name, check in checks.items())


def _rule(row: Mapping[str, str], check: Check) -> Rule:
    return Rule(
        id=row["id"],
        duty=row["duty"],
        source=row["source"],
        check=check,
        closed_by=row["closed_by"],
        now=row["now"],
        jurisdictions=tuple(row["jurisdictions"].split()),
        since=_day(row["since"]),
        until=_day(row["until"]),
        standing=row["standing"],
        known=row["known"],
        statistics=row["statistics"] == "yes",
        by_vehicle=row["by_vehicle"] == "yes",
    )


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def judge(rule: Rule, facts: Workshop) -> list[Judgement]:
    """Return what a rule says of a workshop. Acts of days it does not cover are left out; a guide breaches nothing."""
    found = []
    for one in rule.check(facts):
        if not rule.covers(one.day or facts.today):
            continue
        if rule.guide and one.state == BREACH:
            one = replace(one, state=OPEN)
        found.append(one)
    return found
