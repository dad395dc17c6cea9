"""A year of an invented workshop that ends on a given day, played line by line through the acts of a real one.

The same place, last day and seed give the same year. Its last day stops in the middle of the work: a vacuum hold runs,
and a cylinder stands on the scale.
"""

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import cached_property
from random import Random
from typing import Any
from uuid import uuid5
from zoneinfo import ZoneInfo

from django.db import connection

from shop.demo import plans, visits
from shop.demo.cast import TRAINEE
from shop.demo.furnish import open_workshop
from shop.demo.hands import Hands
from shop.demo.places import PLACES, Place
from shop.demo.plans import Car, Plan
from shop.demo.routine import Routine
from shop.demo.stock import Shelf
from shop.demo.today import today
from shop.demo.visits import BUS, CONVERSION, EMPTY, MIXTURE, WAITS, Job, Told
from shop.demo.year import ROOT
from shop.models import Workshop

VISITS, SEED = 150, 11
DAYS = 365
BUSY = timedelta(days=28)
SPECIAL = {
    1: WAITS,
    6: EMPTY,
    21: CONVERSION,
    75: BUS,
    120: MIXTURE,
    170: CONVERSION,
    300: CONVERSION,
}  # days before the end
UNANSWERED_BEFORE, SLIP_BEFORE = 33, 60
BODIES = ("hatchback", "sedan", "wagon", "crossover", "pick-up")
CHECKED = {"S1": -198, "G2": -198, "S2": -88, "G1": -88, "L1": 12, "TH1": -5, "ID1": 150}  # until when, at first


@dataclass
class Living:
    """One such year: `ends` is the moment at which it stops."""

    country: str
    ends: datetime
    seed: int = SEED
    count: int = VISITS

    @classmethod
    def until(cls, country: str, day: date, seed: int = SEED, count: int = VISITS) -> "Living":
        """Return the year whose last day is another one than today: it ends in the afternoon."""
        zone = ZoneInfo(PLACES[country](day).zone)
        return cls(country, datetime.combine(day, time(15, 0), zone), seed, count)

    def play(self, on_the_way: Callable[["Living", datetime], None]) -> Workshop:
        """Create the workshop and play the year; `on_the_way` is called as each month begins, and at the end."""
        with _in_haste():
            self._open()
            month = 0
            for when, _, told in sorted(self._agenda(), key=lambda one: one[:2]):
                if when.month != month:
                    month = when.month
                    on_the_way(self, when.replace(tzinfo=self.hands.zone))
                self._tell(told, when)
            for event in today(self.shelf, self.place, self.clock, self.ends, self.plates):
                self.hands.play(event)
            self.hands.finish()
            on_the_way(self, self.ends)
        return self.workshop

    @cached_property
    def place(self) -> Place:
        """Where it is."""
        return PLACES[self.country](self.day)

    @property
    def day(self) -> date:
        """The last day."""
        return self.ends.date()

    def _open(self) -> None:
        root = ROOT if self.country == "eu" else uuid5(ROOT, self.country)
        trained, until = self.day - timedelta(days=400), self.day
        checked = {name: until + timedelta(days=days) for name, days in CHECKED.items()}
        self.workshop = open_workshop(self.place, root, trained_since=trained, checked_until=checked)
        self.shelf = Shelf(self.place, self.seed)
        self.hands = Hands(self.workshop, root, self.shelf.bottles, self.place.supplier)
        self.plates: dict[int, str] = {}

    def _tell(self, told: Told, when: datetime) -> None:
        for event in told():
            at = self.hands.moment(event.at)
            written = when.replace(tzinfo=at.tzinfo)
            self.hands.play(event, written if written - at > timedelta(hours=1) else None)

    def clock(self, moment: datetime) -> str:
        """Write a moment as events have it."""
        return f"{moment:%Y-%m-%d %H:%M}"

    def _agenda(self) -> Iterator[tuple[datetime, int, Told]]:
        """Yield when what is done: the routine of each morning, and the visits."""
        order, jobs = itertools.count(), [self._job(plan, special) for plan, special in self._plans()]
        by_day: dict[date, list[Job]] = {}
        for job in jobs:
            by_day.setdefault(job.plan.start.date(), []).append(job)
        routine = Routine(self.shelf, self.place, self.clock, self.day, self.seed)
        for when, told in routine.mornings(self.first, by_day):
            yield when, next(order), told
        for job in jobs:
            alone = len(by_day[job.plan.start.date()]) == 1
            for when, told in job.moments():
                yield _written(when, job.plan.late if alone else timedelta()), next(order), told

    @property
    def first(self) -> date:
        """The first day."""
        return self.day - timedelta(days=DAYS)

    def _plans(self) -> Iterator[tuple[Plan, str]]:
        """Yield what was drawn of each visit, and what is out of the ordinary in it."""
        drawn = plans.plans_of(self.seed, self.count, list(self._open_days()))
        special = {self._near(drawn, days): what for days, what in SPECIAL.items()}
        unanswered, slip = self._near(drawn, UNANSWERED_BEFORE), self._near(drawn, SLIP_BEFORE)
        for plan in drawn:
            what = special.get(plan.number, "")
            plan = visits.as_special(plan, what)
            if plan.number == unanswered and not what:
                plan = replace(plan, doer=TRAINEE, answers="")
            if plan.number == slip and not what:
                plan = replace(plan, slip_mg=90_000, other_scale=False)
            yield plan, what

    def _open_days(self) -> Iterator[date]:
        """Yield the working days, busy ones more often: the warm months, and the last weeks."""
        for number in range(3, DAYS):
            day = self.first + timedelta(days=number)
            if day.weekday() < 5:
                warm = abs((day.month - self.place.warmest_month + 6) % 12 - 6) <= 1
                yield from [day] * (5 if self.day - day < BUSY else 4 if warm else 2)

    def _near(self, drawn: Sequence[Plan], days: int) -> int:
        """Return the number of the visit that lies next to so many days before the end."""
        wanted = self.day - timedelta(days=days)
        return min(drawn, key=lambda plan: (abs((plan.start.date() - wanted).days), -plan.number)).number

    def _job(self, plan: Plan, special: str) -> Job:
        draw = Random(f"{self.seed}/{plan.car.number}/{special}/car")
        newer = special == MIXTURE or (not special and draw.random() < self.place.newer_gas)
        plan = replace(plan, car=_sized(plan.car, draw, newer=newer, special=special))
        year = draw.randint(*((2017, self.day.year - 1) if newer else (2003, self.place.older_until)))
        if special == CONVERSION:
            year = draw.randint(1986, 1992)
        known = plan.car.number in self.plates
        plate = self.plates.setdefault(plan.car.number, _plate(self.place.plate, draw))
        return Job(
            plan,
            self.place,
            self.shelf,
            plate,
            "R-1234yf" if newer else "R-134a",
            self._celsius(plan.start.date()),
            self.clock,
            self.hands.held_g,
            special,
            "R-12" if special == CONVERSION else "",
            {**SAID.get(special, {}), **({} if known else self._new(plan.car, year, special, draw))},
        )

    def _new(self, car: Car, year: int, special: str, draw: Random) -> Mapping[str, Any]:
        """Return what is entered of a vehicle that was never here."""
        customers = self.place.customers
        body = (
            "city bus" if car.vehicle_class == "bus" else "van" if car.vehicle_class == "van" else draw.choice(BODIES)
        )
        facts: dict[str, Any] = {
            "make_model": f"{body}, {year}",
            "vehicle_class": car.vehicle_class,
            "first_registered": date(year, draw.randint(1, 12), draw.randint(1, 28)),
            "oil_g": round(car.oil_g),
        }
        if self.place.workshop["jurisdiction"] == "eu" and car.vehicle_class in ("car", "van") and 2011 <= year <= 2016:
            facts["type_approved"] = date(2005 + year % 6, 1 + year % 12, 17)
        customer = customers[1] if special == BUS else draw.choice(customers)
        return {"facts": facts, "customer": customer, "phone": f"555 0{200 + customers.index(customer)}"}

    def _celsius(self, day: date) -> float:
        """Return how warm it is in the workshop."""
        away = abs((day.month - self.place.warmest_month + 6) % 12 - 6)
        return self.place.coldest_c + 2.2 * (6 - away)


