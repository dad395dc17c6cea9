"""What readings of a scale can tell: standard uncertainties of masses, by the GUM (JCGM 100:2008).

Vocabulary: `d` is a scale's step (resolution), `z` its return to zero between sessions, `g` its span
error as a fraction of the load, `R` a gross reading, `m` the difference of two readings. Each is the
half width of a rectangular distribution, except the step, whose half width is d / 2. A *session* is
the time over which a scale is neither switched off, moved nor zeroed anew.

Two kinds of error are kept apart because they add up differently. Resolution and zero are new with
every reading and add as squares; the span error of one scale is the same in all of its readings and
adds linearly. Masses are grams here; the book keeps whole milligrams.

Clause numbers of JCGM 100 and ISO 11843 are cited from memory; the formulas and the worked numbers are
checked in tests/published/test_uncertainty.py.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, floor, hypot, inf, isfinite, log10, sqrt

COVERAGE = 2.0  # "give or take" on the pages, JCGM 100:2008 clause 6.3
DECISION = 1.645  # one-sided 5 % quantile of the normal distribution
DETECTION = 3.29  # twice that, rounded as the trade's notes on ISO 11843 round it
PAPER_LIMIT = 0.005  # a document that states no tolerance: half a per cent, a choice of ours

# Bands of the OIML R 76-1 maximum permissible error at initial verification, as multiples of e:
# up to the first load 0.5 e, up to the second 1.0 e, up to the third 1.5 e.
_OIML_BANDS = {
    "I": (50_000.0, 200_000.0, inf),
    "II": (5_000.0, 20_000.0, 100_000.0),
    "III": (500.0, 2_000.0, 10_000.0),
    "IIII": (50.0, 200.0, 1_000.0),
}


@dataclass(frozen=True)
class Scale:
    """A scale as its plate and its owner state it; masses in grams.

    `step_g` is the resolution, above zero. `span` is the stated span error as a fraction of the load.
    `zero_g` is how far the zero may have gone between sessions; None means one step. `name` tells
    scales apart in totals. With an `accuracy_class` ("I" to "IIII") the limits of OIML R 76 for that
    class, `in_service` or at verification, replace `span`; `step_g` is then also the interval e.
    """

    step_g: float
    span: float = 0.001
    zero_g: float | None = None
    name: str = ""
    accuracy_class: str | None = None
    in_service: bool = True

    def __post_init__(self) -> None:
        if not (isfinite(self.step_g) and self.step_g > 0):
            raise ValueError("The step of a scale must be above zero.")
        if not (isfinite(self.span) and self.span >= 0):
            raise ValueError("The span error of a scale must not be below zero.")
        if self.zero_g is not None and not (isfinite(self.zero_g) and self.zero_g >= 0):
            raise ValueError("The zero return of a scale must not be below zero.")
        if self.accuracy_class is not None and self.accuracy_class not in _OIML_BANDS:
            raise ValueError("The accuracy class of a scale is I, II, III or IIII.")

    @property
    def zero_return_g(self) -> float:
        """Half width of the zero's wandering between sessions, in grams."""
        return self.step_g if self.zero_g is None else self.zero_g

    def span_u_g(self, load_g: float) -> float:
        """Standard uncertainty that the span error leaves at a load, in grams.

        R 76 limits hold for net values at any tare, so `load_g` is the difference where both readings
        are of one session or one scale, and the gross where they are not.
        """
        if self.accuracy_class is None:
            return rectangular(self.span * abs(load_g))
        limit_g = oiml_limit(self.step_g, abs(load_g), self.accuracy_class, in_service=self.in_service)
        return rectangular(limit_g)


