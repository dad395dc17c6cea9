"""How a circuit stood at the end of its recovery, and what can then be left in it, whatever should have come out.

Read from a visit whose log was fetched (`log.with_log`). Raises `MeasurementError` and `FluidError` with a
sentence where something that is needed was not entered; `rest_of` and `is_emptied` do not.
"""

from inventory.gases.catalogue import MIXED
from shop.bench import residue
from shop.bench.answers import MeasurementError
from shop.bench.residue import Ending, Rest
from shop.models import Step, Visit
from shop.visits.gas import at_arrival, lines_of, living
from shop.visits.inputs import CANNOT, air_around, counts_from_nothing, inside_of, oil_high_g
from shop.visits.steps import Data, si_of, text_of

OUT = ("recovery", "recovery-through-machine")
NO_FINAL_PRESSURE = "The pressure after the wait is not entered at the recovery, so nothing bounds what remains."


def legs(visit: Visit) -> list[Step]:
    """Return the legs of the recovery that stand, in their order."""
    return living(visit, "recovery")


def has_ended(visit: Visit) -> bool:
    """Whether there was a recovery and its last leg was said to be the last one."""
    done = legs(visit)
    return bool(done) and text_of(done[-1].data, "stopped") in ("", "done")


def rest_of(visit: Visit, atmosphere_pa: float) -> Rest | None:
    """Return what can be left after the recovery, whatever should have come out; None where nothing bounds it."""
    try:
        found = ending_of(visit, atmosphere_pa)
        return residue.left(found[0]) if found else None
    except CANNOT:
        return None


def is_emptied(visit: Visit, atmosphere_pa: float) -> bool:
    """Whether the circuit stands emptied after its recovery, within the bound that is printed beside it."""
    rest = rest_of(visit, atmosphere_pa)
    return rest is not None and rest.state == residue.EMPTIED


def ending_of(visit: Visit, atmosphere_pa: float) -> tuple[Ending, tuple[str, ...]] | None:
    """Return how the circuit stood at the end of its recovery, and what was taken from elsewhere.

    None where there was no recovery. Why its last leg stopped does not matter: what it stood at afterwards does.
    """
    done = legs(visit)
    if not done:
        return None
    data, vehicle = done[-1].data, visit.vehicle
    around = air_around(done[-1], atmosphere_pa)
    code, assumed = _code_of(visit)
    name = "pressure_after_wait" if si_of(data, "pressure_after_wait") is not None else "final_pressure"
    final_pa = si_of(data, name)
    if final_pa is None:
        raise MeasurementError(NO_FINAL_PRESSURE)
    coldest_k, more = _coldest(visit, data)
    ending = Ending(
        refrigerant=code,
        pressure_pa=final_pa,
        inside=inside_of(vehicle, visit.workshop),
        temperature_k=coldest_k,
        waited_s=si_of(data, "waited"),
        read_at_stop=name == "final_pressure",
        oil_g=vehicle.oil_g,
        oil_high_g=oil_high_g(vehicle),
        atmosphere_pa=around.pressure_pa,
        atmosphere_high_pa=None if counts_from_nothing(data, name) else around.high_pa,
    )
    return ending, (*assumed, *more)


def _code_of(visit: Visit) -> tuple[str, tuple[str, ...]]:
    """Return the refrigerant to reckon with: what came out, or of a mixture what the vehicle is for."""
    lines = lines_of(legs(visit), *OUT)
    code = lines[0].refrigerant if lines else at_arrival(visit).refrigerant
    if code not in ("", MIXED):
        return code, ()
    code = at_arrival(visit).refrigerant
    if not code:
        raise MeasurementError("Nobody has said which refrigerant it is, so nothing bounds what remains.")
    return code, (f"What came out is a mixture; what remains is reckoned as {code}.",)


def _coldest(visit: Visit, data: Data) -> tuple[float | None, tuple[str, ...]]:
    """Return the coldest part at the end as it was measured then, else at the standing pressure; None where neither."""
    coldest_k = si_of(data, "coldest")
    if coldest_k is not None:
        return float(coldest_k), ()
    stood = living(visit, "standing pressure")
    coldest_k = si_of(stood[-1].data, "coldest") if stood else None
    if coldest_k is None:
        return None, ()
    said = "The coldest part was not measured after recovery; that of the standing pressure is taken."
    return float(coldest_k), (said,)
