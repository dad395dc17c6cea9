"""Which refrigerant a standing pressure speaks for, and what masses it bounds.

A circuit or cylinder that holds liquid and has come to rest stands at the saturation pressure of its coldest part. That
can rule refrigerants out; it can seldom tell the common ones apart (R-12 and R-134a cross at 16.6 C), and air raises
it. It never replaces an identifier.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from inventory.gases import fluids
from inventory.gases.purity import bubble_slope_pa_k

G_PER_KG = 1000.0
FITS_WITHIN, CANNOT_TELL_WITHIN = 2.0, 3.0
"""Standard uncertainties of the gap: up to 2 it fits, beyond 3 it does not, between them nothing can be told."""

FITS, DOES_NOT_FIT, CANNOT_TELL = "fits", "does not fit", "cannot tell"
WITH_A_WARMER_PART = "fits with a part warmer than was measured"
WARMER_K = 10.0
"""How much warmer than the coldest part the warmest may be where nobody measured it: an estimate without a source."""

CAUTION = (
    "A pressure never replaces an identifier: air, oil, a mixture or a part colder than the thermometer change it. "
    "Identify the gas before a machine is connected."
)

OIL_SHARE, OIL_SHARE_LIMIT = 0.05, 0.10
"""Refrigerant that oil may hold once there is no liquid, as a share of the oil's mass: an allowance, not property data.
"""

AT_MOST, AT_LEAST, AIR_OR_ANOTHER = "at most", "at least", "air or another"


@dataclass(frozen=True)
class Candidate:
    """One refrigerant against the reading: FITS, WITH_A_WARMER_PART, DOES_NOT_FIT or CANNOT_TELL, figures and a reason.

    Pressures absolute, in Pa; a blend has dew below bubble, and any pressure between them fits. `gap_pa` is how far the
    reading lies above bubble (positive) or below dew (negative), 0 between them. All None where there is no figure.
    """

    code: str
    verdict: str
    bubble_pa: float | None
    dew_pa: float | None
    gap_pa: float | None
    u_pa: float | None
    reason: str


@dataclass(frozen=True)
class Identification:
    """All candidates in the order asked, and one sentence that sums them up; ``CAUTION`` belongs beside it."""

    candidates: tuple[Candidate, ...]
    sentence: str
    caution: str = CAUTION

    def codes(self, verdict: str) -> tuple[str, ...]:
        """Return the codes with this `verdict`."""
        return tuple(candidate.code for candidate in self.candidates if candidate.verdict == verdict)


@dataclass(frozen=True)
class ContentBound:
    """What a standing pressure says about the refrigerant inside: AT_MOST, AT_LEAST or AIR_OR_ANOTHER.

    AT_MOST: no liquid, so `vapour_g` fills the inside, and about `oil_allowance_g` (limit `oil_limit_g`) is in the oil.
    AT_LEAST: at saturation, so at least `vapour_g` is inside and nothing bounds it from above. AIR_OR_ANOTHER: above
    saturation, `vapour_g` is 0. `u_vapour_g` is standard, from gauge and thermometer.
    """

    kind: str
    sentence: str
    vapour_g: float = 0.0
    u_vapour_g: float = 0.0
    oil_allowance_g: float = 0.0
    oil_limit_g: float = 0.0

    @property
    def vapour_limit_g(self) -> float:
        """Return the vapour (g) at the far end of what the instruments allow: their half widths, sqrt(3) u."""
        return self.vapour_g + math.sqrt(3) * self.u_vapour_g


def identify(
    codes: Iterable[str],
    *,
    pressure_pa: float,
    temperature_k: float,
    u_pressure_pa: float,
    u_temperature_k: float,
    warmest_k: float | None = None,
    warmer_k: float = 0.0,
) -> Identification:
    """Compare the absolute `pressure_pa` at `temperature_k` (of the coldest part) with each refrigerant of `codes`.

    Standard uncertainties of gauge and thermometer: a step d counts d / sqrt(12), a limit of error a / sqrt(3). Liquid
    must be present. Any pressure up to the saturation of the warmest part measured, `warmest_k`, fits. Where it was not
    measured, and may be up to `warmer_k` above the coldest, what that would explain is WITH_A_WARMER_PART. A
    refrigerant without property data, or outside them, is CANNOT_TELL with the reason.
    """
    warm_k = temperature_k if warmest_k is None else max(warmest_k, temperature_k)
    spare_k = warmer_k if warmest_k is None else 0.0
    candidates = tuple(
        _warmer(_candidate(code, pressure_pa, temperature_k, warm_k, u_pressure_pa, u_temperature_k), warm_k, spare_k)
        for code in codes
    )
    return Identification(candidates, _sum_up(candidates))


def warmest_that_explains_k(code: str, pressure_pa: float) -> float | None:
    """Return the temperature (K) of a part at whose saturation `code` stands at `pressure_pa`; None where none does."""
    try:
        return fluids.bubble_temperature_k(code, pressure_pa)
    except fluids.OutsideModel:
        return None


def crossing_temperature_k(first: str, second: str, *, low_k: float, high_k: float) -> float | None:
    """Return where the bubble pressures of two refrigerants are equal between `low_k` and `high_k`, None if nowhere.

    To a millikelvin, by bisection; the one crossing in between is meant. Raises the errors of ``fluids``.
    """

    def lead(at_k: float) -> float:
        return fluids.bubble_pressure_pa(first, at_k) - fluids.bubble_pressure_pa(second, at_k)

    at_low = lead(low_k)
    if at_low * lead(high_k) > 0:
        return None
    while high_k - low_k > 1e-3:
        middle = (low_k + high_k) / 2
        low_k, high_k = (middle, high_k) if lead(middle) * at_low > 0 else (low_k, middle)
    return (low_k + high_k) / 2


def content_bounds(
    code: str,
    *,
    pressure_pa: float,
    volume_m3: float,
    coldest_k: float,
    warmest_k: float,
    u_pressure_pa: float,
    u_temperature_k: float,
    oil_g: float = 0.0,
) -> ContentBound:
    """Return what the absolute `pressure_pa` inside `volume_m3` says about the mass of `code` in it.

    Against dew at the coldest part and bubble at the warmest, within twice the standard uncertainties of gauge
    and thermometer. Vapour is reckoned at the coldest part, which makes an upper bound the larger and keeps a lower
    bound true. Raises ``ValueError`` with a sentence for what cannot be, and the errors of ``fluids``.
    """
    if not (pressure_pa > 0 and volume_m3 > 0 and oil_g >= 0):
        raise ValueError("Pressure and inside volume must be above nothing, the oil not below nothing.")
    if coldest_k > warmest_k:
        raise ValueError("The coldest part is given as warmer than the warmest.")
    give_cold_pa = FITS_WITHIN * _u_gap_pa(code, coldest_k, u_pressure_pa, u_temperature_k)
    give_warm_pa = FITS_WITHIN * _u_gap_pa(code, warmest_k, u_pressure_pa, u_temperature_k)
    if pressure_pa > fluids.bubble_pressure_pa(code, warmest_k) + give_warm_pa:
        sentence = f"Above the saturation of {code} at the warmest part: air is in it, or it is another refrigerant."
        return ContentBound(AIR_OR_ANOTHER, sentence)
    if pressure_pa >= fluids.dew_pressure_pa(code, coldest_k) - give_cold_pa:
        grams = volume_m3 * fluids.saturated_vapour_density_kg_m3(code, coldest_k) * G_PER_KG
        u_grams = grams * u_temperature_k * bubble_slope_pa_k(code, coldest_k) / pressure_pa
        sentence = f"At saturation: at least {grams:.{_decimals(grams)}f} g is inside, how much more cannot be told."
        return ContentBound(AT_LEAST, sentence, vapour_g=grams, u_vapour_g=u_grams)
    grams, u_grams = _vapour_g(code, pressure_pa, volume_m3, coldest_k, u_pressure_pa, u_temperature_k)
    limit_g = grams + math.sqrt(3) * u_grams
    oil_allowance_g = OIL_SHARE * oil_g
    in_oil = f" and about {oil_allowance_g:.0f} g in the oil" if oil_g else ""
    return ContentBound(
        AT_MOST,
        f"No liquid: at most {limit_g:.{_decimals(limit_g)}f} g of vapour{in_oil}.",
        vapour_g=grams,
        u_vapour_g=u_grams,
        oil_allowance_g=oil_allowance_g,
        oil_limit_g=OIL_SHARE_LIMIT * oil_g,
    )


def _vapour_g(
    code: str, pressure_pa: float, volume_m3: float, coldest_k: float, u_pressure_pa: float, u_temperature_k: float
) -> tuple[float, float]:
    density = fluids.vapour_density_kg_m3(code, pressure_pa, coldest_k)
    below = fluids.vapour_density_kg_m3(code, 0.99 * pressure_pa, coldest_k)
    slope = (density - below) / (0.01 * pressure_pa)
    relative_of_temperature = u_temperature_k / coldest_k  # the ideal gas part is all that matters here
    u_density = math.hypot(slope * u_pressure_pa, density * relative_of_temperature)
    return density * volume_m3 * G_PER_KG, u_density * volume_m3 * G_PER_KG


def _u_gap_pa(code: str, temperature_k: float, u_pressure_pa: float, u_temperature_k: float) -> float:
    return math.hypot(u_pressure_pa, bubble_slope_pa_k(code, temperature_k) * u_temperature_k)


def _warmer(found: Candidate, warm_k: float, spare_k: float) -> Candidate:
    """Return a candidate that the reading lies above as explained by a part up to `spare_k` above `warm_k`, if it is.

    One that fits by itself stays as it is; the errors of the instruments widen what the part can explain.
    """
    if not spare_k or found.verdict == FITS or found.bubble_pa is None or not found.gap_pa or found.gap_pa < 0:
        return found
    needed_k = warmest_that_explains_k(found.code, found.bubble_pa + found.gap_pa)
    spare_of_error_k = FITS_WITHIN * (found.u_pa or 0.0) / bubble_slope_pa_k(found.code, warm_k)
    if needed_k is None or needed_k > warm_k + spare_k + spare_of_error_k:
        return found
    reason = (
        f"{found.gap_pa / 1e5:.2f} bar above its saturation; a warmest part of {needed_k - 273.15:.1f} C explains it"
    )
    return replace(found, verdict=WITH_A_WARMER_PART, reason=reason)


def _candidate(
    code: str, pressure_pa: float, temperature_k: float, warm_k: float, u_pressure_pa: float, u_temperature_k: float
) -> Candidate:
    try:
        bubble = fluids.bubble_pressure_pa(code, warm_k)
        dew = fluids.dew_pressure_pa(code, temperature_k)
        u_pa = _u_gap_pa(code, temperature_k, u_pressure_pa, u_temperature_k)
    except fluids.FluidError as error:
        return Candidate(code, CANNOT_TELL, None, None, None, None, str(error))
    gap = max(0.0, pressure_pa - bubble) + min(0.0, pressure_pa - dew)
    verdict, reason = _judge(gap, u_pa)
    return Candidate(code, verdict, bubble, dew, gap, u_pa, reason)


def _judge(gap: float, u_pa: float) -> tuple[str, str]:
    size = f"{abs(gap) / 1e5:.2f} bar"
    if abs(gap) <= FITS_WITHIN * u_pa:
        return FITS, "within what the readings can tell"
    where = f"{size} above its saturation" if gap > 0 else f"{size} below its saturation"
    if abs(gap) <= CANNOT_TELL_WITHIN * u_pa:
        return CANNOT_TELL, f"{where}, on the edge of what the readings can tell"
    if gap > 0:
        return DOES_NOT_FIT, f"{where}; it would need that much air in it"
    return DOES_NOT_FIT, f"{where}; not with liquid inside"


def _sum_up(candidates: tuple[Candidate, ...]) -> str:
    fitting = [candidate.code for candidate in candidates if candidate.verdict == FITS]
    warmer = [candidate.code for candidate in candidates if candidate.verdict == WITH_A_WARMER_PART]
    if warmer:
        fits = f"{' and '.join(fitting)} by what was measured" if fitting else "none of them by what was measured"
        return f"It fits {fits}; a warmest part that nobody measured would explain {' and '.join(warmer)} as well."
    if not fitting:
        return "None of them fits by itself: no liquid, not at rest, air in it, a mixture, or a gas not listed here."
    if len(fitting) == 1:
        return f"Only {fitting[0]} fits by itself; a mixture, or another with air in it, can stand there too."
    return f"{', '.join(fitting[:-1])} and {fitting[-1]} fit: the pressure cannot tell them apart."


def _decimals(grams: float) -> int:
    return 1 if grams < 30 else 0
