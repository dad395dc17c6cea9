"""In how many simulated years the truth lies within twice the uncertainty that a statement gives of its stock.

Run by hand: ``python tests/benchmarks/coverage.py [FIRST LAST]`` (seeds, default 3000 to 3099; 0 to 99 served while it
was written). Each seed is a workshop of fifteen months whose book is written by the acts of the product, and whose
scales, stamps and losses are known to the simulation alone; the statement is that of the last twelve.

Twice: with errors as the calculation supposes them, each drawn evenly over all that is stated (span 0.1 %, zero one
step, stamps 50 g, either way), the span of a scale staying what it is; and with scales like those of the study of the
rules, better than stated, whose span goes through the year. Slips of people are left out: no uncertainty covers them.
"""

import sys
import tempfile
import time
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path
from random import Random
from typing import Any
from uuid import uuid4

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from shop.demo import plans  # noqa: E402
from tests.benchmarks.books import use  # noqa: E402

REPORT = (3000, 3099)
BEGIN, YEAR = date(2024, 10, 1), (date(2025, 1, 1), date(2025, 12, 31))
STAMP_G, STAMP_U_MG, TARE_G = 50.0, 28_868, 6_300.0
FULL_G, HEEL_G, BOUGHT_G = 9_500.0, 700.0, 11_000.0
GASES = {"R-134a": 0.75, "R-1234yf": 0.25}  # share of the visits
AS_SUPPOSED, LIKE_THE_STUDY = "as supposed", "like the study's"
LABELS = count(1)  # drawn at random, one in some thousand would come twice
MOVES = ("opening", "closing", "balance")


@dataclass
class Bottle:
    """A cylinder: its record, what it really weighs empty, and what is really in it; grams."""

    record: Any
    tare_g: float
    content_g: float
    state: str = "here"


@dataclass
class Gauge:
    """A scale with the errors that it really has."""

    record: Any
    step_g: float
    truth: plans.Scale
    is_supposed: bool


