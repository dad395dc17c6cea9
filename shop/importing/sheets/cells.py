"""What a cell of somebody's sheet says: an amount, a day, a time, what was done. Pure.

A cell is a text, or what a workbook holds: a number, a moment, a day. `mark` is the sheet's decimal mark, `order` how
its days are written in figures (a key of `inventory.measure.own.DAYS`). Nothing is guessed: what cannot be read is
refused with a sentence (`QuantityError`). What repeats in a long sheet is read once.
"""

import re
from datetime import date, datetime, time
from decimal import ROUND_HALF_EVEN, Decimal
from functools import lru_cache

from inventory.measure.masses import read_mass
from inventory.measure.typed import QuantityError, quote
from inventory.measure.typedday import read_day
from inventory.measure.units import UNITS_BY_NAME, clean_text, find_unit, in_unit

Cell = str | int | float | datetime | date | time | bool | None

NOTHING = frozenset({"", "-", "--", "—", "–", "/", "n/a", "na", "none", "nil", "0", "0.0", "0.00", "0,0", "0,00"})
DITTO = frozenset({'"', "''", "“", "”", "〃", "do.", "ditto", "dto", "dto."})
TOTALS = re.compile(
    r"(grand |sub ?|year(ly)? |month(ly)? )?(totals?|sums?|(zwischen)?summen?|gesamt\w*|insgesamt|σ|∑|somme|suma)\b.*"
)
ERRORS = frozenset({"#REF!", "#VALUE!", "#N/A", "#NAME?", "#DIV/0!", "#NUM!", "#NULL!", "#####"})
MOST = 10**12  # of any unit; more is a slip
NO_VALUE = "\0formula"  # what stands for a formula that was saved without its value

_NUMBER = re.compile(r"[+-]?[.,]?\d[\d., ']*")
_TIME = re.compile(r"(\d{1,2})[:.h](\d{2})(?::(\d{2}))?\s*([ap])?\.?m?\.?", re.IGNORECASE)
_MOMENT = re.compile(r"(.+?)[T ,]+(\d{1,2}[:.h]\d{2}(?::\d{2})?\s*(?:[ap]\.?m\.?)?)", re.IGNORECASE)
_SHORT_YEAR = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{2})")


def text_of(cell: Cell) -> str:
    """Return a cell as text: whole numbers without a point, days as 2026-03-04, nothing as nothing."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return format(cell, ".15g")
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(sep=" ", timespec="minutes")
    return " ".join(str(cell).split())


def refuse_formula(cell: Cell) -> None:
    """Refuse a formula without its value, and a value that is an error of the sheet's."""
    if cell == NO_VALUE:
        raise QuantityError(
            "It is a formula that was saved without its value. Open the sheet in its program, save it, and send that."
        )
    if isinstance(cell, str) and cell.strip() in ERRORS:
        raise QuantityError(f"{quote(cell)} is an error of the sheet's own formula. Put it right there.")


def amount_mg(cell: Cell, unit: str, mark: str) -> tuple[int, str]:
    """Return an amount in milligrams, 0 where there is none, and the unit that the cell itself names ("" for none)."""
    refuse_formula(cell)
    if isinstance(cell, (datetime, date, time)):
        raise QuantityError(f"{quote(text_of(cell))} is a day or a time, not an amount. Format the cell as a number.")
    text = clean_text(text_of(cell))
    if text.casefold() in NOTHING:
        return 0, ""
    if isinstance(cell, (int, float)):
        return _bare(text, unit), ""
    return _typed(text, unit, mark)


@lru_cache(maxsize=8192)
def _bare(text: str, unit: str) -> int:
    """Return a number of a workbook in milligrams, to the nearest: it may have been reckoned there."""
    if not unit:
        raise _no_unit(text)
    if unit == "lb oz":
        return int(read_mass(text, default_unit=unit).mg)
    if not 0 <= Decimal(text) <= MOST:
        said = "below zero" if Decimal(text) < 0 else "more than any amount can be here"
        raise QuantityError(f"{quote(text)} is {said}. Check the cell.")
    pint = UNITS_BY_NAME["mass"][unit].pint
    mg = in_unit(format(Decimal(text), "f"), pint, "milligram").to_integral_value(ROUND_HALF_EVEN)
    return int(read_mass(f"{mg:f} mg", what="amount").mg)


@lru_cache(maxsize=8192)
def _typed(text: str, unit: str, mark: str) -> tuple[int, str]:
    plain = _NUMBER.sub(lambda found: _in_points(found[0], mark), text)
    own = _own_unit(plain)
    if not own and not unit:
        raise _no_unit(text)
    return int(read_mass(plain, default_unit=unit or None, what="amount").mg), own


