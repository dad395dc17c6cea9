"""The readings of a step as the calculations take them: SI values from its data, the rest from vehicle and workshop.

An instrument that nobody entered counts as a coarse one, and `assumed` says so. Raises `MeasurementError` with a
sentence where a reading that is needed is not there.
"""

from collections.abc import Mapping

from inventory.gases.fluids import FluidError
from inventory.measure.atmosphere import Air, air_at
from inventory.measure.units import find_pressure
from shop.bench import holdfacts, insides, performance, standing, vacuum, vacuumfits
from shop.bench.answers import MeasurementError, bar
from shop.bench.insides import Inside
from shop.models import Step, Vehicle, Workshop
from shop.visits.gas import gas_at, gas_to_come
from shop.visits.steps import READ_AGAINST, Data, air_pa, si_of, text_of

CANNOT = (MeasurementError, FluidError)
NEEDLE_STEP_PA = 10_000.0
VACUUM_STEP_PA = 10.0
COARSE_VACUUM_STEP_PA = 1_000.0
THERMOMETER_STEP_K = 1.0
# No source: at 20 mbar the vapour of R-12 or R-134a in 7 L, the largest circuit of a van, is under a gram at 20 C.
EVACUATED_UNDER_PA = 2_000.0


def step_of(data: Data, name: str, otherwise: float) -> float:
    """Return the resolution of the instrument of a step as it was then, else `otherwise`."""
    instrument = (data.get(name) or {}).get("instrument") or {}
    return float(instrument.get("step") or otherwise)


def width_of(data: Data, name: str, otherwise: float) -> float:
    """Return the step of the instrument of a step, or the width of its stated limits where that is more."""
    instrument = (data.get(name) or {}).get("instrument") or {}
    return max(float(instrument.get("step") or 0.0), 2 * float(instrument.get("accuracy") or 0.0)) or otherwise


def assumed(step: Step) -> tuple[str, ...]:
    """Return in words which resolutions had to be taken as given."""
    data, kind = step.data, step.kind
    needle = dict.fromkeys(("pressure hold", "standing pressure"), NEEDLE_STEP_PA)
    gauge = {**needle, "vacuum hold": _vacuum_step_pa(data)}.get(kind)
    found = []
    known = width_of(data, "gauge", 0.0) if kind == "standing pressure" else step_of(data, "gauge", 0.0)
    if gauge is not None and not known:
        words = f"{bar(gauge)}" if gauge >= NEEDLE_STEP_PA else f"{gauge / 100:g} mbar"
        found.append(f"No gauge with a known step is entered: steps of {words} are assumed.")
    if kind == "standing pressure" and si_of(data, "coldest") is None and coldest_at(data) is not None:
        found.append("The coldest part was not measured: it is taken to be as warm as what was.")
    taken = any(row["temperature_k"] is not None for row in si_of(data, "readings") or () if "temperature_k" in row)
    if kind == "pressure hold" and taken and not width_of(data, "thermometer", 0.0):
        found.append("No thermometer with a known step or limit is entered: good to half a degree is assumed.")
    return tuple(found)


def _vacuum_step_pa(data: Data) -> float:
    return COARSE_VACUUM_STEP_PA if text_of(data, "gauge_type") == "relative" else VACUUM_STEP_PA


def ranges_of(workshop: Workshop) -> Mapping[str, tuple[float, float]]:
    """Return the range of inside volumes (m3) of each class: the workshop's own where it has set one."""
    own = {name: (float(low), float(high)) for name, (low, high) in workshop.inside_ranges.items()}
    return {**insides.RANGES_M3, **own}


def inside_of(vehicle: Vehicle, workshop: Workshop) -> Inside:
    """Return what is known of a vehicle's inside volume: as entered or measured, else its class by its label."""
    if vehicle.volume_m3:
        return insides.entered(vehicle.volume_m3, vehicle.volume_source, vehicle.volume_off_m3 or 0.0)
    found = insides.of_class(volume_class(vehicle), ranges_of(workshop))
    code = vehicle.original_refrigerant or vehicle.refrigerant  # the mass is that of the label it came with
    return insides.narrowed_by_label(found, refrigerant=code, mass_kg=(vehicle.nameplate_mg or 0) / 1e6)


def volume_of(step: Step) -> Inside:
    """Return the inside volume of a step: its own as entered there, else what is known of the vehicle's."""
    own = si_of(step.data, "volume")
    if own is not None:
        return insides.entered(float(own), "at this step")
    return inside_of(step.visit.vehicle, step.visit.workshop)


def oil_high_g(vehicle: Vehicle) -> float:
    """Return the most oil (g) that a circuit of the vehicle's class usually has."""
    return insides.OIL_HIGH_G[volume_class(vehicle)]


def volume_class(vehicle: Vehicle) -> str:
    """Return the class of inside volume that a vehicle is taken to have."""
    return insides.CLASS_OF.get(vehicle.vehicle_class, insides.CLASSES[0])


def counts_from_nothing(data: Data, name: str) -> bool:
    """Whether a pressure was typed as an absolute one, so that it does not rest on what the air was taken to be."""
    found = find_pressure(str((data.get(name) or {}).get("unit", "")))
    return found is not None and (found[1] == "absolute" or found[0].word in ("micron", "torr", "mmHg", "atm"))


def air_around(step: Step, atmosphere_pa: float) -> Air:
    """Return the air's own pressure in a step: by its barometer, else what the height gives, else a stated range."""
    barometer_pa = si_of(step.data, "barometer")
    if barometer_pa is not None:
        return Air(float(barometer_pa), float(barometer_pa), float(barometer_pa), "by the barometer")
    if READ_AGAINST in step.data:  # also once a height is entered: what was said of the step stays
        unknown = air_at(None)
        return Air(air_pa(step.data, atmosphere_pa), unknown.low_pa, unknown.high_pa, "no height being entered")
    return Air(atmosphere_pa, atmosphere_pa, atmosphere_pa)


