"""Refrigerants as published facts: what they are made of, how they are classed, and by which names people call them.

Every figure stands in a row of ``inventory/gases/data/*.csv`` with its source, and says where it comes from memory.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from functools import lru_cache

from inventory.gases.rows import is_from_memory, rows

MIXED = "MIXED"
"""The designation of a content that is no single designated refrigerant."""


_LONGEST_QUOTE = 40


class UnknownRefrigerant(LookupError):
    """The text or code names no refrigerant of the catalogue; the message is a sentence for the person."""


@dataclass(frozen=True)
class Refrigerant:
    """One designated refrigerant. `components` pairs a code with its mass fraction, from 0 to 1."""

    code: str
    name: str
    family: str
    safety_class: str
    class_source: str
    components: tuple[tuple[str, Decimal], ...]
    composition_source: str = ""
    composition_from_memory: bool = False

    @property
    def flammable(self) -> bool:
        """True for the classes 2L, 2 and 3, and for a class that is not known, which is treated the same."""
        return self.safety_class[1:] in {"2L", "2", "3"} or self.safety_class == "not known"

    @property
    def is_blend(self) -> bool:
        return len(self.components) > 1

    @property
    def contains_ods(self) -> bool:
        """True where a part is controlled by the Montreal Protocol.

        False for `MIXED`, of which nothing is known here: ask `mixture_odp` of its measured composition.
        """
        return any(part in _controlled() for part, _ in self.components)


_MIXED = Refrigerant(
    code=MIXED,
    name="mixed content",
    family="mixed",
    safety_class="not known",
    class_source="no class exists for a mixed content: treated as flammable",
    components=(),
)


def refrigerants() -> tuple[Refrigerant, ...]:
    """Return every designated refrigerant in natural order (R-12 before R-134a); `MIXED` is not one of them."""
    return tuple(_by_code().values())


def refrigerant(code: str) -> Refrigerant:
    """Return the refrigerant of exactly this code, such as ``R-134a``, or the entry for `MIXED`.

    Raises `UnknownRefrigerant`. For what people type, use `find`.
    """
    if code == MIXED:
        return _MIXED
    try:
        return _by_code()[code]
    except KeyError:
        raise UnknownRefrigerant(f"{quoted(code)} is not a code of the catalogue of refrigerants.") from None


def find(text: str) -> Refrigerant:
    """Return the refrigerant that a person means by "r134a", "HFC-134a", "R 1234yf", "1234yf" or "propane".

    Case, spaces and hyphens do not matter; the family letters, where given, must be the refrigerant's own.
    Raises `UnknownRefrigerant` with a sentence that names the nearest entries. It never chooses for the person:
    "1234ze" without its isomer is asked back.
    """
    key = _key(text)
    if not key:
        raise UnknownRefrigerant("No refrigerant was entered.")
    if key in _aliases():
        return refrigerant(_aliases()[key])
    near = _nearest(key)
    question = f" Did you mean {' or '.join(near)}?" if near else ""
    raise UnknownRefrigerant(f"{quoted(text)} is not in the catalogue of refrigerants.{question}")


def quoted(text: str) -> str:
    """Return what was typed as a sentence quotes it: printable, in marks, not too long."""
    short = "".join(char if char.isprintable() else "?" for char in text.strip())
    return f'"{short}"' if len(short) <= _LONGEST_QUOTE else f'"{short[:_LONGEST_QUOTE]}..."'


def _key(text: str) -> str:
    """Return the text without case, spaces, hyphens and brackets; look-alike characters become plain ones.

    Other punctuation stays and finds nothing: "1.2" is a number, not R-12.
    """
    plain = unicodedata.normalize("NFKC", text).casefold().replace("\N{MINUS SIGN}", "-")
    return "".join(char for char in plain if not (char.isspace() or unicodedata.category(char) == "Pd" or char in "()"))


@lru_cache(maxsize=1)
def _controlled() -> frozenset[str]:
    return frozenset(row["code"] for row in rows("odp.csv") if row["basis"] == "montreal")


@lru_cache(maxsize=1)
def _by_code() -> dict[str, Refrigerant]:
    compositions: dict[str, list[dict[str, str]]] = {}
    for row in rows("compositions.csv"):
        compositions.setdefault(row["code"], []).append(row)
    entries = [_entry(row, compositions.get(row["code"], [])) for row in rows("refrigerants.csv")]
    return {entry.code: entry for entry in sorted(entries, key=lambda entry: _natural(entry.code))}


def _entry(row: dict[str, str], parts: list[dict[str, str]]) -> Refrigerant:
    components = tuple((part["component"], Decimal(part["mass_percent"]) / 100) for part in parts)
    return Refrigerant(
        code=row["code"],
        name=row["name"],
        family=row["family"],
        safety_class=row["safety_class"],
        class_source=row["class_source"],
        components=components or ((row["code"], Decimal(1)),),
        composition_source="; ".join(dict.fromkeys(part["source"] for part in parts)) or "pure substance",
        composition_from_memory=any(is_from_memory(part) for part in parts),
    )


def _natural(code: str) -> tuple[tuple[int, int, str], ...]:
    pieces = re.findall(r"\d+|\D+", code)
    return tuple((0, int(piece), "") if piece.isdigit() else (1, 0, piece) for piece in pieces)


_PREFIXES: Mapping[str, tuple[str, ...]] = {
    "CFC": ("CFC",),
    "HCFC": ("HCFC",),
    "HFC": ("HFC",),
    "PFC": ("PFC", "FC"),
    "HFO": ("HFO", "HFC"),  # older law and labels write HFC-1234yf
    "HCFO": ("HCFO", "HFO"),
    "FIC": ("FIC",),
    "HC": ("HC",),
    "natural": (),
    "ether": ("HE",),
}


def _nearest(key: str) -> list[str]:
    """Return up to three codes: the same number under another family's letters first, then similar writing."""
    aliases = _aliases()
    number = re.sub(r"^[a-z]+(?=\d)", "", key)
    codes = [aliases[number]] if number in aliases else []
    codes += (aliases[alias] for alias in get_close_matches(key[:_LONGEST_QUOTE], aliases, n=3))
    return list(dict.fromkeys(codes))[:3]


@lru_cache(maxsize=1)
def _aliases() -> dict[str, str]:
    """Map every accepted way of writing, as `_key` gives it, to the code it means."""
    aliases = {_key(MIXED): MIXED}
    for row in rows("refrigerants.csv"):
        entry = _by_code()[row["code"]]
        families = {_by_code()[part].family for part, _ in entry.components}
        prefixes = {prefix for family in families for prefix in _PREFIXES[family]}
        number = entry.code.removeprefix("R-")
        written = [entry.code, number, entry.name, *row["other_names"].split(";")]
        written += [prefix + number for prefix in sorted(prefixes)]
        aliases.update((_key(way), entry.code) for way in written if way)
    return aliases
