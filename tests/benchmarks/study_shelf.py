"""The shelf of a simulated workshop: cylinders on honest scales, what the book has of them, and what passes the gate.

*True* masses are grams and known to nobody; *booked* ones are milligrams. All is R-134a. The scales: a step of 5 g for
recovery, of 1, 2 or 5 g for charging; a zero that comes back to within one step between sessions, nearer rather than
farther (triangular; were it rectangular, display steps alone would put 8 of 100 weighings beyond 2 u); a span that
stays within 0.1 %.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any

from compliance.rules.facts import Consignment, Cylinder, Difference, Line, Reading, TareChange, Visit
from inventory.measure import uncertainty
from shop.demo.plans import OWNER, TECHNICIAN, WORKSHOP, Bottle, Kind, Plan, Scale, moment, new_scale, plans_of

YEAR = 2025
WORKING_DAYS = [day for n in range(363) if (day := date(YEAR, 1, 2) + timedelta(days=n)).weekday() < 5]
GAS = "R-134a"
FULL_MG = 9_654_000  # of a recovery cylinder
BOUGHT_G = 11_000.0
HEEL_G = 450.0  # below it a bottle gives no liquid any more
CHECKED_UNTIL = date(YEAR + 1, 6, 30)


class Trick:
    """Nothing is done. Tricks change a plan, a mass that is typed, or do something of their own each week."""

    def __init__(self, grams_a_week: float = 0.0) -> None:
        self.grams_a_week, self.owed_g = grams_a_week, 0.0

    def plan(self, year: "Shelf", plan: Plan) -> Plan:
        """Return what is done instead, and mark what is tricked."""
        return plan

    def typed_charge_mg(self, year: "Shelf", plan: Plan, target_mg: int) -> int | None:
        """Return a charge that is invented, or None."""
        return None

    def shelf(self, year: "Shelf", plan: Plan, kind: str) -> Bottle | None:
        """Return a cylinder taken instead of the one in use, or None."""
        return None

    def consigned(self, year: "Shelf", one: Consignment) -> Consignment:
        """Return what is written of a consignment."""
        return one

    def weekly(self, year: "Shelf", day: date) -> None:
        """Do what is done on Monday before work; what is to be vented this week falls due."""
        self.owed_g += self.grams_a_week

    def more(self, year: "Shelf") -> list[Plan]:
        """Return visits that only the trick has."""
        return []


class Shelf:
    """What the workshop of a seed has, before and while the year is played. A trick may change it."""

    def __init__(self, seed: int, trick: Trick | None = None, kind: Kind = WORKSHOP) -> None:
        self.seed, self.trick, self.kind, self.times = seed, trick or Trick(), kind, kind.times
        draw = Random(f"{seed}/workshop")
        self.scales = {
            1: new_scale(1, 5.0 * self.times, draw),
            2: new_scale(2, draw.choice((1.0, 2.0, 5.0)) * self.times, draw),
        }
        self.count = draw.randint(*kind.visits)
        self.tricked: set[str] = set()
        self.first_trick: date | None = None
        self.seq = 0
        self.visits: dict[int, Visit] = {}
        self.known: dict[int, date] = {}
        self.lines: list[Line] = []
        self.readings: list[Reading] = []
        self.differences: list[Difference] = []
        self.consignments: list[Consignment] = []
        self.tares: list[TareChange] = []
        self.bottles: dict[int, Bottle] = {}
        self.inside: dict[int, tuple[int, date]] = {}  # by car: milligrams charged last, and when
        self.due: list[tuple[date, int, str]] = []  # day, what, and which answer of somebody else comes
        self.noise = Random(f"{seed}/noise")
        self.plans = sorted(
            [*plans_of(seed, self.count, WORKING_DAYS, kind), *self.trick.more(self)], key=lambda one: one.start
        )
        self._open_book(draw)

    def mark(self, day: date, *abouts: str) -> None:
        """Remember that a trick touched these records, and its person."""
        self.first_trick = self.first_trick or day
        self.tricked |= {"book", f"person:{TECHNICIAN}", *abouts}

    def _open_book(self, draw: Random) -> None:
        first = datetime(YEAR, 1, 1, 8, tzinfo=UTC)
        stock = ((101, "refillable", 9_000.0, "virgin"), (31, "recovery", 2_000.0, ""))
        for number, kind, content, grade in stock if self.kind.charges else stock[1:]:
            bottle = self.new_bottle(number, kind, content * self.times, grade or "recovered", paper="D-0")
            self._first_reading(bottle, first, "opening-stock")
        for number in (32, 33, 34):
            self.new_bottle(number, "recovery", 0.0, "recovered")

    def new_bottle(self, number: int, kind: str, content_g: float, grade: str, paper: str = "") -> Bottle:
        """Put a cylinder on the shelf. The stamp is true."""
        tare_g = 6_200.0 if kind == "refillable" else 6_400.0
        bottle = self.bottles[number] = Bottle(number, kind, tare_g * self.times, content_g, grade, paper)
        return bottle

    # --- scales and the book ----------------------------------------------------------------------------------

    def next_line(self) -> int:
        self.seq += 1
        return self.seq

    def session(self, scale: Scale) -> float:
        """Return the zero, in grams, of a scale that was just switched on."""
        return self.noise.triangular(-scale.step_g, scale.step_g)

    def look(self, bottle: Bottle, scale: Scale, zero_g: float) -> int:
        """Return what a scale shows, in milligrams."""
        count = scale.count(bottle.tare_g + bottle.content_g, zero_g, bottle.phantom_g)
        return round(count * scale.step_g * 1000)

    def write_reading(
        self, bottle: Bottle, scale: Scale, gross_mg: int, role: str, at: datetime, written: datetime, by: str
    ) -> int:
        """Write a reading; return its line."""
        line, scale_u = self.next_line(), uncertainty.single(replace(scale.known, span=0.0), gross_mg / 1000, 0.0)
        self.readings.append(
            Reading(
                line, bottle.number, at, written, role, gross_mg, round(scale.step_g * 1000),
                scale_u.random_g * 1000, by,
            )
        )  # fmt: skip
        bottle.days["weighed"] = at.date()
        return line

    def settle(self, bottle: Bottle, scale: Scale, zero_g: float, at: datetime, by: str, role: str = "before") -> int:
        """Weigh a cylinder for itself: its difference to the book is written. Return the gross in milligrams."""
        gross_mg = self.look(bottle, scale, zero_g)
        line = self.write_reading(bottle, scale, gross_mg, role, at, at, by)
        missing_mg = bottle.book_mg - max(0, gross_mg - bottle.tare_mg)
        if missing_mg:
            self._differs(bottle, scale, gross_mg, missing_mg, line, at, by)
        bottle.book_mg, bottle.last = max(0, gross_mg - bottle.tare_mg), (scale, gross_mg)
        return gross_mg

    def _differs(
        self, bottle: Bottle, scale: Scale, gross_mg: int, missing_mg: int, line: int, at: datetime, by: str
    ) -> None:
        before, before_mg = bottle.last or (scale, gross_mg)
        if before is scale:
            u = uncertainty.pair_two_sessions(scale.known, abs(missing_mg) / 1000)
        else:
            u = uncertainty.pair_two_scales(before.known, before_mg / 1000, scale.known, gross_mg / 1000)
        can_tell_g = uncertainty.can_tell(u.total_g, before.step_g, scale.step_g)
        open_mg = missing_mg
        if bottle.slip is not None:
            open_mg -= bottle.slip[1]
            self._put_right(bottle, at)
        self.differences.append(
            Difference(
                line, bottle.number, at.date(), missing_mg, open_mg, round(can_tell_g * 1000), u.total_g * 1000, by
            )
        )
        if bottle.tampered:
            self.tricked |= {f"line:{line}", f"cylinder:{bottle.number}"}
            bottle.tampered = False

    def _put_right(self, bottle: Bottle, at: datetime) -> None:
        """Correct the charge of a reading that was typed wrong, as its owner does once the next one shows it."""
        if bottle.slip is None:
            return
        number, slip_mg = bottle.slip
        bottle.slip = None
        visit = self.visits[number]
        right = []
        for deed in visit.deeds:
            if deed.kind == "charge":
                mass_mg = deed.moved[0].mass_mg + slip_mg
                self.inside[visit.vehicle.number] = mass_mg, deed.day
                deed = replace(deed, moved=(replace(deed.moved[0], mass_mg=mass_mg),), recorded_at=at)
                self.lines = [
                    replace(one, mass_mg=mass_mg, recorded_at=at) if one.line == deed.line else one
                    for one in self.lines
                ]
            right.append(deed)
        self.visits[number] = replace(visit, deeds=tuple(right))

    def write_line(
        self, cause: str, mass_mg: int, at: datetime, by: str, *, bottle: Bottle | None = None, **facts: Any
    ) -> Line:
        """Write a line of the book."""
        more: dict[str, Any] = {
            "basis": "pair", "grade": bottle.grade if bottle else "", "u_mg": 2_040.0 * self.times, "recorded_at": at,
            "visit": None, **facts,
        }  # fmt: skip
        number = bottle.number if bottle else None
        more.setdefault("line", self.next_line())
        line = Line(
            on=more["recorded_at"].date(), at=at, cause=cause, refrigerant=GAS, mass_mg=mass_mg, cylinder=number,
            by=by, **more,
        )  # fmt: skip
        self.lines.append(line)
        return line

    def _first_reading(self, bottle: Bottle, at: datetime, cause: str) -> None:
        scale = self.scales[1]
        gross_mg = self.look(bottle, scale, self.session(scale))
        self.write_reading(bottle, scale, gross_mg, "single", at, at, OWNER)
        bottle.book_mg, bottle.last = max(0, gross_mg - bottle.tare_mg), (scale, gross_mg)
        bottle.days["first in"] = at.date()
        self.write_line(cause, bottle.book_mg, at, OWNER, bottle=bottle, basis="single")

    def drain(self, cause: str, grams: float, day: date, by: str) -> Line | None:
        """Let something out of the recovery cylinder in use, between two weighings; None where it has too little."""
        bottle, scale = self.in_use("recovery"), self.scales[1]
        if bottle.content_g < grams + 200 * self.times:
            return None
        at = moment(day, 7.5)
        zero_g = self.session(scale)
        before_mg = self.settle(bottle, scale, zero_g, at, by)
        bottle.content_g -= grams
        after_mg = self.look(bottle, scale, zero_g)
        line = self.write_reading(bottle, scale, after_mg, "after", at, at, by)
        bottle.book_mg, bottle.last = after_mg - bottle.tare_mg, (scale, after_mg)
        if before_mg <= after_mg:
            return None
        bottle.days["out"] = day
        return self.write_line(cause, before_mg - after_mg, at, by, bottle=bottle, line=line)

    # --- cylinders come and go --------------------------------------------------------------------------------

    def in_use(self, kind: str) -> Bottle:
        """Return the common cylinder in use: to charge from, the oldest; to recover into, the fullest."""
        ready = [one for one in self.bottles.values() if one.kind == kind and one.state == "ready" and _common(one)]
        if kind == "recovery":
            if not ready:  # all are away: another one is brought
                number = max(one for one in self.bottles if one < 100) + 1
                return self.new_bottle(number, "recovery", 0.0, "recovered")
            return max(ready, key=lambda one: (one.book_mg, -one.number))
        return min(ready, key=lambda one: one.number)

    def bottle_for(self, plan: Plan, need_g: float) -> Bottle:
        taken = self.trick.shelf(self, plan, "refillable")
        bottle = taken or self.in_use("refillable")
        if bottle.content_g >= need_g + HEEL_G * self.times:
            return bottle
        at = plan.start - timedelta(minutes=20)
        scale = self.scales[1]
        self.settle(bottle, scale, self.session(scale), at, OWNER, role="check")
        if bottle.book_mg:
            self.write_line("heel-returned", bottle.book_mg, at, OWNER, bottle=bottle, basis="single")
        bottle.state, bottle.book_mg, bottle.days["out"] = "done with", 0, at.date()
        return self.bought(bottle.number + 1, at)

    def bought(self, number: int, at: datetime) -> Bottle:
        """Buy a bottle and weigh it."""
        fill_g = (BOUGHT_G + self.noise.gauss(0.0, 12.0)) * self.times
        new = self.new_bottle(number, "refillable", fill_g, "virgin", paper=f"D-{number}")
        self._first_reading(new, at, "purchase")
        return new

    def recovery_for(self, plan: Plan) -> Bottle:
        taken = self.trick.shelf(self, plan, "recovery")
        if taken is not None:
            return taken
        bottle = self.in_use("recovery")
        if bottle.book_mg + round(plan.car.nameplate_g * 1050) > FULL_MG * self.times:
            self.send_away(bottle, plan.start - timedelta(minutes=20))
            bottle = self.in_use("recovery")
        return bottle

    def send_away(self, bottle: Bottle, at: datetime) -> None:
        """Send a full cylinder to the reclaimer; paper and mass come weeks later, the cylinder too."""
        scale = self.scales[1]
        self.settle(bottle, scale, self.session(scale), at, OWNER, role="check")
        sent = self.write_line(
            "sent-away", bottle.book_mg, at, OWNER, bottle=bottle, basis="single", u_mg=4_560.0 * self.times
        )
        self.consignments.append(
            Consignment(
                sent.line, f"{YEAR}-{sent.line}", at.date(), bottle.number, True, "reclaim",
                GAS, "recovered", bottle.book_mg, sent.u_mg, None, None, "",
            )
        )  # fmt: skip
        bottle.state, bottle.book_mg, bottle.last, bottle.days["out"] = "away", 0, None, at.date()
        wait = Random(f"{self.seed}/reclaimer/{sent.line}").randint(14, 40)
        self.due.append((at.date() + timedelta(days=wait), bottle.number, f"accepted {sent.line}"))

    def answered(self, day: date, number: int, what: str) -> None:
        """Enter the receiver's paper; the cylinder comes back empty."""
        bottle, line = self.bottles[number], int(what.split()[1])
        index = next(i for i, one in enumerate(self.consignments) if one.line == line)
        one, draw = self.consignments[index], Random(f"{self.seed}/accepted/{line}")
        oil_mg = round(one.mass_mg * draw.uniform(0.0, 0.015))
        theirs_mg = round(bottle.content_g * 1000 * (1 + draw.gauss(0.0, 0.002)) - oil_mg)
        self.consignments[index] = self.trick.consigned(
            self,
            replace(one, accepted_mg=max(0, theirs_mg), oil_mg=oil_mg, paper_number=f"A-{line}"),
        )
        bottle.content_g, bottle.phantom_g, bottle.state = 0.0, 0.0, "ready"
        if draw.random() < 0.15:  # a new valve: weighed evacuated, with a photo
            change_g = round(draw.gauss(0.0, 8.0)) * self.times
            bottle.tare_g += change_g
            self.tares.append(TareChange(number, day, change_g * 1000, "measured evacuated", True))

    def shown(self, one: Bottle) -> Cylinder:
        return Cylinder(
            one.number, one.kind, GAS, one.grade, one.state, one.book_mg,
            (FULL_MG if one.kind == "recovery" else 12_000_000) * self.times, "", date(2030, 1, 1), one.paper,
            one.days.get("first in"), one.days.get("weighed"), one.days.get("out"), one.days.get("filled"),
        )  # fmt: skip


def _common(one: Bottle) -> bool:
    """Whether everybody takes from or fills a cylinder; tricks number their own from 300."""
    return one.number < 300
