"""What can happen in the story: one small class for each thing that a person does. Masses are grams as scales show."""

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, field

from shop.demo.cast import OWNER, TECHNICIAN

Typed = Mapping[str, str]


@dataclass(frozen=True)
class Event:
    """Something that somebody did at a moment, ``03-03 08:30``, in workshop time."""

    at: str
    _: KW_ONLY
    who: str = TECHNICIAN
    typed: Typed = field(default_factory=dict)


@dataclass(frozen=True)
class Received(Event):
    """A cylinder came: as opening stock, bought by a paper that says a mass, or empty."""

    serial: str
    gross_g: int | None = None
    _: KW_ONLY
    who: str = OWNER
    origin: str = "empty"
    machine_g: int | None = None  # what the display of a machine shows of its tank
    paper: str = ""
    paper_g: int = 0


@dataclass(frozen=True)
class Arrived(Event):
    """A visit began."""

    plate: str
    purpose: str


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
    before_g: int
    after_g: int
    answers: str | None = None


@dataclass(frozen=True)
class Charged(Event):
    """One leg of a charge, by two readings of S2."""

    plate: str
    serial: str
    before_g: int
    after_g: int
    restarted: bool = False


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
    gross_g: int


@dataclass(frozen=True)
class Explained(Event):
    """The last difference of a cylinder was explained as a loss."""

    mass_g: int
    reason: str


@dataclass(frozen=True)
class SentAway(Event):
    """A cylinder was sent away, weighed on S1."""

    serial: str
    gross_g: int
    partner: str
    purpose: str
    cause: str
    number: str
    remark: str = ""
    _: KW_ONLY
    who: str = OWNER


@dataclass(frozen=True)
class Accepted(Event):
    """The paper came of what was accepted of the last consignment."""

    accepted_g: int
    oil_g: int
    on: str
    paper: str
    _: KW_ONLY
    who: str = OWNER


@dataclass(frozen=True)
class Settled(Event):
    """What the book still had in a vehicle was settled: half of what can be left in it, and the rest lost before."""

    plate: str
    residue_g: int
    residue_u_mg: int
    road_g: int
