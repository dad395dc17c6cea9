"""What a refrigerant is to the law. Pure.

Families are the catalogue's. A mixed or unknown content may hold anything, so it *may contain* and never *contains*.
"""

from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache

from inventory.gases.catalogue import MIXED, UnknownRefrigerant, refrigerant
from inventory.gases.potentials import NoFigure, gwp

HFC = ("HFC",)
FLUORINATED = ("HFC", "PFC", "HFO", "HCFO")
ANY_HALOCARBON = ("CFC", "HCFC", "HCFO", "HFC", "PFC", "HFO")
USED_GRADES = ("recovered", "recycled", "suspect")  # was in a system, and no reclaimer has had it
UNTREATED = ("recovered", "suspect")


@lru_cache(maxsize=1024)
def parts_of(code: str) -> frozenset[str]:
    """Return the codes of the parts of a refrigerant, empty where it is mixed or not known."""
    if not code or code == MIXED:
        return frozenset()
    try:
        return frozenset(part for part, _ in refrigerant(code).components)
    except UnknownRefrigerant:
        return frozenset()


@lru_cache(maxsize=1024)
def families(code: str) -> frozenset[str]:
    """Return the families of the parts of a refrigerant, empty where it is mixed or not known."""
    return frozenset(refrigerant(part).family for part in parts_of(code))


def contains(code: str, wanted: Iterable[str]) -> bool:
    """Whether a part of the refrigerant is of one of these families, as far as it is known."""
    return not families(code).isdisjoint(wanted)


def may_contain(code: str, wanted: Iterable[str]) -> bool:
    """Whether a part is, or could be, of one of these families."""
    return not families(code) or contains(code, wanted)


def ozone_depleting(code: str) -> bool:
    """Whether a part of the refrigerant is controlled by the Montreal Protocol, as far as it is known."""
    return any(refrigerant(part).contains_ods for part in parts_of(code))


def warming(code: str, *bases: str) -> Decimal | None:
    """Return the GWP on the first of these bases that has one, None where none has."""
    for basis in bases:
        try:
            return gwp(code, basis).value
        except (NoFigure, UnknownRefrigerant):
            continue
    return None
