"""One row of a sheet as movements in the plain form, which `shop.importing.read` takes, with what is odd of it. Pure.

A row says what was charged, recovered, bought, sent or lost, each a movement. What the row does not name, the matching
does: the refrigerant, a cylinder, who. Rows that are no movements (totals, notes, headers again) are told and left out.
"""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from inventory import causes
from inventory.gases.catalogue import UnknownRefrigerant, find
from inventory.measure.typed import QuantityError, quote
from inventory.measure.units import clean_text, find_unit
from shop.importing.sheets import cells
from shop.importing.sheets.cells import DITTO, NO_VALUE, Cell, text_of
from shop.importing.sheets.columns import AMOUNTS, MEANINGS, MOVED, Matching

LONGEST = {"vehicle": 20, "cylinder": 60, "partner": 120, "person": 120}
CAUSES = {
    "charged": "charge",
    "recovered": "recovery",
    "bought": "purchase",
    "sent": "sent-away",
    "lost": "leaked-from-stock",
    "stock": "opening-stock",
}

Plain = dict[str, str]  # a movement by the columns of the plain form


@dataclass(frozen=True)
class Said:
    """Something about a row: the column it stands in ("" for the row), and a sentence."""

    row: int
    column: str
    words: str


@dataclass
class Understood:
    """What a row came to: movements; faults, for which it cannot be taken; notes; why it was left out."""

    row: int
    moves: list[Plain] = field(default_factory=list)
    faults: list[Said] = field(default_factory=list)
    notes: list[Said] = field(default_factory=list)
    left_out: str = ""


