"""The inspector's table of tricks, as they show in the records, and which rules answer each: set down before any run.

The technician plays them; whoever else works is honest. Grams a week are what goes into the air, or past the book.
Their own cylinders are numbered from 300: for recovery to 319, for charging from 320, for one sin each from 400.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from random import Random

from compliance.rules.facts import Consignment, TareChange
from shop.demo.plans import TECHNICIAN, TRAINEE, Bottle, Car, Plan, moment, plans_of
from tests.benchmarks.study_shelf import FULL_MG, HEEL_G, WORKING_DAYS, YEAR, Shelf, Trick

SIZES = (50, 100, 200, 400)


class Vents(Trick):
    """Let go of a car's gas whenever so much has fallen due, in the way that `turned` says."""

    def plan(self, year: Shelf, plan: Plan) -> Plan:
        held = year.inside.get(plan.car.number)
        content_g = plan.holds * (held[0] / 1000 if held else plan.car.nameplate_g)
        if plan.doer != TECHNICIAN or plan.arrival not in ("leaking", "full") or self.owed_g < content_g / 2:
            return plan
        self.owed_g -= content_g
        year.mark(plan.start.date(), f"visit:{plan.number}")
        return self.turned(plan)

    def turned(self, plan: Plan) -> Plan:
        raise NotImplementedError


class LeakedBefore(Vents):
    """Written as arrived empty, without a photo; where a joint would have been mended, nothing is."""

    def turned(self, plan: Plan) -> Plan:
        mended = "" if plan.mended == "repair" else plan.mended
        return replace(plan, vented=True, mended=mended, forgot=(plan.forgot | {"photo"}) - {"standing pressure"})


class LeakedStaged(Vents):
    """Written as arrived empty, with a photo of the gauge taken afterwards and a repair that is named."""

    def turned(self, plan: Plan) -> Plan:
        forgot = plan.forgot - {"photo", "standing pressure"}
        return replace(plan, vented=True, mended=plan.mended or "repair", forgot=forgot)


class LeakFoundStaged(LeakedStaged):
    """The same, and a joint that leaks is written as found and mended, whatever the car came for."""

    def turned(self, plan: Plan) -> Plan:
        return replace(super().turned(plan), mended="repair")


class NoPressure(Vents):
    """The standing pressure is left out and nothing recovered."""

    def turned(self, plan: Plan) -> Plan:
        return replace(plan, vented=True, forgot=plan.forgot | {"standing pressure"})


class FakeRecovery(Vents):
    """The label is typed as recovered; the next honest reading of the cylinder stands on the scale."""

    def turned(self, plan: Plan) -> Plan:
        return replace(plan, fake="typed")


class FakeCarriedOn(Vents):
    """The same in a cylinder that only the technician weighs, so that the lie is carried on until it leaves."""

    def turned(self, plan: Plan) -> Plan:
        return replace(plan, fake="carried on")

    def shelf(self, year: Shelf, plan: Plan, kind: str) -> Bottle | None:
        if plan.doer != TECHNICIAN or kind != "recovery":
            return None
        return own_recovery(year, plan)


class CylinderEach(Vents):
    """The label is typed as recovered into a new cylinder, which appears once."""

    def turned(self, plan: Plan) -> Plan:
        return replace(plan, fake="typed")

    def shelf(self, year: Shelf, plan: Plan, kind: str) -> Bottle | None:
        if not plan.fake or kind != "recovery":
            return None
        number = max(399, *year.bottles) + 1
        year.mark(plan.start.date(), f"cylinder:{number}")
        return year.new_bottle(number, "recovery", 0.0, "recovered")


class Skim(Trick):
    """Take a little from the bottle in use before each visit, as it comes to so much a week."""

    def __init__(self, grams_a_week: float = 0.0, each_g: float = 0.0) -> None:
        super().__init__(grams_a_week)
        self.each_g = each_g

    def plan(self, year: Shelf, plan: Plan) -> Plan:
        bottle = year.in_use("refillable")
        bite_g = self.each_g or self.grams_a_week * 52 / year.count
        if bottle.content_g > bite_g + HEEL_G:
            bottle.content_g -= bite_g
            bottle.tampered = True
            year.mark(plan.start.date(), f"cylinder:{bottle.number}")
        return plan


