"""What is shown and not decided: large charges, and good practice after recovery and loss. Pure."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from compliance.rules.facts import Visit, Workshop
from compliance.rules.law.acts import inside, latest_visits
from compliance.rules.law.gases import HFC, contains
from compliance.rules.law.losses import repaired_first
from compliance.rules.rule import BREACH, OPEN, Judgement
from compliance.rules.seen import above_the_air, moves, of_visit

FIFTEEN_POUNDS_MG = 6_803_886  # 15 lb
LEAK_REPAIR_FROM = date(2026, 1, 1)


def fifteen_pounds(facts: Workshop) -> Iterator[Judgement]:
    """Show vehicles other than cars whose charge reaches 15 lb of HFC; whether the rule reaches them is not decided."""
    for vehicle, visits in latest_visits(facts):
        if vehicle.vehicle_class == "car":
            continue
        visit, mass = _largest(visits)
        if mass < FIFTEEN_POUNDS_MG:
            continue
        words = (
            f"Its charge of {mass / 453_592.37:.2f} lb is at or above the 15 lb line; check whether the leak repair "
            "rule reaches this vehicle."
        )
        day = max(visit.opened_at.date(), min(facts.today, LEAK_REPAIR_FROM))
        there = replace(of_visit(visit), day=day)
        yield there.open(words, "Ask the authority, and accept this with the answer.")


def _largest(visits: list[Visit]) -> tuple[Visit, int]:
    """Return the largest charge of HFC at one visit or on one day, or the label where it says more, and its visit."""
    by_day: dict[date, int] = {}
    best, most = visits[-1], 0
    for visit in visits:
        whole = 0
        for deed, one in moves(visit, "charge"):
            if contains(one.refrigerant, HFC):
                whole += one.mass_mg
                by_day[deed.day] = by_day.get(deed.day, 0) + one.mass_mg
                if max(whole, by_day[deed.day]) > most:
                    best, most = visit, max(whole, by_day[deed.day])
    label = best.vehicle.nameplate_mg or 0
    return best, max(most, label if contains(inside(best), HFC) else 0)


def recovery_held(facts: Workshop) -> Iterator[Judgement]:
    """Ask about recoveries whose pressure rose above the atmosphere in the wait."""
    for visit in facts.visits:
        legs = visit.of("recovery")
        risen = above_the_air(visit, legs[-1], "pressure_after_wait") if legs else None
        if risen is None:
            continue
        there = of_visit(visit, legs[-1])
        if risen > 0:
            words = f"After the wait it stood {risen:.2f} bar above the atmosphere."
            yield there.open(words, "Recover again until it holds, or enter that leg.")
        else:
            yield there.met("After the wait it stood no higher than the air.")


def leak_repaired_first(facts: Workshop) -> Iterator[Judgement]:
    """Show fills after an abnormal loss with no repair between."""
    for visit in facts.visits:
        found = repaired_first(visit, facts.today)
        if found is not None:
            yield replace(found, state=OPEN) if found.state == BREACH else found
