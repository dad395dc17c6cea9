"""How likely a count is by chance alone. Pure.

A tail is arithmetic about a record, never about a person: it says "unusual", and n stands beside it.
"""

from math import exp, lgamma, log

from inventory.measure.figures import parted

# One in two thousand: with three people looked at every month of a year, a rule then speaks up in at most three honest
# years of a hundred (measured by the study, on its tuning seeds; the share of the others is itself known only so well).
UNUSUAL = 1 / 2_000


def binomial_tail(n: int, k: int, p: float) -> float:
    """Return the probability of `k` or more out of `n`, each with probability `p`.

    `p` is 0 to 1, `k` may be anything. Raises ``ValueError`` for another `p` and for `n` below zero.
    """
    if n < 0 or not 0 <= p <= 1:
        raise ValueError("A share lies between 0 and 1, and a count is not below zero.")
    if k <= 0:
        return 1.0
    if k > n or p == 0:
        return 0.0
    if p == 1:
        return 1.0
    return min(1.0, sum(_point(n, i, p) for i in range(k, n + 1)))


def unusual(n: int, k: int, p: float) -> bool:
    """Whether `k` or more out of `n` is rarer than one in two thousand where each has probability `p`."""
    return k > n * p and binomial_tail(n, k, p) < UNUSUAL


def odds(n: int, k: int, p: float) -> str:
    """Return the tail in words: "1 in 4,000", "less than 1 in a million"."""
    tail = binomial_tail(n, k, p)
    return "less than 1 in a million" if tail < 1e-6 else f"about 1 in {parted(1 / tail)}"


def _point(n: int, k: int, p: float) -> float:
    return exp(lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1) + k * log(p) + (n - k) * log(1 - p))
