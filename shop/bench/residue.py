"""What recovery leaves in a circuit: the most that vapour and oil can still hold, whatever is not known.

Vocabulary: a circuit is *emptied* where, after the wait, it stands under `EMPTIED_BELOW_PA` and under the air outside,
and no liquid can be left at its coldest part. That is said within a bound in grams, never as "empty". Without the wait
a frosted pool of liquid can hold such a pressure for a while, so a reading then bounds only what is not cold.

Every unknown takes its side that leaves more: the inside volume its high end, a coldest part that nobody measured
`COLD_K` (a colder gas at one pressure is denser), a gauge the top of its step, an air known within a range its highest.

Masses are grams, pressures absolute pascals, temperatures kelvin. Errors: ``MeasurementError`` with a sentence;
``NoPropertyData`` and ``OutsideModel`` of inventory.gases.fluids.
"""

from dataclasses import dataclass

from inventory.gases import fluids
from inventory.measure.atmosphere import SEA_LEVEL_PA
from shop.bench.answers import at_most, bar, celsius, need_above_zero, need_not_below_zero, span
from shop.bench.insides import Around

EMPTIED_BELOW_PA = 0.9 * SEA_LEVEL_PA
"""About 3 inHg below the air at sea level, and below what its weather brings: common practice, no source."""
OIL_SHARE = 0.05
WAIT_S = 300.0
COLD_K = 253.15
"""The coldest that a part of a circuit is taken to be where nobody measured it: common practice, no source."""

EMPTIED, UNLESS_COLD, NOT_EMPTIED, LIQUID = "emptied", "emptied unless cold", "not emptied", "liquid may remain"


@dataclass(frozen=True, kw_only=True)
class Ending(Around):
    """How a circuit stood at the end of a recovery: absolute pressure, coldest part (None: not measured), wait.

    `read_at_stop`: the pressure is that at which the machine stopped, whatever was waited afterwards.
    `oil_g` is the oil inside, None where nobody knows; then `oil_high_g`, the most that such a circuit has, is allowed
    for, or nothing where that is None too.
    """

    refrigerant: str
    pressure_pa: float
    temperature_k: float | None = None
    waited_s: float | None = None
    read_at_stop: bool = False
    oil_g: float | None = None
    oil_high_g: float | None = None
    pressure_step_pa: float = 0.0

    @property
    def top_pa(self) -> float:
        """The highest that the pressure may have been."""
        return self.pressure_pa + self.pressure_step_pa / 2 + (self.highest_air_pa - self.atmosphere_pa)

    @property
    def has_waited(self) -> bool:
        """Whether it was read five minutes after the machine stopped, or later."""
        return self.waited_s is not None and self.waited_s >= WAIT_S and not self.read_at_stop


@dataclass(frozen=True, kw_only=True)
class Rest:
    """What can be left: EMPTIED, UNLESS_COLD (read without the wait), NOT_EMPTIED or LIQUID, with its bound.

    `vapour_g` and `at_most_g` (vapour and oil allowance) are None where liquid may remain. `sentence` is empty where
    there is nothing to say beside the bound. `taken` says what holds in place of a coldest part and oil that are not
    known; the words of the inside volume say their own.
    """

    state: str
    vapour_g: float | None
    oil_g: float
    at_most_g: float | None
    sentence: str
    taken: tuple[str, ...]


def left(ending: Ending) -> Rest:
    """Return what can be left in a circuit that stood so at the end of its recovery.

    Raises ``MeasurementError``, ``NoPropertyData``, ``OutsideModel``.
    """
    need_above_zero(absolute_temperature=ending.temperature_k)
    need_not_below_zero(
        final_absolute_pressure=ending.pressure_pa,
        step_of_the_gauge=ending.pressure_step_pa,
        waiting_time=ending.waited_s,
    )
    oil_g = oil_allowance_g(ending.oil_high_g if ending.oil_g is None else ending.oil_g)
    coldest_k = COLD_K if ending.temperature_k is None else ending.temperature_k
    if ending.top_pa >= fluids.dew_pressure_pa(ending.refrigerant, coldest_k):
        return Rest(state=LIQUID, vapour_g=None, oil_g=oil_g, at_most_g=None, sentence="", taken=_taken(ending))
    held_g = vapour_g(
        ending.refrigerant,
        pressure_pa=ending.top_pa,
        temperature_k=coldest_k,
        volume_m3=ending.space.high_m3,
    )
    state = _state(ending)
    return Rest(
        state=state,
        vapour_g=held_g,
        oil_g=oil_g,
        at_most_g=held_g + oil_g,
        sentence=_sentence(state, ending, held_g, oil_g),
        taken=_taken(ending),
    )