def _no_unit(text: str) -> QuantityError:
    return QuantityError(f"{quote(text)} has no unit. Choose the unit of this column, or write it beside the number.")


def _own_unit(text: str) -> str:
    """Return the unit that stands beside a number, by the book's word for it."""
    rest = _NUMBER.sub(" ", text).strip()
    words = [unit.word for part in rest.split() if (unit := find_unit(part, "mass")) is not None]
    return " ".join(dict.fromkeys(words)) or (rest and "another unit")


def _in_points(number: str, mark: str) -> str:
    """Return digits with a decimal point and without the signs that group thousands; refuses the other mark."""
    trailing = number[len(number.rstrip(" ,.'")) :]
    number = number.strip(" ,.'") if not number.startswith((".", ",")) else number.rstrip(" ")
    other = "," if mark == "." else "."
    whole, has_mark, part = number.partition(mark)
    if other in part or mark in part:
        raise QuantityError(f"{quote(number)} is not one number.")
    if other in whole and not re.fullmatch(rf"[+-]?\d{{1,3}}(\{other}\d{{3}})+", whole):
        names = {".": "point", ",": "comma"}
        raise QuantityError(
            f"{quote(number)} has a {names[other]}, and the decimal mark of this sheet is a {names[mark]}. "
            "Put it right in the sheet, or choose the other mark."
        )
    digits = re.sub(r"[ .,']", "", whole)
    return digits + ("." + part.replace(" ", "") if has_mark else "") + (" " if trailing else "")


def day_of(cell: Cell, order: str) -> tuple[date, time | None]:
    """Return the day of a cell, and the time where it has one."""
    refuse_formula(cell)
    if isinstance(cell, datetime):
        return cell.date(), None if cell.time() == time() else cell.time()
    if isinstance(cell, date):
        return cell, None
    if isinstance(cell, (int, float)) and not isinstance(cell, bool) and not 19_000_101 <= cell <= 21_001_231:
        raise QuantityError(f"{quote(text_of(cell))} is a number, not a day. Format the column as a date in the sheet.")
    return _day_typed(clean_text(text_of(cell)), order)


@lru_cache(maxsize=4096)
def _day_typed(text: str, order: str) -> tuple[date, time | None]:
    if (found := _MOMENT.fullmatch(text)) and (at := _time_typed(found[2])) is not None:
        return _day_typed(found[1], order)[0], at
    text = re.sub(r"^[A-Za-zäöü]{2,10}\.?,\s*(?=\d)", "", text)  # Mon, 3/4/2025
    if found := _SHORT_YEAR.fullmatch(text):
        year = int(found[4])
        text = f"{found[1]}{found[2]}{found[3]}{found[2]}{2000 + year if year < 70 else 1900 + year}"
    return read_day(text, order), None


def time_of(cell: Cell) -> time | None:
    """Return the time of a cell, None where it has none."""
    refuse_formula(cell)
    if isinstance(cell, datetime):
        return cell.time()
    if isinstance(cell, time):
        return cell
    text = clean_text(text_of(cell))
    if text.casefold() in NOTHING:
        return None
    if (at := _time_typed(text)) is None:
        raise QuantityError(f"{quote(text)} is not a time. Write it such as 14:30 or 2:30 pm.")
    return at


def _time_typed(text: str) -> time | None:
    found = _TIME.fullmatch(text.strip())
    if found is None:
        return None
    hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
    if found[4]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if found[4].casefold() == "p" else 0)
    return time(hour, minute, second) if hour < 24 and minute < 60 and second < 60 else None


# What a cell says was done, by the beginnings of words; the names of causes are known too.
DONE = {
    "charged": (
        "charg",
        "fill",
        "added",
        "add",
        "install",
        "gefüllt",
        "befüll",
        "füll",
        "nachgefüllt",
        "topped",
        "top",
    ),
    "recovered": ("recover", "evacuat", "removed", "abgesaugt", "absaug", "rückgew", "entnommen"),
    "bought": ("bought", "purchase", "received", "delivery", "delivered", "einkauf", "gekauft", "zugang", "in stock"),
    "sent": ("sent", "returned", "shipped", "disposed", "reclaim", "destr", "abgang", "entsorg", "zurückgegeben"),
    "lost": ("lost", "leak", "vent", "purge", "verlust"),
    "stock": ("opening", "begin", "start", "anfangsbestand", "bestand", "inventory", "held"),
}


def what_was_done(text: str) -> str | None:
    """Return the kind of amount that a word means, None where it is none."""
    said = clean_text(text).casefold()
    return next((kind for kind, begins in DONE.items() if said.startswith(begins)), None)


def is_total(texts: list[str]) -> bool:
    """Whether a row says that it is a sum."""
    return any(TOTALS.fullmatch(clean_text(text).casefold().rstrip(":")) for text in texts)
