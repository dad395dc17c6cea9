"""What a gross reading of a cylinder can be, and what would be usual: before it is written, beside its field.

Three answers, and they are kept apart. What physics forbids is refused: less than the empty cylinder, more than it
holds full of cold liquid, more than the scale carries. What happens but seldom is a question that can be answered with
"it does read so": far over the filling limit, or far from what the book has in it. (How much a vehicle takes is for the
floor above to ask.) What is usual serves to find the slip of the hand that was meant. Over a limit of the rules is a
fact like any other, and can be written.

Masses in whole milligrams. Reads the book, writes nothing.
"""

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from inventory.book import ledger, weighing
from inventory.book.weighing import Gross
from inventory.gases import fluids
from inventory.gases.catalogue import MIXED
from inventory.measure.displays import in_book, in_pounds, small
from inventory.measure.own import WATER_KG_M3
from inventory.models import Cylinder, Weighing
from inventory.shelf import queries
from inventory.shelf.limits import filling_limit

COLDEST_K = 233.15
"""-40 °C, the coldest at which a cylinder is taken to be weighed; liquid is densest there. A choice of ours."""
DENSEST_KG_M3 = 1650.0
"""No refrigerant of the catalogue by itself is denser at `COLDEST_K` (a test holds it, R-13I1 of blends apart): for a
mixture, or where there are no data."""
PLATE_SPARE = 1.05
"""A plate gives the least that a cylinder takes in; 5 per cent more is common practice, no source."""
MUCH_OVER = 1.10  # of a filling limit: below that it is a matter of the rules, not of a slip
MOST_LEG_MG = 3_000_000
"""More than this in one go is unusual where nothing else is known: cars hold up to 1.5 kg. Common practice."""
OFF_BY, NEAR_BY = 0.25, 0.05  # of an expected mass: asked about beyond the one, where a slip leads within the other


@dataclass(frozen=True)
class Expected:
    """What a caller knows of a reading beforehand; masses in milligrams.

    `first` is the reading before of a pair (else the one that stands open counts). `gains` says which way the mass
    goes: True into the cylinder, False out of it, None either. `most_mg` is the most that one leg can be thought to
    move, `about_mg` what this one is for. `net_mg` is the content by a paper. `alone`: there is nothing to compare
    with (an old line put right, a cylinder that comes back). `is_tare`: the reading is that of the empty cylinder.
    """

    first: Gross | None = None
    gains: bool | None = None
    most_mg: int | None = None
    about_mg: int | None = None
    net_mg: int | None = None
    alone: bool = False
    is_tare: bool = False


