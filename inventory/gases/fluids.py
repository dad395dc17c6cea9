"""Properties of refrigerants by CoolProp's equations of state.

Words: the *bubble* point is where a liquid begins to boil, the *dew* point where a vapour begins to condense.
For a pure fluid they are one; for a blend the bubble pressure is the higher. Pressures are absolute.

Errors:
    FluidError
        NoPropertyData   there is no model for this refrigerant or this property; nothing is guessed
        OutsideModel     there is a model, but not here; the message names the range

CoolProp takes about two seconds to import, so that happens at the first question. Its states are kept, one per
fluid and thread: they are not to be shared between threads. A blend's composition is CoolProp's predefined mixture
and its solver does not always find the answer by itself near 55 C, so a failed solution is tried again
from the solution a few kelvin colder. The same equations hold; only the starting point differs.

Source of all figures: CoolProp (I. H. Bell et al., Ind. Eng. Chem. Res. 2014, 53, 2498-2508) and the equations
it cites. Checked in tests/published/test_saturation.py.
"""

import math
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from inventory.gases.rows import rows
from inventory.measure.figures import bar

ZERO_CELSIUS_K = 273.15


def _models(kind: str) -> dict[str, str]:
    return {row["code"]: row["model"] for row in rows("models.csv") if row["kind"] == kind}


PURE = _models("pure")
"""Single substances: our code and CoolProp's name."""

PSEUDO_PURE = _models("pseudo-pure")
"""Blends with an equation of their own (Lemmon 2003), which solves everywhere and is preferred to the mixture."""

MIXTURES = _models("mixture")
"""Blends whose every pair of components has mixing parameters fitted to measurements. R-401A, R-402A, R-406A,
R-408A, R-409A, R-413A, R-414B, R-416A, R-426A, R-437A and R-438A lack a pair, and for R-445A the fitted pairs boil
9 K below the published -50.3 C at one atmosphere: no property data here (`inventory.gases.estimated` has estimates)."""

MIXTURE_LOWEST_K = 213.15
MIXTURE_BELOW_REDUCING_K = 10.0
"""Tried at every kelvin, the mixture solver finds all points from 213 K to 10 K below the reducing temperature."""


class FluidError(ValueError):
    """A property that cannot be given; the message is a sentence for the person who asked."""


class NoPropertyData(FluidError):
    """There is no model for this refrigerant, or none for this property of it."""


class OutsideModel(FluidError):
    """The question lies beyond the range of the model, or in the wrong phase; the message names the range."""


_loading = threading.Lock()
_kept = threading.local()


def has_data(code: str) -> bool:
    """Tell whether there is a model for the refrigerant `code` ("R-134a")."""
    return code in PURE or code in PSEUDO_PURE or code in MIXTURES


def is_blend(code: str) -> bool:
    """Tell whether `code` is modelled as a blend, so that bubble and dew differ. Raises ``NoPropertyData``."""
    name_of(code)
    return code not in PURE


def molar_mass_kg_mol(code: str) -> float:
    """Return the molar mass in kg/mol; of a blend, the mean. Raises ``NoPropertyData``."""
    return float(state_of(name_of(code)).molar_mass())


def critical_point(code: str) -> tuple[float, float]:
    """Return critical temperature (K) and absolute pressure (Pa).

    Raises ``NoPropertyData`` for an unknown fluid and for a blend whose mixture model gives no single such point.
    """
    name = name_of(code)
    if code in MIXTURES:
        raise NoPropertyData(f"no critical point for {code}: its mixture model does not give a single one")
    state = state_of(name)
    return float(state.T_critical()), float(state.p_critical())


def saturation_range_k(code: str) -> tuple[float, float]:
    """Return the temperatures (K) between which liquid and vapour can stand together in the model.

    The upper one is the critical temperature, or for a mixture the end of the range that was tried. Raises
    ``NoPropertyData``.
    """
    return _range_of(name_of(code))


def bubble_pressure_pa(code: str, temperature_k: float) -> float:
    """Return the absolute pressure (Pa) at which the liquid boils at `temperature_k`.

    From the triple to the critical point (a mixture: ``saturation_range_k``). Raises ``NoPropertyData``,
    ``OutsideModel``.
    """
    return float(saturated(code, temperature_k, 0).p())


def dew_pressure_pa(code: str, temperature_k: float) -> float:
    """Return the absolute pressure (Pa) at which the vapour condenses at `temperature_k`; as ``bubble_pressure_pa``."""
    return float(saturated(code, temperature_k, 1).p())


def bubble_temperature_k(code: str, pressure_pa: float) -> float:
    """Return the temperature (K) at which the liquid boils under the absolute `pressure_pa`.

    Raises ``NoPropertyData``, ``OutsideModel`` beyond the pressures of the saturation range.
    """
    return _saturation_temperature_k(code, pressure_pa, 0, bubble_pressure_pa)


