"""A loss, and the repair before the next fill. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from compliance.rules.facts import Deed, Visit
from compliance.rules.rule import MET, Judgement
from compliance.rules.seen import arrived_open, grams, of_visit
from shop.visits.steps import si_of

YARDSTICK_MG = 40_000  # a year: type approval of a new single-evaporator system, Directive 2006/40/EC


@dataclass(frozen=True)
class Loss:
    """A sign that more leaked than a tight system lets go; `certain` where nothing else explains it."""

    words: str
    certain: bool
    leak_found: bool = False


def loss_before(visit: Visit, deeds: Iterable[Deed]) -> Loss | None:
    """Return the sign of an abnormal loss among these deeds of a visit, or None.

    What counts: a joint found leaking; a system that arrived empty, closed; mass missing beyond what label, readings
    and residue can tell. Missing since a charge of ours at 40 g a year or less is not counted: that is what a new
    system may lose for type approval. Missing against the label alone, with no day of the last charge, is not certain.
    """
    searches = [deed for deed in deeds if deed.kind in ("leak search", "after-search")]
    leaking = max((_leaking(deed) for deed in searches), default=0)
    if leaking:
        return Loss(f"{leaking} joint{'' if leaking == 1 else 's'} were found leaking", True, leak_found=True)
    if arrived_open(visit):
        return None
    if visit.proof == "arrived empty":
        return Loss("it arrived empty", True)
    if visit.missing_mg <= 0:
        return None
    missing = f"{grams(visit.missing_mg)} is missing beyond what label, readings and residue can tell"
    if visit.previous_charge_on is None:
        return Loss(f"{missing}, and the day of the last charge is not known", False)
    days = max(1, (visit.opened_at.date() - visit.previous_charge_on).days)
    if visit.missing_mg * 365 <= YARDSTICK_MG * days:
        return None
    return Loss(f"{missing}, {days} days after the last charge", True)


def _leaking(deed: Deed) -> int:
    return int(float(si_of(deed.data, "leaking") or 0))


def repaired_first(visit: Visit, today: date) -> Judgement | None:
    """Judge whether a repair and a leak search stand between an abnormal loss and the fill; None without a loss."""
    charges = visit.of("charge")
    found = None
    for charge in charges:
        before = [deed for deed in visit.deeds if deed.at <= charge.at and deed is not charge]
        loss = loss_before(visit, before)
        if loss is not None:
            found = _filled(visit, charge, before, loss)
            if found.state != MET:
                return found
    if charges or visit.handed_over:
        return found
    loss = loss_before(visit, visit.deeds)
    if loss is None or _mended(visit.deeds):
        return None
    day = visit.deeds[-1].day if visit.deeds else today
    return replace(of_visit(visit, part="fill"), day=day).open(
        f"Abnormal loss: {loss.words}; no fill before the repair is complete.",
        "Enter the repair and the leak search that shows it, then charge.",
    )


def _filled(visit: Visit, charge: Deed, before: list[Deed], loss: Loss) -> Judgement:
    searched = any(deed.kind in ("leak search", "after-search") for deed in before)
    tried = searched and not loss.leak_found and not any(deed.kind in ("repair", "part in") for deed in before)
    there = of_visit(visit, charge, "fill")
    if _mended(before):
        return there.met(f"There was a loss ({loss.words}); a repair and a leak search stand before the fill.")
    if tried:
        words = f"It was filled after a loss ({loss.words}); the leak search named no leak and nothing was mended."
        return there.open(words, "Enter what was mended or renewed, or say where the gas went.")
    words = f"It was filled after a loss ({loss.words}) with no repair and leak search before."
    way_out = "Enter the repair and the leak search if they were done before the fill; otherwise explain."
    return there.breach(words, way_out) if loss.certain else there.open(words, way_out)


def _mended(deeds: Iterable[Deed]) -> bool:
    """Whether a repair and a leak search stand, and the last search found nothing or was answered by a repair."""
    mended, search = None, None
    for deed in deeds:
        if deed.kind in ("repair", "part in"):
            mended = deed
        elif deed.kind in ("leak search", "after-search"):
            search = deed
    if mended is None or search is None:
        return False
    return _leaking(search) == 0 or mended.at >= search.at
