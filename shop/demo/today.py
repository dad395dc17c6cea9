"""The last day of an invented year, up to the moment at which it stops: one visit is open, and its hold runs."""

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, timedelta

from inventory.gases import fluids
from shop.demo import events, story
from shop.demo.cast import OWNER
from shop.demo.events import Also, Event
from shop.demo.places import Place
from shop.demo.stock import CHARGING, RECOVERY, Shelf

KELVIN, AIR_PA, WARM_C = 273.15, 101_325.0, 20.0
LABEL_G, CAME_WITH_G, LIQUID_G = 620, 388.0, 300.0


def today(
    shelf: Shelf, place: Place, clock: Callable[[datetime], str], ends: datetime, plates: Mapping[int, str]
) -> Iterator[Event]:
    """Tell what was done today; `plates` are those that were here before."""
    say, gas = place.say, "R-134a"

    def at(minutes: int) -> str:
        return clock(ends - timedelta(minutes=minutes))

    def did(minutes: int, kind: str, **typed: str) -> Event:
        return Also(at(minutes), plate, kind, typed=typed)

    plate = "".join({"A": "T", "0": "8"}.get(char, char) for char in place.plate)
    recovery, charging = shelf.gas(gas, RECOVERY)[0], shelf.gas(gas, CHARGING)[0]
    stands_pa = fluids.dew_pressure_pa(gas, WARM_C + KELVIN) - AIR_PA
    rested = recovery if recovery.content_g > LIQUID_G else charging
    yield events.AirChecked(at(196), rested.serial, say.pascal(stands_pa + 9_000), say.celsius(WARM_C), who=OWNER)
    yield shelf.buys(at(190), gas)
    facts = {"make_model": "wagon, 2013", "vehicle_class": "car", "oil_g": 150.0}
    yield events.Known(at(176), plate, place.customers[4], "555 0204", facts)
    arrived = {"state": "runs", "says": "cooled well until last week", "odometer": place.say.road(131_400)}
    yield events.Arrived(at(175), plate, "find the leak, repair, charge", typed=arrived)
    label = story.label(gas, say.grams(LABEL_G), tolerance=say.grams(25))
    yield did(171, "label read", **label, lubricant="PAG 46")
    yield did(165, "standing pressure", pressure=say.pascal(stands_pa), **story.all_at(say.celsius(WARM_C)))
    yield did(164, "ports seen", high=f"{gas} quick coupler", low=f"{gas} quick coupler", **story.PORTS)
    yield did(162, "identified", result="used", instrument="ID1", shares=f"{gas} 99.4, air 0.6")
    before_g, after_g = shelf.pair(recovery, "S1", CAME_WITH_G)
    typed = {**story.PULLED_DOWN, "coldest": say.celsius(WARM_C), "oil_out": say.oil(5)}
    yield events.Recovered(at(130), plate, recovery.serial, before_g, after_g, typed=typed)
    searched = {**story.SEARCHED, "gas": "dry nitrogen", "pressure": say.pascal(6e5)}
    yield did(112, "leak search", **searched, leaking="1", where="condenser inlet")
    yield did(105, "circuit opened", what="condenser inlet", relieved="yes")
    yield did(74, "repair", joint="condenser inlet", what="O-ring renewed")
    yield did(68, "circuit closed", **story.CAPPED)
    yield did(16, "pulling vacuum", pump="P1, two stages", gauge="G2", lowest=say.millibar(1.3))
    hold = {"gauge": "G2", "gauge_type": "absolute"}
    yield events.Started(at(14), plate, say.millibar(1.3), 30, typed=hold)
    yield events.ReadAgain(at(6), plate, say.millibar(1.4))
    bottle = next(one for one in shelf.gas(gas, CHARGING) if one.content_g > 2_000)
    gross_g = shelf.look(bottle, "S2", shelf.session("S2"))
    yield events.OnTheScale(at(3), plate, bottle.serial, gross_g)
    yield events.Photographed(at(2), plate, "", "scale", f"{gross_g / 1000:.3f} kg")
