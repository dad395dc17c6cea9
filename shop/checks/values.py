"""What a check takes and answers: values as read, the answer for pages and scripts, a fault with its question.

The list of them is in `shop.checks.registry`, the reading of what was typed in `shop.checks.typed`.
"""

import csv
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cache
from pathlib import Path
from typing import Any

from inventory.measure import atmosphere
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from shop.bench import hold, performance, vacuum
from shop.bench.answers import Answer

_INPUTS = Path(__file__).resolve().parent / "data" / "inputs.csv"


class CheckFault(ValueError):
    """Values that give no answer: a sentence, and the key it is about ("" for the whole).

    A doubt is a `question` with `choices`, each a text to be sent instead (of a row of readings, ``2: 250 psi``);
    `may_insist`: it may be said that it does read so. The sentence says the same for scripts.
    """

    def __init__(
        self, sentence: str, key: str = "", *, question: str = "", choices: Sequence[str] = (), may_insist: bool = False
    ) -> None:
        super().__init__(sentence)
        self.sentence, self.key = sentence, key
        self.question, self.choices, self.may_insist = question or sentence, tuple(choices), may_insist


@dataclass(frozen=True, kw_only=True)
class CheckAnswer(Answer):
    """An answer with its figures for scripts, the inputs as read, the formula, and what a drawing needs."""

    figures: Mapping[str, Any]
    inputs: tuple[tuple[str, str], ...] = ()
    formula: str = ""
    picture: hold.HoldPicture | vacuum.VacuumPicture | performance.Diagram | None = None

    @classmethod
    def of(cls, answer: Answer, **more: Any) -> "CheckAnswer":
        """Return an answer of the bench with `more` beside it, or in place of what it says."""
        return cls(**{one.name: getattr(answer, one.name) for one in fields(Answer)} | more)


def spoken(answer: CheckAnswer, units: Units) -> CheckAnswer:
    """Return an answer with its sentence and cautions in the units of who reads it; its workings stay as reckoned."""
    cautions = tuple(in_own_units(one, units) for one in answer.cautions)
    return replace(answer, sentence=in_own_units(answer.sentence, units), cautions=cautions)


def picked(answer: object, keys: str) -> dict[str, Any]:
    """Return those attributes of an answer whose names are the keys for scripts too, parted by spaces."""
    return {key: getattr(answer, key) for key in keys.split()}


@dataclass(frozen=True)
class Input:
    """One value to type: its key, what pages call it, how it is read, an example, and what holds if it is left out."""

    key: str
    label: str
    kind: str
    example: str
    customary: str = ""  # the example in pounds, psi, Fahrenheit and the like, where it has a unit
    required: bool = True
    default: str = ""


@dataclass
class Values:
    """What was typed, read: values by key, and how each was read, in words."""

    atmosphere_pa: float = atmosphere.SEA_LEVEL_PA
    atmosphere_by: str = ""
    air: atmosphere.Air | None = None  # what the atmosphere lies between, where a workshop's height is not entered
    barometer_doubt: str = ""
    read: dict[str, Any] = field(default_factory=dict)
    echoes: list[tuple[str, str]] = field(default_factory=list)

    def __getitem__(self, key: str) -> Any:
        return self.read.get(key)


@dataclass(frozen=True)
class GaugeReading:
    """One reading of a hold: seconds, absolute pascals, kelvin or None, with the steps that its digits show."""

    time_s: float
    pressure_pa: float
    temperature_k: float | None
    pressure_step_pa: float
    temperature_step_k: float
    needle: bool


@cache
def _inputs() -> dict[str, tuple[Input, ...]]:
    """What each check takes, by its name."""
    found: dict[str, tuple[Input, ...]] = {}
    with _INPUTS.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            check, required = row.pop("check"), row.pop("required") == "yes"
            found[check] = (*found.get(check, ()), Input(**row, required=required))
    return found


@dataclass(frozen=True)
class Check:
    """One check: its name, title and one line, and the function that answers; what it takes stands in the data."""

    name: str
    title: str
    line: str
    judge: Callable[[Values], CheckAnswer]

    @property
    def inputs(self) -> tuple[Input, ...]:
        """What it takes, in the order of the page."""
        return _inputs()[self.name]
