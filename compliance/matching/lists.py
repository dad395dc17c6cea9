"""A partner's list read from CSV, and the lines of the book that passed the gate to or from the partner."""

import csv
import io
from collections.abc import Iterator, Mapping
from datetime import date

from django.db.models import Q

from compliance.matching.pairs import DELIVERED, TAKEN_BACK, Ours, Theirs
from inventory.gases.catalogue import UnknownRefrigerant, find
from inventory.measure.masses import read_mass
from inventory.measure.typed import QuantityError
from inventory.models import Movement, Partner

REQUIRED = ("date", "refrigerant", "mass")
OPTIONAL = ("paper_number", "direction")
MOST_ROWS = 2_000
MOST_FAULTS = 20
CAME = ("purchase", "returned-reclaimed", "came-back", "customer-gas-in")
WENT = ("sent-away", "heel-returned", "passed-on")
DIRECTIONS = {"": DELIVERED, DELIVERED: DELIVERED, TAKEN_BACK: TAKEN_BACK, "returned": TAKEN_BACK}


class NotAList(ValueError):
    """A file that cannot be read as a list; `faults` are sentences, each with its line."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__(" ".join(faults))
        self.faults = faults


def read_list(content: bytes) -> list[Theirs]:
    """Return the rows of a partner's list; raises NotAList that names every line which cannot be read."""
    rows, faults = [], []
    for line, cells in _cells(content):
        try:
            rows.append(_row(line, cells))
        except (ValueError, UnknownRefrigerant) as error:
            faults.append(f"Line {line}: {error}")
    if faults:
        more = [f"And {len(faults) - MOST_FAULTS} more lines."] if len(faults) > MOST_FAULTS else []
        raise NotAList(faults[:MOST_FAULTS] + more)
    if not rows:
        raise NotAList(["The file has a header and no rows."])
    return rows


def _cells(content: bytes) -> Iterator[tuple[int, Mapping[str, str]]]:
    if b"\x00" in content:
        raise NotAList(["This is no CSV text. Save the sheet as CSV in UTF-8."])
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise NotAList(["The file is not UTF-8 text. Save the sheet as CSV in UTF-8."]) from None
    head = text.partition("\n")[0]
    reader = csv.reader(io.StringIO(text), delimiter=";" if head.count(";") > head.count(",") else ",", strict=True)
    try:
        names = [name.strip().lower() for name in next(reader, [])]
        _check_header(names)
        for count, cells in enumerate((row for row in reader if any(cell.strip() for cell in row)), start=1):
            if count > MOST_ROWS:
                raise NotAList([f"The file has more than {MOST_ROWS} rows. Send it year by year."])
            if len(cells) != len(names):
                raise NotAList([f"Line {reader.line_num} has {len(cells)} cells; the header names {len(names)}."])
            yield reader.line_num, {name: cell.strip() for name, cell in zip(names, cells, strict=True)}
    except csv.Error as error:
        raise NotAList([f"The file cannot be read as CSV: {error}."]) from None


def _check_header(names: list[str]) -> None:
    missing = [name for name in REQUIRED if name not in names]
    unknown = [name or "a column without a name" for name in names if name not in REQUIRED + OPTIONAL]
    if missing:
        raise NotAList([f"The header lacks {', '.join(missing)}."])
    if unknown:
        raise NotAList([f"The header names {', '.join(unknown)[:200]}, which is not known here."])
    if len(set(names)) != len(names):
        raise NotAList(["The header names a column twice."])


def _row(line: int, cells: Mapping[str, str]) -> Theirs:
    direction = DIRECTIONS.get(cells.get("direction", "").lower())
    if direction is None:
        raise ValueError(f"direction is {DELIVERED} or {TAKEN_BACK}.")
    try:
        day = date.fromisoformat(cells["date"])
    except ValueError:
        raise ValueError("the date cannot be read. Write 2026-03-04.") from None
    try:
        mass = read_mass(cells["mass"])
    except QuantityError as error:
        raise ValueError(error.sentence) from error
    if mass.mg <= 0:
        raise ValueError("a mass is more than nothing.")
    return Theirs(day, find(cells["refrigerant"]).code, direction, mass.mg, cells.get("paper_number", "")[:60], line)


def ours_of(partner: Partner, first: date, last: date) -> list[Ours]:
    """Return the lines of the book with a partner from `first` to `last`, what is reversed left out."""
    own = set(partner.account.together().values_list("pk", flat=True))
    gate = Q(source__in=own, cause__in=CAME) | Q(target__in=own, cause__in=WENT)
    rows = (
        Movement.objects.standing()
        .filter(gate, book=partner.account.book, booked_on__range=(first, last))
        .select_related("entry__consignment", "target__cylinder", "source")
        .order_by("entry__seq", "line")
    )
    return [_line(one, one.source_id in own) for one in rows]


def _line(one: Movement, came: bool) -> Ours:
    cylinder = getattr(one.target, "cylinder", None) if came else None
    consignment = getattr(one.entry, "consignment", None)
    paper = (
        cylinder.paper_number if cylinder else (consignment.paper_number or consignment.number if consignment else "")
    )
    direction = DELIVERED if came else TAKEN_BACK
    return Ours(one.booked_on, one.refrigerant, direction, int(one.mass_mg), paper, one.entry.seq, one.u_mg)
