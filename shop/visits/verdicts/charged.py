"""How a charge stands to its target, and what the running test says."""

from collections.abc import Sequence

from inventory.measure.displays import moved
from shop.bench import charging, performance
from shop.models import Step
from shop.visits import proofs
from shop.visits.gas import lines_of, living
from shop.visits.inputs import (
    running_of,
)
from shop.visits.proofs import Amount
from shop.visits.scale import Target, target_said
from shop.visits.verdicts.told import Around, Told, own_cautions


def of_charge(step: Step, shared: Around) -> Told | None:
    """Judge all legs of the charge together, at the last of them."""
    legs, unit = living(shared.visit, "charge"), shared.visit.workshop.mass_unit
    target = _aim(legs)
    if not legs or target is None or not lines_of(legs, "charge"):
        return None
    if step.pk != legs[-1].pk:
        return Told(f"Target {moved(target.mass_mg, unit)} for all legs together.") if step in legs else None
    return _told(target, proofs.summed(lines_of(legs, "charge")), unit, len(legs))


def _aim(legs: Sequence[Step]) -> Target | None:
    """Return the target that the last leg which has one names."""
    for leg in reversed(legs):
        if target := leg.data.get("target"):
            tolerance = leg.data.get("tolerance")
            return Target(int(target["mg"]), int(tolerance["mg"]) if tolerance else 0)
    return None


def _told(target: Target, amount: Amount, unit: str, legs: int) -> Told:
    """Return how a charge stands to its target; without a tolerance there is no band to be within."""
    together = (f"All {legs} legs together.",) if legs > 1 else ()
    if not target.tolerance_mg:
        said = target_said(round(amount.grams * 1000), round(amount.u_g * 1000), target, unit)
        return Told(said, (*together, "No tolerance is entered, so there is no band to be within."))
    answer = charging.judge(target.against(amount.grams, amount.u_g))
    return Told(answer.sentence, (*together, *own_cautions(answer, charging.CAUTIONS)), answer)


def of_running(step: Step, shared: Around) -> Told:
    """Judge the running test, what it finds and what it asks."""
    answer = performance.judge(running_of(step, shared.atmosphere_pa))
    more = (*answer.questions[1:], *answer.findings[1:])
    return Told(answer.sentence, more, answer, answer.diagram)