@dataclass
class Shop:
    """One workshop: its book, and the truth."""

    seed: int
    kind: str
    book: Any
    bottles: list[Bottle] = field(default_factory=list)
    lost_g: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))  # in the year, told to nobody
    opening_g: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    at: datetime = datetime(BEGIN.year, BEGIN.month, BEGIN.day, 8, tzinfo=UTC)

    def __post_init__(self) -> None:
        from inventory import causes
        from inventory.book import ledger
        from inventory.models import Partner

        self.draw = Random(f"{self.seed}/coverage")
        self.noise = Random(f"{self.seed}/coverage/noise")
        self.gauges = [self._gauge(1, 5.0), self._gauge(2, self.draw.choice((1.0, 2.0, 5.0)))]
        self.vehicle = ledger.open_account(self.book, causes.VEHICLE, "Cars")
        account = ledger.open_account(self.book, causes.PARTNER, "Supplier")
        self.partner = Partner.objects.create(account=account, name="Supplier", likeness="SUPPLIER", kind="supplier")

    def _gauge(self, number: int, step_g: float) -> Gauge:
        from inventory.book import ledger

        record = ledger.open_scale(self.book, name=f"S{number}", step_mg=round(step_g * 1000))
        truth = plans.new_scale(number, step_g, self.draw)
        if self.kind == AS_SUPPOSED:
            truth = plans.Scale(number, step_g, self.draw.uniform(-0.001, 0.001), 0.0, 0.0)
        return Gauge(record, step_g, truth, self.kind == AS_SUPPOSED)

    def act(self) -> Any:
        """Return an act of the day, a few minutes after the one before."""
        from inventory.book.ledger import Act

        self.at += timedelta(minutes=2)
        return Act(uuid4(), "p-hand", self.at, {"at": self.at.isoformat()})

    def session(self, gauge: Gauge) -> float:
        """Return where the zero of a scale stands that was just switched on."""
        draw = self.noise.uniform if gauge.is_supposed else self.noise.triangular
        return draw(-gauge.step_g, gauge.step_g)

    def read(self, bottle: Bottle, gauge: Gauge, zero_g: float) -> Any:
        """Return what a scale shows of a cylinder."""
        from inventory.book.weighing import Gross

        steps = gauge.truth.count(bottle.tare_g + bottle.content_g, zero_g)
        return Gross(bottle.record, gauge.record, round(steps * gauge.step_g * 1000), "as shown")

    def new(self, code: str, grade: str, content_g: float, cause: str) -> Bottle:
        """Bring a cylinder in, weighed where there is something in it."""
        from inventory.acts.receiving import First, receive_cylinder
        from inventory.models import Cylinder

        kind = Cylinder.REFILLABLE if grade == "virgin" else Cylinder.RECOVERY
        tare_g = TARE_G + self.draw.uniform(-STAMP_G, STAMP_G)
        serial = f"{self.seed}-{self.kind[0]}-{len(self.bottles)}"
        record = Cylinder(
            serial=serial, likeness=serial, kind=kind, refrigerant=code, grade=grade, tare_mg=round(TARE_G * 1000),
            tare_u_mg=STAMP_U_MG, water_capacity_m3=0.0264, label=f"{next(LABELS):06d}",
        )  # fmt: skip
        bottle = Bottle(record, tare_g, content_g)
        gauge = self.gauges[0]
        partner = self.partner if cause == "purchase" else None
        first = First(cause, "single", partner) if content_g else None
        reading = self.read(bottle, gauge, self.session(gauge)) if content_g else None
        bottle.record = receive_cylinder(self.book, self.act(), record, first, reading)
        self.bottles.append(bottle)
        return bottle

    def of(self, code: str, grade: str) -> list[Bottle]:
        """Return the cylinders of a gas on the shelf, in the order they came."""
        return [
            one
            for one in self.bottles
            if one.state == "here" and (one.record.refrigerant, one.record.grade) == (code, grade)
        ]

    def pass_between(self, bottle: Bottle, gauge: Gauge, change_g: float) -> None:
        """Weigh, move gas between a cylinder and a car, and weigh again in the same session."""
        from inventory.acts import settling
        from inventory.book import ledger, weighing
        from inventory.book.draft import Draft, Line
        from inventory.models import Weighing

        zero_g = self.session(gauge)
        before = self.read(bottle, gauge, zero_g)
        bottle.content_g += change_g
        after = self.read(bottle, gauge, zero_g)
        code, grade = bottle.record.refrigerant, bottle.record.grade

        def build(draft: Draft) -> None:
            weighing.settle(draft, before, Weighing.BEFORE)
            gained_mg, u = weighing.passed(draft, after)
            ends = (self.vehicle, bottle.record.account)
            if gained_mg > 0:
                settling.found_in_vehicle(draft, self.vehicle, code, grade, gained_mg, "pair", u)
            else:
                ends = (ends[1], ends[0])
            cause = "recovery" if gained_mg > 0 else "charge"
            parts = weighing.parts_mg(u)
            draft.move(Line(cause, *ends, code, grade, abs(gained_mg), "pair", *parts, after.scale))

        ledger.write(self.book, self.act(), build)

    def leave(self, bottle: Bottle, cause: str) -> None:
        """Weigh a cylinder and send it away with all it holds."""
        from inventory.acts.away import Dispatch, send_away

        gauge = self.gauges[0]
        gross = self.read(bottle, gauge, self.session(gauge))
        send_away(self.book, self.act(), gross, Dispatch(self.partner, cause, "reclaim", ""))
        bottle.state = "away"

    def play(self) -> None:
        """Play the fifteen months."""
        for code in GASES:
            for grade, content_g in (("virgin", 9_000.0), ("virgin", BOUGHT_G), ("recovered", 3_000.0)):
                self.new(code, grade, content_g + self.noise.gauss(0, 20), "opening-stock")
        days = [BEGIN + timedelta(days=n) for n in range((YEAR[1] - BEGIN).days + 1)]
        working = [day for day in days if day.weekday() < 5]
        opened = False
        for plan in plans.plans_of(self.seed, self.draw.randint(190, 370), working):
            if not opened and plan.start.date() >= YEAR[0]:
                opened, self.opening_g = True, self.inside()
            self.at = max(self.at, plan.start)
            for gauge in self.gauges:
                gauge.truth.drift_to(plan.start.date())
            self.visit(plan, in_year=opened)

    def visit(self, plan: plans.Plan, *, in_year: bool) -> None:
        """Recover what a car brings and charge it; now and then something is lost that nobody notices."""
        code = self.draw.choices(list(GASES), list(GASES.values()))[0]
        if plan.holds and plan.arrival not in ("empty", "open"):
            gauge = self.gauges[1 if plan.other_scale else 0]
            out_g = max(20.0, plan.holds * plan.car.nameplate_g - plan.residue_g)
            self.pass_between(self.to_fill(code, plan), gauge, out_g)
        gauge = self.gauges[0 if plan.other_scale else 1]
        charge_g = plan.car.nameplate_g + plan.off_target * 6.0
        bottle = self.to_charge_from(code, charge_g)
        self.pass_between(bottle, gauge, -charge_g)
        if self.draw.random() < 0.05:
            lost_g = self.draw.uniform(0, 60)
            bottle.content_g -= lost_g
            self.lost_g[code] += lost_g * in_year

    def to_fill(self, code: str, plan: plans.Plan) -> Bottle:
        """Return a recovery cylinder that takes another car's gas; a full one goes to the reclaimer."""
        here = self.of(code, "recovered")
        bottle = here[-1]
        if bottle.content_g + plan.car.nameplate_g * 1.05 > FULL_G:
            self.leave(bottle, "sent-away")
            bottle.content_g = 0.0
            return self.new(code, "recovered", 0.0, "purchase")
        return bottle

    def to_charge_from(self, code: str, need_g: float) -> Bottle:
        """Return the oldest bottle with enough in it; an empty one goes back, and another is bought."""
        bottle = self.of(code, "virgin")[0]
        if bottle.content_g >= need_g + HEEL_G:
            return bottle
        self.leave(bottle, "heel-returned")
        self.new(code, "virgin", BOUGHT_G + self.noise.gauss(0, 20), "purchase")
        return self.of(code, "virgin")[0]

    def inside(self) -> defaultdict[str, float]:
        """Return what is really in stock."""
        found = defaultdict[str, float](float)
        for one in self.bottles:
            if one.state == "here":
                found[one.record.refrigerant] += one.content_g
        return found

    def judged(self) -> list[tuple[str, str, float, float]]:
        """Return refrigerant, mass, by how much the statement misses the truth and its u, in grams."""
        from compliance.statement.figures import read_statement
        from compliance.statement.stock import WHOLE

        report, closing_g = read_statement(self.book, *YEAR, "AR4"), self.inside()
        found, whole = [], defaultdict[str, float](float)
        for each in report.refrigerants:
            code, exact = each.refrigerant, report.exactness_of(each)
            truth = dict(zip(MOVES, (self.opening_g[code], closing_g[code], self.lost_g[code]), strict=True))
            said = dict(zip(MOVES, (each.opening_mg, each.closing_mg, each.unexplained.mass_mg), strict=True))
            for move in MOVES:
                missed_g = said[move] / 1000 - truth[move]
                whole[move] += missed_g
                found.append((code, move, missed_g, getattr(exact, move).u_mg / 1000))
        for move in MOVES:
            found.append(("all", move, whole[move], getattr(report.exact[WHOLE], move).u_mg / 1000))
        return found