@dataclass(frozen=True)
class Judge:
    """Judges readings of one cylinder on one scale; `unit` is the book's, kg or lb."""

    gross: Gross  # as it was read
    expected: Expected
    unit: str = "kg"
    jurisdiction: str = ""

    def cannot(self, gross_mg: int) -> str | None:
        """Return why the cylinder cannot weigh so much or so little on this scale, or None."""
        scale, gross = self.gross.scale, replace(self.gross, gross_mg=gross_mg)
        said = self.gross.typed if gross_mg == self.gross.gross_mg else scale.step.show(gross_mg)
        if scale.capacity_mg is not None and gross_mg > scale.capacity_mg:
            return (
                f"{said} is more than {scale} carries ({in_book(int(scale.capacity_mg), self.unit)}). "
                "Check the number and its unit, or choose the other scale."
            )
        if self.expected.is_tare:
            return None
        if (below := weighing.below_tare(gross)) is not None:
            return below
        full_mg = self._full_mg
        if full_mg is None or self._net_mg(gross_mg) <= full_mg + 2000 * weighing.single_u(gross).total_g:
            return None
        what = "the densest gas here" if self._code == MIXED else self._code
        return (
            f"{said} gross is {in_book(self._net_mg(gross_mg), self.unit)} net, and full of {what}, liquid at "
            f"{'−40 °F' if in_pounds(self.unit) else '−40 °C'}, it holds {in_book(full_mg, self.unit)} "
            f"({self._capacity_said}). Read the scale again, or correct the water capacity or the empty mass first."
        )

    def doubt(self, gross_mg: int) -> str | None:
        """Return the question that an unusual reading raises, or None."""
        net_mg = self._net_mg(gross_mg)
        if self.expected.is_tare:
            return self._other_tare(gross_mg)
        limit_mg, limit_words = self._limit
        rises = (self._held_mg is None or net_mg > self._held_mg) and not self._is_a_leg(gross_mg)
        if limit_mg is not None and net_mg > MUCH_OVER * limit_mg and rises:
            return (
                f"{in_book(net_mg, self.unit)} net is far more than it may hold ({in_book(limit_mg, self.unit)}, "
                f"{limit_words}). Does the scale read so?"
            )
        if self._first_mg is None and self._held_mg is not None and not self.agrees(gross_mg):
            gained_mg = net_mg - self._held_mg
            if gained_mg > max(self._held_mg, MOST_LEG_MG // 10) or abs(gained_mg) > MOST_LEG_MG:
                way = "more" if gained_mg > 0 else "less"
                return (
                    f"That is {small(abs(gained_mg), self.unit)} {way} than the book has in it. Does the scale read so?"
                )
        return None

    def agrees(self, gross_mg: int) -> bool:
        """Whether a reading is as it would be if nothing had slipped; true where nothing is known to compare with."""
        if self.expected.is_tare:
            return True
        if self._first_mg is not None:
            return self._as_meant(gross_mg - self._first_mg)
        if self._held_mg is None:
            return True
        difference_mg = self._net_mg(gross_mg) - self._held_mg
        return abs(difference_mg) <= self._can_tell_mg(gross_mg, difference_mg)

    def compares(self) -> bool:
        """Whether there is anything that a reading is compared with."""
        leg = self._first_mg is not None and self.expected.about_mg is not None
        return leg or (self._first_mg is None and self._held_mg is not None and not self.expected.is_tare)

    def apart(self, gross_mg: int) -> str:
        """Return how far a reading is from the one that it was compared with, as a sentence."""
        if self._first_mg is not None:
            moved_mg, about_mg = abs(gross_mg - self._first_mg), self.expected.about_mg or 0
            return f"By this {small(moved_mg, self.unit)} moved, where {small(about_mg, self.unit)} was meant."
        gap_mg = self._net_mg(gross_mg) - (self._held_mg or 0)
        than = "the paper says" if self.expected.net_mg is not None else "the book has"
        return f"That is {small(abs(gap_mg), self.unit)} {'more' if gap_mg > 0 else 'less'} than {than}."

    def _is_a_leg(self, gross_mg: int) -> bool:
        """Whether what passed between two readings is no more than a leg moves: acts judge the limit then."""
        most_mg, first_mg = self.expected.most_mg, self._first_mg
        return most_mg is not None and first_mg is not None and abs(gross_mg - first_mg) <= most_mg

    def _as_meant(self, gained_mg: int) -> bool:
        way = self.expected.gains
        if way is not None and gained_mg and (gained_mg > 0) != way:
            return False
        about_mg, most_mg = self.expected.about_mg, self.expected.most_mg
        if about_mg:
            return abs(abs(gained_mg) - about_mg) <= OFF_BY * about_mg
        return most_mg is None or abs(gained_mg) <= most_mg

    def near(self, gross_mg: int) -> bool:
        """Whether a reading that a slip leads to is what was meant, closely: so that few are proposed in vain."""
        about_mg = self.expected.about_mg
        if self._first_mg is not None and about_mg:
            gained_mg = gross_mg - self._first_mg
            return self._as_meant(gained_mg) and abs(abs(gained_mg) - about_mg) <= NEAR_BY * about_mg
        return self.agrees(gross_mg)

    def _other_tare(self, gross_mg: int) -> str | None:
        tare_mg = int(self.gross.cylinder.tare_mg)
        if tare_mg and abs(gross_mg - tare_mg) > tare_mg / 10:
            said, was = self.gross.scale.step.show(gross_mg), in_book(tare_mg, self.unit)
            return f"{said} is far from the empty mass that stands in the book ({was}). Does the scale read so?"
        return None

    def _net_mg(self, gross_mg: int) -> int:
        return max(gross_mg - int(self.gross.cylinder.tare_mg), 0)

    def _can_tell_mg(self, gross_mg: int, difference_mg: int) -> int:
        gross = replace(self.gross, gross_mg=gross_mg)
        if self.expected.net_mg is not None:  # a paper: half a per cent, and what one reading and the tare can tell
            return round(2000 * weighing.single_u(gross).total_g + self.expected.net_mg / 100)
        return weighing.can_tell_mg(gross, self._last, difference_mg)

    @property
    def _capacity_m3(self) -> float:
        return self.gross.cylinder.water_capacity_m3 or 0.0

    @property
    def _capacity_said(self) -> str:
        if in_pounds(self.unit):
            return f"{self._capacity_m3 * WATER_KG_M3 / 0.45359237:.1f} lb of water"
        return f"water capacity {self._capacity_m3 * 1000:.4g} L"

    @property
    def _first_mg(self) -> int | None:
        if self.expected.alone or self.expected.is_tare:
            return None
        if self.expected.first is not None:
            return self.expected.first.gross_mg
        last = self._last
        return int(last.gross_mg) if last is not None and last.is_open else None

    @cached_property
    def _last(self) -> Weighing | None:
        return ledger.last_weighing(self.gross.account) if self.gross.cylinder.account_id else None

    @cached_property
    def _content(self) -> tuple[str, str, int] | None:
        return queries.content_of(self.gross.account) if self.gross.cylinder.account_id else None

    @property
    def _held_mg(self) -> int | None:
        """What it should hold by the book or a paper; None where nothing is known of it."""
        if self.expected.net_mg is not None:
            return self.expected.net_mg
        if self.expected.alone or (self._last is None and self._content is None):
            return None
        return self._content[2] if self._content else 0

    @property
    def _code(self) -> str:
        """The refrigerant whose liquid may fill it; MIXED where that is not one, or in doubt."""
        code, grade, _ = self._content or (self.gross.cylinder.refrigerant, self.gross.cylinder.grade, 0)
        return MIXED if grade == "suspect" else code

    @cached_property
    def _full_mg(self) -> int | None:
        if not self._capacity_m3 or self.gross.cylinder.kind == Cylinder.CANS:
            return None
        return round(PLATE_SPARE * self._capacity_m3 * liquid_kg_m3(self._code) * 1_000_000)

    @cached_property
    def _limit(self) -> tuple[int | None, str]:
        """The filling limit in milligrams and the rule that sets it."""
        cylinder = self.gross.cylinder
        if not cylinder.account_id and self._code == MIXED:
            return None, ""
        limit = filling_limit(cylinder, self._code, self.jurisdiction)
        return (None, "") if limit is None else (limit.max_net_mg, limit.words)


@lru_cache(maxsize=64)
def liquid_kg_m3(code: str) -> float:
    """Return the density of a refrigerant's liquid at `COLDEST_K`, in kg/m3; the densest where it is not known."""
    try:
        return fluids.liquid_density_kg_m3(code, COLDEST_K)
    except (fluids.FluidError, LookupError):
        return DENSEST_KG_M3
