"""What happens at one visit of an invented year, from what was drawn of it: steps with what is typed, gas that flows.

A `Job` plans its moments; each moment is told when its time has come, since the scales then show what really stands on
them.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from random import Random
from typing import Any

from inventory.gases import fluids
from shop.demo import events, story
from shop.demo.cast import TECHNICIAN
from shop.demo.events import Also, Event, Typed
from shop.demo.places import Place
from shop.demo.plans import Plan
from shop.demo.stock import HEEL_G, LARGE, RECOVERY, TANK, Shelf, Stock

KELVIN, AIR_PA = 273.15, 101_325.0
BUS, CONVERSION, EMPTY, MIXTURE, WAITS = "bus", "conversion", "empty", "mixture", "waits"
RESIDUE_U_MG = 2_500
Told = Callable[[], Iterator[Event]]

SAYS = {
    "leaking": ("cools less than last year", "cold at first, then warm", "weak at idle", "fogs up, weak cooling"),
    "full": ("noise from the compressor", "service before a long trip", "evaporator smells", "belt squeals"),
    "empty": ("no cooling at all", "warm since the winter", "hissed, then warm"),
    "open": ("front damage, condenser gone", "hose torn off", "condenser holed by a stone"),
}
PURPOSES = {
    "leaking": "find the leak, repair, charge",
    "full": "replace a part, charge",
    "empty": "find the leak, repair, charge",
    "open": "repair and charge",
}
LEAKS = (
    ("high-side service port", "valve core and cap renewed"),
    ("condenser inlet", "O-ring renewed"),
    ("compressor shaft seal", "seal renewed"),
    ("hose at the drier", "crimp cut out, hose renewed"),
    ("expansion valve", "both O-rings renewed"),
    ("low-side line", "chafed spot cut out and joined"),
)
PARTS = (("compressor", 45), ("condenser", 25), ("receiver drier", 15), ("expansion valve", 5), ("hose", 10))


@dataclass
class Job:
    """One visit. `special` says what is out of the ordinary; `clock` writes a moment as events have it."""

    plan: Plan
    place: Place
    shelf: Shelf
    plate: str
    gas: str
    celsius: float
    clock: Callable[[datetime], str]
    held: Callable[[str], float]  # grams that the book has in a vehicle
    special: str = ""
    old_gas: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.draw = Random(f"{self.shelf.seed}/{self.plan.number}/told")
        self.by: Typed = {}
        self.wet = bool(self.plan.arrival in ("leaking", "full"))
        self.leak, self.fix = self.draw.choice(LEAKS)
        self.part, self.oil_ml = PARTS[0] if self.special == BUS else self.draw.choice(PARTS)
        self.machine = self.plan.number % 8 == 3 and self.gas == "R-134a" and self.wet and not self.special

    @property
    def nameplate_g(self) -> int:
        """The mass on its label."""
        return self.plan.car.nameplate_g

    @property
    def inside(self) -> str:
        """The gas that it comes with."""
        return self.old_gas or self.gas

    def moments(self) -> Iterator[tuple[datetime, Told]]:
        """Yield when something of the visit is done, and what."""
        plan = self.plan
        told: list[tuple[str, Told]] = [("received", self._comes), ("standing", self._looked_at)]
        if self.wet:
            told += [("recovery", self._machine_out if self.machine else self._out), ("settled", self._left)]
        elif "facts" not in self.facts:
            told.append(("settled", self._left))
        told.append(("search", self._searched))
        if self.special == WAITS:
            told.append(("open", lambda: iter([events.Waits(self.at("open"), self.plate, "compressor on order")])))
        else:
            told += [("mend", self._mended), ("hold", self._dry), ("charge", self._in), ("out", self._goes)]
        return ((plan.at(when), what) for when, what in told)

    def at(self, when: str) -> str:
        """Return a moment of the visit as events have it."""
        return self.clock(self.plan.at(when))

    def did(self, kind: str, when: str, **typed: str) -> Event:
        """Return a step that moves no mass."""
        return Also(self.at(when), self.plate, kind, typed=typed, **self.doing)

    @property
    def doing(self) -> dict[str, Any]:
        """Who does it, and who answers for it."""
        return {"who": self.plan.doer, "answers": self.plan.answers or None}

    def _comes(self) -> Iterator[Event]:
        arrival, say = self.plan.arrival, self.place.say
        known = self.facts
        if "facts" in known:
            yield events.Known(self.at("received"), self.plate, known["customer"], known["phone"], known["facts"])
        typed = {
            "state": "open to air" if arrival == "open" else "runs" if self.wet else "warm",
            "says": known.get("says") or self.draw.choice(SAYS[arrival]),
            "odometer": say.road(self.draw.randrange(38_000, 210_000, 100)),
        }
        if arrival == "open" and "photo" not in self.plan.forgot:
            typed["photo"] = "kept with the visit"
        purpose = known.get("purpose") or PURPOSES[arrival]
        yield events.Arrived(self.at("received"), self.plate, purpose, typed=typed, **self.doing)
        tolerance = say.grams(100 if self.special == BUS else 25)
        label = story.label(self.inside, say.grams(self.nameplate_g), tolerance=tolerance)
        label["lubricant"] = "PAG 46" if self.inside != "R-12" else "mineral oil"
        yield self.did("label read", "label", **label)

    def _looked_at(self) -> Iterator[Event]:
        say = self.place.say
        if self.plan.arrival != "open" and "standing pressure" not in self.plan.forgot:
            pressure = fluids.dew_pressure_pa(self.inside, self.celsius + KELVIN) - AIR_PA if self.wet else 0.0
            typed = {**story.all_at(say.celsius(self.celsius)), "pressure": say.pascal(pressure)}
            if not self.wet and "photo" not in self.plan.forgot:
                typed["photo"] = "kept with the visit"
            yield self.did("standing pressure", "standing", **typed)
            if self.special == EMPTY:
                at = self.at("standing")
                yield events.Photographed(at, self.plate, "standing pressure", "gauge", say.pascal(0), **self.doing)
        port = "R-12 screw" if self.inside == "R-12" else f"{self.inside} quick coupler"
        yield self.did("ports seen", "standing", high=port, low=port, **story.PORTS)
        if self.special == MIXTURE:
            yield self._identified("R-1234yf 90.5, R-134a 9.0, air 0.5")
        elif self.wet and self.inside != "R-12":
            share = self.draw.uniform(99.0, 99.8)
            yield self._identified(f"{self.inside} {share:.1f}, air {100 - share:.1f}")
        elif self.wet:
            yield self.did("identified", "standing", result="none here")

    def _identified(self, shares: str) -> Event:
        return self.did("identified", "standing", result="used", instrument="ID1", shares=shares)

    def _pulled_down(self) -> dict[str, str]:
        return {
            **story.PULLED_DOWN,
            "coldest": self.place.say.celsius(self.celsius),
            "oil_out": self.place.say.oil(self.draw.choice((0, 5, 5, 10, 15))),
        }

    @property
    def content_g(self) -> float:
        """What it truly comes with."""
        return self.plan.holds * (self.held(self.plate) or self.nameplate_g)

    def _out(self) -> Iterator[Event]:
        target = self._target()
        out_g = max(20.0, self.content_g - self.plan.residue_g * (6 if self.special == BUS else 1))
        before_g, after_g = self.shelf.pair(target, "S1", out_g)
        self.out_g = after_g - before_g
        yield events.Recovered(
            self.at("recovery"), self.plate, target.serial, before_g, after_g, typed=self._pulled_down(), **self.doing
        )

    def _target(self) -> Stock:
        if self.special == MIXTURE:
            return self.shelf.gas("R-1234yf", "suspect")[0]
        use = LARGE if self.special == BUS else RECOVERY
        return self.shelf.gas(self.inside, use)[0]

    def _machine_out(self) -> Iterator[Event]:
        tank = self.shelf.gas(self.gas, TANK)[0]
        self.out_g = round((self.content_g - self.plan.residue_g) / 5) * 5
        tank.content_g += self.out_g
        typed = self._pulled_down()
        yield events.MachineRecovered(
            self.at("recovery"), self.plate, tank.serial, int(self.out_g), self.draw.choice((0, 3, 5)), typed=typed,
            **self.doing,
        )  # fmt: skip

    def _left(self) -> Iterator[Event]:
        """Settle what the book still has in it: what the pump takes, and what it had lost on the road."""
        left_g = self.held(self.plate)
        if left_g <= 0 or "remainder settled" in self.plan.forgot:
            return
        residue_g = min(left_g, round(self.plan.residue_g / 2, 1)) if self.wet else 0.0
        evidence = "C: leak found and photographed after recovery"
        if not self.wet:
            evidence = "A: standing pressure read and photographed, no liquid possible"
        yield events.Settled(
            self.at("settled"), self.plate, residue_g, RESIDUE_U_MG if residue_g else 0, round(left_g - residue_g, 3),
            typed={"evidence": evidence}, **self.doing,
        )  # fmt: skip

    def _searched(self) -> Iterator[Event]:
        found = self.plan.mended == "repair"
        gas = "dry nitrogen" if not self.wet else "refrigerant"
        pressure = self.place.say.pascal(4e5 if self.wet else 6e5)
        typed = {**story.SEARCHED, "gas": gas, "pressure": pressure, "leaking": "1" if found else "0"}
        if found:
            typed["where"] = self.leak
        yield self.did("leak search", "search", **typed)

    def _mended(self) -> Iterator[Event]:
        if not self.plan.mended:
            return
        what = self.leak if self.plan.mended == "repair" else self.part
        yield self.did("circuit opened", "open", what=what, relieved="yes")
        if self.plan.mended == "repair":
            yield self.did("repair", "mend", joint=self.leak, what=self.fix)
        else:
            oil = self.place.say.oil(self.oil_ml)
            part = {**story.NEW_PART, "part": self.part, "oil_in": oil, "oil_type": "PAG 46"}
            yield self.did("part in", "mend", **part)
        yield self.did("circuit closed", "close", **story.CAPPED)

    def _dry(self) -> Iterator[Event]:
        say = self.place.say
        lowest = self.draw.uniform(1.0, 1.8)
        yield self.did("pulling vacuum", "vacuum", pump="P1, two stages", gauge="G2", lowest=say.millibar(lowest))
        rows = ((0, lowest), (15, lowest + 0.1), (30, lowest + self.draw.choice((0.1, 0.1, 0.2))))
        readings = "; ".join(f"{minute}, {say.millibar(mbar)}" for minute, mbar in rows)
        coldest = say.celsius(self.celsius)
        yield self.did("vacuum hold", "hold", readings=readings, gauge="G2", gauge_type="absolute", coldest=coldest)

    @property
    def target_g(self) -> int:
        """What is to go in: after a conversion less than the old label says."""
        share = 0.85 if self.special == CONVERSION else 1.0
        return round(self.nameplate_g * share / 10) * 10

    def _in(self) -> Iterator[Event]:
        say, by = self.place.say, story.LIQUID_HIGH if self.plan.number % 3 else story.VAPOUR_LOW
        typed = story.target(say.grams(self.target_g), say.grams(100 if self.special == BUS else 15), by)
        scale = "S1" if self.plan.other_scale else "S2"
        wanted_g = self.target_g + self.plan.off_target * max(6.0, 2.5 * self.shelf.scales[scale].step_g)
        tank = next(iter(self.shelf.gas(self.gas, TANK)), None)
        if self.machine and tank is not None and tank.content_g > wanted_g + 900:
            tank.content_g -= wanted_g
            shown = {"target": typed["target"], "tolerance": typed["tolerance"]}
            by_five_g = round(wanted_g / 5) * 5
            yield events.MachineCharged(
                self.at("charge"), self.plate, tank.serial, by_five_g, typed=shown, **self.doing
            )
            return
        stock = next(one for one in self.shelf.gas(self.gas, "charging") if one.content_g > wanted_g + HEEL_G)
        before_g, after_g = self.shelf.pair(stock, scale, -wanted_g)
        if self.plan.slip_mg and scale == "S2" and not self.special:
            wrong_g = after_g + self.shelf.typed_wrong(scale, self.plan.slip_mg)
            stock.slip, after_g = (wrong_g, after_g), wrong_g
        yield events.Charged(
            self.at("charge"), self.plate, stock.serial, before_g, after_g, typed=typed, scale=scale, **self.doing
        )

    def _goes(self) -> Iterator[Event]:
        say = self.place.say
        if self.special == CONVERSION:
            oil = {"lubricant": f"ester, {say.oil(180)}", "lubricant_maker": "Tidewell Oils"}
            named = {"trade_name": "Tetrafluoroethane 134a", "cut_out": "fitted"}
            yield self.did("conversion done", "after", **{**story.CONVERTED, **oil, **named})
        if self.draw.random() < 0.55:
            yield self.did(
                "running test", "after", air=say.celsius(self.celsius), humidity="50 %", low=say.pascal(1.9e5),
                high=say.pascal((9.0 + self.celsius / 10) * 1e5), vent=say.celsius(self.celsius - 12), speed="1500",
                fan="high", recirculation="yes",
            )  # fmt: skip
        if "after-search" not in self.plan.forgot:
            yield self.did("after-search", "after", joints="14", leaking="0", instrument="L1", caps="yes")
        yield self.did("hand-over", "out", **story.GIVEN)


def as_special(plan: Plan, special: str) -> Plan:
    """Return what was drawn of a visit with what is out of the ordinary in it; its vehicle was never here."""
    if not special:
        return plan
    car = replace(plan.car, number=9_000 + plan.number)
    plan = replace(plan, car=car, forgot=frozenset(), slip_mg=0, late=timedelta(), doer=TECHNICIAN, answers="")
    if special == BUS:
        bus = replace(car, nameplate_g=7_000, volume_m3=0.012, oil_g=600.0, vehicle_class="bus")
        return replace(plan, car=bus, arrival="leaking", holds=0.97, mended="part in")
    if special == EMPTY:
        return replace(plan, arrival="empty", holds=0.0, mended="repair")
    if special == CONVERSION:
        return replace(plan, arrival="full", holds=0.96, mended="part in")
    if special == MIXTURE:
        return replace(plan, arrival="full", holds=0.97, mended="")
    return replace(plan, arrival="leaking", holds=0.8, mended="repair")
