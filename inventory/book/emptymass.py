"""The empty mass of a cylinder on which none stands: what it weighs with its content, less what the paper says of that.

It is as uncertain as the weighing and the paper together. From then on the cylinder is weighed like any other; what it
holds is the paper's mass, until gas has moved.
"""

from dataclasses import dataclass
from datetime import datetime
from math import hypot

from inventory.measure import uncertainty
from inventory.measure.displays import in_book
from inventory.models import Cylinder, Tare


@dataclass(frozen=True)
class Reckoned:
    """An empty mass and its standard uncertainty, in milligrams; below nothing where the reading cannot be."""

    tare_mg: int
    u_mg: int

    def give_to(self, cylinder: Cylinder) -> None:
        """Let `cylinder` have it, unsaved."""
        cylinder.tare_mg, cylinder.tare_u_mg, cylinder.tare_source = self.tare_mg, self.u_mg, Cylinder.RECKONED


def reckoned(scale: uncertainty.Scale, gross_mg: int, held_mg: int, paper_mg: int) -> Reckoned:
    """Return the empty mass by a gross reading of a cylinder that holds `held_mg`, known by a paper of `paper_mg`."""
    weighed_g, paper_g = uncertainty.single(scale, gross_mg / 1000, 0.0), uncertainty.paper(paper_mg / 1000)
    return Reckoned(gross_mg - held_mg, round(hypot(weighed_g.total_g, paper_g.total_g) * 1000))


def keep(cylinder: Cylinder, since: datetime) -> None:
    """Save the empty mass that a cylinder was given, and a version of it."""
    cylinder.save(update_fields=["tare_mg", "tare_u_mg", "tare_source"])
    note_version(cylinder, since)


def note_version(cylinder: Cylinder, since: datetime) -> None:
    """Keep as a version what the empty mass of a cylinder is from a moment on."""
    mass, source = {"tare_mg": cylinder.tare_mg, "u_mg": cylinder.tare_u_mg}, cylinder.tare_source
    Tare.objects.create(cylinder=cylinder, **mass, source=source, since=since)


def cannot(reckoned: Reckoned, held_mg: int, unit: str) -> str | None:
    """Return why a cylinder cannot weigh so little with its content, or None."""
    if reckoned.tare_mg > 0:
        return None
    said = in_book(reckoned.tare_mg + held_mg, unit)
    return (
        f"{said} gross is not more than the {in_book(held_mg, unit)} that the paper says are in it, and its empty mass "
        "would be nothing. Read the scale again, and look at the paper: net mass, not gross?"
    )


def doubt(reckoned: Reckoned, held_mg: int, unit: str) -> str | None:
    """Return the question where a cylinder would be heavier than what is in it (common practice, no source)."""
    if reckoned.tare_mg <= held_mg:
        return None
    return (
        f"Its empty mass would then be {in_book(reckoned.tare_mg, unit)}, more than the {in_book(held_mg, unit)} that "
        "the paper says are in it. Does the scale read so?"
    )
