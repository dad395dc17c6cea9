"""The mass balance of a period: grouped sums of the book's movements, laid out in the columns of the report.

Vocabulary: *stock* is what cylinders and rigs hold; a **Sum** is one group of movements that are alike (refrigerant,
grade, cause, kinds of account, basis, scale); a **Flow** is one column of the report with its parts by cause; a
**Balance** is one refrigerant, or one grade of it. Masses are whole milligrams, and

    opening + acquired + recovered + other - charged - sent away - air - unexplained = closing

holds exactly, since each movement stands in one column and a reversal counts with its negative mass. A movement
between two cylinders, or a cylinder and a rig, changes no stock and stands in none.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

from inventory import causes
from inventory.gases import catalogue
from inventory.measure import uncertainty

ACQUIRED, RECOVERED, OTHER = "acquired", "recovered", "other"
CHARGED, SENT_AWAY, AIR, UNEXPLAINED = "charged", "sent_away", "air", "unexplained"
VEHICLE_AIR, WORKSHOP_AIR, ROAD_AIR = "vehicle_air", "workshop_air", "road_air"

INWARD = (ACQUIRED, RECOVERED, OTHER)
OUTWARD = (CHARGED, SENT_AWAY, AIR, UNEXPLAINED)
COLUMNS = INWARD + OUTWARD
TO_AIR = (VEHICLE_AIR, WORKSHOP_AIR, ROAD_AIR)  # beside the columns: to air from vehicles too, and by whose it is

# When a movement counts: before the period; as opening stock entered on the period's first day, which was there
# before the book and so belongs to the opening; or in the period.
BEFORE, ENTERED, PERIOD = 0, 1, 2

EXPLANATIONS = frozenset({"loss-explained", "late-charge", "late-recovery"})

_BY_OTHER_END = {
    (causes.PARTNER, True): ACQUIRED,
    (causes.VEHICLE, True): RECOVERED,
    (causes.VEHICLE, False): CHARGED,
    (causes.PARTNER, False): SENT_AWAY,
    (causes.AIR, False): AIR,
    (causes.UNEXPLAINED, False): UNEXPLAINED,
    (causes.UNEXPLAINED, True): UNEXPLAINED,
}


@dataclass(frozen=True)
class Sum:
    """Alike movements added up; `phase` says whether they count into the opening or in the period.

    `random_sq` is the sum of the squared random parts of their uncertainties in mg2, `span_mg` the sum of the span
    parts with the sign of each mass. The two account ids are given for mixed content only, whose composition
    belongs to an account.
    """

    refrigerant: str
    grade: str
    cause: str
    source: str
    target: str
    mass_mg: int
    phase: int = PERIOD
    basis: str = ""
    scale: int | None = None  # its key
    random_sq: float = 0.0
    span_mg: float = 0.0
    lines: int = 1
    source_account: int = 0
    target_account: int = 0

    @property
    def stock_mg(self) -> int:
        """What these movements did to the stock: positive is more in cylinders and rigs."""
        into, out = self.target in causes.STOCK_KINDS, self.source in causes.STOCK_KINDS
        return self.mass_mg * (into - out)


@dataclass(frozen=True)
class Part:
    """A part of a column: the movements of one cause, or of one purpose of sending away."""

    cause: str
    words: str
    mass_mg: int
    lines: int


@dataclass(frozen=True)
class Flow:
    """One column: its mass, parts and what stands behind it.

    `u_mg` is the standard uncertainty of the measured part, None where none was given for anything in it. `pair_mg` and
    `declared_mg` are the masses that stand on two weighings and on somebody's word, out of `moved_mg`, in which
    corrections in both directions count without their sign.
    """

    name: str
    mass_mg: int
    parts: tuple[Part, ...]
    u_mg: float | None
    pair_mg: int
    declared_mg: int
    moved_mg: int
    lines: int

    @property
    def pair_share(self) -> float | None:
        """The part that stands on two weighings, from 0 to 1; None where nothing moved."""
        return self.pair_mg / self.moved_mg if self.moved_mg else None

    @property
    def declared_share(self) -> float | None:
        """The part that is declared and not measured, from 0 to 1; None where nothing moved."""
        return self.declared_mg / self.moved_mg if self.moved_mg else None


@dataclass(frozen=True)
class Balance:
    """One refrigerant over a period, or one grade of it where `grade` is not empty."""

    refrigerant: str
    grade: str
    opening_mg: int
    opening_entered_mg: int
    acquired: Flow
    recovered: Flow
    other: Flow
    charged: Flow
    sent_away: Flow
    air: Flow
    unexplained: Flow
    closing_mg: int
    vehicle_air: Flow
    vehicles_closing_mg: int
    workshop_air: Flow
    road_air: Flow
    workshop_from_vehicles_mg: int
    exempt_mg: int
    loss_explained_mg: int
    explained_mg: int
    vehicle_shortfall_mg: int

    @property
    def flows(self) -> tuple[Flow, ...]:
        """The columns between opening and closing, in the order of the report."""
        return tuple(getattr(self, name) for name in COLUMNS)

    @property
    def all_flows(self) -> tuple[Flow, ...]:
        """The columns, and beside them what went to air by whose it is."""
        return tuple(getattr(self, name) for name in (*COLUMNS, *TO_AIR))

    @property
    def unexplained_open_mg(self) -> int:
        """What of the unexplained is still open: net, less what was explained in the period."""
        return self.unexplained.mass_mg - self.explained_mg

    @property
    def mass_balance_mg(self) -> int:
        """Opening less closing plus acquired and recovered less charged and sent away: the "T-1 balance".

        Source of the method: 40 CFR 98.203 equation T-1. It is air plus differences less other, and not the
        workshop's emissions: what vehicles lose in the workshop's hands stands outside of it.
        """
        inward = self.acquired.mass_mg + self.recovered.mass_mg
        outward = self.charged.mass_mg + self.sent_away.mass_mg
        return self.opening_mg - self.closing_mg + inward - outward

    @property
    def bridge(self) -> tuple[tuple[str, int], ...]:
        """The steps from `mass_balance_mg` to the workshop's emissions; they add up exactly."""
        return (
            ("balance by mass (40 CFR 98.203, T-1)", self.mass_balance_mg),
            ("plus other changes of stock", self.other.mass_mg),
            ("without the unexplained, net (minus: missing)", -self.unexplained.mass_mg),
            ("plus unexplained that was found to be a loss", self.loss_explained_mg),
            ("plus lost from vehicles in our hands", self.workshop_from_vehicles_mg),
            ("less released where the rules exempt it", -self.exempt_mg),
            ("workshop's emissions to air", self.workshop_air.mass_mg),
        )


