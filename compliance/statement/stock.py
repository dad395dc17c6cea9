"""How exact the stock at both ends of a period is, and what lies between: by the readings that each mass rests on.

Opening and closing are, cylinder by cylinder, the last reading less the empty mass, and what moved since without a
reading of that cylinder. The balance is opening and what came in, less what went out, less the closing: what is
unexplained, net. It is one sum over all readings, so what two masses share counts once: a cylinder that nobody weighed
in the period does not matter at all, an empty mass that gas came in by and went out by cancels, and the span of a scale
counts on what it weighed in and did not weigh out.

What stands on no weighing (a partner's paper, a machine's display, counted cans) is told apart in milligrams. How exact
that is nobody knows here, so it has no part in any figure.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import sqrt

from compliance.statement.balance import PERIOD, UNEXPLAINED, Balance, Sum, column
from inventory import causes
from inventory.measure.budget import Budget, together

UNWEIGHED = frozenset({"paper", "machine", "count", "declared"})
RENAMED = frozenset({"regrade", "re-identified"})  # the same gas by another name
AFTER, SINGLE = "after", "single"
Row = tuple[str, str]  # refrigerant, and grade where it is one of several
WHOLE: Row = ("", "")


@dataclass(frozen=True)
class Leg:
    """Alike movements of one cylinder since its last reading, or (`own`) in the entry of that.

    A mass into it is above zero, and uncertainties have the same sign. `movement` is given for a single one between
    two cylinders, which share it. `flow` says whether they ran between stock and something else that is not the
    unexplained, `period` whether they count in the period.
    """

    movement: int
    own: bool
    cause: str
    basis: str
    mass_mg: int
    random_mg: float
    span_mg: float
    scale: int | None
    flow: bool
    period: bool

    @property
    def is_weighed(self) -> bool:
        """Whether anything is known of how exact it is."""
        return self.basis not in UNWEIGHED and bool(self.random_mg or self.span_mg)

    def name(self, weighing: int) -> Hashable:
        """What names its error; `weighing` is the reading that it came after."""
        if self.movement:
            return ("movement", self.movement)
        return ("since", weighing, self.cause, self.basis, self.scale, self.random_mg > 0, self.flow, self.period)


@dataclass(frozen=True)
class Standing:
    """A cylinder by its last reading up to a day; standard uncertainties in milligrams."""

    account: int
    refrigerant: str
    grade: str
    weighing: int
    entry: int
    role: str
    net_mg: int
    reading_u_mg: float  # step and zero together
    step_u_mg: float
    span_u_mg: float
    tare_mg: int
    tare_u_mg: float
    scale: int
    by_paper: bool = False  # its empty mass was reckoned from what a paper says is in it
    own: tuple[Leg, ...] = ()  # in the entry of its reading
    since: tuple[Leg, ...] = ()

    @cached_property
    def held_mg(self) -> int:
        """What it holds by its reading and what moved since."""
        if any(leg.mass_mg < 0 and leg.basis == SINGLE for leg in self.own):
            return 0  # weighed and sent away with all it held
        return max(self.net_mg, 0) + sum(leg.mass_mg for leg in self.since)

    @property
    def unweighed_mg(self) -> int:
        """What of it stands on no weighing."""
        if self.by_paper:
            return self.held_mg
        return abs(sum(leg.mass_mg for leg in self.since if not leg.is_weighed and leg.cause not in RENAMED))

    @property
    def tare(self) -> Hashable:
        """What names the error of its empty mass."""
        return ("tare", self.account, self.tare_mg)

    @cached_property
    def budget(self) -> Budget:
        """What its mass takes of elementary errors; where a paper gave its empty mass, what does not come of that."""
        reading = Budget(self.of_reading())
        if not self.by_paper:
            reading = Budget({self.tare: -self.tare_u_mg, **reading.errors}, {self.scale: self.span_u_mg})
        return together((reading, *(_of_leg(leg, self.weighing) for leg in self.since if leg.is_weighed)))

    def of_reading(self) -> dict[Hashable, float]:
        """The step and the zero of its reading."""
        zero_mg = sqrt(max(self.reading_u_mg**2 - self.step_u_mg**2, 0.0))
        return {("step", self.weighing): self.step_u_mg, ("zero", self.weighing): zero_mg}


@dataclass(frozen=True)
class Passages:
    """How often a cylinder's whole content passed by one weighing in the period: into stock less out, and together."""

    account: int
    refrigerant: str
    net: int
    count: int
    tare_mg: int
    tare_u_mg: float
    by_paper: bool


@dataclass(frozen=True)
class Known:
    """A standard uncertainty in milligrams, None where nothing was weighed; and the mass that it says nothing of."""

    u_mg: float | None
    unweighed_mg: int


@dataclass(frozen=True)
class Exactness:
    """How exact one row of the statement is; a single grade has no balance, since gas is given another grade inside."""

    opening: Known
    closing: Known
    balance: Known | None


