"""Enthalpies of a refrigerant, for the drawing of a cycle, by CoolProp; errors as in ``inventory.gases.fluids``.

The zero is that of the trade: 200 kJ/kg for the boiling liquid at 0 C, where the fluid has one.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from inventory.gases import fluids
from inventory.measure.figures import bar


def enthalpy_j_kg(code: str, pressure_pa: float, temperature_k: float) -> float:
    """Return the specific enthalpy (J/kg) of liquid or vapour, whichever stands here; at the dew point, of vapour.

    The zero is that of the trade: 200 kJ/kg for the boiling liquid at 0 C, where the fluid has one. Raises
    ``NoPropertyData``; ``OutsideModel`` beyond the range and where both stand together.
    """
    with _one_phase(code, pressure_pa, temperature_k) as state:
        return float(state.hmass()) + _enthalpy_shift_j_kg(code)


def saturated_enthalpies_j_kg(code: str, pressure_pa: float) -> tuple[float, float]:
    """Return the specific enthalpies (J/kg, zero as in ``enthalpy_j_kg``) of boiling liquid and of dry vapour."""
    shift = _enthalpy_shift_j_kg(code)
    liquid = float(fluids.saturated(code, fluids.bubble_temperature_k(code, pressure_pa), 0).hmass())
    vapour = float(fluids.saturated(code, fluids.dew_temperature_k(code, pressure_pa), 1).hmass())
    return liquid + shift, vapour + shift


def isentropic_enthalpy_j_kg(code: str, pressure_pa: float, temperature_k: float, to_pressure_pa: float) -> float:
    """Return the specific enthalpy (J/kg) after ideal compression of vapour to the higher `to_pressure_pa`.

    `temperature_k` may be the dew point. Where the end would be slightly wet, as with R-1234yf, dh = T ds at the
    dew temperature is used, which holds for the first few per cent of liquid. Raises ``NoPropertyData``,
    ``OutsideModel``.
    """
    if to_pressure_pa < pressure_pa:
        raise fluids.OutsideModel("The pressure after the compressor is below the one before it.")
    with fluids.vapour(code, pressure_pa, temperature_k) as state:
        entropy = float(state.smass())
    low_k = _vapour_begins_k(code, to_pressure_pa)
    with fluids.vapour(code, to_pressure_pa, low_k) as state:
        dry_entropy, dry_enthalpy = float(state.smass()), float(state.hmass())
        high_k = float(state.Tmax())
    shift = _enthalpy_shift_j_kg(code)
    if entropy <= dry_entropy:
        return dry_enthalpy - low_k * (dry_entropy - entropy) + shift

    def excess(at_k: float) -> float:
        with fluids.vapour(code, to_pressure_pa, at_k) as state:
            return float(state.smass()) - entropy

    end_k = fluids.root(excess, low_k, min(high_k, temperature_k + 300.0))
    with fluids.vapour(code, to_pressure_pa, end_k) as state:
        return float(state.hmass()) + shift


def _vapour_begins_k(code: str, pressure_pa: float) -> float:
    """Return the lowest temperature at which all is vapour (or above the critical point) at `pressure_pa`."""
    _low_pa, high_pa = fluids.saturation_range_pa(code, 1)
    return fluids.dew_temperature_k(code, pressure_pa) if pressure_pa <= high_pa else fluids.saturation_range_k(code)[1]


@contextmanager
def _one_phase(code: str, pressure_pa: float, temperature_k: float) -> Iterator[Any]:
    low_k, high_k = fluids.saturation_range_k(code)
    # At saturation both would do; the vapour is meant there, since the compressor's inlet is asked for most.
    if low_k <= temperature_k < high_k and pressure_pa > fluids.dew_pressure_pa(code, temperature_k) * (1 + 1e-6):
        if pressure_pa < fluids.bubble_pressure_pa(code, temperature_k):
            raise fluids.OutsideModel(
                f"{code} at {fluids.celsius(temperature_k)} and {bar(pressure_pa)} absolute is "
                "liquid and vapour together: pressure and temperature do not tell how much of each."
            )
        state = fluids.state_of(fluids.name_of(code))
        with fluids.phase(state, fluids.coolprop().iphase_liquid, pressure_pa, temperature_k):
            yield state
        return
    with fluids.vapour(code, pressure_pa, temperature_k) as state:
        yield state


@cache
def _enthalpy_shift_j_kg(code: str) -> float:
    low_k, high_k = fluids.saturation_range_k(code)
    if not low_k <= fluids.ZERO_CELSIUS_K < high_k:
        return 0.0
    return 200_000.0 - float(fluids.saturated(code, fluids.ZERO_CELSIUS_K, 0).hmass())
