"""Vehicles that come back within a year of a leak that was said to be mended. Pure."""

from collections.abc import Iterator
from datetime import date, timedelta

from compliance.rules.facts import Visit, Workshop
from compliance.rules.law.acts import latest_visits
from compliance.rules.law.losses import YARDSTICK_MG
from compliance.rules.rule import Judgement
from compliance.rules.seen import charged_mg, day_of, grams, moves, on, taken_as_empty
from inventory.measure.marks import same
from shop.visits.steps import si_of, text_of

YEAR = timedelta(days=365)


def mended_and_back(facts: Workshop) -> Iterator[Judgement]:
    """Report vehicles that lack gas again within a year of a visit that mended a leak and charged it."""
    for _, visits in latest_visits(facts):
        mended: Visit | None = None
        for visit in visits:
            if mended is not None and day_of(visit) - _day_mended(mended) <= YEAR and _hands_on(visit):
                yield _back(mended, visit)
            if _joints(visit) and charged_mg(visit):
                mended = visit


def _back(mended: Visit, visit: Visit) -> Judgement:
    days = (day_of(visit) - _day_mended(mended)).days
    before, now = _joints(mended), _joints(visit)
    again = next((one for one in now if any(same(one, other) for other in before)), None)
    there = on(visit, day_of(visit), part="mended")
    if again is not None:
        return there.open(
            f"{again} was mended at visit {mended.number} and again {days} days later. It can also be a second leak "
            "beside the first, or a part that was at fault.",
            "Say what was found at the joint, and search it again in a month.",
        )
    if not _lacks(visit, days):
        return there.met("What should have been inside came out, after a leak was mended.")
    if now:
        return there.met(f"It leaked elsewhere this time: {', '.join(now)}.")
    lost = f"{grams(visit.missing_mg)} are missing" if visit.missing_mg else "it came empty"
    return there.open(
        f"At visit {mended.number} a leak was mended ({', '.join(before)}); {days} days later {lost}, and no leak is "
        "named. It can also be a new leak, or damage since.",
        "Search for the leak, at that joint first, and enter what was found.",
    )


def _day_mended(visit: Visit) -> date:
    return max(deed.day for deed, _ in moves(visit, "charge"))


def _hands_on(visit: Visit) -> bool:
    return bool(visit.of("standing pressure", "recovery", "charge", "leak search", "repair"))


def _lacks(visit: Visit, days: int) -> bool:
    """Whether gas is gone: a joint leaks, it came empty, or more is missing than a tight system may lose in so long."""
    leaking = any(float(si_of(deed.data, "leaking") or 0) > 0 for deed in visit.of("leak search", "after-search"))
    return leaking or visit.missing_mg * 365 > YARDSTICK_MG * days or taken_as_empty(visit)


def _joints(visit: Visit) -> list[str]:
    """Return what was mended or renewed at a visit, as it was entered."""
    mended = [text_of(deed.data, "joint").strip() for deed in visit.of("repair")]
    return [one for one in mended if one]
