"""The running test: what two pressures and a few temperatures show, as plain findings and an ideal cycle.

Vocabulary: *evaporating* temperature is the dew point at the low pressure, *condensing* the bubble point at the high
one; *superheat* is the suction line above the dew point, *subcooling* the liquid line below the bubble point. The
*ideal cycle* compresses without loss and has no pressure drop: it is a drawing to compare with, not a measurement.

Pressures absolute pascals, temperatures kelvin, enthalpies J/kg. Findings say what was read; they name no part.

Errors: ``MeasurementError`` for readings that cannot be; of gases.fluids ``NoPropertyData`` and ``OutsideModel``
(with the range, as for R-744 above its critical point).
"""

from dataclasses import dataclass
from math import exp, log

from inventory.gases import cycle, fluids, testgases
from inventory.measure.atmosphere import SEA_LEVEL_PA
from shop.bench.answers import (
    INSTRUCTIONS_FIRST,
    ZERO_CELSIUS_K,
    Answer,
    MeasurementError,
    bar,
    celsius,
    celsius_read,
    figure,
    need_above_zero,
    need_finite,
)

VENT_LOW_K, VENT_HIGH_K = ZERO_CELSIUS_K + 7.0, ZERO_CELSIUS_K + 10.0
READING_MARGIN_K = 1.0
DOME_POINTS = 24

SOURCES = (
    "Saturation and enthalpy: CoolProp; 200 kJ/kg for boiling liquid at 0 C",
    "Vent of about 7 to 10 C: common practice, no source",
    "Dew point of the air: vapour pressure of water, IAPWS-95 by CoolProp",
)
CAUTIONS = (
    "Keep clear of belts and fans; carry exhaust gas away.",
    "What is usual depends on car, weather, engine speed and fan: compare with the maker's chart.",
    INSTRUCTIONS_FIRST,
)


@dataclass(frozen=True, kw_only=True)
class Running:
    """A running test as it was read; what was not read is None. `humidity` is relative, 0 to 1."""

    refrigerant: str
    low_pa: float
    high_pa: float
    suction_line_k: float | None = None
    liquid_line_k: float | None = None
    ambient_k: float | None = None
    humidity: float | None = None
    vent_k: float | None = None
    atmosphere_pa: float = SEA_LEVEL_PA


@dataclass(frozen=True)
class State:
    """One numbered point of the cycle: J/kg and absolute Pa; `words` says where it is."""

    number: int
    words: str
    pressure_pa: float
    enthalpy_j_kg: float


@dataclass(frozen=True, kw_only=True)
class Diagram:
    """Data of a pressure-enthalpy drawing: the cycle 1 to 4 and the dome as (Pa, boiling liquid, dry vapour).

    `ambient_pa` is the saturation pressure at the air's temperature, None where it was not read or has none.
    """

    states: tuple[State, ...]
    dome: tuple[tuple[float, float, float], ...]
    ambient_pa: float | None


@dataclass(frozen=True, kw_only=True)
class RunningAnswer(Answer):
    """Verdicts: `read` or `question` (something that cannot be, or hardly). `findings` are plain sentences."""

    evaporating_k: float
    condensing_k: float
    superheat_k: float | None
    subcooling_k: float | None
    air_dew_point_k: float | None
    ideal_cop: float
    findings: tuple[str, ...]
    questions: tuple[str, ...]
    diagram: Diagram


def judge(running: Running) -> RunningAnswer:
    """Return saturation, superheat, subcooling, the ideal cycle and what is worth saying about them.

    Raises ``MeasurementError`` for pressures that are swapped or not above zero and a humidity outside 0 to 1;
    ``OutsideModel`` with the range where a pressure has no saturation (R-744 above 73.8 bar); ``NoPropertyData``.
    """
    _check(running)
    points = _Points(
        evaporating_k=fluids.dew_temperature_k(running.refrigerant, running.low_pa),
        condensing_k=fluids.bubble_temperature_k(running.refrigerant, running.high_pa),
        air_dew_k=_air_dew_point_k(running),
    )
    states = _states(running, points)
    asked = _questions(running, points)
    findings = _findings(running, points)
    return RunningAnswer(
        verdict="question" if asked else "read",
        sentence=_sentence(running, points, asked),
        workings=_workings(running, points, states),
        sources=SOURCES,
        cautions=CAUTIONS,
        evaporating_k=points.evaporating_k,
        condensing_k=points.condensing_k,
        superheat_k=_above(running.suction_line_k, points.evaporating_k),
        subcooling_k=_above(points.condensing_k, running.liquid_line_k),
        air_dew_point_k=points.air_dew_k,
        ideal_cop=_cop(states),
        findings=findings,
        questions=asked,
        diagram=Diagram(states=states, dome=_dome(running), ambient_pa=_ambient_pa(running)),
    )