class Reader:
    """Reads the rows of one sheet in their order: what a row leaves to the one above is known then."""

    def __init__(self, matching: Matching, headers: Sequence[str], zone: ZoneInfo) -> None:
        self.matching, self.headers, self.zone = matching, headers, zone
        self.one = {meaning: place for place, meaning in sorted(matching.columns.items()) if meaning not in AMOUNTS}
        self.amounts = [(place, meaning) for place, meaning in sorted(matching.columns.items()) if meaning in AMOUNTS]
        self.notes = matching.places("note")
        self.words = [clean_text(header).casefold() for header in headers]
        self.above: list[Cell] = []
        self.day: tuple[date, time | None] | None = None
        self.seen: dict[int, int] = {}  # rows of the same cells, so that each has a key of its own

    def read(self, row: int, found: Sequence[Cell]) -> Understood:
        """Return what a row says."""
        whole = [*found, *[None] * (len(self.headers) - len(found))]
        line = [self._ditto(cell, place) for place, cell in enumerate(whole)]
        self.above = line
        said = Understood(row)
        texts = [text_of(cell) for cell in line]
        if [text.casefold() for text in texts[: len(self.words)]] == self.words:
            said.left_out = "the headers again"
            return said
        amounts = self._amounts(said, line)
        if said.left_out or not self._is_taken(said, texts, amounts):
            return said
        moment = self._moment(said, line)
        self._move(said, texts, amounts, moment)
        if said.faults:
            said.moves = []
        return said

    def _ditto(self, cell: Cell, place: int) -> Cell:
        is_ditto = isinstance(cell, str) and cell.strip().casefold() in DITTO
        return self.above[place] if is_ditto and place < len(self.above) else cell

    def _amounts(self, said: Understood, line: Sequence[Cell]) -> dict[str, int]:
        """Return the milligrams of each meaning; columns of one meaning are added, such as pounds and ounces."""
        amounts: dict[str, int] = {}
        in_row = self._unit_of_row(said, line)
        for place, meaning in self.amounts:
            unit = in_row or self.matching.units.get(place, "")
            try:
                mg, own = cells.amount_mg(line[place], unit, self.matching.mark)
            except QuantityError as error:
                said.faults.append(Said(said.row, self.headers[place], str(error)))
                amounts.setdefault(meaning, 0)
                continue
            if mg:
                amounts[meaning] = amounts.get(meaning, 0) + mg
            if own and unit and own != unit and own != "lb oz":
                words = f"{quote(text_of(line[place]))} names {own} in a column of {unit}; taken as it is written."
                said.notes.append(Said(said.row, self.headers[place], words))
        return amounts

    def _unit_of_row(self, said: Understood, line: Sequence[Cell]) -> str:
        if (place := self.one.get("unit")) is None or not (text := text_of(line[place])):
            return ""
        unit = find_unit(text, "mass")
        if unit is None:
            said.faults.append(Said(said.row, self.headers[place], f"{quote(text)} is no unit of mass known here."))
        return unit.word if unit else ""

    def _is_taken(self, said: Understood, texts: Sequence[str], amounts: Mapping[str, int]) -> bool:
        """Say why a row is no movement, where it is none: a total, a note, a day without an amount."""
        named = [self._text(texts, name) for name in ("day", "vehicle", "cylinder", "from_cylinder", "to_cylinder")]
        has_day = any(char.isdigit() for char in self._text(texts, "day"))
        if not has_day and cells.is_total([text for text in texts if text][:3]):
            said.left_out = "it says that it is a total"
        elif amounts and not any(named) and not self._text(texts, "what"):
            said.left_out = "amounts without a day, a vehicle or a cylinder: taken for a total"
        elif not amounts:
            said.left_out = "it has no amount"
        if said.left_out:
            said.faults = []
        return not said.left_out

    def _moment(self, said: Understood, line: Sequence[Cell]) -> datetime | None:
        place = self.one["day"]
        try:
            if not text_of(line[place]) and self.matching.empty_day and self.day:
                day, at = self.day
            elif not text_of(line[place]):
                raise QuantityError("The day is empty. Enter it, or choose above that it is the day of the row above.")
            else:
                day, at = cells.day_of(line[place], self.matching.order)
                self.day = day, at
            if (clock := self.one.get("time")) is not None:
                place = clock
                at = cells.time_of(line[clock]) or at
        except QuantityError as error:
            said.faults.append(Said(said.row, self.headers[place], str(error)))
            return None
        return datetime.combine(day, at or time(12), self.zone)

    def _text(self, texts: Sequence[str], meaning: str) -> str:
        place = self.one.get(meaning)
        return "" if place is None or texts[place] in ("-", "0") else texts[place]

    def _move(self, said: Understood, texts: list[str], amounts: dict[str, int], moment: datetime | None) -> None:
        """Add the movements of a row, or what is missing for them."""
        if "amount" in amounts:
            self._by_word(said, texts, amounts)
        code = self._refrigerant(said, texts)
        person = self._text(texts, "person") or self.matching.person
        if not person:
            self._miss(said, "person", "Nobody is named. Enter who did it, or name somebody for such rows above.")
        note = "; ".join(self._note(place, texts) for place in self.notes if texts[place])
        number = self._number(texts)
        for part, meaning in enumerate(one for one in (*MOVED, *sorted(causes.CAUSES)) if amounts.get(one)):
            cause = CAUSES.get(meaning, meaning)
            ends = self._ends(said, cause, meaning, texts, code, charged=bool(amounts.get("charged")))
            if ends is None or moment is None or not code or not person:
                continue
            said.moves.append(
                {
                    "occurred_at": moment.isoformat(),
                    "cause": cause,
                    "refrigerant": code,
                    "grade": self._grade(said, texts, meaning),
                    "from_kind": ends[0][0],
                    "from_name": ends[0][1],
                    "to_kind": ends[1][0],
                    "to_name": ends[1][1],
                    "mass": f"{amounts[meaning]} mg",
                    "person": self._short(said, "person", person),
                    "note": note,
                    "key": f"sheet:{number}:{part}",
                    "basis": "paper",
                }
            )

    def _by_word(self, said: Understood, texts: Sequence[str], amounts: dict[str, int]) -> None:
        """Put the amount of a row under what another column says was done."""
        mg, word = amounts.pop("amount"), self._text(texts, "what")
        kind = word if word in causes.CAUSES else cells.what_was_done(word)
        if kind is None:
            known = ", ".join(name for name in MOVED)
            self._miss(said, "what", f"{quote(word)} does not say what was done. Write one of: {known}.")
        elif mg:
            amounts[kind] = amounts.get(kind, 0) + mg

    def _miss(self, said: Understood, meaning: str, words: str) -> None:
        place = self.one.get(meaning)
        column = self.headers[place] if place is not None else ""
        if not any(one.words == words for one in said.faults):
            said.faults.append(Said(said.row, column, words))

    def _refrigerant(self, said: Understood, texts: Sequence[str]) -> str:
        text = self._text(texts, "refrigerant") or self.matching.refrigerant
        if not text:
            self._miss(said, "refrigerant", "No refrigerant is named. Enter it, or name one for such rows above.")
            return ""
        try:
            return find(text).code
        except UnknownRefrigerant as error:
            self._miss(said, "refrigerant", str(error))
            return ""

    def _grade(self, said: Understood, texts: Sequence[str], meaning: str) -> str:
        text = self._text(texts, "grade").casefold()
        if text in causes.GRADES:
            return text
        if text:
            self._miss(said, "grade", f"{quote(text)} is no grade. The grades are {', '.join(causes.GRADES)}.")
        return "recovered" if meaning == "recovered" else self.matching.grade

    def _ends(
        self, said: Understood, cause: str, meaning: str, texts: Sequence[str], code: str, *, charged: bool
    ) -> tuple[tuple[str, str], tuple[str, str]] | None:
        """Return from where to where a movement runs; None where an end is not named."""
        routes = sorted(route for route in causes.CAUSES[cause].routes if causes.PROCESS not in route)
        if not routes or causes.RIG in routes[0]:
            self._miss(said, "what", f"{cause} cannot be brought from a sheet; the plain form takes it.")
            return None
        own = self._text(texts, "cylinder")
        stock = self._text(texts, "from_cylinder") or own or _of(self.matching.cylinder, code)
        tank = self._text(texts, "to_cylinder") or ("" if charged else own) or _of(self.matching.tank, code)
        names = {
            causes.CYLINDER: tank if meaning == "recovered" else stock,
            causes.VEHICLE: self._text(texts, "vehicle"),
            causes.PARTNER: self._text(texts, "partner") or self.matching.partner,
        }
        route = next((one for one in routes if all(names.get(kind, "-") for kind in one)), routes[0])
        ends = []
        for kind in route:
            name = "" if kind in causes.SINGLE_KINDS else names[kind]
            if kind not in causes.SINGLE_KINDS and not name:
                self._miss(said, kind, _MISSING[kind].format(what=MEANINGS.get(meaning, cause)))
                return None
            ends.append((kind, self._short(said, kind, name)))
        return ends[0], ends[1]

    def _short(self, said: Understood, kind: str, name: str) -> str:
        if len(name) > LONGEST.get(kind, 120):
            self._miss(said, kind, f"{quote(name[:30] + '...')} is longer than {LONGEST[kind]} characters.")
        return name

    def _note(self, place: int, texts: Sequence[str]) -> str:
        text = "" if texts[place] == NO_VALUE else texts[place]
        return text if len(self.notes) == 1 else f"{self.headers[place]}: {text}"

    def _number(self, texts: Sequence[str]) -> str:
        """Return what knows this row again in a later file: its cells, and how many such rows stood above it."""
        digest = hashlib.sha256("\0".join(texts).rstrip("\0").encode()).hexdigest()[:24]
        key = int(digest[:16], 16)
        times = self.seen[key] = self.seen.get(key, 0) + 1
        return f"{digest}:{times}"


_MISSING = {
    causes.VEHICLE: "{what}: no vehicle is named. Enter its plate, or another name for it.",
    causes.CYLINDER: "{what}: no cylinder is named. Enter it, or name one for such rows above.",
    causes.PARTNER: "{what}: no supplier or receiver is named. Enter it, or name one for such rows above.",
}


def _of(name: str, code: str) -> str:
    return f"{name} {code}" if name and code else ""


def understood(reader: Reader, rows: Iterator[tuple[int, list[Cell]]]) -> Iterator[Understood]:
    """Yield what each row below the headers says."""
    for row, found in rows:
        if row > reader.matching.head:
            yield reader.read(row, found)
