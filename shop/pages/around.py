"""What stands around the form of a step: the cautions that belong to this visit and this act."""

from typing import Any

from inventory.gases.cautions import Caution, cautions_for
from shop.models import Visit
from shop.visits.doubts import may_hold_gas, wait_first
from shop.visits.steps import StepKind


def around(visit: Visit, kind: StepKind) -> dict[str, Any]:
    """Return the visit, the kind of step and its cautions, as its page shows them."""
    places = list(kind.cautions)
    if visit.vehicle.electric_compressor and kind.name in ("received", "circuit opened", "oil balance", "flush"):
        places.append("electric")
    if kind.name == "circuit opened" and may_hold_gas(visit):
        places.append("part-recovered")
    if visit.vehicle.refrigerant == "R-744":
        places.append("r-744")
    cautions = cautions_for(*places)
    if kind.name == "circuit opened" and (words := wait_first(visit)):
        cautions.append(Caution("wait-first", words, frozenset()))
    return {"visit": visit, "kind": kind, "cautions": cautions}