def main() -> None:
    """Play the years of each kind and print how many lie within."""
    first, last = (int(one) for one in sys.argv[1:3]) if len(sys.argv) > 2 else REPORT
    with tempfile.TemporaryDirectory() as folder:
        use(Path(folder) / "coverage.sqlite3")
        from django.db import connection

        from inventory.book import ledger

        with connection.cursor() as cursor:
            cursor.execute("PRAGMA synchronous=OFF")
        for kind in (AS_SUPPOSED, LIKE_THE_STUDY):
            begun = time.process_time()
            judged: dict[tuple[str, str], list[tuple[float, float]]] = {}
            for seed in range(first, last + 1):
                shop = Shop(seed, kind, ledger.open_book(f"{seed} {kind}", "UTC"))
                shop.play()
                for code, move, missed_g, u_g in shop.judged():
                    judged.setdefault((code, move), []).append((missed_g, u_g))
            print(f"\nErrors {kind}, seeds {first} to {last}, {time.process_time() - begun:.0f} s of CPU")
            for (code, move), found in judged.items():
                within = sum(abs(missed_g) <= 2 * u_g for missed_g, u_g in found)
                spread = (sum(missed_g**2 for missed_g, _ in found) / len(found)) ** 0.5
                mean_u = (sum(u_g**2 for _, u_g in found) / len(found)) ** 0.5
                print(f"| {code} | {move} | {within} of {len(found)} | {mean_u:.1f} g | {spread:.1f} g |", flush=True)


if __name__ == "__main__":
    main()
