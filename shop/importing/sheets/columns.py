"""What the columns of a sheet mean: guessed from their headers, chosen by a person, kept as a `Matching`. Pure."""

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Self

from inventory.measure.units import clean_text, find_unit

# Each meaning with its words on the page. Those of AMOUNTS are masses.
MEANINGS = {
    "": "not used",
    "day": "day",
    "time": "time",
    "vehicle": "vehicle: its plate or another name",
    "refrigerant": "refrigerant",
    "grade": "grade: virgin, recovered, recycled, reclaimed",
    "cylinder": "cylinder: charged from it, else recovered into it",
    "from_cylinder": "cylinder that was charged from",
    "to_cylinder": "cylinder that was recovered into",
    "charged": "amount charged",
    "recovered": "amount recovered",
    "bought": "amount bought or received",
    "sent": "amount sent away",
    "lost": "amount lost from a cylinder to air",
    "stock": "amount held at the beginning",
    "amount": "amount of what another column says was done",
    "what": "what was done",
    "unit": "unit of the amounts in the row",
    "partner": "supplier or receiver",
    "person": "who did it",
    "note": "note",
}
MOVED = ("stock", "bought", "recovered", "charged", "sent", "lost")  # in the order in which a row's are written
AMOUNTS = (*MOVED, "amount")
SEVERAL = (*AMOUNTS, "note")  # meanings that more columns than one may have: pounds and ounces, two notes
UNITS = ("g", "kg", "oz", "lb", "lb oz", "mg")

# Beginnings and parts of words by which a header is known, asked in this order.
_WORDS: tuple[tuple[str, str], ...] = (
    ("recovered into|recovery (cyl|tank|bottle)|rückgewinnungsflasche|into (cyl|tank)", "to_cylinder"),
    ("(charged|from|charge|virgin) (from|cyl|tank|bottle)|from cyl", "from_cylinder"),
    (r"recover|reclaimed|removed|evacuated|abgesaugt|absaug|rückgew|entnommen|entnahme|récup|\bout\b", "recovered"),
    (r"opening|begin|anfangsbestand|on hand|in stock|stock|bestand", "stock"),
    (r"bought|purchas|receiv|deliver|einkauf|zugang|zukauf|acheté|compra", "bought"),
    (r"sent|ship|returned|abgang|abgegeben|entsorg|envoy", "sent"),
    (r"lost|loss|vent|leaked|verlust|perte|pérdida", "lost"),
    (r"charg|fill|added|gefüllt|füllmenge|befüll|nachgef|eingefüllt|install|carga|\bin\b", "charged"),
    (r"\btag ?(#|no|num)|unit ?(#|no\b)", "vehicle"),
    (r"date|\bday\b|datum|\btag\b|fecha|jour", "day"),
    (r"\btime\b|uhrzeit|\bzeit\b|hora|heure", "time"),
    (r"refrigerant|gas\b|kältemittel|réfrig|fluide|\bref\.?\b|type of ref", "refrigerant"),
    (r"vehicle|plate|registration|licen[sc]e|kennzeichen|fahrzeug|\bcar\b|truck|\bbus\b|immatric|\bvin\b", "vehicle"),
    (r"cyl|tank|bottle|flasche|drum|botella|bouteille|serial", "cylinder"),
    (r"tech|mechanic|person|\bwho\b|\bby\b|employee|operator|monteur|mitarbeiter|bearbeiter|name|técnico", "person"),
    (r"supplier|vendor|receiver|lieferant|händler|proveedor|fournisseur|sold to|\bfrom\b", "partner"),
    (r"\bwhat\b|action|activity|operation|transaction|\btype\b|vorgang|art\b|tätigkeit", "what"),
    (r"\bunits?\b|\buom\b|einheit", "unit"),
    (r"grade|condition|virgin|qualität", "grade"),
    (r"amount|qty|quantity|weight|mass|menge|masse|gewicht|cantidad|quantité", "amount"),
    (r"note|remark|comment|invoice|bemerk|notiz|rechnung|paper|mileage|odometer|job|order|auftrag|kunde", "note"),
)  # fmt: skip


