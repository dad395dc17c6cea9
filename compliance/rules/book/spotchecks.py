"""Visits that the book's own digest chose, so that a second person looks at them. Pure.

Only a hand-over that keeps its digest can choose (`shop.visits.spotcheck`): visits from before there were spot checks,
and those of a workshop that leaves them out, are never asked about. Neither is one that nobody else could look at.
"""

from collections.abc import Iterator

from compliance.rules.facts import Workshop
from compliance.rules.rule import Judgement
from compliance.rules.seen import on
from shop.visits.spotcheck import AGREES, SPOT_CHECK, WITHIN, is_chosen
from shop.visits.steps import text_of


def spot_checked(facts: Workshop) -> Iterator[Judgement]:
    """Report chosen visits that no second person has looked at in time, and those where it found a gap."""
    for visit in facts.visits:
        handed = next((deed for deed in visit.of("hand-over") if is_chosen(deed.data)), None)
        if handed is None:
            continue
        doers = {deed.doer for deed in visit.deeds if deed.kind != SPOT_CHECK}
        checks = [deed for deed in visit.of(SPOT_CHECK) if deed.doer not in doers]
        there = on(visit, handed.day)
        if checks and text_of(checks[-1].data, "found") == AGREES:
            yield there.met("A second person looked at it, and it agrees.")
        elif checks:
            yield there.open(
                f"The spot check of {checks[-1].day.isoformat()} found that it does not agree with what the book says.",
                "Put right what is wrong in the record, and let a second person look at the visit again.",
            )
        elif facts.today - handed.day > WITHIN and _somebody_else(facts, doers):
            yield there.open(
                f"The book's digest chose it for a spot check, and nobody has looked at it in {WITHIN.days} days.",
                "Let somebody who did no step of it look at what is kept of it, and enter the spot check.",
            )


def _somebody_else(facts: Workshop, doers: set[str]) -> bool:
    return any(one.active and one.may_write and one.handle not in doers for one in facts.people.values())