@dataclass(frozen=True)
class U:
    """Standard uncertainty of one mass in grams, in the two parts that add up differently."""

    random_g: float
    span_g: float

    @property
    def total_g(self) -> float:
        """Both parts together, as the root of their squares."""
        return hypot(self.random_g, self.span_g)


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a value known only to lie within +- `half_width`.

    Same unit as given. Source: JCGM 100:2008, 4.3.7.
    """
    return half_width / sqrt(3)


def resolution(step: float) -> float:
    """Return the standard uncertainty of one reading on a display of this step: d / sqrt(12).

    Same unit as given. Source: JCGM 100:2008, F.2.2.1.
    """
    return step / sqrt(12)


def pair_one_session(scale: Scale, difference_g: float) -> U:
    """Return the uncertainty of a difference of two readings in one session of one scale.

    u2 = d2/6 + (g m)2/3: the zero is common to both and cancels. Source: JCGM 100:2008, clause 5.
    """
    return U(hypot(resolution(scale.step_g), resolution(scale.step_g)), scale.span_u_g(difference_g))


def pair_two_sessions(scale: Scale, difference_g: float) -> U:
    """Return the uncertainty of a difference of two readings of one scale in two sessions.

    u2 = d2/6 + 2 z2/3 + (g m)2/3: each session has its own zero. Source: JCGM 100:2008, clause 5.
    """
    random_g = sqrt(2) * hypot(resolution(scale.step_g), rectangular(scale.zero_return_g))
    return U(random_g, scale.span_u_g(difference_g))


def pair_two_scales(first: Scale, first_gross_g: float, second: Scale, second_gross_g: float) -> U:
    """Return the uncertainty of a difference of two gross readings on two scales.

    u2 = sum of d2/12 + z2/3 + (g R)2/3 over both: two span errors do not cancel, so the whole load
    counts. All of it stands in the random part: the two spans belong to different scales.
    Source: JCGM 100:2008, clause 5.
    """
    return U(hypot(_one_reading_g(first, first_gross_g), _one_reading_g(second, second_gross_g)), 0.0)


def single(scale: Scale, gross_g: float, tare_u_g: float) -> U:
    """Return the uncertainty of a mass from one weighing less a tare.

    `tare_u_g` is the standard uncertainty of the tare (a stamp good to +-50 g: rectangular(50)).
    Resolution, zero and tare are random; the span error counts on the gross.
    """
    random_g = hypot(resolution(scale.step_g), rectangular(scale.zero_return_g), tare_u_g)
    return U(random_g, scale.span_u_g(gross_g))


def machine(limit_g: float) -> U:
    """Return the uncertainty of a figure that a machine shows and whose limit of error it states."""
    return U(rectangular(limit_g), 0.0)


def paper(mass_g: float) -> U:
    """Return the uncertainty of a mass from a document: 0.5 % of the mass, a choice of ours."""
    return U(rectangular(PAPER_LIMIT * abs(mass_g)), 0.0)


def count(n: int, stated_each_g: float) -> U:
    """Return the uncertainty of `n` sealed cans whose content is good to +- `stated_each_g` each.

    Cans of one lot were filled by one machine, so their errors are taken as one and add linearly.
    """
    return U(rectangular(n * stated_each_g), 0.0)


def total(parts: Iterable[tuple[str, U, int]]) -> U:
    """Return the uncertainty of a sum or difference of masses.

    Each part is the name of its scale, its uncertainty and the sign (+1 or -1) with which its mass
    enters. Random parts add as squares. The span parts of one scale are one error and add linearly,
    with their signs; those of different scales, and of parts without a scale (""), as squares.
    """
    random_g = 0.0
    by_scale: defaultdict[str, float] = defaultdict(float)
    nameless_g = 0.0
    for scale, u, sign in parts:
        random_g = hypot(random_g, u.random_g)
        if scale:
            by_scale[scale] += sign * u.span_g
        else:
            nameless_g = hypot(nameless_g, u.span_g)
    return U(random_g, hypot(nameless_g, *by_scale.values()))


def give_or_take(u: float) -> float:
    """Return the half width that pages print as "give or take": 2 u, about 19 times in 20."""
    return COVERAGE * u


def rounded_up(value: float, digits: int = 2) -> float:
    """Return a value above zero up to so many digits: what is said of doubt is never less than the doubt.

    Source: JCGM 100:2008, 7.2.6.
    """
    if value <= 0:
        return 0.0
    step = 10.0 ** (floor(log10(value)) - digits + 1)
    return ceil(value / step * (1 - 1e-12)) * step


def decision_threshold(u: float) -> float:
    """Return the smallest effect that is called real: 1.645 u, wrong once in 20 where there is none.

    Source: ISO 11843-1, critical value for a one-sided test at 5 %.
    """
    return DECISION * u


def detection_limit(u: float) -> float:
    """Return the smallest effect that would be seen 19 times in 20: 3.29 u.

    Source: ISO 11843-1, minimum detectable value at 5 % error of both kinds.
    """
    return DETECTION * u


def can_tell(u_g: float, first_step_g: float, second_step_g: float) -> float:
    """Return the difference in grams above which two readings are said to disagree.

    The greater of 2 u and half the sum of the two steps: with resolution alone 2 u is 0.82 of a step,
    and a display that flickers by one step would raise a finding every time.
    """
    return max(give_or_take(u_g), (first_step_g + second_step_g) / 2)


def agrees(difference_g: float, u_g: float, first_step_g: float = 0.0, second_step_g: float = 0.0) -> bool:
    """Say whether a difference in grams is within what the two readings can tell."""
    return abs(difference_g) <= can_tell(u_g, first_step_g, second_step_g)


def oiml_limit(e_g: float, load_g: float, accuracy_class: str, in_service: bool = False) -> float:
    """Return the largest error that OIML R 76 permits a scale at a load, in grams, as a half width.

    `e_g` is the verification interval; `accuracy_class` is I, II, III or IIII; limits in service are
    twice those at verification. Raises ``ValueError`` for another class, a load below zero, and a load
    above what the class covers (10,000 e in class III).
    Source: OIML R 76-1 (EN 45501), maximum permissible errors, read second-hand.
    """
    bands = _OIML_BANDS.get(accuracy_class)
    if bands is None:
        raise ValueError("The accuracy class of a scale is I, II, III or IIII.")
    if not e_g > 0 or not load_g >= 0:
        raise ValueError("The interval must be above zero and the load not below zero.")
    for band, limit_in_e in zip(bands, (0.5, 1.0, 1.5), strict=True):
        if load_g <= band * e_g:
            return limit_in_e * e_g * (2 if in_service else 1)
    raise ValueError(f"Class {accuracy_class} ends at {bands[-1]:.0f} intervals of {e_g:g} g.")


def _one_reading_g(scale: Scale, gross_g: float) -> float:
    """Standard uncertainty of one gross reading: resolution, zero and span on the whole load."""
    return hypot(resolution(scale.step_g), rectangular(scale.zero_return_g), scale.span_u_g(gross_g))
