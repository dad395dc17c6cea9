"""A straight line through readings that a display shows in whole steps, with its honest uncertainty.

Shared by the pressure hold and the vacuum hold.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt


@dataclass(frozen=True)
class Trend:
    """Weighted straight line: value at the first time, slope, standard uncertainty of the slope.

    `scatter` is the root of chi-square per degree of freedom (1 where there are only two readings).
    """

    start: float
    slope: float
    u_slope: float
    scatter: float

    def at(self, elapsed_s: float) -> float:
        """Return the line's value `elapsed_s` after the first time."""
        return self.start + self.slope * elapsed_s


def fit(times_s: Sequence[float], values: Sequence[float], u_values: Sequence[float]) -> Trend:
    """Return the least-squares line with weights 1/u2 through at least two readings at rising times.

    The standard uncertainty of the slope is the greatest of
    - what the weights give, times the scatter where the readings scatter more than their uncertainties;
    - what the first and last reading alone give, sqrt(u1^2 + un^2) / time: a display that moves by whole steps
      repeats its rounding error from reading to reading, so reading it more often does not make it finer.
    Source: JCGM 100:2008, H.3 and clause 5; the floor is a choice of ours.
    """
    weights = [1 / u**2 for u in u_values]
    elapsed = [time - times_s[0] for time in times_s]
    total = sum(weights)
    mean_t = sum(w * t for w, t in zip(weights, elapsed, strict=True)) / total
    mean_p = sum(w * p for w, p in zip(weights, values, strict=True)) / total
    spread = sum(w * (t - mean_t) ** 2 for w, t in zip(weights, elapsed, strict=True))
    slope = sum(w * (t - mean_t) * p for w, t, p in zip(weights, elapsed, values, strict=True)) / spread
    start = mean_p - slope * mean_t
    chi2 = sum(w * (p - start - slope * t) ** 2 for w, t, p in zip(weights, elapsed, values, strict=True))
    freedom = len(elapsed) - 2
    scatter = sqrt(chi2 / freedom) if freedom else 1.0
    by_weights = max(1.0, scatter) / sqrt(spread)
    by_ends = sqrt(u_values[0] ** 2 + u_values[-1] ** 2) / elapsed[-1]
    return Trend(start, slope, max(by_weights, by_ends), scatter)
