"""The steps that take time and can be watched while they run, as data: what is read, and how long is usual.

Pure: no database. What a watch comes to stands in `underway`; what people do with one, in `acts.watching`.
"""

from dataclasses import dataclass

from shop.bench import vacuumfits
from shop.visits.kinds import BY_NAME
from shop.visits.steps import StepKind

MOST_READINGS = 40  # as many as the form of a step takes


@dataclass(frozen=True)
class WatchKind:
    """One kind of step that can be watched.

    `pressure` and `temperature` name the fields of the step by which a reading is read and into which it goes; an empty
    `temperature` is not asked for. `usual_s` is the length proposed where none was planned here before.
    """

    name: str  # of the step
    words: str  # "pressure hold"
    pressure: str
    temperature: str
    usual_s: float
    usual_from: str
    instruments: tuple[str, ...] = ("gauge",)
    begins_with: str = "pressure"  # what the first reading is called; empty: it may be left out

    @property
    def step(self) -> StepKind:
        """The kind of step that it becomes."""
        return BY_NAME[self.name]

    @property
    def slug(self) -> str:
        """The kind as it stands in an address."""
        return self.step.slug


_PRACTICE = "common practice, no source"

WATCHED: tuple[WatchKind, ...] = (
    WatchKind(
        "pressure hold",
        "pressure hold",
        "readings",
        "readings",
        1_800.0,
        _PRACTICE,
        instruments=("gauge", "thermometer"),
    ),
    WatchKind("vacuum hold", "vacuum hold", "readings", "coldest", vacuumfits.USUAL_S, _PRACTICE),
    WatchKind("pulling vacuum", "evacuation", "lowest", "", 1_800.0, _PRACTICE, begins_with=""),
    WatchKind(
        "recovery",
        "wait after recovery",
        "pressure_after_wait",
        "coldest",
        300.0,
        "U.S. Army TM 5-3810-307-24-1-2, read second-hand",
        instruments=(),
    ),
)
WATCH_BY_NAME = {one.name: one for one in WATCHED}
WATCH_BY_SLUG = {one.slug: one for one in WATCHED}