SAID: Mapping[str, Mapping[str, str]] = {
    CONVERSION: {"says": "wants it to cool again, old gas is not to be had", "purpose": "convert to R-134a"},
    BUS: {"says": "rear does not cool", "purpose": "recover, replace compressor, charge"},
    MIXTURE: {"says": "weak since a service elsewhere", "purpose": "find out why it cools badly"},
}


def _sized(car: Car, draw: Random, *, newer: bool, special: str) -> Car:
    """Return a car with a label that is usual for its gas and class, in grams."""
    if special == BUS:
        return car
    if special == CONVERSION:
        return replace(car, nameplate_g=draw.randrange(850, 1_150, 50))
    if newer:
        return replace(car, nameplate_g=draw.randrange(420, 600, 10))
    if car.nameplate_g >= 850:
        return replace(car, vehicle_class="van")
    return replace(car, nameplate_g=draw.randrange(480, 780, 10))


def _plate(form: str, draw: Random) -> str:
    """Return a plate of an invented form, without letters that are read as digits."""
    chosen = {"A": "BCDEFHJKLMNPRTUVWXY", "0": "123456789"}
    return "".join(draw.choice(chosen[char]) if char in chosen else char for char in form)


def _written(when: datetime, late: timedelta) -> datetime:
    """Return when a moment is entered: then, in the evening, or before the work of the next morning."""
    if late > timedelta(hours=12):
        begin = datetime.combine(when.date() + timedelta(days=1), time(5, 0), when.tzinfo)
        return begin + (when - when.replace(hour=6, minute=0)) / 10
    return when + late


@contextmanager
def _in_haste() -> Iterator[None]:
    """Let the database not wait for the disk after each act: a year that was not finished is thrown away."""
    hasty, careful = {
        "sqlite": ("PRAGMA synchronous=OFF", "PRAGMA synchronous=FULL"),
        "postgresql": ("SET synchronous_commit TO off", "RESET synchronous_commit"),
    }[connection.vendor]
    if connection.in_atomic_block:  # of a test; nothing is waited for there
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute(hasty)
        yield
        cursor.execute(careful)