class Invented(Trick):
    """Every charge of the technician is typed as before less target."""

    def typed_charge_mg(self, year: Shelf, plan: Plan, target_mg: int) -> int | None:
        if plan.doer != TECHNICIAN:
            return None
        year.mark(plan.start.date(), f"visit:{plan.number}")
        return target_mg


class BackDated(Trick):
    """One in six of the technician's visits is written weeks later, with cylinders that nobody else weighs."""

    def plan(self, year: Shelf, plan: Plan) -> Plan:
        draw = Random(f"{year.seed}/{plan.number}/back")
        if plan.doer != TECHNICIAN or draw.random() > 1 / 6:
            return plan
        year.mark(plan.start.date(), f"visit:{plan.number}")
        return replace(plan, late=timedelta(days=draw.randint(10, 40)), forgot=plan.forgot | {"photo"})

    def shelf(self, year: Shelf, plan: Plan, kind: str) -> Bottle | None:
        if plan.late < timedelta(days=5):
            return None
        return own_recovery(year, plan) if kind == "recovery" else own_bottle(year, plan)


class Tare(Trick):
    """Every fourth Monday the recovery cylinder is vented, and its empty mass lowered until it weighs right again."""

    staged = False

    def weekly(self, year: Shelf, day: date) -> None:
        super().weekly(year, day)
        bottle = year.in_use("recovery")
        grams = min(self.owed_g, bottle.content_g - 200)
        if day.isocalendar().week % 4 or grams < 50:
            return
        self.owed_g -= grams
        bottle.content_g -= grams
        bottle.tare_typed_g -= grams
        bottle.tampered = True
        source = "measured evacuated" if self.staged else "supplier"
        year.tares.append(TareChange(bottle.number, day, -round(grams * 1000), source, self.staged))
        year.mark(day, f"cylinder:{bottle.number}")

    def consigned(self, year: Shelf, one: Consignment) -> Consignment:
        if f"cylinder:{one.cylinder}" in year.tricked:
            year.mark(one.on, f"consignment:{one.line}")
        return one


class TareStaged(Tare):
    """The same, said to be measured evacuated, with a photo of something."""

    staged = True


class NeverLeaves(Trick):
    """No recovered gas is ever sent away: one cylinder after another is filled and stays."""

    def shelf(self, year: Shelf, plan: Plan, kind: str) -> Bottle | None:
        if kind != "recovery":
            return None
        number = max((one for one in year.bottles if 300 <= one < 320), default=300)
        bottle = year.bottles.get(number) or year.new_bottle(number, "recovery", 0.0, "recovered")
        if too_full(bottle, plan):
            bottle = year.new_bottle(number + 1, "recovery", 0.0, "recovered")
        year.mark(plan.start.date(), f"cylinder:{bottle.number}")
        return bottle


class Ghost(Trick):
    """A recovery cylinder is vented and written as sent to a reclaimer who never saw it."""

    forged = False

    def __init__(self, grams_a_week: float = 0.0) -> None:
        super().__init__(grams_a_week)
        self.lines: set[int] = set()

    def weekly(self, year: Shelf, day: date) -> None:
        super().weekly(year, day)
        bottle = year.in_use("recovery")
        if self.owed_g < 2_000 or bottle.content_g < 1_500:
            return
        self.owed_g -= bottle.content_g
        year.send_away(bottle, moment(day, 7.0))
        line = year.consignments[-1].line
        self.lines.add(line)
        year.mark(day, f"consignment:{line}", f"cylinder:{bottle.number}")

    def consigned(self, year: Shelf, one: Consignment) -> Consignment:
        if one.line not in self.lines or self.forged:
            return one
        return replace(one, accepted_mg=None, oil_mg=None, paper_number="")