@dataclass(frozen=True)
class _Points:
    evaporating_k: float
    condensing_k: float
    air_dew_k: float | None


def _check(running: Running) -> None:
    need_above_zero(
        low_side_absolute_pressure=running.low_pa,
        high_side_absolute_pressure=running.high_pa,
        suction_line_temperature=running.suction_line_k,
        liquid_line_temperature=running.liquid_line_k,
        air_temperature=running.ambient_k,
        vent_temperature=running.vent_k,
    )
    need_finite(humidity=running.humidity)
    if running.high_pa <= running.low_pa:
        raise MeasurementError(
            "The high side is not above the low side: the compressor stands, or the two are swapped."
        )
    if running.humidity is not None and not 0 <= running.humidity <= 1:
        raise MeasurementError("Relative humidity lies between 0 and 100 %.")


def _above(upper_k: float | None, lower_k: float | None) -> float | None:
    return None if upper_k is None or lower_k is None else upper_k - lower_k


def _air_dew_point_k(running: Running) -> float | None:
    """The temperature at which the air's moisture begins to settle, by bisection on water's vapour pressure."""
    if running.ambient_k is None or not running.humidity:
        return None
    target_pa = running.humidity * testgases.water_vapour_pressure_pa(running.ambient_k)
    low_k, high_k = 200.0, running.ambient_k
    if target_pa < testgases.water_vapour_pressure_pa(low_k):
        return None
    while high_k - low_k > 1e-4:
        middle_k = (low_k + high_k) / 2
        if testgases.water_vapour_pressure_pa(middle_k) < target_pa:
            low_k = middle_k
        else:
            high_k = middle_k
    return high_k


def _states(running: Running, points: _Points) -> tuple[State, ...]:
    """The ideal cycle, from the lines' temperatures where they were read and are in the right phase."""
    code, low_pa, high_pa = running.refrigerant, running.low_pa, running.high_pa
    _, dry = cycle.saturated_enthalpies_j_kg(code, low_pa)
    boiling, _ = cycle.saturated_enthalpies_j_kg(code, high_pa)
    suction_k = running.suction_line_k
    superheated = suction_k is not None and suction_k > points.evaporating_k
    start_k = suction_k if suction_k is not None and superheated else points.evaporating_k
    suction = cycle.enthalpy_j_kg(code, low_pa, start_k) if superheated else dry
    liquid_k = running.liquid_line_k
    subcooled = liquid_k is not None and liquid_k < points.condensing_k
    liquid = cycle.enthalpy_j_kg(code, high_pa, liquid_k) if liquid_k is not None and subcooled else boiling
    discharge = cycle.isentropic_enthalpy_j_kg(code, low_pa, start_k, high_pa)
    return (
        State(1, "into the compressor", low_pa, suction),
        State(2, "out of an ideal compressor", high_pa, discharge),
        State(3, "out of the condenser", high_pa, liquid),
        State(4, "into the evaporator", low_pa, liquid),
    )


def _cop(states: tuple[State, ...]) -> float:
    """Heat taken up over work put in; of the ideal cycle only."""
    return (states[0].enthalpy_j_kg - states[3].enthalpy_j_kg) / (states[1].enthalpy_j_kg - states[0].enthalpy_j_kg)


def _dome(running: Running) -> tuple[tuple[float, float, float], ...]:
    """Boiling and dew curve from well below the low side to near the top, evenly on a log scale."""
    code = running.refrigerant
    low_k, high_k = fluids.saturation_range_k(code)
    bottom_pa = max(running.low_pa / 2, fluids.bubble_pressure_pa(code, low_k) * 1.01)
    # The last point stays a kelvin below the top, where liquid and vapour can still be told apart.
    top_pa = fluids.dew_pressure_pa(code, high_k - 1.0)
    step = log(top_pa / bottom_pa) / (DOME_POINTS - 1)
    pressures = (bottom_pa * exp(step * i) for i in range(DOME_POINTS))
    return tuple((pressure, *cycle.saturated_enthalpies_j_kg(code, pressure)) for pressure in pressures)


def _ambient_pa(running: Running) -> float | None:
    if running.ambient_k is None:
        return None
    low_k, high_k = fluids.saturation_range_k(running.refrigerant)
    if not low_k <= running.ambient_k <= high_k:
        return None
    return fluids.bubble_pressure_pa(running.refrigerant, running.ambient_k)


