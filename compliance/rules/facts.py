"""What the rules look at: plain facts of one workshop, read from the book and the visits once. Pure: no database.

Masses in milligrams; times are aware, in the workshop's zone, so that `.date()` is the workshop's day. A rule never
sees a name or a plate, only numbers and handles; words for the page are made of those by whoever shows them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from compliance.matching.pairs import Ours, Theirs
from shop.people.certificates import held_on

Data = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True)
class Certificate:
    """A certificate as entered. `scheme` and `scope` are free text."""

    scheme: str
    issued_on: date | None
    expires_on: date | None
    never_expires: bool
    scope: str = ""
    category: str = ""  # a key of `shop.people.certificates.CATEGORIES`

    def holds_on(self, day: date) -> bool:
        """Whether it was held on `day` as far as the dates entered show."""
        return held_on(self, day)


@dataclass(frozen=True)
class Person:
    """Somebody of the workshop, by handle."""

    handle: str
    role: str
    active: bool
    trainee: bool
    enrolled_on: date | None
    certificates: tuple[Certificate, ...] = ()

    @property
    def may_write(self) -> bool:
        """Whether this role enters anything."""
        return self.role in ("owner", "technician")

    def certified_on(self, day: date) -> bool:
        """Whether any certificate was held on `day`."""
        return any(one.holds_on(day) for one in self.certificates)


@dataclass(frozen=True)
class Moved:
    """One movement of a visit's step: gas into or out of the vehicle, or what settles what was left."""

    cause: str
    basis: str
    refrigerant: str
    grade: str
    mass_mg: int
    u_mg: float
    cylinder: int | None = None  # number of the cylinder's account, where one is at an end
    line: int = 0


@dataclass(frozen=True)
class Deed:
    """One step of a visit that stands (neither replaced nor reversed), in the order of `at`."""

    kind: str  # a name of `shop.visits.kinds`
    at: datetime
    recorded_at: datetime
    doer: str  # handle
    answers: str  # handle of who answers for it, or empty
    data: Data
    line: int | None = None  # of the book
    moved: tuple[Moved, ...] = ()
    photographed: bool = False  # by an uploaded photo, within a day

    @property
    def day(self) -> date:
        """The workshop's day of it."""
        return self.at.date()


@dataclass(frozen=True)
class Vehicle:
    """The vehicle of a visit, without name or plate."""

    number: int  # of its account
    vehicle_class: str
    refrigerant: str
    original_refrigerant: str
    nameplate_mg: int | None
    first_registered: date | None
    type_approved: date | None = None


@dataclass(frozen=True)
class Visit:
    """One visit with its deeds."""

    number: int
    vehicle: Vehicle
    opened_at: datetime
    closed_at: datetime | None
    state: str
    deeds: tuple[Deed, ...]
    proof: str = ""  # verdict of the recovery: a word of shop.bench.recovery, empty where there is none yet
    emptied: bool = False  # after its recovery it stood under the pressure from which a circuit counts as emptied
    missing_mg: int = 0  # beyond what readings, residue and label can tell; 0 where accounted for
    previous_charge_on: date | None = None  # of the same vehicle, before this visit
    held_mg: Mapping[str, int] = field(default_factory=dict)  # what the book had in the vehicle on arrival
    atmosphere_pa: float = 101_325.0  # of the workshop's altitude: a step's pressures are absolute

    def of(self, *kinds: str) -> tuple[Deed, ...]:
        """Return the deeds of some kinds, in order."""
        return tuple(deed for deed in self.deeds if deed.kind in kinds)

    @property
    def handed_over(self) -> bool:
        """Whether the vehicle was handed over."""
        return self.closed_at is not None


