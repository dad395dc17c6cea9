"""Standing pressures that cannot be: above what the gas can have, or the same again while it was warmer. Pure."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from compliance.rules.chance import odds, unusual
from compliance.rules.facts import Deed, Visit, Workshop
from compliance.rules.law.acts import inside
from compliance.rules.rule import Judgement
from compliance.rules.seen import first, last_year, of_person, of_visit
from inventory.gases import fluids
from inventory.gases.catalogue import MIXED, UnknownRefrigerant
from inventory.gases.fluids import NoPropertyData, OutsideModel
from inventory.measure.figures import bar
from shop.visits.steps import si_of, text_of

GAUGE_PA = 30_000.0  # a needle gauge and who reads it (from experience)
SHARE = 0.08  # of the saturation pressure: a thermometer off by 2 or 3 K (from experience)
ROOM_K = 15.0  # what no thermometer was held to, once it has stood: sun on the condenser (from experience)
STOOD_S = 1_800.0
FEWEST = 12
APART_K = 6.0  # a system with liquid in it then stands some 18 % higher
COPIED_SHARE = 0.2  # of honest readings that say again what another vehicle said at another warmth (a bold guess)


def beyond_its_gas(facts: Workshop) -> Iterator[Judgement]:
    """Report standing pressures above what the refrigerant can have at the warmest that was measured."""
    for visit in facts.visits:
        for deed in visit.of("standing pressure"):
            found = _against_saturation(visit, deed)
            if found is not None:
                yield found


def _against_saturation(visit: Visit, deed: Deed) -> Judgement | None:
    pressure_pa, warmest_k, code = si_of(deed.data, "pressure"), _warmest_k(visit, deed), inside(visit)
    if pressure_pa is None or warmest_k is None or not code or code == MIXED:
        return None
    try:
        most_pa = fluids.bubble_pressure_pa(code, warmest_k)
    except (NoPropertyData, OutsideModel, UnknownRefrigerant):
        return None
    there = of_visit(visit, deed, "pressure")
    above_pa = float(pressure_pa) - most_pa
    if above_pa <= max(GAUGE_PA, SHARE * most_pa):
        return there.met("The standing pressure is one that its gas can have.")
    return there.open(
        f"The standing pressure is {bar(round(above_pa, -4))} above what {code} can have at the warmest measured. "
        "It can also be air in it, another gas, a part in the sun, or a gauge that is off.",
        "Identify the gas, read gauge and thermometer again, or say what was seen.",
    )


def _warmest_k(visit: Visit, deed: Deed) -> float | None:
    """Return the warmest that any part may have been, in kelvin; None where nothing bounds it.

    Without a reading of the warmest part that is the air, of the step or of the running test, once the vehicle has
    stood for half an hour, and what the sun may add to it.
    """
    warmest_k = si_of(deed.data, "warmest")
    if warmest_k is not None:
        return float(warmest_k)
    test, stood_s = first(visit, "running test"), si_of(deed.data, "since_running")
    air_k = si_of(deed.data, "air")
    if air_k is None and test is not None and test.day == deed.day:
        air_k = si_of(test.data, "air")
    if air_k is None or stood_s is None or float(stood_s) < STOOD_S:
        return None
    return float(air_k) + ROOM_K


@dataclass(frozen=True)
class _Read:
    vehicle: int
    text: str
    air_k: float


def copied(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose standing pressures say again, digit by digit, what another vehicle had at another warmth."""
    by: dict[str, list[tuple[Deed, _Read]]] = defaultdict(list)
    for visit in facts.visits:
        for deed in visit.of("standing pressure"):
            air_k, text = si_of(deed.data, "air"), text_of(deed.data, "pressure").strip()
            if air_k is not None and text and not _nothing_inside(deed) and last_year(facts, deed.day):
                by[deed.doer].append((deed, _Read(visit.vehicle.number, text, float(air_k))))
    for person, found in by.items():
        found.sort(key=lambda one: one[0].at)
        reads = [one for _, one in found]
        n, k = len(reads), sum(_said_before(one, reads[:place]) for place, one in enumerate(reads))
        if n < FEWEST:
            continue
        there = of_person(person, found[-1][0].day)
        if unusual(n, k, COPIED_SHARE):
            yield there.open(
                f"Unusual: {k} of {n} standing pressures in a year are, digit by digit, one that another vehicle had "
                f"when it was clearly warmer or colder; by chance {odds(n, k, COPIED_SHARE)}. It can also be a gauge "
                "with coarse steps, or systems that hold little.",
                "Read the pressure of the next vehicles with a second person, and look at the steps of the gauge.",
            )
        else:
            yield there.met(f"{n} standing pressures differ as the weather does.")


def _nothing_inside(deed: Deed) -> bool:
    return text_of(deed.data, "empty") == "yes" or text_of(deed.data, "pressure").strip().split(" ")[0] in ("0", "0.0")


def _said_before(one: _Read, before: list[_Read]) -> bool:
    return any(
        one.text == other.text and one.vehicle != other.vehicle and abs(one.air_k - other.air_k) >= APART_K
        for other in before
    )
