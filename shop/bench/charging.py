"""The charge: what went in against the target, whether the readings can show it, and what an old label suggests.

Vocabulary: *drawn* is what left the cylinder; *band* is target plus and minus tolerance. Whether a charge lies in its
band is judged with 2 u of the readings: where the readings cannot show it either way, that is the answer.

Masses are grams. Errors: ``MeasurementError`` with a sentence.
"""

from dataclasses import dataclass
from math import ceil, floor

from inventory.gases import fluids
from inventory.measure.uncertainty import give_or_take
from shop.bench.answers import (
    INSTRUCTIONS_FIRST,
    Answer,
    MeasurementError,
    figure,
    need_above_zero,
    need_not_below_zero,
)

SHARES = {("R-12", "R-134a"): (0.80, 0.90), ("R-134a", "R-1234yf"): (0.90, 0.90)}
"""Old label times this, lowest and highest: common practice, no source."""

DENSITY_K = 298.15

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
        """Where the whole interval lies, one of the verdicts of a `ChargeAnswer`."""
        low_g, high_g = self.target_g - self.tolerance_g, self.target_g + self.tolerance_g
        if low_g <= self.least_g and self.most_g <= high_g:
            return "within"
        if self.most_g < low_g:
            return "under"
        return "over" if self.least_g > high_g else "cannot-show"


@dataclass(frozen=True, kw_only=True)
class ChargeAnswer(Answer):
    """Verdicts: `within`, `under`, `over`, `cannot-show`."""

    charged_g: float
    u_charged_g: float


@dataclass(frozen=True, kw_only=True)
class ConversionEstimate(Answer):
    """Verdict `estimate`: common practice from the old label, lowest and highest mass, and the ratio of densities."""

    lowest_g: float
    highest_g: float
    density_ratio: float


def judge(charge: Charge) -> ChargeAnswer:
    """Return how a charge stands against its band, with 2 u.

    `within` and `under` / `over` only where the whole interval charged +- 2 u lies there; else `cannot-show`.
    Raises ``MeasurementError`` for a target or mass that cannot be. Source: JCGM 100:2008, clause 6.3.
    """
    need_above_zero(target=charge.target_g)
    need_not_below_zero(
        tolerance=charge.tolerance_g, charged_mass=charge.drawn_g, uncertainty_of_the_charge=charge.u_drawn_g
    )
    return ChargeAnswer(
        verdict=charge.verdict,
        sentence=_sentence(charge.verdict, charge),
        workings=_workings(charge),
        sources=("Give or take is 2 u: JCGM 100:2008, clause 6.3",),
        cautions=(*_own_cautions(charge), *CAUTIONS),
        charged_g=charge.drawn_g,
        u_charged_g=charge.u_drawn_g,
    )


def _sentence(verdict: str, charge: Charge) -> str:
    difference_g = charge.drawn_g - charge.target_g
    side = f"{abs(difference_g):.0f} g {'over' if difference_g > 0 else 'under'} target"
    lead = f"{charge.drawn_g:,.0f} g charged, give or take {figure(give_or_take(charge.u_drawn_g))} g, "
    lead += side if round(difference_g) else "on target"
    low_g, high_g = charge.target_g - charge.tolerance_g, charge.target_g + charge.tolerance_g
    band = f"{figure(low_g, 3)} to {figure(high_g, 3)} g"
    if verdict != "cannot-show":
        return f"{lead}: {verdict} {band}."
    # Printed outwards, so that the page never claims more than the readings show.
    interval = f"{floor(charge.least_g):,} to {ceil(charge.most_g):,} g"
    return f"{lead}: these readings ({interval}) cannot show that it is within {band}."


def _own_cautions(charge: Charge) -> tuple[str, ...]:
    if give_or_take(charge.u_drawn_g) <= charge.tolerance_g:
        return ()
    return (
        f"The band of +-{figure(charge.tolerance_g)} g is narrower than these readings can show "
        f"(+-{figure(give_or_take(charge.u_drawn_g), 3)} g), whatever is charged.",
    )


def _workings(charge: Charge) -> tuple[tuple[str, str], ...]:
    charged = f"{charge.drawn_g:,.0f} g, u {charge.u_drawn_g:.2f} g"
    return (
        ("Target", f"{figure(charge.target_g, 3)} g +- {figure(charge.tolerance_g)} g"),
        ("Left the cylinder", charged),
        ("Standing in the hoses", "0 g, u 0.00 g"),  # nobody enters it: what left the cylinder counts as charged
        ("Charged", charged),
        ("Difference from target", f"{charge.drawn_g - charge.target_g:+.0f} g"),
    )


def from_old_label(
    *, old_refrigerant: str, new_refrigerant: str, label_g: float, makers_g: float | None = None
) -> ConversionEstimate:
    """Return what common practice charges after a conversion, as a spread from the old label's mass.

    Never beside a maker's figure: raises ``MeasurementError`` where one exists, where no practice is known for the
    pair, and for a label not above zero. ``NoPropertyData`` where a liquid density is missing.
    """
    need_above_zero(mass_on_the_label=label_g)
    if makers_g is not None:
        raise MeasurementError(f"The maker gives {figure(makers_g, 3)} g: that holds, and no estimate is offered.")
    share = SHARES.get((old_refrigerant, new_refrigerant))
    if share is None:
        raise MeasurementError(f"No common practice is known for {old_refrigerant} to {new_refrigerant}.")
    lowest_g, highest_g = share[0] * label_g, share[1] * label_g
    ratio = fluids.liquid_density_kg_m3(new_refrigerant, DENSITY_K) / fluids.liquid_density_kg_m3(
        old_refrigerant, DENSITY_K
    )
    spread = f"{figure(lowest_g, 3)} g"
    if highest_g > lowest_g:
        spread = f"{figure(lowest_g, 3)} to {figure(highest_g, 3)} g"
    shares = f"{share[0]:.2f}" if share[0] == share[1] else f"{share[0]:.2f} to {share[1]:.2f}"
    return ConversionEstimate(
        verdict="estimate",
        sentence=f"Common practice after {old_refrigerant}: {shares} of the old label, {spread}; not a maker's figure.",
        workings=(
            ("Old label", f"{figure(label_g, 3)} g of {old_refrigerant}"),
            ("Share by common practice", shares),
            ("Liquid density, new over old at 25 C", f"{ratio:.2f}"),
        ),
        sources=("Share of the old label: common practice, no source", "Liquid densities: CoolProp"),
        cautions=("Where the maker gives a figure, that one holds.", INSTRUCTIONS_FIRST),
        lowest_g=lowest_g,
        highest_g=highest_g,
        density_ratio=ratio,
    )