@dataclass(frozen=True)
class Matching:
    """What was chosen for a sheet. `head` is the row of the headers; columns are counted from 0."""

    sheet: str = ""
    head: int = 1
    columns: Mapping[int, str] = field(default_factory=dict)  # a column to its meaning
    units: Mapping[int, str] = field(default_factory=dict)  # of columns of amounts, for bare numbers
    order: str = "ymd"
    mark: str = "."
    empty_day: bool = False  # an empty day is that of the row above
    reckon_stock: bool = True  # opening stock, as much as the rows need
    refrigerant: str = ""
    grade: str = "virgin"
    cylinder: str = ""
    tank: str = ""
    partner: str = ""
    person: str = ""
    people: Mapping[str, str] = field(default_factory=dict)  # a name to a handle, or to what is new: `people` beside
    leave_out: bool = False  # rows with faults, so that the others are written

    @classmethod
    def of(cls, kept: Mapping[str, Any]) -> Self:
        """Return the matching that was kept as JSON."""
        known = {name: value for name, value in kept.items() if name in cls.__dataclass_fields__}
        for name in ("columns", "units"):
            known[name] = {int(column): said for column, said in known.get(name, {}).items()}
        return cls(**known)

    def kept(self) -> dict[str, Any]:
        """Return it as JSON keeps it."""
        return {**asdict(self), **{name: dict(getattr(self, name)) for name in ("columns", "units", "people")}}

    def places(self, meaning: str) -> list[int]:
        """Return the columns of a meaning."""
        return [column for column, one in sorted(self.columns.items()) if one == meaning]


def meaning_of(header: str) -> str:
    """Return what a header probably means, nothing where no word of it is known."""
    said = clean_text(header).casefold()
    return next((meaning for words, meaning in _WORDS if said and re.search(words, said)), "")


def unit_in(header: str) -> str:
    """Return the unit that a header names, such as oz in "Charged (oz)"; nothing where it names none."""
    said = [
        unit.word for part in re.split(r"[\s()\[\]/,;:.&_-]+", clean_text(header)) if part and (unit := _mass(part))
    ]
    words = list(dict.fromkeys(said))
    if words == ["lb", "oz"]:
        return "lb oz"
    return words[0] if len(words) == 1 and words[0] in UNITS else ""


def _mass(part: str) -> Any:
    return find_unit(part, "mass") if part not in ("t", "T") else None


def guessed(headers: Sequence[str]) -> tuple[dict[int, str], dict[int, str]]:
    """Return the probable meaning of each column, and the units that headers name; one column for each meaning."""
    columns: dict[int, str] = {}
    for place, header in enumerate(headers):
        meaning = meaning_of(header)
        taken = meaning in columns.values()
        if meaning in AMOUNTS and taken and not unit_in(header) or meaning and meaning not in SEVERAL and taken:
            meaning = "note"
        columns[place] = meaning
    if "what" not in columns.values():  # an amount alone says nothing of what it was
        columns = {place: "" if meaning == "amount" else meaning for place, meaning in columns.items()}
    units = {place: unit_in(headers[place]) for place, meaning in columns.items() if meaning in AMOUNTS}
    return columns, units


def head_of(rows: Sequence[tuple[int, Sequence[str]]]) -> int:
    """Return the row in which the headers probably stand: the first with the most that are known."""
    scores = [(sum(bool(meaning_of(text)) for text in texts if len(text) < 60), -row) for row, texts in rows]
    best = max(scores, default=(0, -1))
    if best[0] >= 2:
        return -best[1]
    return next((row for row, texts in rows if sum(bool(text) for text in texts) >= 2), 1)


def order_of(days: Sequence[str], otherwise: str) -> str:
    """Return how days in figures are probably written: what can only be a day says it, and dots mean day first."""
    found = [one for text in days if (one := re.match(r"(\d{1,2})([-/.])(\d{1,2})\2\d{2}", text.strip()))]
    if any(int(one[1]) > 12 for one in found):
        return "dmy"
    if any(int(one[3]) > 12 for one in found):
        return "mdy"
    return "dmy" if found and all(one[2] == "." for one in found) else otherwise


def digest_of(headers: Sequence[str]) -> str:
    """Return what knows the same headers again, without case and spaces at their ends."""
    return hashlib.sha256("\n".join(clean_text(one).casefold() for one in headers).encode()).hexdigest()


def wrong(matching: Matching, headers: Sequence[str]) -> list[str]:
    """Return what of a matching cannot be: a sentence each."""
    said = []
    chosen = [meaning for meaning in matching.columns.values() if meaning]
    if "day" not in chosen:
        said.append("No column is the day. Choose the one that says when.")
    if not any(meaning in AMOUNTS for meaning in chosen):
        said.append("No column is an amount. Choose the one that says how much was charged, recovered or bought.")
    if "amount" in chosen and "what" not in chosen:
        said.append(
            f"An amount alone does not say what was done. Choose the column that does, or what it is: {_moved()}."
        )
    if {"charged", "recovered"} & set(chosen) and "vehicle" not in chosen:
        said.append(
            "No column is the vehicle. What is charged or recovered needs one: choose its plate or another name."
        )
    for meaning in dict.fromkeys(chosen):
        places = matching.places(meaning)
        if len(places) > 1 and meaning not in SEVERAL:
            named = " and ".join(f"“{headers[place]}”" for place in places)
            said.append(f"{named} are both taken as {MEANINGS[meaning].split(':')[0]}. Keep one of them.")
    return said


def _moved() -> str:
    return ", ".join(name for name in MOVED if name != "stock")