class GhostForged(Ghost):
    """The same with a forged paper that accepts it all."""

    forged = True


class Drained(Trick):
    """So much a week is let out of the recovery cylinder and written under a cause that sounds harmless."""

    cause = "purge"

    def weekly(self, year: Shelf, day: date) -> None:
        super().weekly(year, day)
        line = year.drain(self.cause, self.owed_g, day, TECHNICIAN)
        if line is not None:
            self.owed_g = 0.0
            year.mark(day, f"line:{line.line}", f"cylinder:{line.cylinder}")


class AsOil(Drained):
    """Written as oil."""

    cause = "was-oil"


class OffTheBook(Trick):
    """Gas bought without paper is poured into the bottle in use."""

    def weekly(self, year: Shelf, day: date) -> None:
        bottle = year.in_use("refillable")
        bottle.content_g += self.grams_a_week
        bottle.tampered = True
        year.mark(day, f"cylinder:{bottle.number}")


class TurnedUp(Trick):
    """The same, written as turned up."""

    def weekly(self, year: Shelf, day: date) -> None:
        bottle = year.in_use("refillable")
        bottle.content_g += self.grams_a_week
        bottle.book_mg += round(self.grams_a_week * 1000)
        line = year.write_line(
            "turned-up", round(self.grams_a_week * 1000), moment(day, 7.0), TECHNICIAN, bottle=bottle, basis="single"
        )
        year.mark(day, f"line:{line.line}")


class NoInvoice(Trick):
    """Every second bottle comes without a paper."""

    def weekly(self, year: Shelf, day: date) -> None:
        bottle = year.in_use("refillable")
        if bottle.number % 2 == 0 and bottle.paper:
            bottle.paper = ""
            year.mark(day, f"cylinder:{bottle.number}")


class SharedName(Trick):
    """The trainee works under the technician's name."""

    def plan(self, year: Shelf, plan: Plan) -> Plan:
        if plan.doer != TRAINEE:
            return plan
        year.mark(plan.start.date(), f"visit:{plan.number}")
        return replace(plan, doer=TECHNICIAN, answers="")


class BusInTwo(Trick):
    """Four times a year a bus is charged in two visits of half its mass."""

    apart = timedelta(hours=5)

    def more(self, year: Shelf) -> list[Plan]:
        plans = []
        for k, month in enumerate((2, 5, 7, 10)):
            car = Car(9_000 + k, 3_500, 0.006, 300.0, "bus")
            pattern = replace(
                plans_of(year.seed, 1, WORKING_DAYS)[0],
                car=car,
                doer=TECHNICIAN,
                answers="",
                arrival="open",
                forgot=frozenset(),
            )
            start = moment(date(YEAR, month, 12), 8.0)
            for part in range(2):
                plans.append(replace(pattern, number=9_000 + 2 * k + part, start=start + part * self.apart, slip_mg=0))
        return plans

    def plan(self, year: Shelf, plan: Plan) -> Plan:
        if plan.number >= 9_000:
            year.mark(plan.start.date(), f"visit:{plan.number}")
        return plan


class BusOnTwoDays(BusInTwo):
    """The same on two days."""

    apart = timedelta(days=1)


def own_recovery(year: Shelf, plan: Plan) -> Bottle:
    """Return the technician's own recovery cylinder; a full one is sent away."""
    own = [one for one in year.bottles.values() if 300 <= one.number < 320 and one.state == "ready"]
    bottle = max(own, key=lambda one: one.book_mg) if own else None
    if bottle is not None and too_full(bottle, plan):
        year.send_away(bottle, plan.start - timedelta(minutes=20))
        year.mark(plan.start.date(), f"consignment:{year.consignments[-1].line}", f"cylinder:{bottle.number}")
        bottle = next((one for one in own if one.state == "ready"), None)
    if bottle is None:
        number = 300 + sum(300 <= one < 320 for one in year.bottles)
        bottle = year.new_bottle(number, "recovery", 0.0, "recovered")
    return bottle


