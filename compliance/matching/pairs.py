"""A partner's own list against the book: what both have, what only one of them has. Pure: no database.

Invoices and consignments of third parties are the only anchors outside the book. A row of theirs and a line of ours are
taken for the same delivery by the number of its paper, where that names one row and one line; else by refrigerant,
direction, day and mass, the nearest first. Each is used once, and the order of rows does not matter. Milligrams.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from math import sqrt

from inventory.measure.marks import mark

DELIVERED, TAKEN_BACK = "delivered", "taken back"
DAYS_APART = 10  # between a delivery note and the line that received it (from experience)
DELIVERED_APART, TAKEN_BACK_APART = 0.01, 0.02  # of the mass, where it is said of a pair (from experience)
SHARE_APART = 0.05  # of the mass: heel, oil and two scales lie between (from experience)


@dataclass(frozen=True, order=True)
class Theirs:
    """One row of a partner's list; `row` is its number in their file."""

    on: date
    refrigerant: str
    direction: str
    mass_mg: int
    paper: str
    row: int


@dataclass(frozen=True, order=True)
class Ours:
    """One line of the book that passed the gate to or from the partner."""

    on: date
    refrigerant: str
    direction: str
    mass_mg: int
    paper: str
    line: int
    u_mg: float = 0.0


@dataclass(frozen=True)
class Pair:
    """A row of theirs and a line of ours that are the same delivery, and how they were found to be."""

    theirs: Theirs
    ours: Ours
    by_paper: bool

    @property
    def gap_mg(self) -> int:
        """What they say more than the book, in milligrams."""
        return self.theirs.mass_mg - self.ours.mass_mg

    @property
    def beyond_two_scales(self) -> bool:
        """Whether the masses are further apart than two scales tell, theirs taken to be no better than ours.

        Of what was taken back, oil and heel stand between them too.
        """
        share, times = (TAKEN_BACK_APART, 3.0) if self.ours.direction == TAKEN_BACK else (DELIVERED_APART, 2 * sqrt(2))
        return abs(self.gap_mg) > max(share * self.ours.mass_mg, times * self.ours.u_mg)

    @property
    def agrees(self) -> bool:
        """Whether the masses differ by no more than our reading can tell (twice its standard uncertainty)."""
        return abs(self.gap_mg) <= 2 * self.ours.u_mg


@dataclass(frozen=True)
class Sum:
    """Both sides of one refrigerant and direction."""

    refrigerant: str
    direction: str
    theirs_mg: int
    ours_mg: int


@dataclass(frozen=True)
class Matched:
    """The answer; every row and every line stands in it once."""

    pairs: tuple[Pair, ...]
    only_theirs: tuple[Theirs, ...]
    only_ours: tuple[Ours, ...]
    sums: tuple[Sum, ...]


def match(theirs: Iterable[Theirs], ours: Iterable[Ours]) -> Matched:
    """Return what a partner's list and the book have in common, and what only one of them has."""
    rows, lines = sorted(theirs), sorted(ours)
    sums = _sums(rows, lines)
    pairs = _by_paper(rows, lines)
    used_rows, used_lines = {id(one.theirs) for one in pairs}, {id(one.ours) for one in pairs}
    left_rows = [one for one in rows if id(one) not in used_rows]
    left_lines = [one for one in lines if id(one) not in used_lines]
    pairs += _nearest(left_rows, left_lines)
    used_rows, used_lines = {id(one.theirs) for one in pairs}, {id(one.ours) for one in pairs}
    return Matched(
        pairs=tuple(sorted(pairs, key=lambda pair: (pair.theirs, pair.ours))),
        only_theirs=tuple(one for one in rows if id(one) not in used_rows),
        only_ours=tuple(one for one in lines if id(one) not in used_lines),
        sums=sums,
    )


def normal(paper: str) -> str:
    """Return what counts of a paper's number (see `measure.marks`); empty where it has neither letter nor digit."""
    return mark(paper) if any(char.isalnum() for char in paper) else ""


def _key(one: Theirs | Ours) -> tuple[str, str, str]:
    return normal(one.paper), one.refrigerant, one.direction


def _by_paper(rows: Sequence[Theirs], lines: Sequence[Ours]) -> list[Pair]:
    theirs: dict[tuple[str, str, str], list[Theirs]] = defaultdict(list)
    ours: dict[tuple[str, str, str], list[Ours]] = defaultdict(list)
    for row in rows:
        theirs[_key(row)].append(row)
    for line in lines:
        ours[_key(line)].append(line)
    # A number that stands twice on a side names no one delivery; nearness then decides.
    return [
        Pair(found[0], ours[key][0], by_paper=True)
        for key, found in theirs.items()
        if key[0] and len(found) == 1 and len(ours.get(key, ())) == 1
    ]


def _nearest(rows: Sequence[Theirs], lines: Sequence[Ours]) -> list[Pair]:
    candidates = [
        (abs((row.on - line.on).days), abs(row.mass_mg - line.mass_mg), row, line)
        for row in rows
        for line in lines
        if _may_be_the_same(row, line)
    ]
    candidates.sort(key=lambda one: one[:2] + (one[2], one[3]))
    used: set[int] = set()
    pairs = []
    for _days, _gap, row, line in candidates:
        if id(row) not in used and id(line) not in used:
            used |= {id(row), id(line)}
            pairs.append(Pair(row, line, by_paper=False))
    return pairs


def _may_be_the_same(row: Theirs, line: Ours) -> bool:
    near = abs((row.on - line.on).days) <= DAYS_APART
    allowed_mg = max(SHARE_APART * max(row.mass_mg, line.mass_mg), 2 * line.u_mg)
    alike = (row.refrigerant, row.direction) == (line.refrigerant, line.direction)
    return alike and near and abs(row.mass_mg - line.mass_mg) <= allowed_mg


def _sums(rows: Sequence[Theirs], lines: Sequence[Ours]) -> tuple[Sum, ...]:
    found: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    for row in rows:
        found[row.refrigerant, row.direction][0] += row.mass_mg
    for line in lines:
        found[line.refrigerant, line.direction][1] += line.mass_mg
    return tuple(Sum(*key, *found[key]) for key in sorted(found))