def _state(ending: Ending) -> str:
    # Against the air outside it is the reading itself that counts: a gauge reads against that air, whatever it is.
    if ending.top_pa > EMPTIED_BELOW_PA or ending.pressure_pa >= ending.atmosphere_pa:
        return NOT_EMPTIED
    return EMPTIED if ending.has_waited else UNLESS_COLD


def _sentence(state: str, ending: Ending, held_g: float, oil_g: float) -> str:
    in_oil = f", {oil_g:.1f} g in the oil" if oil_g else ""
    bound = f"at most {at_most(held_g + oil_g)} is left ({held_g:.1f} g of vapour{in_oil})"
    stood = f"it stood at {bar(ending.pressure_pa)} absolute"
    if state == EMPTIED and ending.waited_s is not None:
        under = f"under {bar(EMPTIED_BELOW_PA)} and under the air outside"
        return f"Emptied: {stood} {span(ending.waited_s)} after the machine stopped, {under}, so {bound}."
    if state == UNLESS_COLD:
        return (
            f"Emptied, unless a cold or frosted part still holds liquid: {stood}, and {_lacks(ending)}; "
            f"without such a part {bound}. {_on_from(ending)}"
        )
    return ""


def _lacks(ending: Ending) -> str:
    """Say what a reading lacks that was not taken after the whole wait."""
    if ending.waited_s is None:
        return f"no wait of {span(WAIT_S)} is entered"
    if ending.read_at_stop:
        return f"the pressure after the {span(ending.waited_s)} waited is not entered"
    return f"it was read {span(ending.waited_s)} after the machine stopped, where {span(WAIT_S)} are asked"


def _on_from(ending: Ending) -> str:
    if ending.read_at_stop and ending.waited_s is not None:
        return "Enter that pressure, or read it again."
    return "Wait and read it again." if not ending.waited_s else "Wait longer and read it again."


def _taken(ending: Ending) -> tuple[str, ...]:
    found = []
    if ending.temperature_k is None:
        found.append(f"The coldest part was not measured: {celsius(COLD_K)} is taken, as cold leaves the most.")
    if ending.oil_g is None and ending.oil_high_g is not None:
        found.append(
            f"The amount of oil was not entered: {ending.oil_high_g:.0f} g, the most that such a circuit usually has, "
            "are reckoned with (common practice, no source)."
        )
    return tuple(found)


def vapour_g(refrigerant: str, *, pressure_pa: float, temperature_k: float, volume_m3: float) -> float:
    """Return the mass (g) of vapour that fills `volume_m3` at an absolute pressure and temperature.

    Raises ``MeasurementError`` for values not above zero, ``NoPropertyData``, ``OutsideModel`` where there would be
    liquid. Source: density by CoolProp.
    """
    need_above_zero(volume=volume_m3, absolute_temperature=temperature_k)
    need_not_below_zero(absolute_pressure=pressure_pa)
    if pressure_pa == 0:
        return 0.0
    return volume_m3 * fluids.vapour_density_kg_m3(refrigerant, pressure_pa, temperature_k) * 1000


def oil_allowance_g(oil_g: float | None) -> float:
    """Return the refrigerant (g) allowed for in the oil: 5 % of its mass; nothing where the oil is unknown."""
    need_not_below_zero(oil=oil_g)
    return 0.0 if oil_g is None else OIL_SHARE * oil_g
