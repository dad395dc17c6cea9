"""Which refrigerant a standing pressure speaks for.

A circuit or cylinder that holds liquid and has come to rest stands at the saturation pressure of its coldest part. That
can rule refrigerants out; it can seldom tell the common ones apart (R-12 and R-134a cross at 16.6 C), and air raises
it. It never replaces an identifier.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from inventory.gases import estimated, fluids
from inventory.gases.purity import bubble_slope_pa_k
from inventory.measure.figures import bar

FITS_WITHIN, CANNOT_TELL_WITHIN = 2.0, 3.0
"""Standard uncertainties of the gap: up to 2 it fits, beyond 3 it does not, between them nothing can be told."""

FITS, DOES_NOT_FIT, CANNOT_TELL = "fits", "does not fit", "cannot tell"
WITH_A_WARMER_PART = "fits with a part warmer than was measured"
WARMER_K = 10.0
"""How much warmer than the coldest part the warmest may be where nobody measured it: an estimate without a source."""

ESTIMATED = "estimated from its components"

CAUTION = (
    "A pressure never replaces an identifier: air, oil, a mixture or a part colder than the thermometer change it. "
    "Identify the gas before a machine is connected."
)


@dataclass(frozen=True)
class Candidate:
    """One refrigerant against the reading: FITS, WITH_A_WARMER_PART, DOES_NOT_FIT or CANNOT_TELL, figures and a reason.

    Pressures absolute, in Pa; a blend has dew below bubble, and any pressure between them fits. `gap_pa` is how far the
    reading lies above bubble (positive) or below dew (negative), 0 between them. All None where there is no figure.
    """

    code: str
    verdict: str
    bubble_pa: float | None
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


def _warmer(found: Candidate, warm_k: float, spare_k: float) -> Candidate:
    """Return a candidate that the reading lies above as explained by a part up to `spare_k` above `warm_k`, if it is.

    One that fits by itself stays as it is; the errors of the instruments widen what the part can explain.
    """
    if estimated.is_estimated(found.code):  # what the estimate may be off is wider than a part's warmth
        return found
    if not spare_k or found.verdict == FITS or found.bubble_pa is None or not found.gap_pa or found.gap_pa < 0:
        return found
    needed_k = warmest_that_explains_k(found.code, found.bubble_pa + found.gap_pa)
    spare_of_error_k = FITS_WITHIN * (found.u_pa or 0.0) / bubble_slope_pa_k(found.code, warm_k)
    if needed_k is None or needed_k > warm_k + spare_k + spare_of_error_k:
        return found
    reason = f"{bar(found.gap_pa)} above its saturation; a warmest part of {fluids.celsius(needed_k)} explains it"
    return replace(found, verdict=WITH_A_WARMER_PART, reason=reason)


def _candidate(
    code: str, pressure_pa: float, temperature_k: float, warm_k: float, u_pressure_pa: float, u_temperature_k: float
) -> Candidate:
    asked = _estimated if estimated.is_estimated(code) else _modelled
    try:
        bubble, dew, u_model_pa, slope = asked(code, temperature_k, warm_k)
    except fluids.FluidError as error:
        return Candidate(code, CANNOT_TELL, None, None, None, str(error))
    u_pa = math.hypot(u_pressure_pa, slope * u_temperature_k, u_model_pa)
    gap = max(0.0, pressure_pa - bubble) + min(0.0, pressure_pa - dew)
    verdict, reason = _judge(gap, u_pa)
    return Candidate(code, verdict, bubble, gap, u_pa, reason + (f"; {ESTIMATED}" if u_model_pa else ""))


def _modelled(code: str, cold_k: float, warm_k: float) -> tuple[float, float, float, float]:
    """Return bubble and dew pressure, the standard uncertainty of the model (none counts), and the slope in Pa/K."""
    dew = fluids.dew_pressure_pa(code, cold_k)
    return fluids.bubble_pressure_pa(code, warm_k), dew, 0.0, bubble_slope_pa_k(code, cold_k)


def _estimated(code: str, cold_k: float, warm_k: float) -> tuple[float, float, float, float]:
    """Return the same from estimates; a limit of error counts with a third of its square."""
    bubble, dew = estimated.bubble_pressure_pa(code, warm_k), estimated.dew_pressure_pa(code, cold_k)
    colder_k = max(cold_k - 1.0, estimated.LOW_K)
    warmer_k = min(cold_k + 1.0, estimated.HIGH_K)
    ends = [estimated.bubble_pressure_pa(code, kelvin).value for kelvin in (colder_k, warmer_k)]
    u_pa = max(one.value * one.within for one in (bubble, dew)) / math.sqrt(3)
    return bubble.value, dew.value, u_pa, (ends[1] - ends[0]) / (warmer_k - colder_k)


def _judge(gap: float, u_pa: float) -> tuple[str, str]:
    size = bar(abs(gap))
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
