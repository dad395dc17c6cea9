"""What an invented workshop does before the visits of a day: deliveries, rounds with the scale, consignments."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from random import Random

from shop.demo import events
from shop.demo.events import Event
from shop.demo.places import Place
from shop.demo.stock import CHARGING, HEEL_G, LARGE, RECOVERY, TANK, Shelf, Stock
from shop.demo.visits import BUS, MIXTURE, Job, Told

RETURNED_BELOW_G = 1_100.0
RECLAIM, DESTRUCTION = "reclaim", "destruction"
SENT_LAST = 9  # days before the end: that consignment is under way still
LEAKED_BEFORE, LEAK_G = 140, 165.0
LARGE_SENT, SUSPECT_SENT, OLD_SENT, SOLD = 40, 95, 150, 55
CHECKS = {200: ("S1", "G2"), 90: ("S2", "G1")}  # days before the end; each holds a year
FOUND = "Bubbles at the valve stem under soap; stem tightened and capped."


@dataclass
class Routine:
    """The mornings. `due` are papers of receivers that come on a day: number of the note, grams, oil."""

    shelf: Shelf
    place: Place
    clock: Callable[[datetime], str]
    last: date
    seed: int
    due: list[tuple[date, str, int, int]] = field(default_factory=list)
    statements: list[str] = field(default_factory=list)  # of heels that were removed

    def mornings(self, first: date, by_day: Mapping[date, Sequence[Job]]) -> Iterator[tuple[datetime, Told]]:
        """Yield when each morning begins and what is done in it."""
        opening = datetime.combine(first, time(8), UTC)
        yield opening, lambda: self.shelf.opens(self.clock(opening))
        months, once = set(), self._once(first)
        for number in range(1, (self.last - first).days):
            day = first + timedelta(days=number)
            if day.weekday() > 4:
                continue
            new_month = (day.year, day.month) not in months
            months.add((day.year, day.month))
            tasks = [when for when in once if when <= day]
            extra = [once.pop(when) for when in tasks]
            begin = datetime.combine(day, time(7, 0), UTC)
            yield begin, self._morning(begin, by_day.get(day, ()), extra, new_month=new_month)

    def _once(self, first: date) -> dict[date, Callable[[str, str], Iterator[Event]]]:
        """Return what is done once in the year, by the day from which on."""
        tasks: dict[int, Callable[[str, str], Iterator[Event]]] = {
            LEAKED_BEFORE: self._leaked,
            SENT_LAST: lambda at, year: self._away(at, year, "R-134a", RECOVERY),
            LARGE_SENT: lambda at, year: self._away(at, year, "R-134a", LARGE),
            SUSPECT_SENT: lambda at, year: self._away(at, year, "R-1234yf", "suspect"),
            SOLD: self._sold,
            OLD_SENT: lambda at, year: self._away(at, year, "R-12", RECOVERY),
            **{days: self._checks(days) for days in CHECKS},
        }
        return {self.last - timedelta(days=days): task for days, task in tasks.items()}

    def _morning(
        self,
        begin: datetime,
        jobs: Sequence[Job],
        extra: Sequence[Callable[[str, str], Iterator[Event]]],
        *,
        new_month: bool,
    ) -> Told:
        day, year = begin.date(), f"{begin:%y}"

        def told() -> Iterator[Event]:
            at = self.clock(begin)
            yield from self._answers(day, at)
            yield from self._slips(at, self.clock(begin + timedelta(minutes=5)))
            if new_month:
                yield self._round(at)
            for task in extra:
                yield from task(at, year)
            if day.day in (9, 10, 11) and Random(f"{self.seed}/{day}/air").random() < 0.4:
                yield from self._let(at, "purge", 5, 30)
            if day.day in (19, 20, 21) and Random(f"{self.seed}/{day}/oil").random() < 0.3:
                yield from self._let(at, "was-oil", 15, 40)
            at = self.clock(begin + timedelta(minutes=30))
            yield from self._room(at, year, jobs)
            yield from self._deliveries(at, year, jobs)

        return told

    def _deliveries(self, at: str, year: str, jobs: Sequence[Job]) -> Iterator[Event]:
        """Buy what the day will need; what is nearly empty goes back with the driver."""
        for code in self.place.bought:
            wants = [job.target_g + 60 for job in jobs if job.gas == code]
            if code == "R-134a" and any(job.special == BUS for job in jobs):
                yield self.shelf.buys(at, code)
            while not self._enough(code, wants):
                yield self.shelf.buys(at, code)
            stocks = self.shelf.gas(code, CHARGING)
            for stock in stocks[:-1]:
                if stock.content_g < RETURNED_BELOW_G and self._keeps_heel(code, stock):
                    yield self._heel_out(at, stock)
                elif stock.content_g < RETURNED_BELOW_G:
                    returned = "return to supplier", "heel-returned", self.place.supplier
                    yield self.shelf.sends(at, stock, *returned, year)

    def _keeps_heel(self, code: str, stock: Stock) -> bool:
        """Whether the heel of a cylinder is drawn out here: of the first, where the law asks a statement of it."""
        single_trip = self.place.workshop["jurisdiction"] == "us" and stock.bottle.kind == "single-trip"
        into = self.shelf.gas(code, RECOVERY)
        return single_trip and not self.statements and self.shelf.room_g(into[0]) > stock.content_g + 200

    def _heel_out(self, at: str, stock: Stock) -> Event:
        into = self.shelf.gas(stock.bottle.refrigerant, RECOVERY)[0]
        into.content_g += stock.content_g
        before_g, after_g = self.shelf.pair(stock, "S1", -stock.content_g)
        low = max(0.0, stock.bottle.tare_g - after_g)  # its zero stood too low: nothing weighs less than when empty
        before_g, after_g = before_g + low, after_g + low
        self.shelf.stocks.remove(stock)
        self.statements.append(f"HS-{len(self.statements) + 1}")
        return events.HeelOut(at, stock.serial, into.serial, before_g, after_g, self.statements[-1])

    def _enough(self, code: str, wants: Sequence[float]) -> bool:
        left = [stock.content_g for stock in self.shelf.gas(code, CHARGING)]
        for want in wants:
            place = next((n for n, content in enumerate(left) if content > want + HEEL_G), None)
            if place is None:
                return False
            left[place] -= want
        return bool(left)

    def _room(self, at: str, year: str, jobs: Sequence[Job]) -> Iterator[Event]:
        """See that there is a recovery cylinder for what will come out today."""
        if any(job.special == MIXTURE for job in jobs):
            yield self.shelf.brings(at, "R-1234yf", grade="suspect")
        for code in ("R-134a", "R-1234yf", "R-12"):
            out = [job for job in jobs if job.inside == code and job.special not in (BUS, MIXTURE) and not job.machine]
            coming_g = sum(job.nameplate_g * 1.1 for job in out)
            if coming_g and self.shelf.room_g(self.shelf.gas(code, RECOVERY)[0]) < coming_g:
                yield from self._away(at, year, code, RECOVERY)

    def _away(self, at: str, year: str, code: str, use: str) -> Iterator[Event]:
        """Send a recovery cylinder away; an empty one is left for it, and a paper comes weeks later."""
        stock = next(iter(self.shelf.gas(code, use)), None)
        if stock is None:
            return
        destroyed = code == "R-12" or use == "suspect"
        purpose = DESTRUCTION if destroyed else RECLAIM
        partner = self.place.destroyer if destroyed else self.place.reclaimer
        sent = self.shelf.sends(at, stock, purpose, "sent-away", partner, year)
        yield sent
        self._expect(sent, stock)
        if use == RECOVERY:
            yield self.shelf.brings(at, code)

    def _expect(self, sent: events.SentAway, stock: Stock) -> None:
        draw = Random(f"{self.seed}/accepted/{sent.number}")
        oil_g = stock.content_g * draw.uniform(0.0, 0.015)
        accepted_g = stock.content_g * (1 + draw.gauss(0.0, 0.002)) - oil_g
        on = date.fromisoformat(sent.at[:10]) + timedelta(days=draw.randint(14, 35))
        self.due.append((on, sent.number, round(accepted_g), round(oil_g)))

    def _answers(self, day: date, at: str) -> Iterator[Event]:
        for one in [one for one in self.due if one[0] <= day]:
            self.due.remove(one)
            on, number, accepted_g, oil_g = one
            yield events.Accepted(at, accepted_g, oil_g, on.isoformat(), f"A-{number[-2:]}{on:%j}", number=number)

    def _slips(self, at: str, after: str) -> Iterator[Event]:
        """A digit that was typed wrong shows at the next reading, and is put right."""
        for stock in [one for one in self.shelf.stocks if one.slip]:
            wrong_g, shown_g = stock.slip or (0.0, 0.0)
            stock.slip = None
            yield events.Checked(at, stock.serial, self.shelf.look(stock, "S1", self.shelf.session("S1")))
            yield events.PutRight(after, stock.serial, wrong_g, shown_g)

    def _round(self, at: str) -> Event:
        """Weigh all that holds something."""
        zero_g = self.shelf.session("S1")
        here = [one for one in self.shelf.stocks if one.use != TANK and one.content_g > 0]
        return events.StockTaken(at, {one.serial: self.shelf.look(one, "S1", zero_g) for one in here})

    def _leaked(self, at: str, year: str) -> Iterator[Event]:
        """A cylinder has lost gas over the weekend; bubbles show where."""
        stock = self.shelf.gas("R-134a", CHARGING)[0]
        stock.content_g -= LEAK_G
        yield events.Checked(at, stock.serial, self.shelf.look(stock, "S1", self.shelf.session("S1")))
        yield events.Explained(at, 0, FOUND)

    def _sold(self, at: str, year: str) -> Iterator[Event]:
        """Another workshop takes a full cylinder."""
        yield self.shelf.buys(at, "R-1234yf")
        stock = self.shelf.gas("R-1234yf", CHARGING)[-1]
        yield self.shelf.sends(at, stock, "sale", "passed-on", self.place.buyer, year)

    def _let(self, at: str, cause: str, least_g: float, most_g: float) -> Iterator[Event]:
        stock = self.shelf.gas("R-134a", RECOVERY)[0]
        if stock.content_g > 1_000:
            before_g, after_g = self.shelf.pair(stock, "S1", -self.shelf.noise.uniform(least_g, most_g))
            if before_g > after_g:
                yield events.Let(at, stock.serial, before_g, after_g, cause)

    def _checks(self, days: int) -> Callable[[str, str], Iterator[Event]]:
        def told(at: str, year: str) -> Iterator[Event]:
            until = date.fromisoformat(at[:10]) + timedelta(days=365)
            yield events.InstrumentsChecked(at, CHECKS[days], until, "Weights and Gauges Service", f"WG-{days}{year}")

        return told
