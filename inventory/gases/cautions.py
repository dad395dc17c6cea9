"""The closed list of cautions: what each says and where it stands. A page asks for those of its step.

They are short and cannot be put away for good. They do not replace the maker's instructions, local codes or licensed
practice, which the foot of each page puts first.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.gases import catalogue
from inventory.gases.rows import rows


@dataclass(frozen=True)
class Caution:
    """One caution: its id, its heading, its sentence and the steps or pages where it is shown."""

    id: str
    heading: str
    sentence: str
    places: frozenset[str]


CAUTIONS = {
    row["id"]: Caution(row["id"], row["heading"], row["sentence"], frozenset(row["places"].split()))
    for row in rows("cautions.csv")
}
PLACES = frozenset(place for one in CAUTIONS.values() for place in one.places)


def cautions_for(*places: str) -> list[Caution]:
    """Return the cautions shown at any of `places`, in the order of the list; an unknown place is a mistake."""
    wanted = set(places)
    unknown = wanted - PLACES
    if unknown:
        raise ValueError(f"No caution stands at {', '.join(sorted(unknown))}.")
    return [one for one in CAUTIONS.values() if one.places & wanted]


def places_of(codes: Iterable[str]) -> tuple[str, ...]:
    """Return the places of what these gases ask to mind: that one burns, that one stands under high pressure."""
    known = set(codes) - {""}
    burns = any(catalogue.refrigerant(code).flammable for code in known)
    return (*(("flammable",) if burns else ()), *(("r-744",) if "R-744" in known else ()))