def dew_temperature_k(code: str, pressure_pa: float) -> float:
    """Return the temperature (K) at which the vapour condenses under `pressure_pa`; as ``bubble_temperature_k``."""
    return _saturation_temperature_k(code, pressure_pa, 1, dew_pressure_pa)


def liquid_density_kg_m3(code: str, temperature_k: float) -> float:
    """Return the density (kg/m3) of the boiling liquid. Raises ``NoPropertyData``, ``OutsideModel``."""
    return float(saturated(code, temperature_k, 0).rhomass())


def saturated_vapour_density_kg_m3(code: str, temperature_k: float) -> float:
    """Return the density (kg/m3) of the vapour at its dew point. Raises ``NoPropertyData``, ``OutsideModel``."""
    return float(saturated(code, temperature_k, 1).rhomass())


def vapour_density_kg_m3(code: str, pressure_pa: float, temperature_k: float) -> float:
    """Return the density (kg/m3) of the vapour at the absolute `pressure_pa` and `temperature_k`.

    Up to the dew pressure, which counts as vapour. Raises ``NoPropertyData``; ``OutsideModel`` where there would
    be liquid.
    """
    with vapour(code, pressure_pa, temperature_k) as state:
        return float(state.rhomass())


def vapour_viscosity_pa_s(code: str, pressure_pa: float, temperature_k: float) -> float:
    """Return the dynamic viscosity (Pa s) of the vapour of a single substance.

    Raises ``NoPropertyData`` for every blend (see ``blend_viscosity_pa_s``) and where there is no viscosity model;
    ``OutsideModel`` where there would be liquid.
    """
    if is_blend(code):
        raise NoPropertyData(f"no viscosity for {code}: the figures for blends are not reliable")
    with vapour(code, pressure_pa, temperature_k) as state:
        try:
            return float(state.viscosity())
        except ValueError as error:
            raise NoPropertyData(f"no viscosity data for {code}") from error


def name_of(code: str) -> str:
    """Return CoolProp's name of a refrigerant; raises ``NoPropertyData``."""
    name = PURE.get(code) or PSEUDO_PURE.get(code) or MIXTURES.get(code)
    if name is None:
        raise NoPropertyData(f"no property data for {code}")
    return name


@cache
def coolprop() -> Any:
    """Return CoolProp, loaded once."""
    with _loading, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its compiled parts raise deprecation warnings that are not ours to mend
        import CoolProp

        return CoolProp


def state_of(name: str) -> Any:
    """Return this thread's state of the fluid `name`, made at the first use."""
    states: dict[str, Any] = _kept.__dict__.setdefault("states", {})
    if name not in states:
        library = coolprop()
        with _loading:
            states[name] = library.AbstractState("HEOS", name)
    return states[name]


@cache
def _range_of(name: str) -> tuple[float, float]:
    state = state_of(name)
    if name.endswith(".mix"):
        return MIXTURE_LOWEST_K, float(state.T_reducing()) - MIXTURE_BELOW_REDUCING_K
    return max(float(state.Ttriple()), float(state.Tmin())), float(state.T_critical())


def celsius(temperature_k: float) -> str:
    """Return a temperature in degrees Celsius, with digits from which another unit is said as it was typed."""
    return f"{temperature_k - ZERO_CELSIUS_K:.2f} C"


def check_range(what: str, temperature_k: float, low_k: float, high_k: float) -> None:
    """Raise ``OutsideModel`` with the range where a temperature lies outside it."""
    if not low_k <= temperature_k <= high_k:
        low_c, high_c = low_k - ZERO_CELSIUS_K, high_k - ZERO_CELSIUS_K
        raise OutsideModel(
            f"{celsius(temperature_k)} is outside the range for {what}: at least {low_c:.2f} C, at most {high_c:.2f} C."
        )


def saturated(code: str, temperature_k: float, quality: int) -> Any:
    """Return the state of boiling liquid (`quality` 0) or of vapour at its dew point (1) at a temperature."""
    name = name_of(code)
    check_range(code, temperature_k, *_range_of(name))
    state = state_of(name)
    try:
        state.update(coolprop().QT_INPUTS, quality, temperature_k)
    except ValueError as error:
        if code not in MIXTURES:
            raise OutsideModel(f"The model of {code} gives no answer at {temperature_k:.2f} K.") from error
        _solve_from_colder(code, state, temperature_k, quality)
    return state