def _questions(running: Running, points: _Points) -> tuple[str, ...]:
    """What cannot be, or hardly, in a running system."""
    asked = []
    if running.vent_k is not None and running.vent_k < points.evaporating_k - READING_MARGIN_K:
        asked.append("The vent is colder than the evaporating refrigerant, which cannot be: is one of the two misread?")
    if running.ambient_k is not None and points.condensing_k < running.ambient_k - READING_MARGIN_K:
        asked.append(
            "The refrigerant condenses below the air's temperature, which cannot last: is the high side misread, "
            "or is it not this refrigerant?"
        )
    if points.evaporating_k > points.condensing_k:
        asked.append("The two pressures lie too close for a running system: was the compressor engaged?")
    return tuple(asked)


def _findings(running: Running, points: _Points) -> tuple[str, ...]:
    found = [
        f"Evaporating at {celsius(points.evaporating_k)}, condensing at {celsius(points.condensing_k)}.",
        *_line_findings(running, points),
        *_vent_findings(running, points),
    ]
    if points.evaporating_k < ZERO_CELSIUS_K - READING_MARGIN_K:
        found.append("The refrigerant evaporates below 0 C: water on the evaporator can freeze.")
    if running.low_pa < running.atmosphere_pa:
        found.append("The low side is below the atmosphere: a leak there would draw in air.")
    return tuple(found)


def _line_findings(running: Running, points: _Points) -> list[str]:
    found = []
    superheat_k = _above(running.suction_line_k, points.evaporating_k)
    if superheat_k is not None:
        found.append(f"Superheat {superheat_k:.1f} K.")
        if superheat_k < -READING_MARGIN_K:
            found.append(
                "The suction line is colder than saturation: the probe, the gauge or the refrigerant is not so."
            )
        elif superheat_k < READING_MARGIN_K:
            found.append("There is hardly any superheat: liquid may reach the compressor.")
    subcooling_k = _above(points.condensing_k, running.liquid_line_k)
    if subcooling_k is not None:
        found.append(f"Subcooling {subcooling_k:.1f} K.")
        if subcooling_k < READING_MARGIN_K:
            found.append("There is hardly any subcooling: vapour may be in the liquid line.")
    return found


def _vent_findings(running: Running, points: _Points) -> list[str]:
    if running.vent_k is None:
        return []
    place = "within"
    if not VENT_LOW_K <= running.vent_k <= VENT_HIGH_K:
        place = "below" if running.vent_k < VENT_LOW_K else "above"
    found = [f"Vent {celsius_read(running.vent_k)}, {place} the 7 to 10 C that are common in practice."]
    below_k = _above(running.ambient_k, running.vent_k)
    if below_k is not None:
        found.append(f"The vent is {below_k:.1f} K below the air outside.")
    if points.air_dew_k is not None and running.vent_k < points.air_dew_k:
        found.append(
            f"The air's dew point is {celsius(points.air_dew_k)}: part of the cooling goes into drying it, "
            "so a damp day makes the vent warmer."
        )
    return found


def _sentence(running: Running, points: _Points, asked: tuple[str, ...]) -> str:
    if asked:
        return asked[0]
    parts = [f"Evaporating at {celsius(points.evaporating_k)}, condensing at {celsius(points.condensing_k)}"]
    superheat_k = _above(running.suction_line_k, points.evaporating_k)
    subcooling_k = _above(points.condensing_k, running.liquid_line_k)
    if superheat_k is not None:
        parts.append(f"superheat {superheat_k:.1f} K")
    if subcooling_k is not None:
        parts.append(f"subcooling {subcooling_k:.1f} K")
    if running.vent_k is not None:
        parts.append(f"vent {celsius_read(running.vent_k)}")
    return f"{', '.join(parts)}."


def _workings(running: Running, points: _Points, states: tuple[State, ...]) -> tuple[tuple[str, str], ...]:
    gauge = running.atmosphere_pa
    rows = [
        ("Low side", f"{bar(running.low_pa - gauge)} gauge, dew point {celsius(points.evaporating_k)}"),
        ("High side", f"{bar(running.high_pa - gauge)} gauge, bubble point {celsius(points.condensing_k)}"),
        ("Pressure ratio", figure(running.high_pa / running.low_pa)),
    ]
    rows += [(f"{s.number}, {s.words}", f"{bar(s.pressure_pa)}, {s.enthalpy_j_kg / 1000:.1f} kJ/kg") for s in states]
    return (*rows, ("Heat taken up over work, ideal cycle", f"{_cop(states):.1f}"))