def exactness(
    balances: Sequence[Balance],
    sums: Sequence[Sum],
    opening: Sequence[Standing],
    closing: Sequence[Standing],
    passages: Sequence[Passages],
) -> dict[Row, Exactness]:
    """Return how exact each balance is, by refrigerant and grade, and `WHOLE` for all together."""
    found: dict[Row, Exactness] = {}
    whole, parts = [each for each in balances if not each.grade], []
    for each in balances:
        ends = _of(opening, each), _of(closing, each)
        between = None
        if not each.grade:
            parts.append(_balance(each, sums, *ends, passages))
            between = Known(parts[-1].u, _unweighed_flow_mg(each, sums))
        known = _known(each.opening_mg, ends[0]), _known(each.closing_mg, ends[1])
        found[each.refrigerant, each.grade] = Exactness(*known, between)
    if whole:
        found[WHOLE] = Exactness(
            _known(sum(each.opening_mg for each in whole), opening),
            _known(sum(each.closing_mg for each in whole), closing),
            Known(together(parts).u, sum(_unweighed_flow_mg(each, sums) for each in whole)),
        )
    return found


def _of(standing: Iterable[Standing], row: Balance) -> list[Standing]:
    return [one for one in standing if one.refrigerant == row.refrigerant and row.grade in ("", one.grade)]


def _known(mass_mg: int, standing: Sequence[Standing]) -> Known:
    held = [one for one in standing if one.held_mg > 0]
    weighed = [one for one in held if not one.by_paper]
    # What the readings do not account for stands in cylinders that nobody weighed.
    rest_mg = abs(mass_mg - sum(one.held_mg for one in held)) + sum(one.unweighed_mg for one in held)
    u_mg = together(one.budget for one in weighed).u if weighed or not mass_mg else None
    return Known(u_mg, rest_mg)


def _balance(
    row: Balance,
    sums: Sequence[Sum],
    opening: Sequence[Standing],
    closing: Sequence[Standing],
    passages: Sequence[Passages],
) -> Budget:
    at_start, at_end = (together(one.budget for one in each if one.held_mg > 0) for each in (opening, closing))
    shared = together(
        (
            *(_shared_with(one) for one in closing if one.held_mg > 0),
            *(_tares_of(one) for one in passages if one.refrigerant == row.refrigerant),
        )
    )
    flows = together((_flows(row, sums), shared))
    return together((at_start, flows, -at_end))


def _flows(row: Balance, sums: Sequence[Sum]) -> Budget:
    """What came in less what went out, as its lines are added up: no error of one has a name yet."""
    squares, spans = 0.0, defaultdict[Hashable, float](float)
    for each in _weighed_flows(row, sums):
        sign = 1 if each.target in causes.STOCK_KINDS else -1
        squares += each.random_sq
        if each.scale:
            spans[each.scale] += sign * each.span_mg
        else:
            squares += each.span_mg**2
    return Budget({}, spans, squares)


def _weighed_flows(row: Balance, sums: Sequence[Sum]) -> list[Sum]:
    return [each for each in _flow_sums(row, sums) if each.basis not in UNWEIGHED]


def _flow_sums(row: Balance, sums: Sequence[Sum]) -> list[Sum]:
    return [
        each
        for each in sums
        if each.refrigerant == row.refrigerant and each.phase == PERIOD and each.cause not in RENAMED
        if column(each.cause, each.source, each.target) not in (None, UNEXPLAINED)
    ]


def _unweighed_flow_mg(row: Balance, sums: Sequence[Sum]) -> int:
    return sum(abs(each.mass_mg) for each in _flow_sums(row, sums) if each.basis in UNWEIGHED)


def _shared_with(one: Standing) -> Budget:
    """Give names to the errors that the period's flows share with the last reading of a cylinder, out of their squares.

    A second reading of a pair stands in what passed with its step (its zero is that of the first); a single one, by
    which gas came in, with its step and zero. A leg since stands in both as it is.
    """
    parts = [_named({leg.name(one.weighing): leg.random_mg}) for leg in one.since if _in_flows(leg)]
    own = [leg for leg in one.own if _in_flows(leg)]
    if one.role == AFTER and any(leg.basis == "pair" for leg in own):
        parts.append(_named({("step", one.weighing): one.step_u_mg}))
    elif any(leg.basis == SINGLE and leg.mass_mg > 0 for leg in own):
        parts.append(_named(one.of_reading()))
    return together(parts)


def _in_flows(leg: Leg) -> bool:
    return leg.flow and leg.period and leg.is_weighed


def _tares_of(one: Passages) -> Budget:
    """Give its name to an empty mass by which gas came in and went out, out of the squares of the flows."""
    named: dict[Hashable, float] = (
        {} if one.by_paper else {("tare", one.account, one.tare_mg): -one.net * one.tare_u_mg}
    )
    return Budget(named, {}, -one.count * one.tare_u_mg**2)


def _named(errors: Mapping[Hashable, float]) -> Budget:
    return Budget(errors, {}, -sum(value * value for value in errors.values()))


def _of_leg(leg: Leg, weighing: int) -> Budget:
    errors = {leg.name(weighing): leg.random_mg}
    if leg.scale:
        return Budget(errors, {leg.scale: leg.span_mg})
    return Budget(errors, {}, leg.span_mg**2)