def column(cause: str, source: str, target: str) -> str | None:
    """Return the column of the report for movements of a cause between two kinds of account; None off stock."""
    into, out = target in causes.STOCK_KINDS, source in causes.STOCK_KINDS
    if into == out:
        return None
    if cause == "recovery-through-machine":
        return RECOVERED
    return _BY_OTHER_END.get((source if into else target, into), OTHER)


def flows_of(each: Sum) -> tuple[str, ...]:
    """Return the flows of the report that movements of the period stand in: a column at most, and those to air."""
    whose = _whose_air(each)
    stands = {
        column(each.cause, each.source, each.target): True,
        VEHICLE_AIR: (each.source, each.target) == (causes.VEHICLE, causes.AIR),
        WORKSHOP_AIR: whose == causes.WORKSHOP,
        ROAD_AIR: whose == causes.ON_THE_ROAD,
    }
    return tuple(name for name, so in stands.items() if so and name is not None)


def balances(sums: Iterable[Sum], *, by_grade: bool) -> tuple[Balance, ...]:
    """Return a balance for each refrigerant (or grade of it) that the sums name, in the order of the catalogue."""
    groups: dict[tuple[str, str], list[Sum]] = {}
    for each in sums:
        groups.setdefault((each.refrigerant, each.grade if by_grade else ""), []).append(each)
    return tuple(_balance(*key, groups[key]) for key in sorted(groups, key=_in_order))


