"""The first rows of a sheet as they would be written, in the words and units of who looks at them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from inventory.causes import CAUSES
from inventory.measure.own import Units
from shop.importing.sheets.looking import SHOWN, Look
from shop.importing.sheets.moves import Plain


@dataclass(frozen=True)
class Line:
    """One movement as a row of the page."""

    row: int
    day: str
    what: str
    ends: str
    mass: str
    gas: str
    person: str


@dataclass(frozen=True)
class Preview:
    """What the page shows of a sheet."""

    lines: list[Line]
    found: Look

    @property
    def faulty_rows(self) -> int:
        """In how many rows something is to be put right."""
        return len({one.row for one in self.found.faults})

    @property
    def movements(self) -> int:
        """How many movements the rows that were looked at come to."""
        return len(self.found.moves)


def preview(found: Look, units: Units) -> Preview:
    """Return the first rows of a sheet as they would be written."""
    return Preview([_line(row, move, units) for row, move in found.moves[:SHOWN]], found)


def _line(row: int, move: Plain, units: Units) -> Line:
    at = datetime.fromisoformat(move["occurred_at"])
    clock = "" if (at.hour, at.minute) == (12, 0) else f" {units.clock_said(at)}"
    names = (move["from_name"] or move["from_kind"], move["to_name"] or move["to_kind"])
    mass_mg = int(move["mass"].split()[0])
    said = units.small_mass_said(mass_mg) if "vehicle" in _kinds(move) else units.mass_said(mass_mg)
    return Line(
        row=row,
        day=f"{units.day_said(at.date())}{clock}",
        what=CAUSES[move["cause"]].words,
        ends=" to ".join(names),
        mass=said,
        gas=f"{move['refrigerant']} {move['grade']}",
        person=move["person"],
    )


def _kinds(move: Plain) -> Iterable[str]:
    return move["from_kind"], move["to_kind"]