@dataclass(frozen=True)
class Cylinder:
    """A cylinder with what the book has in it now."""

    number: int
    kind: str
    refrigerant: str
    grade: str
    state: str
    held_mg: int
    limit_mg: int | None
    limit_rule: str
    requalify_by: date | None
    paper_number: str
    first_in_on: date | None = None  # day of its first line
    last_weighed_on: date | None = None
    last_out_on: date | None = None  # last line that took something out of it
    filled_on: date | None = None  # last line that put something into it
    max_held_mg: int = 0  # the most the book ever had in it, and on which line and day
    max_held_line: int = 0
    max_held_on: date | None = None
    certified_on: date | None = None  # of a machine, to the authority
    heel_removed_on: date | None = None  # of a single-trip one
    heel_stated: bool = False  # that its heel was removed


@dataclass(frozen=True)
class Reading:
    """One weighing."""

    line: int
    cylinder: int
    at: datetime
    recorded_at: datetime
    role: str
    gross_mg: int
    step_mg: int
    u_mg: float
    by: str


@dataclass(frozen=True)
class Difference:
    """A weighing difference; `mass_mg` positive is mass that went missing, `open_mg` what is unexplained of it."""

    line: int
    cylinder: int
    on: date
    mass_mg: int
    open_mg: int
    can_tell_mg: int
    u_mg: float
    by: str


@dataclass(frozen=True)
class Line:
    """A movement that touches the gate, the air, the unexplained or oil: what a book-wide rule sums.

    `cause` is of the closed list; `cylinder` is the number of the cylinder's account.
    """

    line: int
    on: date
    at: datetime
    recorded_at: datetime
    cause: str
    basis: str
    refrigerant: str
    grade: str
    mass_mg: int
    u_mg: float
    cylinder: int | None
    visit: int | None
    by: str


@dataclass(frozen=True)
class Consignment:
    """Gas sent away."""

    line: int
    number: str
    on: date
    cylinder: int
    has_address: bool
    purpose: str
    refrigerant: str
    grade: str
    mass_mg: int
    u_mg: float
    accepted_mg: int | None
    oil_mg: int | None
    paper_number: str


@dataclass(frozen=True)
class TareChange:
    """A new version of a cylinder's tare; `change_mg` positive makes the content look less."""

    cylinder: int
    on: date
    change_mg: int
    source: str
    photographed: bool


@dataclass(frozen=True)
class Instrument:
    """A scale or gauge in use, and until when its check holds (None: never entered)."""

    kind: str
    name: str
    good_until: date | None
    last_used_on: date | None = None


@dataclass(frozen=True)
class Shot:
    """A photo of a step of a visit."""

    line: int  # that seals it
    visit: int
    vehicle: int  # number of its account
    step: str  # kind
    step_at: datetime
    by: str
    shows: str  # a word of `inventory.models.Photo.SHOWS`
    digest: str
    look: str  # 64 bits as hexadecimal digits; empty where there is none
    taken_at: datetime | None  # by the clock of the camera


@dataclass(frozen=True)
class Listed:
    """What a partner's own lists say, and what the book says of the same gate; each list covers its days."""

    partner: int  # number of the account
    asked_from: date | None  # a list of each quarter is asked for from then on
    rows: Sequence[Theirs] = ()
    lines: Sequence[Ours] = ()
    covered: Sequence[tuple[date, date]] = ()  # first and last day of each list


@dataclass(frozen=True)
class StateLicence:
    """What a workshop says of the licence or registration that its state's own law may ask of repair shops."""

    entered: bool = False
    until: date | None = None
    not_asked: bool = False  # the state asks for none


@dataclass(frozen=True)
class Workshop:
    """All that the rules look at, as of `today`."""

    jurisdiction: str  # us, eu, in, none
    today: date
    has_address: bool = True
    registration: str = ""
    people: Mapping[str, Person] = field(default_factory=dict)
    visits: Sequence[Visit] = ()
    cylinders: Sequence[Cylinder] = ()
    readings: Sequence[Reading] = ()
    differences: Sequence[Difference] = ()
    lines: Sequence[Line] = ()
    consignments: Sequence[Consignment] = ()
    tares: Sequence[TareChange] = ()
    instruments: Sequence[Instrument] = ()
    shots: Sequence[Shot] = ()
    listed: Sequence[Listed] = ()
    state_licence: StateLicence = StateLicence()