def own_bottle(year: Shelf, plan: Plan) -> Bottle:
    """Return the technician's own bottle to charge from."""
    own = [one for one in year.bottles.values() if 320 <= one.number < 400 and one.state == "ready"]
    return own[0] if own else year.bought(320, plan.start - timedelta(minutes=40))


def too_full(bottle: Bottle, plan: Plan) -> bool:
    return bottle.book_mg + plan.car.nameplate_g * 1050 > FULL_MG


@dataclass(frozen=True)
class Row:
    """One trick of the table, and the rules that answer it."""

    words: str
    make: Callable[[float], Trick]
    rules: tuple[str, ...]
    sized: bool = True
    note: str = ""


EMPTY = ("book-arrived-empty", "book-empty-and-no-leak")
EMPTY_SHARES = ("book-empties-by-person", "book-leaks-never-found", "book-recovered-against-charged")
TOO_GOOD = ("book-recovered-as-label", "book-identical-masses")
RUNS = ("book-losses-one-way", "book-losses-one-way-year", "book-losses-one-way-person")
DISAGREE = "book-weighings-disagree"
GATE = ("book-consignment-paper", "book-consignment-accepted")
TARES = ("book-tare-corrected", "book-tares-one-way", "book-consignment-accepted", DISAGREE)

ROWS: tuple[Row, ...] = (
    Row("leaked before arrival, no photo", LeakedBefore, (*EMPTY, *EMPTY_SHARES)),
    Row("leaked before arrival, photo and repair staged", LeakedStaged, (*EMPTY, *EMPTY_SHARES)),
    Row("the same, the leak found staged too", LeakFoundStaged, (*EMPTY, *EMPTY_SHARES)),
    Row(
        "no standing pressure at all",
        NoPressure,
        ("book-standing-pressure", "book-opened-with-gas", "book-no-pressure-by-person", *EMPTY, *EMPTY_SHARES),
    ),
    Row("label typed as recovered", FakeRecovery, (DISAGREE, *TOO_GOOD, *RUNS)),
    Row("the same, carried on in a cylinder of one's own", FakeCarriedOn, ("book-consignment-accepted", *TOO_GOOD)),
    Row("skim from the bottle in use", Skim, (DISAGREE, *RUNS)),
    Row("vented, tare lowered without photo", Tare, TARES),
    Row("vented, tare lowered, photo staged", TareStaged, TARES),
    Row("ghost consignment, no paper", Ghost, GATE),
    Row("ghost consignment, forged paper", GhostForged, GATE, note="nothing in the record"),
    Row("recovered gas booked as air", Drained, ("book-purged",)),
    Row("recovered gas booked as oil", AsOil, ("book-drained-as-oil",)),
    Row(
        "a new cylinder for every sin", CylinderEach, ("book-not-weighed", "book-used-once", "book-invoice", *TOO_GOOD)
    ),
    Row("gas bought off the book, poured into a bottle", OffTheBook, (DISAGREE, *RUNS)),
    Row("gas bought off the book, as turned up", TurnedUp, ("book-gas-from-nowhere",)),
    Row("skim of 3 g a visit", lambda _: Skim(each_g=3.0), (DISAGREE, *RUNS), sized=False),
    Row("invented after-readings", Invented, ("book-charged-at-target", "book-last-digits", DISAGREE), sized=False),
    Row("back-dating", BackDated, ("book-late-lines", "book-arrived-empty", "book-certificate-later"), sized=False),
    Row(
        "cylinders that never leave",
        NeverLeaves,
        ("book-recovered-kept", "book-not-weighed", "book-away-long", "book-recovered-against-charged"),
        sized=False,
    ),
    Row("bottles without a paper", NoInvoice, ("book-invoice",), sized=False),
    Row("shared log-in", SharedName, ("book-two-at-once",), sized=False),
    Row("a bus in two visits of one day", BusInTwo, ("book-split-charges",), sized=False),
    Row(
        "a bus in two visits on two days", BusOnTwoDays, ("book-split-charges",), sized=False, note="two honest visits"
    ),
)
