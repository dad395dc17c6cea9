"""What a kind of step is, and how what a step holds is read. The kinds themselves stand in `kinds`. Pure: no database.

A field is *required* (the step is not written without it), *asked* (written without it, and then still asked) or
*optional*. A step's data is ``{"field": {"text": as typed, "si": value, "echo": as read}}``.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, TypeVar

REQUIRED, ASKED, OPTIONAL = "required", "asked", "optional"
YES, NO = "yes", "no"
NOT_KNOWN = "not known"
READ_AGAINST = "read_against"  # under this name a step keeps the air, where the height of the workshop was not entered
OPEN_ON_ARRIVAL = ("open to air", "hose off")
HELD_BACK_AS = "book"  # under this name an arrival keeps what the book said of the vehicle then

FieldType = Literal[
    "mass",
    "pressure",
    "temperature",
    "volume",
    "duration",
    "percent",
    "number",
    "distance",
    "look again",
    "rate",
    "choice",
    "yes-no",
    "text",
    "long text",
    "when",
    "readings",
    "rises",
    "shares",
    "refrigerant",
    "instrument",
    "person",
    "photo",
]
CARBON_DIOXIDE_PA = 1.6e7  # what a gauge at a system of carbon dioxide is likely to read at most

T = TypeVar("T", bound=Mapping[str, Any])
Data = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True)
class StepField:
    """One field of a step. `only_if` names another field and the answers of it for which this one is asked.

    `unless_equal` names two quantities; where both are there and alike, this field is not asked.
    """

    name: str
    words: str
    type: FieldType
    need: str = ASKED
    choices: tuple[str, ...] = ()
    hint: str = ""
    unit: str = ""  # of a number, in words
    absolute: bool = False  # a bare pressure counts from nothing, not from the atmosphere
    instruments: tuple[str, ...] = ()  # kinds of gauge offered
    only_if: tuple[str, tuple[str, ...]] | None = None
    unless_equal: tuple[str, str] | None = None
    refused: Mapping[str, str] = field(default_factory=dict)  # a word in the answer, and why it is refused
    known: tuple[float, float] | None = None  # what it is likely to read, in SI; outside is a question
    not_above: str = ""  # another field of the step, above which it is unlikely to read

    def applies(self, data: Data) -> bool:
        """Whether this field is asked for at all, given the other answers."""
        if self.unless_equal is not None:
            one, other = (si_of(data, name) for name in self.unless_equal)
            return one is not None and other is not None and one != other
        return self.only_if is None or text_of(data, self.only_if[0]) in self.only_if[1]

    def known_of(self, refrigerant: str) -> tuple[float, float] | None:
        """Return `known` for a system of a refrigerant: carbon dioxide stands and runs at ten times the pressure."""
        if self.known is None or self.type != "pressure" or refrigerant != "R-744":
            return self.known
        return self.known[0], max(self.known[1], CARBON_DIOXIDE_PA)

    def decided(self, data: Data) -> bool:
        """Whether the answers are there on which it depends if this field is asked for."""
        names = self.unless_equal or (self.only_if or ())[:1]
        return all(name in data for name in names)


@dataclass(frozen=True)
class StepKind:
    """One kind of step: its words, its fields, the cautions that stand with it, whether it moves mass."""

    name: str
    words: str  # on buttons and in "still asked": "leak search"
    done: str  # how the log begins its line: "Leak search"
    fields: tuple[StepField, ...]
    cautions: tuple[str, ...] = ()
    posts: bool = False
    at: str = ""  # name of the page that enters it, where it has one of its own
    lead: str = ""
    certified: bool = False  # whoever does it holds a certificate where the rules ask for one
    shows: str = "other"  # what a photo of it shows, as `inventory.shelf.photos` names it

    @property
    def slug(self) -> str:
        """The kind as it stands in an address."""
        return self.name.replace(" ", "-")

    def field(self, name: str) -> StepField:
        """Return one field; raises KeyError for a name that is not of this kind."""
        return {one.name: one for one in self.fields}[name]


def text_of(data: Data, name: str) -> str:
    """Return what was typed or chosen for a field; empty where nothing was."""
    return str((data.get(name) or {}).get("text", "") or "")


def si_of(data: Data, name: str) -> Any:
    """Return the SI value of a field, or None."""
    return (data.get(name) or {}).get("si")


def air_pa(data: Data, otherwise_pa: float) -> float:
    """Return the air (Pa) that a step's gauges were read against: what was kept with it, else `otherwise_pa`."""
    kept_pa = si_of(data, READ_AGAINST)
    return otherwise_pa if kept_pa is None else float(kept_pa)


def said(data: Data, name: str) -> str:
    """Return a field as it was read, for the log."""
    entry = data.get(name) or {}
    return str(entry.get("echo") or entry.get("text") or "")


def applicable(kind: StepKind | None, data: Mapping[str, T]) -> dict[str, T]:
    """Return a step's data without what its other answers rule out; what is of no field of its kind stays."""
    ruled_out = {one.name for one in kind.fields if one.decided(data) and not one.applies(data)} if kind else set()
    return {name: entry for name, entry in data.items() if name not in ruled_out}
