"""What is under way at the vehicles of a workshop, as pages show it: countdown, readings, how long it would take."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from inventory.measure.own import Units
from inventory.output.days import clock, when
from inventory.shelf.listing import names_of
from shop.bench import holdfacts
from shop.bench.answers import bar, span, yearly
from shop.bench.countdown import Countdown, lasting, length, since_s
from shop.models import Step, Visit, Watch, WatchReading, Workshop
from shop.visits.inputs import CANNOT, hold_of
from shop.visits.lines import quantity_said
from shop.visits.watches import WATCH_BY_NAME, WatchKind


@dataclass(frozen=True)
class Read:
    """One reading as the page shows it."""

    reading: WatchReading
    after_s: int  # since the start

    @property
    def after_words(self) -> str:
        """How long after the start."""
        return f"{lasting(self.after_s)} after the start" if self.after_s else "at the start"

    def said(self, units: Units) -> str:
        """Return what was read, as it was typed, the unit of who looks at it beside."""
        kept = ((name, self.reading.data.get(name)) for name in ("pressure", "temperature"))
        return ", ".join(quantity_said(name, one, units) for name, one in kept if one)


@dataclass(frozen=True)
class UnderWay:
    """A watch with its readings that count, and where its clock stands now."""

    watch: Watch
    kind: WatchKind
    readings: tuple[WatchReading, ...]
    countdown: Countdown

    @property
    def name(self) -> str:
        """What is under way, and at which vehicle."""
        return f"{self.kind.words.capitalize()}, {self.watch.visit.vehicle}"

    @property
    def due_words(self) -> str:
        """What is said once when the planned length is over."""
        return f"{self.name}: it is time. Read the gauge."

    @property
    def since(self) -> str:
        """When it was started; with the day where that is another."""
        return said_from(self.watch.started_at, self.countdown.now)

    @property
    def until(self) -> str:
        """When its planned length is over; with the day where that is another."""
        return said_from(self.countdown.ends_at, self.countdown.now)

    @property
    def planned(self) -> str:
        """The planned length in words."""
        return length(self.planned_s)

    @property
    def rows(self) -> list[Read]:
        """The readings for the page."""
        return [Read(one, int(since_s(self.watch.started_at, one.taken_at))) for one in self.readings]

    @property
    def now_ms(self) -> int:
        """The server's time as a page counts on from it."""
        return int(self.countdown.now.timestamp() * 1000)

    @property
    def start_ms(self) -> int:
        """The start in the same count."""
        return int(self.watch.started_at.timestamp() * 1000)

    @property
    def planned_s(self) -> int:
        """The planned length in whole seconds."""
        return round(self.watch.planned_s)


def said_from(moment: datetime, now: datetime) -> str:
    """Return a moment in the zone in force: the time alone where it is of the same day as `now`."""
    return clock(moment) if when(moment)[:10] == when(now)[:10] else when(moment)


def looked_at(watch: Watch, now: datetime) -> UnderWay:
    """Return a watch as it stands `now`."""
    readings = tuple(one for one in watch.readings.all() if not one.dropped)
    return UnderWay(watch, WATCH_BY_NAME[watch.kind], readings, Countdown(watch.started_at, watch.planned_s, now))


def all_of(workshop: Workshop) -> QuerySet[Watch]:
    """Return the watches of a workshop with all that pages say of them."""
    ours = Exists(Visit.objects.filter(pk=OuterRef("visit"), workshop=workshop))  # no walk over all visits
    rows = Watch.objects.filter(ours).select_related("visit__vehicle", "visit__workshop__book")
    return rows.prefetch_related(Prefetch("readings", WatchReading.objects.order_by("taken_at", "pk")))


def under_way(workshop: Workshop, now: datetime, visit: Visit | None = None) -> list[UnderWay]:
    """Return what runs in a workshop or at one visit, what ends first standing first; two queries."""
    rows = all_of(workshop).filter(ended_at=None).order_by()  # they are sorted by their ends
    if visit is not None:
        rows = rows.filter(visit=visit)
    return sorted((looked_at(one, now) for one in rows), key=lambda one: one.countdown.ends_at)


def people_of(one: UnderWay) -> dict[str, str]:
    """Return the names behind the handles of whoever started, read or dropped it."""
    return names_of({one.watch.started_by, one.watch.dropped_by, *(each.taken_by for each in one.readings)} - {""})


def to_see(one: UnderWay) -> tuple[str, float] | None:
    """Return how long a pressure hold has to stand (s) to show a leak of the yardstick, first as a sentence.

    By its first reading, its instruments and what is known of the inside volume; None for others, or where nothing
    says so.
    """
    facts = _hold(one)
    try:
        seconds = holdfacts.seconds_to_see(facts) if facts else None
    except CANNOT:
        return None
    if facts is None or seconds is None:
        return None
    leak = f"{yearly(holdfacts.LIMIT_G_PER_YEAR)} of {facts.refrigerant}"
    return f"To see {leak} with these instruments it would have to stand {span(seconds)}.", seconds


def above_allowed(one: UnderWay) -> str:
    """Return a sentence where more was read than the weakest side of the vehicle allows; empty else."""
    facts, allowed_pa = _hold(one), one.watch.visit.vehicle.weakest_side_pa
    if facts is None or allowed_pa is None or facts.highest_pa <= allowed_pa:
        return ""
    read, allowed = bar(facts.highest_pa), bar(allowed_pa)
    return f"{read} absolute is more than the {allowed} that the weakest side allows. Relieve it through the regulator."


def _hold(one: UnderWay) -> holdfacts.Hold | None:
    """Return a pressure hold with what was read so far; None for another kind, or where nothing was."""
    if one.kind.name != "pressure hold" or not one.readings:
        return None
    rows = [
        {
            "time_s": since_s(one.readings[0].taken_at, each.taken_at),
            "pressure_pa": each.data["pressure"]["si"],
            "temperature_k": (each.data.get("temperature") or {}).get("si"),
        }
        for each in one.readings
    ]
    visit = one.watch.visit
    step = Step(visit=visit, kind=one.kind.name, data={**one.watch.data, "readings": {"text": "", "si": rows}})
    return hold_of(step, visit.workshop.air.pressure_pa)
