"""The service ports of a vehicle as visits saw or left them: for the vehicle's own page."""

from collections.abc import Iterable
from dataclasses import dataclass

from shop.models import Step, Visit
from shop.visits.gas import standing
from shop.visits.steps import text_of

FIELDS = {"ports seen": ("high", "low"), "conversion done": ("high_fitting", "low_fitting")}


@dataclass(frozen=True)
class PortsSeen:
    """The ports by the newest step that says anything of them, in words."""

    words: str
    visit: Visit
    step: Step


def ports_seen(visits: Iterable[Visit]) -> PortsSeen | None:
    """Return the ports as the newest standing step has them, of visits fetched with their log; None where none has."""
    found = [PortsSeen(words, visit, step) for visit in visits for step in standing(visit) if (words := _said(step))]
    return max(found, key=lambda one: (one.step.occurred_at, one.step.pk), default=None)


def _said(step: Step) -> str:
    ends = [text_of(step.data, name) for name in FIELDS.get(step.kind, ())]
    if not any(ends):
        return ""
    high, low = (end or "not entered" for end in ends)
    sides = f"{high} on both sides" if high == low else f"high side {high}, low side {low}"
    return f"{sides}, with adapters on them" if text_of(step.data, "adapters") == "yes" else sides
