"""What is drawn before an invented year begins: cars, who does what when, the slips that people make, how scales err.

The study of the rules plays its years from it too, and judges them. Each visit has a stream of its own, so that an
honest year and a tricked one of the same seed meet the same. Shares of slips, of leaks and of what cars hold are
guesses from experience, no source. Pure.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from math import pi, sin
from random import Random

from inventory.measure import uncertainty

OWNER, TECHNICIAN, TRAINEE = "owner", "technician", "trainee"


@dataclass(frozen=True)
class Kind:
    """What a kind of workshop sees: who works there, what comes and how. Guesses, no source."""

    words: str = "a workshop of three"
    shares: Mapping[str, float] = field(default_factory=lambda: {OWNER: 0.30, TECHNICIAN: 0.45, TRAINEE: 0.25})
    visits: tuple[int, int] = (150, 300)
    vehicle_class: str = "car"
    times: int = 1  # a car's masses, its oil and volume, and cylinders and steps of scales to suit
    arrivals: tuple[float, float, float, float] = (50, 25, 18, 7)  # leaking, full, empty, open
    again: float = 0.12  # share of visits by a vehicle that came before
    two_at_once: float = 0.2  # share of vehicles begun while the person's last one stands under vacuum
    charges: bool = True  # or only recovers


WORKSHOP = Kind()


@dataclass(frozen=True)
class Car:
    """A car as it stands in the yard."""

    number: int
    nameplate_g: int
    volume_m3: float
    oil_g: float
    vehicle_class: str = "car"


@dataclass(frozen=True)
class Plan:
    """One visit before it happens: what the car brings, what is done, and which slips people make."""

    number: int
    start: datetime
    minutes: Mapping[str, float]
    doer: str
    answers: str
    car: Car
    arrival: str  # leaking, full, empty, open
    holds: float  # share of what was charged last, else of the label, that is still inside
    mended: str  # the step that names the leak: repair, part in, or nothing
    residue_g: float
    off_target: float  # in standard deviations
    forgot: frozenset[str]  # kinds of steps, "photo", "remainder settled"
    slip_mg: int  # a digit of the after-reading typed wrong
    late: timedelta
    other_scale: bool
    vented: bool = False  # of a trick: let go and written as empty
    fake: str = ""  # of a trick: let go, and its recovery typed

    def at(self, what: str) -> datetime:
        """Return when something of the visit is done."""
        return self.start + timedelta(minutes=self.minutes[what])


@dataclass
class Scale:
    """A scale with the span error that it has today; that goes through the year slowly, and with the seasons."""

    number: int
    step_g: float
    start: float
    ageing: float
    seasons: float
    span: float = 0.0

    def drift_to(self, day: date) -> None:
        """Take on the error of a day."""
        part = day.timetuple().tm_yday / 365
        self.span = self.start + self.ageing * part + self.seasons * sin(2 * pi * part)

    def count(self, gross_g: float, zero_g: float, more_g: float = 0.0) -> int:
        """Return how many of its steps it shows with a mass on it; `zero_g` is where its zero stands this time."""
        return round((gross_g * (1 + self.span) + zero_g + more_g) / self.step_g)

    @property
    def known(self) -> uncertainty.Scale:
        """The scale as the calculations take it."""
        return uncertainty.Scale(self.step_g, name=f"S{self.number}")


@dataclass
class Bottle:
    """A cylinder: what is really in it, and what the book has."""

    number: int
    kind: str
    tare_g: float
    content_g: float
    grade: str
    paper: str = ""
    state: str = "ready"
    book_mg: int = 0
    last: tuple[Scale, int] | None = None
    tare_typed_g: float = 0.0  # of a trick: how much more the book's tare is than the true one
    phantom_g: float = 0.0  # of a trick: what is typed on top of what the scale shows
    tampered: bool = False
    slip: tuple[int, int] | None = None  # visit and milligrams of a reading that is still wrong
    days: dict[str, date] = field(default_factory=dict)

    @property
    def tare_mg(self) -> int:
        """The tare that the book has."""
        return round((self.tare_g + self.tare_typed_g) * 1000)


def new_scale(number: int, step_g: float, draw: Random) -> Scale:
    """Return a scale whose span stays within 0.1 % all year."""
    return Scale(number, step_g, *(draw.uniform(-most, most) for most in (0.000_4, 0.000_3, 0.000_3)))


def moment(day: date, hour: float) -> datetime:
    """Return a moment of a day."""
    return datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(hours=hour)


def plans_of(seed: int, count: int, open_days: Sequence[date], kind: Kind = WORKSHOP) -> list[Plan]:
    """Return so many visits, spread over the days on which the workshop is open; a day may stand there more often."""
    draw = Random(f"{seed}/calendar")
    plans: list[Plan] = []
    seen: list[tuple[Car, date]] = []
    ends: dict[tuple[str, date], Plan] = {}
    for number, day in enumerate(sorted(draw.choice(open_days) for _ in range(count)), 1):
        person = Random(f"{seed}/{number}/person").choices(list(kind.shares), list(kind.shares.values()))[0]
        plan = _plan(seed, number, day, person, ends.get((person, day)), seen, kind)
        ends[(person, day)] = plan
        seen.append((plan.car, day))
        plans.append(plan)
    return plans


def _plan(
    seed: int, number: int, day: date, person: str, before: Plan | None, seen: list[tuple[Car, date]], kind: Kind
) -> Plan:
    draw = Random(f"{seed}/{number}/visit")
    label_g, volume_m3, oil_g = draw.randrange(440, 1_000, 10), draw.uniform(0.0014, 0.0024), draw.uniform(100, 200)
    car = Car(1_000 + number, label_g * kind.times, volume_m3 * kind.times, oil_g * kind.times, kind.vehicle_class)
    arrival = draw.choices(("leaking", "full", "empty", "open"), kind.arrivals)[0]
    known = [one for one, when in seen if (day - when).days > 60]
    if known and draw.random() < kind.again:
        car = draw.choice(known)
    holds = {"leaking": draw.betavariate(4, 2) * 0.4 + 0.6, "full": draw.uniform(0.95, 1.0)}.get(arrival, 0.0)
    mended = "repair" if arrival in ("leaking", "empty") and draw.random() < 0.92 else "part in"
    if arrival == "leaking" and draw.random() < 0.08:
        mended = ""
    slips = {"standing pressure": 0.03, "photo": 0.05, "after-search": 0.05, "remainder settled": 0.03}
    forgot = frozenset(name for name, share in slips.items() if draw.random() < share)
    slip_mg = draw.choice((-90_000, -10_000, 10_000, 90_000, 100_000, -100_000)) if draw.random() < 0.008 else 0
    minutes = _minutes(draw)
    start = moment(day, 8.0) + timedelta(minutes=draw.uniform(0, 40))
    if before is not None:  # the next car comes after the last one left, or while that one stands under vacuum
        apart = before.at("vacuum") + timedelta(minutes=draw.uniform(4, 30))
        waits = draw.random() >= kind.two_at_once
        start = before.at("out") + timedelta(minutes=draw.uniform(10, 30)) if waits else apart
        if abs(start + timedelta(minutes=minutes["recovery"]) - before.at("charge")) < timedelta(minutes=5):
            start += timedelta(minutes=10)  # nobody weighs two cars' gas at once
    late = draw.choices((timedelta(), timedelta(hours=5), timedelta(hours=40)), (95, 4, 1))[0]
    return Plan(
        number, start, minutes, person, OWNER if person == TRAINEE else "", car, arrival, holds, mended,
        draw.uniform(4, 20) * kind.times, draw.gauss(0.0, 1.0), forgot, slip_mg * kind.times, late, draw.random() < 0.1,
    )  # fmt: skip


def _minutes(draw: Random) -> dict[str, float]:
    recovery, mend = 25 + draw.uniform(0, 15), 60 + draw.uniform(0, 60)
    vacuum = mend + 30
    charge = vacuum + 60 + draw.uniform(0, 10)
    return {
        "received": 0, "label": 4, "standing": 10, "recovery": recovery, "settled": recovery + 5, "search": 48,
        "open": 52, "mend": mend, "close": mend + 10, "vacuum": vacuum, "hold": vacuum + 30, "charge": charge,
        "after": charge + 12, "out": charge + 25,
    }  # fmt: skip
