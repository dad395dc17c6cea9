"""What can happen: one small class for each thing that a person does. Masses are grams as scales show."""

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, field
from datetime import date

from shop.demo.cast import OWNER, TECHNICIAN

Typed = Mapping[str, str]


@dataclass(frozen=True)
class Event:
    """Something that somebody did at a moment, ``03-03 08:30`` of 2025 or with its year, in workshop time."""

    at: str
    _: KW_ONLY
    who: str = TECHNICIAN
    answers: str | None = None
    typed: Typed = field(default_factory=dict)


@dataclass(frozen=True)
class Received(Event):
    """A cylinder came: as opening stock, bought by a paper that says a mass, or empty."""

    serial: str
    gross_g: float | None = None
    _: KW_ONLY
    who: str = OWNER
    origin: str = "empty"
    machine_g: int | None = None  # what the display of a machine shows of its tank
    paper: str = ""
    paper_g: int = 0


@dataclass(frozen=True)
class Known(Event):
    """A vehicle was entered before its first visit, with whom it belongs to."""

    plate: str
    customer: str
    phone: str
    facts: Mapping[str, object]


@dataclass(frozen=True)
class Arrived(Event):
    """A visit began."""

    plate: str
    purpose: str


@dataclass(frozen=True)
class Waits(Event):
    """A visit waits for something."""

    plate: str
    what: str


@dataclass(frozen=True)
class Started(Event):
    """The clock of a vacuum hold was started, with its first reading."""

    plate: str
    pressure: str
    minutes: int


@dataclass(frozen=True)
class ReadAgain(Event):
    """One more reading of what is under way."""

    plate: str
    pressure: str


@dataclass(frozen=True)
class Did(Event):
    """A step of a visit that moves no mass."""

    plate: str
    kind: str
    note: str = ""


@dataclass(frozen=True)
class Also(Did):
    """A step that belongs to a visit and that no acceptance scenario asks for."""


@dataclass(frozen=True)
class Recovered(Event):
    """One leg of a recovery, by two readings of S1."""

    plate: str
    serial: str
    before_g: float
    after_g: float


@dataclass(frozen=True)
class Charged(Event):
    """One leg of a charge, by two readings of one scale."""

    plate: str
    serial: str
    before_g: float
    after_g: float
    restarted: bool = False
    _: KW_ONLY
    scale: str = "S2"


@dataclass(frozen=True)
class MachineRecovered(Event):
    """What a machine's display said that it took out, and purged."""

    plate: str
    serial: str
    shown_g: int
    purged_g: int


@dataclass(frozen=True)
class MachineCharged(Event):
    """What a machine's display said that it put in."""

    plate: str
    serial: str
    shown_g: int


@dataclass(frozen=True)
class Checked(Event):
    """A check weighing on S1."""

    serial: str
    gross_g: float


@dataclass(frozen=True)
class StockTaken(Event):
    """A round of the floor, on S1: serial numbers and what the scale showed."""

    grosses_g: Mapping[str, float]
    _: KW_ONLY
    who: str = OWNER


@dataclass(frozen=True)
class Let(Event):
    """Air or oil was let out of a cylinder between two readings of S1."""

    serial: str
    before_g: float
    after_g: float
    cause: str
    _: KW_ONLY
    who: str = OWNER


@dataclass(frozen=True)
class PutRight(Event):
    """A reading after a charge had been typed wrong; the cylinder's next one has shown it."""

    serial: str
    wrong_g: float
    gross_g: float
    _: KW_ONLY
    who: str = OWNER


@dataclass(frozen=True)
class OnTheScale(Event):
    """A cylinder was put on S2 for a visit and read; it stands there still."""

    plate: str
    serial: str
    gross_g: float


@dataclass(frozen=True)
class AirChecked(Event):
    """A cylinder that had stood overnight was read for air."""

    serial: str
    pressure: str
    temperature: str


@dataclass(frozen=True)
class InstrumentsChecked(Event):
    """The paper came of a check of scales and gauges."""

    names: tuple[str, ...]
    until: date
    by: str
    paper: str
    _: KW_ONLY
    who: str = OWNER


@dataclass(frozen=True)
class Photographed(Event):
    """A picture was taken of the last step of a kind in a visit or, without one, of the last line."""

    plate: str
    kind: str
    shows: str
    reading: str


@dataclass(frozen=True)
class Explained(Event):
    """The last difference of a cylinder was explained as a loss, all of it where no mass is given."""

    mass_g: int
    reason: str


@dataclass(frozen=True)
class HeelOut(Event):
    """The heel of a single-trip cylinder was drawn into another, with the statement of it, and it was thrown away."""

    serial: str
    into: str
    before_g: float
    after_g: float
    statement: str
    _: KW_ONLY
    who: str = OWNER


@dataclass(frozen=True)
class SentAway(Event):
    """A cylinder was sent away, weighed on S1."""

    serial: str
    gross_g: float
    partner: str
    purpose: str
    cause: str
    number: str
    remark: str = ""
    _: KW_ONLY
    who: str = OWNER


@dataclass(frozen=True)
class Accepted(Event):
    """The paper came of what was accepted of a consignment, of the last one where no number is given."""

    accepted_g: int
    oil_g: int
    on: str
    paper: str
    _: KW_ONLY
    who: str = OWNER
    number: str = ""


@dataclass(frozen=True)
class Settled(Event):
    """What the book still had in a vehicle was settled: half of what can be left in it, and the rest lost before."""

    plate: str
    residue_g: float
    residue_u_mg: int
    road_g: float
