"""What really stands on the shelf of an invented workshop, and what its honest scales show of it.

*True* masses are grams and known to nobody; scales return to nothing within a step and are off by up to 0.1 %.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from random import Random

from inventory.gases import filling
from shop.demo import events, plans
from shop.demo.cast import Bottle
from shop.demo.places import Place

HEEL_G = 450.0  # below it a cylinder gives no liquid any more
CHARGING, RECOVERY, LARGE, TANK = "charging", "recovery", "large", "tank"


@dataclass
class Stock:
    """A cylinder and what is truly in it; `slip` is what an after-reading should have been, and what was typed."""

    serial: str
    bottle: Bottle
    use: str
    content_g: float
    slip: tuple[float, float] | None = None


@dataclass
class Shelf:
    """The cylinders and scales of a place. What comes and goes is told as events."""

    place: Place
    seed: int
    bottles: dict[str, Bottle] = field(default_factory=dict)
    stocks: list[Stock] = field(default_factory=list)

    def __post_init__(self) -> None:
        draw = Random(f"{self.seed}/workshop")
        self.noise = Random(f"{self.seed}/noise")
        self.steps = {name: step for name, step, _ in self.place.scales}
        self.scales = {
            name: plans.new_scale(number, float(step.mg) / 1000, draw)
            for number, (name, step) in enumerate(self.steps.items(), 1)
        }
        self.counts = {"C": 10, "R": 30, "papers": 4_100, "notes": 0}

    def next(self, what: str) -> int:
        """Return the next number of a kind."""
        self.counts[what] += 1
        return self.counts[what]

    def gas(self, code: str, use: str) -> list[Stock]:
        """Return what stands there of a gas for a use, the oldest first."""
        return [one for one in self.stocks if one.bottle.refrigerant == code and one.use == use]

    def room_g(self, stock: Stock) -> float:
        """Return how much more a recovery cylinder may take."""
        code, litres = stock.bottle.refrigerant, stock.bottle.litres or 0.0
        limit = filling.governing(filling.limits(code, litres / 1000), self.place.workshop["jurisdiction"])
        return limit.max_net_g - stock.content_g

    def session(self, scale: str) -> float:
        """Return where the zero of a scale stands, in grams, once it was switched on."""
        return self.noise.triangular(-1, 1) * self.scales[scale].step_g

    def look(self, stock: Stock, scale: str, zero_g: float) -> float:
        """Return what a scale shows, in grams."""
        count = self.scales[scale].count(stock.bottle.tare_g + stock.content_g, zero_g)
        return self.steps[scale].mg_of(count) / 1000

    def pair(self, stock: Stock, scale: str, change_g: float) -> tuple[float, float]:
        """Let gas pass between two readings of one session."""
        zero_g = self.session(scale)
        before_g = self.look(stock, scale, zero_g)
        stock.content_g = max(0.0, stock.content_g + change_g)
        return before_g, self.look(stock, scale, zero_g)

    def typed_wrong(self, scale: str, slip_mg: int) -> float:
        """Return a slip of the hand in grams, a whole count of what the scale shows."""
        step = self.steps[scale]
        return step.mg_of(step.count(slip_mg)) / 1000

    # What comes and goes

    def opens(self, at: str) -> Iterator[events.Event]:
        """Tell the opening stock of the first day."""
        for code in self.place.bought:
            yield self._received(at, code, self.noise.uniform(0.5, 0.75), origin="opening-stock")
        for code, content_g in (("R-134a", 2_150.0), ("R-1234yf", 640.0), ("R-12", 1_240.0)):
            yield self.brings(at, code, content_g=content_g)
        yield self.brings(at, "R-134a", use=LARGE)
        certified = date(2021, 5, 18) if self.place.workshop["jurisdiction"] == "us" else None
        about = Bottle("R-134a", "recycled", 0, None, "machine tank", certified_on=certified)
        tank = Stock("T-1", about, TANK, 5_200)
        self.stocks.append(tank)
        self.bottles[tank.serial] = tank.bottle
        yield events.Received(at, tank.serial, origin="opening-stock", machine_g=5_200)

    def buys(self, at: str, code: str) -> events.Event:
        """Tell that a full cylinder was bought."""
        return self._received(at, code, 1.0, origin="purchase")

    def _received(self, at: str, code: str, full: float, origin: str) -> events.Event:
        bottle, net_g = self.place.bought[code]
        bottle = replace(bottle, place="gas cage")
        stock = self._stands(f"C-{self.next('C')}", bottle, CHARGING, net_g * full + self.noise.gauss(0.0, 9.0))
        gross_g = self.look(stock, "S1", self.session("S1"))
        if origin != "purchase":
            return events.Received(at, stock.serial, gross_g, origin=origin)
        paper = f"DN-{self.next('papers')}"
        return events.Received(at, stock.serial, gross_g, origin=origin, paper=paper, paper_g=net_g)

    def brings(
        self, at: str, code: str, *, content_g: float = 0.0, use: str = RECOVERY, grade: str = "recovered"
    ) -> events.Event:
        """Tell that a recovery cylinder came onto the shelf, empty but on the first day."""
        kind = self.place.large if use == LARGE else self.place.recovery
        bottle = replace(kind, refrigerant=code, grade=grade, place="by the recovery machine")
        stock = self._stands(f"R-{self.next('R')}", bottle, use if grade == "recovered" else grade, content_g)
        if not content_g:
            return events.Received(at, stock.serial, bottle.tare_g)
        return events.Received(at, stock.serial, self.look(stock, "S1", self.session("S1")), origin="opening-stock")

    def _stands(self, serial: str, bottle: Bottle, use: str, content_g: float) -> Stock:
        stock = Stock(serial, bottle, use, content_g)
        self.stocks.append(stock)
        self.bottles[serial] = bottle
        return stock

    def sends(self, at: str, stock: Stock, purpose: str, cause: str, partner: str, year: str) -> events.SentAway:
        """Tell that a cylinder was sent away with all it holds."""
        self.stocks.remove(stock)
        number = f"{year}-{self.next('notes'):02d}"
        gross_g = self.look(stock, "S1", self.session("S1"))
        return events.SentAway(at, stock.serial, gross_g, partner, purpose, cause, number)
