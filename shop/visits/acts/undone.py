"""What a visit and its vehicle are after a line of theirs was reversed or written anew, in the same transaction."""

from uuid import uuid5

from inventory.models import Entry
from shop.models import Step, Vehicle
from shop.visits.acts.entering import StepFacts, write_step
from shop.visits.kinds import MASS_STEPS


def follow(entry: Entry, again: Entry | None) -> None:
    """Let the steps of a reversed line go with it: to the line written anew, else out of what counts."""
    for step in entry.steps.select_related("visit__vehicle").filter(replaced_by__isnull=True):
        if again is not None:
            _anew(step, again)
        elif step.kind in MASS_STEPS:
            _unsure(step)


def _anew(step: Step, again: Entry) -> None:
    """Write the step again with the corrected line; the old one stays, as replaced. A second time changes nothing."""
    facts = StepFacts(step.doer, step.answers, step.data, step.note, replaces=step)
    write_step(step.visit, step.kind, step.occurred_at, uuid5(step.request_key, f"line {again.seq}"), facts, again)


def _unsure(step: Step) -> None:
    """Say that nobody knows what is in the vehicle, where the undone step was the last that told."""
    later = Step.objects.filter(
        visit__vehicle=step.visit.vehicle, kind__in=MASS_STEPS, occurred_at__gt=step.occurred_at
    )
    if not later.exists():
        Vehicle.objects.filter(pk=step.visit.vehicle_id).update(content="unknown")
