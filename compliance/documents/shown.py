"""The figures of a document as a stranger may see them: masses and days in words, never a name or a plate. Pure."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from inventory import causes
from inventory.gases.catalogue import UnknownRefrigerant, refrigerant
from inventory.measure.figures import NARROW, figure, show_mass

MANY_FIGURES = 40  # from which those that are nothing are left out
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}(T\d{2}:\d{2}(:\d{2})?([+-]\d{2}:\d{2}|Z)?)?")
_NOTHING = re.compile(r"[0.]+\D*")
_WORDS_OF = {"co2e": "CO2 equivalent", "odp": "CFC-11 equivalent", "u": "standard uncertainty"}
_SAID = {
    "air_workshop": "to air in the workshop's hands",
    "air_road": "lost on the road",
    "in": "charged",
    "out": "recovered",
    "charge": "charged",
    "before": "gross before",
    "after": "gross after",
}
_EQUIVALENTS = ("co2e", "odp")  # stated in kilograms everywhere, whatever a workshop weighs in
_IN_ORDER = (
    "opened",
    "closed",
    "on",
    "out",
    "recovered",
    "before",
    "after",
    "in",
    "charge",
    "air_road",
    "air_workshop",
)
_SAID_BY_CONTENT = ("refrigerants", "grades")  # lists whose parts are named by what they are of
_PLAIN_NAME = re.compile(r"[a-z][a-z0-9_]*")


def shown_figures(figures: Mapping[str, Any], unit: str) -> tuple[tuple[str, str], ...]:
    """Return the masses and days among the figures of a document, named by their keys and refrigerants alone.

    Texts other than days and refrigerants are left out: a name or a plate cannot come through. Of many figures those
    that are nothing are left out too.
    """
    found = tuple(_figures(figures, (), unit))
    if len(found) > MANY_FIGURES:
        found = tuple((name, value) for name, value in found if not _NOTHING.fullmatch(value))
    return found


def _figures(value: Any, path: tuple[str, ...], unit: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        path = (*path, *_contents(value))
        for name, inner in sorted(value.items(), key=_place):  # content has its keys in the order of the alphabet
            yield from _named_figure(str(name), inner, path, unit)
    elif isinstance(value, Sequence) and not isinstance(value, str):
        by_content = path[-1:] and path[-1] in _SAID_BY_CONTENT
        for place, inner in enumerate(value, start=1):
            if isinstance(inner, Mapping):
                yield from _figures(inner, path[:-1] if by_content else (*path, str(place)), unit)


def _named_figure(name: str, value: Any, path: tuple[str, ...], unit: str) -> Iterator[tuple[str, str]]:
    if not (_PLAIN_NAME.fullmatch(name) or _is_refrigerant(name)):
        return
    stem, _, suffix = name.rpartition("_")
    if isinstance(value, int) and not isinstance(value, bool) and suffix == "mg":
        yield _label(path, stem), show_mass(value, unit="kg" if stem.endswith(_EQUIVALENTS) else unit)
    elif isinstance(value, (int, float)) and not isinstance(value, bool) and suffix == "kg":
        yield _label(path, stem), f"{figure(value, 3)}{NARROW}kg"
    elif isinstance(value, str):
        if _DAY.fullmatch(value):
            yield _label(path, name), value
    else:
        yield from _figures(value, (*path, name), unit)


def _place(named: tuple[str, Any]) -> tuple[bool, int, bool]:
    """Return where a figure stands among its neighbours: as the work went, doubt after its mass, equivalents last."""
    words = f"{named[0]}_"
    at = next((place for place, key in enumerate(_IN_ORDER) if words.startswith(f"{key}_")), len(_IN_ORDER))
    return any(f"_{one}_" in f"_{words}" for one in _EQUIVALENTS), at, "give_or_take" in words


def _contents(value: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the refrigerant and grade that a part of the figures names."""
    named = (value.get("refrigerant"), value.get("grade"))
    code, grade = (one if isinstance(one, str) else "" for one in named)
    return tuple(one for one in (code if _is_refrigerant(code) else "", grade if grade in causes.GRADES else "") if one)


def _is_refrigerant(name: str) -> bool:
    try:
        refrigerant(name)
    except UnknownRefrigerant:
        return False
    return True


def _label(path: tuple[str, ...], name: str) -> str:
    words = ", ".join(one for one in (*map(_words, path), _words(name)) if one)
    return words[:1].upper() + words[1:]


def _words(name: str) -> str:
    """Return a key of the figures in words: "air_road_co2e" as "lost on the road, CO2 equivalent"."""
    said = next((key for key in _SAID if name == key or name.startswith(f"{key}_")), "")
    rest = name.removeprefix(said).strip("_")
    parts = " ".join(_WORDS_OF.get(word, word) for word in rest.split("_"))
    return ", ".join(one for one in (_SAID.get(said, ""), parts) if one)