def _in_order(key: tuple[str, str]) -> tuple[int, str, int]:
    """The catalogue's order (R-12 before R-134a), mixed content last; grades as the closed list has them."""
    code, grade = key
    return _places().get(code, len(_places())), code, causes.GRADES.index(grade) if grade else -1


@lru_cache(maxsize=1)
def _places() -> dict[str, int]:
    return {each.code: place for place, each in enumerate(catalogue.refrigerants())}


def flow(name: str, sums: Sequence[Sum]) -> Flow:
    """Return one column of the report; outward columns count what leaves the stock as positive."""
    known = [each for each in sums if each.basis != "declared" and (each.random_sq or each.span_mg)]
    return Flow(
        name=name,
        mass_mg=sum(_signed(name, each) for each in sums),
        parts=_parts(name, sums),
        u_mg=_u_mg(name, known) if known or not sums else None,
        pair_mg=sum(abs(each.mass_mg) for each in sums if each.basis == "pair"),
        declared_mg=sum(abs(each.mass_mg) for each in sums if each.basis == "declared"),
        moved_mg=sum(abs(each.mass_mg) for each in sums),
        lines=sum(each.lines for each in sums),
    )


def _balance(refrigerant: str, grade: str, sums: Sequence[Sum]) -> Balance:
    period = [each for each in sums if each.phase == PERIOD]
    found: dict[str, list[Sum]] = {name: [] for name in (*COLUMNS, *TO_AIR)}
    for each in period:
        for name in flows_of(each):
            found[name].append(each)
    ours = [each for each in found[WORKSHOP_AIR] if each.source == causes.VEHICLE]
    return Balance(
        refrigerant=refrigerant,
        grade=grade,
        opening_mg=sum(each.stock_mg for each in sums if each.phase != PERIOD),
        opening_entered_mg=sum(each.stock_mg for each in sums if each.phase == ENTERED),
        closing_mg=sum(each.stock_mg for each in sums),
        vehicles_closing_mg=sum(_into(each, causes.VEHICLE) for each in sums),
        workshop_from_vehicles_mg=sum(each.mass_mg for each in ours),
        exempt_mg=-sum(each.stock_mg for each in period if _whose_air(each) == causes.EXEMPT),
        loss_explained_mg=sum(each.mass_mg for each in period if each.cause == "loss-explained"),
        explained_mg=-sum(_into(each, causes.UNEXPLAINED) for each in period if each.cause in EXPLANATIONS),
        vehicle_shortfall_mg=sum(each.mass_mg for each in period if each.cause == "vehicle-shortfall"),
        **{name: flow(name, each) for name, each in found.items()},
    )


def _parts(name: str, sums: Sequence[Sum]) -> tuple[Part, ...]:
    found: dict[str, list[Sum]] = {}
    for each in sums:
        found.setdefault(each.cause, []).append(each)
    return tuple(
        Part(
            cause=cause,
            words=causes.CAUSES[cause].words,
            mass_mg=sum(_signed(name, each) for each in found[cause]),
            lines=sum(each.lines for each in found[cause]),
        )
        for cause in causes.CAUSES
        if cause in found
    )


def _signed(name: str, each: Sum) -> int:
    if name in INWARD:
        return each.stock_mg
    return -each.stock_mg if name in OUTWARD else each.mass_mg


def _u_mg(name: str, sums: Iterable[Sum]) -> float:
    parts = (
        (str(each.scale or ""), uncertainty.U(sqrt(each.random_sq), abs(each.span_mg)), _span_sign(name, each))
        for each in sums
    )
    return uncertainty.total(parts).total_g


def _span_sign(name: str, each: Sum) -> int:
    turned = -1 if name in OUTWARD and each.target in causes.STOCK_KINDS else 1
    turned = -turned if name in INWARD and each.source in causes.STOCK_KINDS else turned
    return turned if each.span_mg >= 0 else -turned


def _whose_air(each: Sum) -> str:
    return causes.CAUSES[each.cause].whose_air if each.target == causes.AIR else ""


def _into(each: Sum, kind: str) -> int:
    return each.mass_mg * ((each.target == kind) - (each.source == kind))
