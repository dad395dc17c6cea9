"""What speaks for a loss before a vehicle arrived, and what is left on its account, split by what that is put down to.

*Evidence classes*, best first: A standing pressure read and photographed, no liquid possible; B circuit visibly open,
photographed; C leak found and photographed after recovery; D the customer’s word, or a reading without a photo; E
nothing. Masses are grams.
"""

from dataclasses import dataclass
from math import sqrt

from shop.bench.answers import MeasurementError, figure, need_not_below_zero
from shop.bench.standing import StandingAnswer

EVIDENCE = {
    "A": "standing pressure read and photographed, no liquid possible",
    "B": "circuit visibly open, photographed",
    "C": "leak found and photographed after recovery",
    "D": "the customer’s word, or a reading without a photo",
    "E": "nothing",
}
WITNESSED = ("A", "B", "C")


def what_speaks(letter: str) -> str:
    """Return what speaks for a loss, for the middle of a sentence: without its letter, which nobody need know."""
    return "nothing speaks for it" if letter == "E" else f"what speaks for it: {EVIDENCE[letter]}"


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What speaks for a loss before arrival, each as it was recorded."""

    standing: StandingAnswer | None = None
    standing_photographed: bool = False
    open_photographed: bool = False
    leak_photographed: bool = False

    @property
    def letter(self) -> str:
        """The best class that these facts reach, A to E; a standing pressure without a photo reaches D at best."""
        shows_no_liquid = self.standing is not None and self.standing.verdict in ("empty", "vapour")
        if shows_no_liquid and self.standing_photographed:
            return "A"
        if self.open_photographed:
            return "B"
        if self.leak_photographed:
            return "C"
        return "D" if shows_no_liquid else "E"


@dataclass(frozen=True, kw_only=True)
class Remainder:
    """What is left on a vehicle's account after recovery, split by what it is put down to; grams, u beside it."""

    residue_g: float
    u_residue_g: float
    residue_bound_g: float
    road_g: float
    unexplained_g: float
    evidence_letter: str
    sentence: str


def split_remainder(*, left_g: float, residue_bound_g: float, evidence_letter: str) -> Remainder:
    """Return what is left on the vehicle split into residue (ours), road (before arrival) and unexplained.

    The residue is half its bound with u = bound / sqrt 12, but never more than what is left. The rest is the road's
    with evidence A to D, otherwise unexplained. Raises ``MeasurementError`` for values below zero or another letter.
    Source: JCGM 100:2008, 4.3.7, for a value known only to lie between nothing and its bound.
    """
    need_not_below_zero(mass_left=left_g, bound=residue_bound_g)
    if evidence_letter not in EVIDENCE:
        raise MeasurementError(f"The evidence class is one of: {', '.join(EVIDENCE)}.")
    bound_g = min(residue_bound_g, left_g)
    residue_g = bound_g / 2
    rest_g = left_g - residue_g
    proved = evidence_letter != "E"
    whose = "lost before it came here" if proved else "unexplained"
    return Remainder(
        residue_g=residue_g,
        u_residue_g=bound_g / sqrt(12),
        residue_bound_g=bound_g,
        road_g=rest_g if proved else 0.0,
        unexplained_g=0.0 if proved else rest_g,
        evidence_letter=evidence_letter,
        sentence=(
            f"Of {figure(left_g, 3)} g left, {residue_g:.1f} g stay as residue (bound {bound_g:.1f} g) and "
            f"{rest_g:.1f} g are {whose} ({what_speaks(evidence_letter)})."
        ),
    )
