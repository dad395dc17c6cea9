"""What is usual of vehicles and of readings at them, so that a slip of the hand is asked about. Pure.

All figures here are common practice without a source. They decide a question alone, never a refusal: who is asked may
say that it does read so.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from inventory.gases import fluids
from shop.bench.insides import CLASS_OF, Inside

CHARGES_KG: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"car": (0.2, 1.8), "van": (0.3, 3.0), "machine": (0.3, 6.0), "bus": (2.0, 25.0)}
)
"""What a system of a class is filled with, by the classes of `bench.insides`: common practice, no source. The high end
of a car lets an old system with R-12 pass (up to 4 lb); a van has a second evaporator; a bus a unit or two on its roof.
"""
AS_THEY_TAKE = {
    "car": "cars take",
    "van": "vans with a second evaporator take",
    "machine": "machines and trucks take",
    "bus": "buses take",
}
OF_LABEL = (0.5, 1.25)  # a charge beside the label: a conversion takes 0.8 to 0.9 of it, and nothing takes much more
MOST_RECOVERED = 1.6  # times the label: what somebody overfilled may come out
MOST_TOLERANCE = 0.25  # of the mass
ONTO_LABEL = 1.05  # times the label: what two scales, and a rest that nobody settled, are off by at most
TIMES_VOLUME = 3.0
WARM_K = 298.15


@dataclass(frozen=True)
class Usual:
    """What a vehicle may be filled with, in kilograms, and `why` to end a sentence: "... more than cars take"."""

    low_kg: float
    high_kg: float
    why: str
    asked: str = "Is it so?"


def of_class(vehicle_class: str) -> Usual:
    """Return the usual charge of a class of vehicle, a name of `shop.bench.insides.CLASS_OF`."""
    name = CLASS_OF.get(vehicle_class, "machine")
    return Usual(*CHARGES_KG[name], AS_THEY_TAKE[name], "Is it so, or is it another class of vehicle?")


def of_vehicle(
    vehicle_class: str,
    *,
    label_kg: float | None = None,
    inside: Inside | None = None,
    refrigerant: str = "",
    recovered: bool = False,
) -> Usual:
    """Return what a vehicle may be filled with, or what may be `recovered` from it: by its label, else by its class.

    An inside volume that somebody entered or measured bounds it too: no more than fills it with liquid at 25 C.
    Unchanged where the refrigerant has no density to reckon with.
    """
    usual = of_class(vehicle_class)
    if label_kg:
        low, high = label_kg * OF_LABEL[0], label_kg * (MOST_RECOVERED if recovered else OF_LABEL[1])
        usual = Usual(low, high, "the label lets expect")
    if inside is None or inside.is_estimate or not refrigerant:
        return usual
    try:
        full_kg = inside.high_m3 * fluids.liquid_density_kg_m3(refrigerant, WARM_K)
    except (fluids.FluidError, LookupError):
        return usual
    if full_kg >= usual.high_kg:
        return usual
    return Usual(min(usual.low_kg, full_kg), full_kg, "fills the inside volume with liquid at 25 C")


def is_past_label(inside_mg: int, charged_mg: int, label_mg: int | None) -> bool:
    """Return whether a charge onto what is inside comes to more than the label by more than readings are off by."""
    return bool(label_mg) and inside_mg > 0 and inside_mg + charged_mg > ONTO_LABEL * (label_mg or 0)


def volume_range_m3(low_m3: float, high_m3: float) -> tuple[float, float]:
    """Return between what an inside volume is taken as typed right, from the range of its class."""
    return low_m3 / TIMES_VOLUME, high_m3 * TIMES_VOLUME
