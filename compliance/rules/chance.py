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


def tail_beside(n: int, k: int, others_n: int, others_k: int) -> float:
    """Return the probability of `k` or more out of `n` where only `others_k` out of `others_n` tell the share.

    Where others are few, hardly anything is rare: a share known from few says little (a beta-binomial tail; half a hit
    and one and a half misses stand before the others' count, so that none of few does not mean never).
    """
    if not 0 <= others_k <= others_n or n < 0:
        raise ValueError("A count lies between none and all.")
    if k <= 0:
        return 1.0
    hits, misses = others_k + 0.5, others_n - others_k + 1.5
    each = (exp(_ways(n, i) + _log_beta(i + hits, n - i + misses) - _log_beta(hits, misses)) for i in range(k, n + 1))
    return min(1.0, sum(each))


def together(first: float, second: float) -> float:
    """Return the probability that two independent tails come to a product as small as theirs (R. A. Fisher, 1932)."""
    product = first * second
    return product * (1 - log(product)) if product > 0 else 0.0


def unusual(n: int, k: int, p: float) -> bool:
    """Whether `k` or more out of `n` is rarer than one in two thousand where each has probability `p`."""
    return k > n * p and binomial_tail(n, k, p) < UNUSUAL


def odds(n: int, k: int, p: float) -> str:
    """Return the tail in words: "1 in 4,000", "less than 1 in a million"."""
    return in_words(binomial_tail(n, k, p))


def in_words(tail: float) -> str:
    """Return a probability in words."""
    return "less than 1 in a million" if tail < 1e-6 else f"about 1 in {parted(1 / tail)}"


def _point(n: int, k: int, p: float) -> float:
    return exp(_ways(n, k) + k * log(p) + (n - k) * log(1 - p))


def _ways(n: int, k: int) -> float:
    return lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1)


def _log_beta(a: float, b: float) -> float:
    return lgamma(a) + lgamma(b) - lgamma(a + b)