def _solve_from_colder(code: str, state: Any, temperature_k: float, quality: int) -> None:
    library = coolprop()
    for step_k in (1, 2, 4, 8, 12, 16, 20):
        try:
            state.update(library.QT_INPUTS, quality, temperature_k - step_k)
            guess = library.CoolProp.PyGuessesStructure()
            guess.T, guess.p = temperature_k, state.p()
            guess.rhomolar_liq = state.saturated_liquid_keyed_output(library.iDmolar)
            guess.rhomolar_vap = state.saturated_vapor_keyed_output(library.iDmolar)
            guess.x, guess.y = state.mole_fractions_liquid(), state.mole_fractions_vapor()
            state.update_with_guesses(library.QT_INPUTS, quality, temperature_k, guess)
        except ValueError:
            continue
        return
    raise OutsideModel(f"The mixture model of {code} gives no answer at {temperature_k:.2f} K.")


def _saturation_temperature_k(
    code: str, pressure_pa: float, quality: int, pressure_of: Callable[[str, float], float]
) -> float:
    low_k, high_k = saturation_range_k(code)
    low_pa, high_pa = saturation_range_pa(code, quality)
    if not low_pa <= pressure_pa <= high_pa:
        raise OutsideModel(
            f"{bar(pressure_pa)} absolute is outside the saturation range of {code}: "
            f"{low_pa / 1e5:.3g} to {high_pa / 1e5:.4g} bar absolute."
        )
    if code not in MIXTURES:
        state = state_of(name_of(code))
        try:
            state.update(coolprop().PQ_INPUTS, pressure_pa, quality)
            return float(state.T())
        except ValueError:  # seen at the low end of a blend, by what the kept state held before
            pass
    return root(lambda at_k: math.log(pressure_of(code, at_k) / pressure_pa), low_k, high_k)


@cache
def saturation_range_pa(code: str, quality: int) -> tuple[float, float]:
    """Return the pressures (Pa) between which liquid and vapour can stand together, on the bubble or the dew side."""
    low_k, high_k = saturation_range_k(code)
    if code in PURE:
        return bubble_pressure_pa(code, low_k), critical_point(code)[1]
    # A blend's own critical point need not be its highest saturation pressure; half a kelvin below it is safe.
    high_k = high_k if code in MIXTURES else high_k - 0.5
    pressure_of = (bubble_pressure_pa, dew_pressure_pa)[quality]
    return pressure_of(code, low_k), pressure_of(code, high_k)


def _check_vapour(code: str, pressure_pa: float, temperature_k: float) -> None:
    low_k, high_k = saturation_range_k(code)
    check_range(code, temperature_k, low_k, float(state_of(name_of(code)).Tmax()))
    if not pressure_pa > 0:
        raise OutsideModel("The absolute pressure must be above nothing.")
    if temperature_k >= high_k and code not in MIXTURES:
        return
    # Above the tried range of a mixture its last dew pressure is kept as the limit: more could be liquid.
    limit_pa = dew_pressure_pa(code, min(temperature_k, high_k))
    if pressure_pa > limit_pa * (1 + 1e-6):
        raise OutsideModel(
            f"{code} at {celsius(temperature_k)} is all vapour only up to {bar(limit_pa)} "
            f"absolute; {bar(pressure_pa)} was asked for."
        )


@contextmanager
def phase(state: Any, phase: int, pressure_pa: float, temperature_k: float) -> Iterator[Any]:
    """Yield the state in this phase at an absolute pressure and temperature; raises ``OutsideModel``."""
    library = coolprop()
    state.specify_phase(phase)  # spares the search for the phase, which is known here and fails for mixtures
    try:
        try:
            state.update(library.PT_INPUTS, pressure_pa, temperature_k)
        except ValueError as error:
            raise OutsideModel(f"The model gives no answer at {pressure_pa:.0f} Pa, {temperature_k:.2f} K.") from error
        yield state
    finally:
        state.unspecify_phase()


@contextmanager
def vapour(code: str, pressure_pa: float, temperature_k: float) -> Iterator[Any]:
    """Yield the state of a refrigerant's vapour; raises ``OutsideModel`` where there would be liquid."""
    _check_vapour(code, pressure_pa, temperature_k)
    library, state = coolprop(), state_of(name_of(code))
    above = temperature_k >= saturation_range_k(code)[1]
    with phase(state, library.iphase_supercritical_gas if above else library.iphase_gas, pressure_pa, temperature_k):
        yield state


def root(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where the rising `function` is zero between `low` and `high`, to 1e-9 of it.

    Bisection with the false position tried first: both ends stay a bracket, so it cannot run away.
    """
    at_low, at_high = function(low), function(high)
    if at_low >= 0 or at_high <= 0:
        return low if at_low >= 0 else high
    for turn in range(200):
        guess = low + (high - low) * (0.5 if turn % 3 == 2 else at_low / (at_low - at_high))
        value = function(guess)
        if value < 0:
            low, at_low = guess, value
        else:
            high, at_high = guess, value
        if high - low < 1e-9 * high or value == 0:
            break
    return low if -at_low < at_high else high
