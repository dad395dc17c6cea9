"""The charge: what went in against the target, whether the readings can show it, and what an old label suggests.

Vocabulary: *drawn* is what left the cylinder; *in hoses* is what of it still stands in the hoses; *band* is target
plus and minus tolerance. Whether a charge lies in its band is judged with 2 u of the readings: where the readings
cannot show it either way, that is the answer.

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
    """A charge as it stands: `drawn_g` with its standard uncertainty, less what stands in the hoses."""

    target_g: float
    tolerance_g: float
    drawn_g: float
    u_drawn_g: float
    in_hoses_g: float = 0.0
    u_in_hoses_g: float = 0.0


@dataclass(frozen=True, kw_only=True)
class ChargeAnswer(Answer):
    """Verdicts: `within`, `under`, `over`, `cannot-show`. `difference_g` is charged less target."""

    charged_g: float
    u_charged_g: float
    difference_g: float
    least_g: float
    most_g: float
    band_is_narrower_than_readings: bool


@dataclass(frozen=True, kw_only=True)
class ConversionEstimate(Answer):
    """Verdict `estimate`: common practice from the old label, lowest and highest mass, and the ratio of densities."""

    lowest_g: float
    highest_g: float
    density_ratio: float


def judge(charge: Charge) -> ChargeAnswer:
    """Return how a charge stands against its band, with 2 u.

    `within` and `under` / `over` only where the whole interval charged +- 2 u lies there; else `cannot-show`.
    Raises ``MeasurementError`` for a target or mass that cannot be, and for hoses that hold more than was drawn.
    Source: JCGM 100:2008, clause 6.3.
    """
    _check(charge)
    charged_g = charge.drawn_g - charge.in_hoses_g
    u_g = (charge.u_drawn_g**2 + charge.u_in_hoses_g**2) ** 0.5
    least_g, most_g = charged_g - give_or_take(u_g), charged_g + give_or_take(u_g)
    verdict = _verdict(charge, least_g, most_g)
    narrow = give_or_take(u_g) > charge.tolerance_g
    return ChargeAnswer(
        verdict=verdict,
        sentence=_sentence(verdict, charge, charged_g, u_g),
        workings=_workings(charge, charged_g, u_g),
        sources=("Give or take is 2 u: JCGM 100:2008, clause 6.3",),
        cautions=(*_own_cautions(charge, u_g, narrow=narrow), *CAUTIONS),
        charged_g=charged_g,
        u_charged_g=u_g,
        difference_g=charged_g - charge.target_g,
        least_g=least_g,
        most_g=most_g,
        band_is_narrower_than_readings=narrow,
    )


def _check(charge: Charge) -> None:
    need_above_zero(target=charge.target_g)
    need_not_below_zero(
        tolerance=charge.tolerance_g,
        charged_mass=charge.drawn_g,
        uncertainty_of_the_charge=charge.u_drawn_g,
        mass_in_the_hoses=charge.in_hoses_g,
        uncertainty_of_the_hoses=charge.u_in_hoses_g,
    )
    if charge.in_hoses_g > charge.drawn_g:
        raise MeasurementError(
            f"The hoses are said to hold {figure(charge.in_hoses_g, 3)} g, more than the "
            f"{figure(charge.drawn_g, 3)} g that left the cylinder."
        )


def _verdict(charge: Charge, least_g: float, most_g: float) -> str:
    low_g, high_g = charge.target_g - charge.tolerance_g, charge.target_g + charge.tolerance_g
    if low_g <= least_g and most_g <= high_g:
        return "within"
    if most_g < low_g:
        return "under"
    return "over" if least_g > high_g else "cannot-show"


def _sentence(verdict: str, charge: Charge, charged_g: float, u_g: float) -> str:
    difference_g = charged_g - charge.target_g
    side = "on target" if round(difference_g) == 0 else f"{abs(difference_g):.0f} g {_side(difference_g)} target"
    lead = f"{charged_g:,.0f} g charged, give or take {figure(give_or_take(u_g))} g, {side}"
    low_g, high_g = charge.target_g - charge.tolerance_g, charge.target_g + charge.tolerance_g
    band = f"{figure(low_g, 3)} to {figure(high_g, 3)} g"
    # Printed outwards, so that the page never claims more than the readings show.
    interval = f"{floor(charged_g - give_or_take(u_g)):,} to {ceil(charged_g + give_or_take(u_g)):,} g"
    ends = {
        "within": f"within {band}",
        "under": f"under {band}",
        "over": f"over {band}",
        "cannot-show": f"these readings ({interval}) cannot show that it is within {band}",
    }
    return f"{lead}: {ends[verdict]}."


def _side(difference_g: float) -> str:
    return "over" if difference_g > 0 else "under"


def _own_cautions(charge: Charge, u_g: float, *, narrow: bool) -> tuple[str, ...]:
    if not narrow:
        return ()
    return (
        f"The band of +-{figure(charge.tolerance_g)} g is narrower than these readings can show "
        f"(+-{figure(give_or_take(u_g), 3)} g), whatever is charged.",
    )


def _workings(charge: Charge, charged_g: float, u_g: float) -> tuple[tuple[str, str], ...]:
    return (
        ("Target", f"{figure(charge.target_g, 3)} g +- {figure(charge.tolerance_g)} g"),
        ("Left the cylinder", f"{charge.drawn_g:,.0f} g, u {charge.u_drawn_g:.2f} g"),
        ("Standing in the hoses", f"{charge.in_hoses_g:.0f} g, u {charge.u_in_hoses_g:.2f} g"),
        ("Charged", f"{charged_g:,.0f} g, u {u_g:.2f} g"),
        ("Difference from target", f"{charged_g - charge.target_g:+.0f} g"),
    )


def still_to_charge_g(*, target_g: float, before_gross_g: float, now_gross_g: float, in_hoses_g: float = 0.0) -> float:
    """Return what is still to come, in grams, from the scale's two readings; below zero when it is too much.

    Raises ``MeasurementError`` where the cylinder has gained mass.
    """
    need_above_zero(target=target_g, first_reading=before_gross_g, present_reading=now_gross_g)
    need_not_below_zero(mass_in_the_hoses=in_hoses_g)
    if now_gross_g > before_gross_g:
        raise MeasurementError("The cylinder weighs more than before: a charge takes mass out of it.")
    return target_g - (before_gross_g - now_gross_g - in_hoses_g)


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