def hold_of(step: Step, atmosphere_pa: float) -> holdfacts.Hold:
    """Return a pressure hold as `shop.bench.hold` takes it."""
    data = step.data
    around = air_around(step, atmosphere_pa)
    readings = tuple(
        holdfacts.HoldReading(row["time_s"], row["pressure_pa"], row["temperature_k"])
        for row in si_of(data, "readings") or ()
    )
    return holdfacts.Hold(
        readings=readings,
        inside=volume_of(step),
        refrigerant=gas_to_come(step),
        pressure_step_pa=step_of(data, "gauge", NEEDLE_STEP_PA),
        temperature_step_k=width_of(data, "thermometer", THERMOMETER_STEP_K),
        atmosphere_pa=around.pressure_pa,
        atmosphere_low_pa=around.low_pa,
        atmosphere_high_pa=around.high_pa,
        atmosphere_by=around.words,
        gas=text_of(data, "gas") or holdfacts.NITROGEN,
        allowed_pa=si_of(data, "allowed"),
    )


def vacuum_of(step: Step, atmosphere_pa: float) -> vacuumfits.Vacuum:
    """Return a vacuum hold as `shop.bench.vacuum` takes it."""
    data, around = step.data, air_around(step, atmosphere_pa)
    rows = si_of(data, "readings") or ()
    return vacuumfits.Vacuum(
        readings=tuple(vacuumfits.VacuumReading(row["time_s"], row["pressure_pa"]) for row in rows),
        temperature_k=si_of(data, "coldest"),
        inside=volume_of(step),
        refrigerant=gas_to_come(step),
        pressure_step_pa=step_of(data, "gauge", _vacuum_step_pa(data)),
        atmosphere_pa=around.pressure_pa,
        atmosphere_low_pa=around.low_pa,
        atmosphere_high_pa=around.high_pa,
        atmosphere_by=around.words,
        planned_s=planned_s(step),
        gauge_kind=vacuumfits.NEEDLE if text_of(data, "gauge_type") == "relative" else vacuumfits.ABSOLUTE,
    )


def planned_s(step: Step) -> float | None:
    """Return how long a step that was watched was meant to run; None of one that was not, or not fetched with that."""
    watch = step._state.fields_cache.get("watch")
    return watch.planned_s if watch else None


def is_evacuated(step: Step, atmosphere_pa: float) -> bool:
    """Return whether next to nothing is inside after a vacuum hold.

    It held, or it ended low on an absolute gauge and shows neither a leak nor moisture, for which it is pulled again.
    """
    try:
        hold = vacuum_of(step, atmosphere_pa)
        verdict = vacuum.judge(hold).verdict
    except CANNOT:
        return False
    low = hold.gauge_kind == vacuumfits.ABSOLUTE and hold.readings[-1].pressure_pa < EVACUATED_UNDER_PA
    return verdict == "tight" or (low and verdict not in ("leak", "moisture"))


def standing_of(step: Step, refrigerant: str, atmosphere_pa: float) -> standing.Standing:
    """Return a standing pressure as `bench.recovery` takes it; the coldest part is the coldest that was measured."""
    data, around = step.data, air_around(step, atmosphere_pa)
    pressure_pa = si_of(data, "pressure")
    if pressure_pa is None or not refrigerant:
        missing = [name for name, value in (("refrigerant", refrigerant), ("pressure", pressure_pa)) if not value]
        raise MeasurementError(f"It bounds no mass yet: {' and '.join(missing)} not entered.")
    absolute = counts_from_nothing(data, "pressure")
    return standing.Standing(
        refrigerant=refrigerant,
        pressure_pa=pressure_pa,
        coldest_k=coldest_at(data),
        warmest_k=si_of(data, "warmest"),
        pressure_step_pa=width_of(data, "gauge", NEEDLE_STEP_PA),
        inside=volume_of(step),
        oil_g=step.visit.vehicle.oil_g,
        oil_high_g=oil_high_g(step.visit.vehicle),
        atmosphere_pa=around.pressure_pa,
        atmosphere_low_pa=None if absolute else around.low_pa,
        atmosphere_high_pa=None if absolute else around.high_pa,
    )


def coldest_at(data: Data) -> float | None:
    """Return the temperature (K) of the coldest part of a standing pressure, else of what was measured."""
    if (found := si_of(data, "coldest")) is not None:
        return float(found)
    others = [float(one) for name in ("air", "warmest") if (one := si_of(data, name)) is not None]
    return min(others, default=None)


def running_of(step: Step, atmosphere_pa: float) -> performance.Running:
    """Return a running test as `shop.bench.performance` takes it."""
    data, code = step.data, gas_at(step)
    low_pa, high_pa, percent = si_of(data, "low"), si_of(data, "high"), si_of(data, "humidity")
    if low_pa is None or high_pa is None or not code:
        raise MeasurementError("Both pressures and the refrigerant are needed.")
    return performance.Running(
        refrigerant=code,
        low_pa=low_pa,
        high_pa=high_pa,
        suction_line_k=si_of(data, "suction"),
        liquid_line_k=si_of(data, "liquid"),
        ambient_k=si_of(data, "air"),
        humidity=None if percent is None else percent / 100,
        vent_k=si_of(data, "vent"),
        atmosphere_pa=air_pa(data, atmosphere_pa),
    )
