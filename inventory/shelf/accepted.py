"""What a receiver accepted of gas that was sent away, against the weighing that sent it. Masses in milligrams."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from inventory.measure import uncertainty
from inventory.measure.figures import times_of
from inventory.models import Consignment, Weighing


@dataclass(frozen=True)
class Accepted:
    """What the receiver's paper says, against what was sent."""

    consignment: Consignment
    accepted_mg: int
    oil_mg: int
    sent_mg: int
    can_tell_mg: int  # by the weighing here; how well they weigh is not known

    @property
    def together_mg(self) -> int:
        """Refrigerant, oil and waste."""
        return self.accepted_mg + self.oil_mg

    @property
    def difference_mg(self) -> int:
        """What they count less what was sent."""
        return self.together_mg - self.sent_mg

    def words(self, mass: Callable[[int], str]) -> str:
        """Return the comparison as a sentence; `mass` says a mass."""
        apart, can_tell = mass(abs(self.difference_mg)), mass(self.can_tell_mg)
        way = "less" if self.difference_mg < 0 else "more"
        said = f"They count {mass(self.together_mg)} together: "
        if not self.difference_mg:
            return f"{said}as much as was sent. Our weighing can tell {can_tell}."
        said += f"{apart} {way} than was sent"
        if abs(self.difference_mg) <= self.can_tell_mg:
            return f"{said}, within what our weighing can tell ({can_tell})."
        times = times_of(abs(self.difference_mg), self.can_tell_mg)
        return f"{said}, {times} what our weighing can tell ({can_tell}). How well they weigh is not known here."


def accepted_of(consignment: Consignment, *, sent_mg: int, u_mg: float, reading: Weighing | None) -> Accepted | None:
    """Return what the receiver's paper says of a consignment; None where none is entered."""
    if consignment.accepted_mg is None:
        return None
    step_g = reading.step_mg / 1000 if reading else 0.0
    can_tell_mg = math.floor(uncertainty.can_tell(u_mg / 1000, step_g, 0.0) * 1000)
    oil_mg = int(consignment.accepted_oil_mg or 0)
    return Accepted(consignment, int(consignment.accepted_mg), oil_mg, sent_mg, can_tell_mg)
