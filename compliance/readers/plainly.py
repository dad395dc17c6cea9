"""What readings came to, as the owner of the car is told: what was seen, and what could not have been seen. Pure.

The sentence of the calculation with its limit and figures stands behind it on the page.
"""

from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from shop.bench.answers import Answer, span, yearly
from shop.bench.hold import HoldAnswer
from shop.bench.insides import Ends
from shop.bench.leakrate import YEAR_S
from shop.bench.standing import StandingAnswer
from shop.bench.vacuum import VacuumAnswer

NOT_SHOWN = "This test could not show whether it leaks"
HELD_EMPTY = {
    "leak": "There was a leak: air came in steadily while it was held empty.",
    "moisture": "It was still damp inside: the pressure rose and stopped where moisture makes it stop.",
    "outgassing": "Gas was still coming out of the oil inside, or a leak had closed again.",
    "cannot-tell": f"{NOT_SHOWN}: what was read can come from a leak, from moisture or from gas still in the oil.",
}
HELD = {
    "falling": "There was a leak: the pressure fell by more than the readings can be wrong.",
    "cannot-tell": f"{NOT_SHOWN}: the pressure rose, which no leak does.",
}
AT_REST = {
    "liquid": "There was refrigerant in it. How much, this pressure cannot tell.",
    "vapour": "There was some gas in it, but no liquid: it had lost a good part.",
    "empty": "Nothing stood in it above the air outside: it was empty, or nearly.",
    "too-high": "The pressure does not fit the refrigerant of its label alone: there was air in it, or another gas.",
}


def told(answer: Answer | None, holds_g: float | None, units: Units) -> str:
    """Return what readings came to, in a sentence or two; empty where the sentence of the calculation has to do.

    `holds_g` is what the system holds when it is full, where that is known.
    """
    if isinstance(answer, StandingAnswer):
        return AT_REST.get(answer.verdict, "")
    if isinstance(answer, VacuumAnswer):
        return HELD_EMPTY.get(answer.verdict) or _limit(answer.seen.hole.grams(answer.seen.not_larger), holds_g, units)
    if isinstance(answer, HoldAnswer):
        return HELD.get(answer.verdict) or _limit(answer.numbers.smallest_g, holds_g, units)
    return ""


def _limit(missed: Ends | None, holds_g: float | None, units: Units) -> str:
    """Return that no leak was seen, and how large one can be that would not have been: by what it does to the car."""
    if missed is None or missed.high <= 0:
        return ""
    if holds_g and missed.high > holds_g:
        soonest = span(holds_g / missed.high * YEAR_S)
        return (
            "No fast leak was seen. Only such a one could have been: a leak that empties the system in "
            f"{soonest} or longer can be there all the same."
        )
    return (
        f"No leak was seen. A leak of less than {in_own_units(yearly(missed.high), units)} can be there all the same."
    )
