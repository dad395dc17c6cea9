"""Text as people type it, taken apart into numbers and units: read, asked about, or refused with a sentence.

Nothing is guessed, rounded or clipped. Text with one reading is read and echoed; text with several is
a question that names them; text with none is refused with a sentence that says what to do.

    QuantityError      cannot be read; `sentence` says what was read, what it met, what to do
      Doubtful         can be read in more than one way; each of `choices`, typed, is without doubt

How numbers are read. Point and comma both mark decimals; spaces, apostrophes, or the mark that is not
the decimal one, part thousands. Only one form stays in doubt: one to three digits, a comma, three
digits. A point before three digits is a decimal mark, for that is how scales print. Full-width digits
are read as the digits they are; digits of other scripts, fractions such as 1/2, and exponents are
refused. Names of units are read in capitals or not, except "Mg", which is a question.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeVar

from inventory.measure.units import KINDS, Unit, clean_text, find_unit, kind_of, number_and_rest, number_readings

T = TypeVar("T")
Q = TypeVar("Q", bound="Typed")
LONGEST_TEXT = 60  # characters; a number with its unit needs a dozen
MOST_DIGITS = 24  # of one number: more than any instrument shows, fewer than decimal arithmetic keeps


class QuantityError(ValueError):
    """Text that cannot be read as the quantity that was asked for."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class Doubtful(QuantityError):
    """Text with more than one reading; each of `choices` would be read without doubt."""

    def __init__(self, sentence: str, choices: Sequence[str]) -> None:
        super().__init__(sentence)
        self.choices = tuple(choices)


@dataclass(frozen=True)
class Typed:
    """A quantity as it was typed, and as it was read.

    `text` is exactly what was typed, `unit` the word of the unit that was read, `si` the value in SI
    (kg, Pa absolute, K, m3, m, s) and `echo` what was read, in words for the person who typed it.
    """

    text: str
    unit: str
    si: float
    echo: str


_PARTS_OF_NUMBERS = ("/", "-", "+", ":")  # 1/2, 3-4, 1:20: not one number
_EXPONENT = re.compile(r"(?:e ?[+-]?[0-9]|[x*×] ?10)", re.IGNORECASE)


def take(
    text: str,
    kind: str,
    default_unit: str | None,
    what: str,
    finish: Callable[[str, str], T],
    *,
    read: str | None = None,
    offered: tuple[str, ...] | None = None,
) -> T:
    """Read number and unit and hand them to `finish`; ask where there is more than one reading of them.

    `read` is what stands for the text where a label was cut off before it; `offered` are the units
    asked about where the text has none and the field neither.
    """
    if len(text) > LONGEST_TEXT:
        raise _too_long(text, what)
    offered = KINDS[kind].offered if offered is None else offered
    numbers, unit_text = split(text if read is None else read, what, f"12.5 {offered[0] if offered else 'kg'}".strip())
    units = _units_meant(unit_text, kind, default_unit, offered)
    if not units:
        raise QuantityError(f"{quote(text)} has no unit. Write it with one, such as 12.5 kg.")
    if len(numbers) == len(units) == 1:
        return finish(numbers[0], units[0])
    choices = [f"{number} {unit}".strip() for number in numbers for unit in units if _can_be_read(finish, number, unit)]
    if not choices:
        return finish(numbers[0], units[0])
    if len(choices) == 1:
        raise Doubtful(f"{quote(text)} is in doubt: did you mean {choices[0]}?", choices)
    lead = "can" if unit_text or default_unit is not None else "has no unit: it can"
    raise Doubtful(f"{quote(text)} {lead} be read as {listed(choices)}. Write the {what} that is meant.", choices)


def _can_be_read(finish: Callable[[str, str], object], number: str, unit: str) -> bool:
    try:
        finish(number, unit)
    except QuantityError:
        return False
    return True


def _units_meant(unit_text: str, kind: str, default_unit: str | None, offered: tuple[str, ...]) -> tuple[str, ...]:
    """Return the units that a text may mean: its own, else that of the field, else all that are offered."""
    if kind == "mass" and unit_text == "Mg":
        return ("mg", "t")
    if unit_text:
        return (unit_text,)
    return offered if default_unit is None else (default_unit,)


def split(text: str, what: str, example: str) -> tuple[tuple[str, ...], str]:
    """Return the readings of the number at the head of a text, and the rest, which names the unit."""
    if len(text) > LONGEST_TEXT:
        raise _too_long(text, what)
    clean = clean_text(text)
    if not clean:
        raise QuantityError(f'Nothing is entered for the {what}. Write a number and its unit, such as "{example}".')
    sign, number, unit_text = number_and_rest(clean)
    if not number:
        raise QuantityError(f'{quote(text)} has no number for the {what}. Write one first, such as "{example}".')
    if _EXPONENT.match(unit_text):
        raise QuantityError(f"{quote(text)} has an exponent. Write the number out in full.")
    if sum(char.isdigit() for char in number) > MOST_DIGITS:
        raise QuantityError(f"{quote(text)} has more than {MOST_DIGITS} digits. Check the number and write it shorter.")
    readings = number_readings(number)
    if not readings or unit_text[:1] in _PARTS_OF_NUMBERS or unit_text[:1].isnumeric():
        raise QuantityError(
            f"{quote(text)} is not one number. Write it with one decimal mark, such as "
            f'"{example}", and nothing else between the digits.'
        )
    return tuple(_signed(sign, reading) for reading in readings), unit_text


def unit_of(text: str, unit_text: str, kind: str, what: str) -> Unit:
    unit = find_unit(unit_text, kind)
    if unit is None:
        raise no_such_unit(text, unit_text, kind, what)
    return unit


def _signed(sign: str, number: str) -> str:
    return f"-{number}" if sign == "-" and Decimal(number) else number


def no_such_unit(text: str, unit_text: str, kind: str, what: str) -> QuantityError:
    wanted = listed(KINDS[kind].offered)
    other = kind_of(unit_text)
    if other is not None and other != kind:
        return QuantityError(
            f"{quote(text)} is {KINDS[other].name}; for the {what} write {KINDS[kind].name} in {wanted}."
        )
    return QuantityError(
        f"{quote(unit_text)} is no unit of {bare_name(kind)} that is known here. Write the {what} in {wanted}."
    )


def bare_name(kind: str) -> str:
    return KINDS[kind].name.removeprefix("a ")


def _too_long(text: str, what: str) -> QuantityError:
    return QuantityError(
        f"The {what} has {len(text)} characters, which is more than {LONGEST_TEXT}. Write a number and its unit only."
    )


def refuse_below_zero(text: str, number: str, what: str) -> None:
    if number.startswith("-"):
        raise QuantityError(f"{quote(text)} is below zero, and the {what} cannot be. Write it without the minus.")


def within_book(typed: Q, kind: str, what: str) -> Q:
    """Refuse what no workshop has and no column of the book holds."""
    most = KINDS[kind].most
    if typed.si > most:
        raise QuantityError(
            f"{quote(typed.text)} is more than any {what} can be here ({most:f} {_SI_WORDS[kind]}). "
            "Check the number and the unit."
        )
    return typed


_SI_WORDS = {"mass": "kg", "pressure": "Pa", "temperature": "K", "volume": "m3", "length": "m", "duration": "s"}


def quote(text: str) -> str:
    seen = "".join(char if char.isprintable() else "\N{REPLACEMENT CHARACTER}" for char in " ".join(text.split()))
    return f"\N{LEFT DOUBLE QUOTATION MARK}{seen}\N{RIGHT DOUBLE QUOTATION MARK}"


def listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
