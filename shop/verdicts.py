"""What the measurements of a step say, as one sentence for the log; None where a step has nothing to be judged."""

from collections.abc import Callable

from inventory.fluids import FluidError
from inventory.quantities import show_mass
from shop import hold, recovery, vacuum
from shop.answers import MeasurementError
from shop.models import Step
from shop.scale import Target, target_said
from shop.steps import Data, si_of, text_of

NEEDLE_STEP_PA = 10_000.0  # a gauge whose step nobody entered: a tenth of a bar, said in the sentence
THERMOMETER_STEP_K = 1.0


def sentence_for(step: Step, atmosphere_pa: float = 101_325.0) -> str | None:
    """Return the verdict of a step in a sentence, or why none can be given, or None."""
    judge = _JUDGES.get(step.kind)
    if judge is None:
        return None
    try:
        return judge(step, atmosphere_pa)
    except (MeasurementError, FluidError) as error:
        return f"Cannot tell: {error}"


def _hold(step: Step, atmosphere_pa: float) -> str | None:
    data, volume_m3 = step.data, _volume(step)
    if volume_m3 is None:
        return "Cannot tell: the inside volume is not entered."
    readings = tuple(
        hold.HoldReading(row["time_s"], row["pressure_pa"], row["temperature_k"])
        for row in si_of(data, "readings") or ()
        if row["temperature_k"] is not None
    )
    answer = hold.judge(
        hold.Hold(
            readings=readings,
            volume_m3=volume_m3,
            refrigerant=step.visit.vehicle.refrigerant,
            pressure_step_pa=_step_of(data, "gauge", NEEDLE_STEP_PA),
            temperature_step_k=_step_of(data, "thermometer", THERMOMETER_STEP_K),
            atmosphere_pa=atmosphere_pa,
            allowed_pa=si_of(data, "allowed"),
        )
    )
    return answer.sentence


def _vacuum(step: Step, atmosphere_pa: float) -> str | None:
    data, volume_m3, coldest_k = step.data, _volume(step), si_of(step.data, "coldest")
    if volume_m3 is None or coldest_k is None:
        return "Cannot tell: the inside volume and the temperature of the coldest part are needed."
    rows = si_of(data, "readings") or ()
    relative = text_of(data, "gauge_type") == "relative"
    answer = vacuum.judge(
        vacuum.Vacuum(
            readings=tuple(vacuum.VacuumReading(row["time_s"], row["pressure_pa"]) for row in rows),
            temperature_k=coldest_k,
            volume_m3=volume_m3,
            refrigerant=step.visit.vehicle.refrigerant,
            pressure_step_pa=_step_of(data, "gauge", NEEDLE_STEP_PA / 10 if relative else 10.0),
            atmosphere_pa=atmosphere_pa,
            gauge_kind="needle" if relative else vacuum.ABSOLUTE,
        )
    )
    return answer.sentence


def _standing(step: Step, atmosphere_pa: float) -> str | None:
    vehicle, data = step.visit.vehicle, step.data
    coldest_k, refrigerant = si_of(data, "coldest"), vehicle.original_refrigerant or vehicle.refrigerant
    if coldest_k is None or vehicle.volume_m3 is None or not refrigerant:
        return "It bounds no mass yet: refrigerant, inside volume and coldest part are needed."
    standing = recovery.Standing(
        refrigerant=refrigerant,
        pressure_pa=si_of(data, "pressure"),
        coldest_k=coldest_k,
        warmest_k=si_of(data, "warmest"),
        pressure_step_pa=_step_of(data, "gauge", NEEDLE_STEP_PA),
        volume_m3=vehicle.volume_m3,
        oil_g=vehicle.oil_g,
        atmosphere_pa=atmosphere_pa,
    )
    return recovery.read_standing(standing).sentence


def _search(step: Step, atmosphere_pa: float) -> str | None:
    """Say a search with its limit; the joints that leak come first."""
    data = step.data
    joints, leaking = int(si_of(data, "joints") or 0), int(si_of(data, "leaking") or 0)
    looked = f"the {joints} joints looked at" if joints != 1 else "the one joint looked at"
    if leaking:
        return f"{leaking} of {looked} leak."
    sensitivity = si_of(data, "sensitivity")
    if sensitivity is None:
        return f"No leak found at {looked}; what the method can see is not entered, so this has no limit."
    return f"No leak found: none above {float(sensitivity):g} g a year at {looked}."


def _charge(step: Step, atmosphere_pa: float) -> str | None:
    target, tolerance = step.data.get("target"), step.data.get("tolerance")
    moved = [one for one in step.entry.movements.all() if one.cause == "charge"] if step.entry else []
    if not target or not moved:
        return None
    aim = Target(int(target["mg"]), int(tolerance["mg"]) if tolerance else 0)
    legs = [other for other in step.visit.steps.all() if other.kind == "charge"]
    if len(legs) > 1:
        return f"Target {show_mass(aim.mass_mg)} for all legs together."
    return target_said(int(moved[0].mass_mg), round(moved[0].u_mg), aim)


def _volume(step: Step) -> float | None:
    own = si_of(step.data, "volume")
    return float(own) if own is not None else step.visit.vehicle.volume_m3


def _step_of(data: Data, name: str, otherwise: float) -> float:
    """Return the resolution of the instrument of a step as it was then, else a coarse one."""
    instrument = (data.get(name) or {}).get("instrument") or {}
    return float(instrument.get("step") or otherwise)


_JUDGES: dict[str, Callable[[Step, float], str | None]] = {
    "pressure hold": _hold,
    "vacuum hold": _vacuum,
    "standing pressure": _standing,
    "leak search": _search,
    "after-search": _search,
    "charge": _charge,
}
