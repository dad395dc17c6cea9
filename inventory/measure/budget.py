"""How exact a sum of masses is whose parts share readings: what it takes of each elementary error, by the GUM.

An *error* is one that nothing else shares: the step of one reading, the zero of one session, a stamp on a cylinder. A
mass is written as a linear combination of such errors and, for each scale, of the one span error of that scale. Sums
and differences of masses are then sums and differences of combinations: what two masses share cancels or doubles by
itself, and no covariance has to be named. Milligrams in, milligrams out.

Sources: JCGM 100:2008, 5.1.2 for independent errors, 5.2.2 for one that several share, F.1.2.3 for writing correlated
masses by the errors that they share; worked numbers in tests/published/test_budget.py.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from math import fsum, sqrt


@dataclass(frozen=True)
class Budget:
    """What one mass takes of elementary errors, each as coefficient times standard uncertainty, with its sign.

    `errors` are by what names each, `spans` by scale. `squares` is the sum of the squares of errors that are shared
    with nothing and therefore need no name.
    """

    errors: Mapping[Hashable, float] = field(default_factory=dict)
    spans: Mapping[Hashable, float] = field(default_factory=dict)
    squares: float = 0.0

    @property
    def u(self) -> float:
        """The combined standard uncertainty."""
        named = fsum(part * part for one in (self.errors, self.spans) for part in one.values())
        return sqrt(max(self.squares, 0.0) + named)

    def __neg__(self) -> "Budget":
        """The same mass going the other way."""
        return Budget(_turned(self.errors), _turned(self.spans), self.squares)

    def __add__(self, other: "Budget") -> "Budget":
        """Two masses together."""
        return together((self, other))

    def __sub__(self, other: "Budget") -> "Budget":
        """One mass less another."""
        return together((self, -other))


NOTHING = Budget()


def together(parts: Iterable[Budget]) -> Budget:
    """Return the sum of masses; the order does not matter."""
    errors: defaultdict[Hashable, list[float]] = defaultdict(list)
    spans: defaultdict[Hashable, list[float]] = defaultdict(list)
    squares: list[float] = []
    for part in parts:
        squares.append(part.squares)
        for found, more in ((errors, part.errors), (spans, part.spans)):
            for key, value in more.items():
                found[key].append(value)
    return Budget(_summed(errors), _summed(spans), fsum(squares))


def _summed(found: Mapping[Hashable, list[float]]) -> dict[Hashable, float]:
    return {key: fsum(values) for key, values in found.items()}


def _turned(parts: Mapping[Hashable, float]) -> dict[Hashable, float]:
    return {key: -value for key, value in parts.items()}
