"""The charge: what went in against the target, whether the readings can show it, and what an old label suggests.

Vocabulary: *drawn* is what left the cylinder; *band* is target plus and minus tolerance. Whether a charge lies in its
band is judged with 2 u of the readings: where the readings cannot show it either way, that is the answer.

Masses are grams. Errors: ``MeasurementError`` with a sentence.
"""

from dataclasses import dataclass
from math import ceil, floor

from inventory.measure.figures import parted
from inventory.measure.uncertainty import give_or_take
from shop.bench.answers import (
    INSTRUCTIONS_FIRST,
    Answer,
    MeasurementError,
    figure,
    figures_between,
    grams_read,
    need_above_zero,
    need_not_below_zero,
)

SHARES = {("R-12", "R-134a"): (0.80, 0.90), ("R-134a", "R-1234yf"): (0.90, 0.90)}
"""Old label times this, lowest and highest: common practice, no source."""

CAUTIONS = (
    "Liquid into a running low side is throttled: it damages the compressor.",
    "High side: engine off, and its valve shut before starting.",
    "Never heat a cylinder with a flame; warm water below 50 C at most.",
    INSTRUCTIONS_FIRST,
)


@dataclass(frozen=True, kw_only=True)
class Charge:
    """A charge as it stands: `drawn_g` left the cylinder, with its standard uncertainty."""

    target_g: float
    tolerance_g: float
    drawn_g: float
    u_drawn_g: float

    @property
    def least_g(self) -> float:
        """The least that the readings allow, by 2 u."""
        return self.drawn_g - give_or_take(self.u_drawn_g)

    @property
    def most_g(self) -> float:
        """The most that the readings allow, by 2 u."""
        return self.drawn_g + give_or_take(self.u_drawn_g)

    @property
    def verdict(self) -> str:
        """Where the whole interval lies, `within`, `under`, `over` or `cannot-show`."""
        low_g, high_g = self.target_g - self.tolerance_g, self.target_g + self.tolerance_g
        if low_g <= self.least_g and self.most_g <= high_g:
            return "within"
        if self.most_g < low_g:
            return "under"
        return "over" if self.least_g > high_g else "cannot-show"


def judge(charge: Charge) -> Answer:
    """Return how a charge stands against its band, with 2 u.

    `within` and `under` / `over` only where the whole interval charged +- 2 u lies there; else `cannot-show`.
    Raises ``MeasurementError`` for a target or mass that cannot be. Source: JCGM 100:2008, clause 6.3.
    """
    need_above_zero(target=charge.target_g)
    need_not_below_zero(
        tolerance=charge.tolerance_g, charged_mass=charge.drawn_g, uncertainty_of_the_charge=charge.u_drawn_g
    )
    return Answer(
        verdict=charge.verdict,
        sentence=_sentence(charge.verdict, charge),
        workings=_workings(charge),
        sources=("Give or take is twice the standard uncertainty: JCGM 100:2008, clause 6.3",),
        cautions=(*_own_cautions(charge), *CAUTIONS),
    )


def _sentence(verdict: str, charge: Charge) -> str:
    difference_g = charge.drawn_g - charge.target_g
    side = f"{grams_read(abs(difference_g))} {'over' if difference_g > 0 else 'under'} target"
    lead = f"{grams_read(charge.drawn_g)} charged, give or take {grams_read(give_or_take(charge.u_drawn_g))}, "
    lead += side if round(difference_g) else "on target"
    low_g, high_g = charge.target_g - charge.tolerance_g, charge.target_g + charge.tolerance_g
    band = f"{figure(low_g, 3)} to {figure(high_g, 3)} g"
    if verdict != "cannot-show":
        return f"{lead}: {verdict} {band}."
    # Printed outwards, so that the page never claims more than the readings show.
    interval = f"{parted(floor(charge.least_g))} to {parted(ceil(charge.most_g))} g"
    return f"{lead}: these readings ({interval}) cannot show that it is within {band}."


def _own_cautions(charge: Charge) -> tuple[str, ...]:
    if give_or_take(charge.u_drawn_g) <= charge.tolerance_g:
        return ()
    return (
        f"The band of +-{figure(charge.tolerance_g)} g is narrower than these readings can show "
        f"(+-{figure(give_or_take(charge.u_drawn_g), 3)} g), whatever is charged.",
    )


def _workings(charge: Charge) -> tuple[tuple[str, str], ...]:
    charged = f"{parted(charge.drawn_g)} g, give or take {give_or_take(charge.u_drawn_g):.2f} g"
    return (
        ("Target", f"{figure(charge.target_g, 3)} g +- {figure(charge.tolerance_g)} g"),
        ("Left the cylinder", charged),
        ("Standing in the hoses", "0 g"),  # nobody enters it: what left the cylinder counts as charged
        ("Charged", charged),
        ("Difference from target", f"{charge.drawn_g - charge.target_g:+.0f} g"),
    )


def from_old_label(*, old_refrigerant: str, new_refrigerant: str, label_g: float) -> str:
    """Say what common practice charges after a conversion, as a spread from the old label's mass (g).

    Raises ``MeasurementError`` where no practice is known for the pair, and for a label not above zero.
    """
    need_above_zero(mass_on_the_label=label_g)
    share = SHARES.get((old_refrigerant, new_refrigerant))
    if share is None:
        raise MeasurementError(f"No common practice is known for {old_refrigerant} to {new_refrigerant}.")
    shares = f"{share[0]:.2f}" if share[0] == share[1] else f"{share[0]:.2f} to {share[1]:.2f}"
    spread = figures_between(share[0] * label_g, share[1] * label_g, 3)
    return f"Common practice after {old_refrigerant}: {shares} of the old label, {spread} g; not a maker's figure."
