"""Properties of refrigerants, of nitrogen and of water, by CoolProp's equations of state.

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
it cites. Checked in tests/published/test_saturation.py. The one estimate here is the viscosity of a gas mixture,
`mixed_viscosity_pa_s`: CoolProp has viscosities of single substances, and for a mixture no measured model.
"""

import math
import threading
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any

ZERO_CELSIUS_K = 273.15
WATER_TRIPLE_K = 273.16
WATER_TRIPLE_PA = 611.657
THIN_VAPOUR_PA = 10_000.0
NITROGEN_KG_MOL, HYDROGEN_KG_MOL = 0.0280134, 0.00201588

PURE = {
    "R-11": "R11",
    "R-113": "R113",
    "R-114": "R114",
    "R-115": "R115",
    "R-116": "R116",
    "R-1123": "R1123",
    "R-1150": "Ethylene",
    "R-12": "R12",
    "R-1224yd(Z)": "R1224YDZ",
    "R-123": "R123",
    "R-1233zd(E)": "R1233zd(E)",
    "R-1234yf": "R1234yf",
    "R-1234ze(E)": "R1234ze(E)",
    "R-1234ze(Z)": "R1234ze(Z)",
    "R-124": "R124",
    "R-1243zf": "R1243zf",
    "R-125": "R125",
    "R-1270": "Propylene",
    "R-13": "R13",
    "R-1336mzz(E)": "R1336mzz(E)",
    "R-1336mzz(Z)": "R1336mzz(Z)",
    "R-134a": "R134a",
    "R-13I1": "R13I1",
    "R-14": "R14",
    "R-141b": "R141b",
    "R-142b": "R142b",
    "R-143a": "R143a",
    "R-152a": "R152A",
    "R-161": "R161",
    "R-170": "Ethane",
    "R-21": "R21",
    "R-218": "R218",
    "R-22": "R22",
    "R-227ea": "R227EA",
    "R-23": "R23",
    "R-236ea": "R236EA",
    "R-236fa": "R236FA",
    "R-245ca": "R245ca",
    "R-245fa": "R245fa",
    "R-290": "n-Propane",
    "R-32": "R32",
    "R-365mfc": "R365MFC",
    "R-40": "R40",
    "R-41": "R41",
    "R-50": "Methane",
    "R-600": "n-Butane",
    "R-600a": "IsoButane",
    "R-601": "n-Pentane",
    "R-601a": "Isopentane",
    "R-717": "Ammonia",
    "R-744": "CarbonDioxide",
    "R-C318": "RC318",
    "R-E170": "DimethylEther",
}
"""Single substances: our code and CoolProp's name."""

PSEUDO_PURE = {"R-404A": "R404A", "R-407C": "R407C", "R-410A": "R410A", "R-507A": "R507A"}
"""Blends with an equation of their own (Lemmon 2003), which solves everywhere and is preferred to the mixture."""

MIXTURES = {
    code: f"{code.replace('-', '')}.mix"
    for code in (
        *("R-407A", "R-407B", "R-407F", "R-417A", "R-420A", "R-421A", "R-421B", "R-422A", "R-422D"),
        *("R-427A", "R-434A", "R-444A", "R-448A", "R-449A", "R-450A", "R-452A", "R-454A"),
        *("R-454B", "R-454C", "R-455A", "R-456A", "R-466A", "R-500", "R-502", "R-513A"),
    )
}
"""Blends whose every pair of components has mixing parameters fitted to measurements. R-401A, R-402A, R-406A,
R-408A, R-409A, R-413A, R-414B, R-416A, R-426A, R-437A and R-438A lack a pair, and for R-445A the fitted pairs boil
9 K below the published -50.3 C at one atmosphere: no property data."""

MIXTURE_LOWEST_K = 213.15
MIXTURE_BELOW_REDUCING_K = 10.0
"""Tried at every kelvin, the mixture solver finds all points from 213 K to 10 K below the reducing temperature."""


class FluidError(ValueError):
    """A property that cannot be given; the message is a sentence for the person who asked."""


class NoPropertyData(FluidError):
    """There is no model for this refrigerant, or none for this property of it."""


class OutsideModel(FluidError):
    """The question lies beyond the range of the model, or in the wrong phase; the message names the range."""


@dataclass(frozen=True)
class ThinGas:
    """One part of a gas mixture: its amount (moles or volume), viscosity and molar mass."""

    amount: float
    viscosity_pa_s: float
    molar_mass_kg_mol: float


_loading = threading.Lock()
_kept = threading.local()


def has_data(code: str) -> bool:
    """Tell whether there is a model for the refrigerant `code` ("R-134a")."""
    return code in PURE or code in PSEUDO_PURE or code in MIXTURES


def is_blend(code: str) -> bool:
    """Tell whether `code` is modelled as a blend, so that bubble and dew differ. Raises ``NoPropertyData``."""
    _name(code)
    return code not in PURE


def molar_mass_kg_mol(code: str) -> float:
    """Return the molar mass in kg/mol; of a blend, the mean. Raises ``NoPropertyData``."""
    return float(_state(_name(code)).molar_mass())


def critical_point(code: str) -> tuple[float, float]:
    """Return critical temperature (K) and absolute pressure (Pa).

    Raises ``NoPropertyData`` for an unknown fluid and for a blend whose mixture model gives no single such point.
    """
    name = _name(code)
    if code in MIXTURES:
        raise NoPropertyData(f"no critical point for {code}: its mixture model does not give a single one")
    state = _state(name)
    return float(state.T_critical()), float(state.p_critical())


def saturation_range_k(code: str) -> tuple[float, float]:
    """Return the temperatures (K) between which liquid and vapour can stand together in the model.

    The upper one is the critical temperature, or for a mixture the end of the range that was tried. Raises
    ``NoPropertyData``.
    """
    return _range_of(_name(code))


def bubble_pressure_pa(code: str, temperature_k: float) -> float:
    """Return the absolute pressure (Pa) at which the liquid boils at `temperature_k`.

    From the triple to the critical point (a mixture: ``saturation_range_k``). Raises ``NoPropertyData``,
    ``OutsideModel``.
    """
    return float(_saturated(code, temperature_k, 0).p())


def dew_pressure_pa(code: str, temperature_k: float) -> float:
    """Return the absolute pressure (Pa) at which the vapour condenses at `temperature_k`; as ``bubble_pressure_pa``."""
    return float(_saturated(code, temperature_k, 1).p())


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
    return float(_saturated(code, temperature_k, 0).rhomass())


def saturated_vapour_density_kg_m3(code: str, temperature_k: float) -> float:
    """Return the density (kg/m3) of the vapour at its dew point. Raises ``NoPropertyData``, ``OutsideModel``."""
    return float(_saturated(code, temperature_k, 1).rhomass())


def vapour_density_kg_m3(code: str, pressure_pa: float, temperature_k: float) -> float:
    """Return the density (kg/m3) of the vapour at the absolute `pressure_pa` and `temperature_k`.

    Up to the dew pressure, which counts as vapour. Raises ``NoPropertyData``; ``OutsideModel`` where there would
    be liquid.
    """
    with _vapour(code, pressure_pa, temperature_k) as state:
        return float(state.rhomass())


def vapour_viscosity_pa_s(code: str, pressure_pa: float, temperature_k: float) -> float:
    """Return the dynamic viscosity (Pa s) of the vapour of a single substance.

    Raises ``NoPropertyData`` for every blend (see ``blend_viscosity_pa_s``) and where there is no viscosity model;
    ``OutsideModel`` where there would be liquid.
    """
    if is_blend(code):
        raise NoPropertyData(f"no viscosity for {code}: the figures for blends are not reliable")
    with _vapour(code, pressure_pa, temperature_k) as state:
        try:
            return float(state.viscosity())
        except ValueError as error:
            raise NoPropertyData(f"no viscosity data for {code}") from error


def blend_viscosity_pa_s(parts: Mapping[str, float], temperature_k: float) -> float:
    """Return an estimate of the dynamic viscosity (Pa s) of a thin vapour from its components, by Wilke's rule.

    `parts` are mass fractions by refrigerant code; pressure well below saturation, where it hardly matters. Raises
    ``NoPropertyData`` naming the component that has no viscosity model; ``OutsideModel``. See
    ``mixed_viscosity_pa_s`` for the source and how good it is.
    """
    thin = []
    for code, fraction in parts.items():
        viscosity_pa_s = vapour_viscosity_pa_s(code, THIN_VAPOUR_PA, temperature_k)
        molar_mass = molar_mass_kg_mol(code)
        thin.append(ThinGas(fraction / molar_mass, viscosity_pa_s, molar_mass))
    return mixed_viscosity_pa_s(thin)


def mixed_viscosity_pa_s(gases: Sequence[ThinGas]) -> float:
    """Return an estimate of the viscosity (Pa s) of a mixture of thin gases from those of its parts.

    eta = sum of x_i eta_i / sum over j of x_j phi_ij, where
    phi_ij = (1 + sqrt(eta_i / eta_j) (M_j / M_i)^(1/4))^2 / sqrt(8 (1 + M_i / M_j)).
    Amounts need not add up to 1. Usually within 5 %, with hydrogen in it within 10 % (from memory).
    Source: C. R. Wilke, J. Chem. Phys. 1950, 18, 517-519.
    """
    return sum(
        one.amount * one.viscosity_pa_s / sum(other.amount * _wilke(one, other) for other in gases) for one in gases
    )


def _wilke(one: ThinGas, other: ThinGas) -> float:
    by_viscosity = math.sqrt(one.viscosity_pa_s / other.viscosity_pa_s)
    by_mass = (other.molar_mass_kg_mol / one.molar_mass_kg_mol) ** 0.25
    heavier = one.molar_mass_kg_mol / other.molar_mass_kg_mol
    return float((1 + by_viscosity * by_mass) ** 2 / math.sqrt(8 * (1 + heavier)))


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
    liquid = float(_saturated(code, bubble_temperature_k(code, pressure_pa), 0).hmass())
    vapour = float(_saturated(code, dew_temperature_k(code, pressure_pa), 1).hmass())
    return liquid + shift, vapour + shift


def isentropic_enthalpy_j_kg(code: str, pressure_pa: float, temperature_k: float, to_pressure_pa: float) -> float:
    """Return the specific enthalpy (J/kg) after ideal compression of vapour to the higher `to_pressure_pa`.

    `temperature_k` may be the dew point. Where the end would be slightly wet, as with R-1234yf, dh = T ds at the
    dew temperature is used, which holds for the first few per cent of liquid. Raises ``NoPropertyData``,
    ``OutsideModel``.
    """
    if to_pressure_pa < pressure_pa:
        raise OutsideModel("The pressure after the compressor is below the one before it.")
    with _vapour(code, pressure_pa, temperature_k) as state:
        entropy = float(state.smass())
    low_k = _vapour_begins_k(code, to_pressure_pa)
    with _vapour(code, to_pressure_pa, low_k) as state:
        dry_entropy, dry_enthalpy = float(state.smass()), float(state.hmass())
        high_k = float(state.Tmax())
    shift = _enthalpy_shift_j_kg(code)
    if entropy <= dry_entropy:
        return dry_enthalpy - low_k * (dry_entropy - entropy) + shift

    def excess(at_k: float) -> float:
        with _vapour(code, to_pressure_pa, at_k) as state:
            return float(state.smass()) - entropy

    end_k = _root(excess, low_k, min(high_k, temperature_k + 300.0))
    with _vapour(code, to_pressure_pa, end_k) as state:
        return float(state.hmass()) + shift


def nitrogen_viscosity_pa_s(temperature_k: float, pressure_pa: float = 101_325.0) -> float:
    """Return the dynamic viscosity (Pa s) of nitrogen, 200 to 1000 K, at one atmosphere unless said."""
    return float(_nitrogen(pressure_pa, temperature_k).viscosity())


def nitrogen_hydrogen_viscosity_pa_s(temperature_k: float, pressure_pa: float, hydrogen_fraction: float) -> float:
    """Return an estimate of the viscosity (Pa s) of nitrogen with `hydrogen_fraction` (0 to 1) of hydrogen by volume.

    Both gases by CoolProp at the pressure of the mixture, 200 to 1000 K, mixed by Wilke's rule. Raises
    ``OutsideModel``.
    """
    if not 0 <= hydrogen_fraction <= 1:
        raise OutsideModel("The part of hydrogen lies between 0 and 1.")
    nitrogen = ThinGas(1 - hydrogen_fraction, nitrogen_viscosity_pa_s(temperature_k, pressure_pa), NITROGEN_KG_MOL)
    state = _state("Hydrogen")
    state.update(_coolprop().PT_INPUTS, pressure_pa, temperature_k)
    hydrogen = ThinGas(hydrogen_fraction, float(state.viscosity()), HYDROGEN_KG_MOL)
    return mixed_viscosity_pa_s((nitrogen, hydrogen))


def nitrogen_density_kg_m3(pressure_pa: float, temperature_k: float) -> float:
    """Return the density (kg/m3) of nitrogen gas at absolute pressure up to 100 MPa, 200 to 1000 K."""
    return float(_nitrogen(pressure_pa, temperature_k).rhomass())


def water_vapour_pressure_pa(temperature_k: float) -> float:
    """Return the absolute vapour pressure (Pa) of water, below 0.01 C of ice, from 190 K to the critical point.

    Source: CoolProp (IAPWS-95); ice: IAPWS R14-08(2011), equation 6. Raises ``OutsideModel``.
    """
    if temperature_k < WATER_TRIPLE_K:
        return _ice_vapour_pressure_pa(temperature_k)
    state = _state("Water")
    _check_range("water", temperature_k, WATER_TRIPLE_K, float(state.T_critical()))
    state.update(_coolprop().QT_INPUTS, 0, temperature_k)
    return float(state.p())


def _ice_vapour_pressure_pa(temperature_k: float) -> float:
    _check_range("ice", temperature_k, 190.0, WATER_TRIPLE_K)
    theta = temperature_k / WATER_TRIPLE_K
    terms = ((-21.2144006, 0.00333333333), (27.3203819, 1.20666667), (-6.10598130, 1.70333333))
    return WATER_TRIPLE_PA * math.exp(sum(a * theta**b for a, b in terms) / theta)


def _nitrogen(pressure_pa: float, temperature_k: float) -> Any:
    _check_range("nitrogen", temperature_k, 200.0, 1000.0)
    if not 0 < pressure_pa <= 100e6:
        raise OutsideModel("The pressure must lie between nothing and 100 MPa for nitrogen.")
    state = _state("Nitrogen")
    state.update(_coolprop().PT_INPUTS, pressure_pa, temperature_k)
    return state


def _name(code: str) -> str:
    name = PURE.get(code) or PSEUDO_PURE.get(code) or MIXTURES.get(code)
    if name is None:
        raise NoPropertyData(f"no property data for {code}")
    return name


@cache
def _coolprop() -> Any:
    with _loading, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its compiled parts raise deprecation warnings that are not ours to mend
        import CoolProp

        return CoolProp


def _state(name: str) -> Any:
    """Return this thread's state of the fluid `name`, made at the first use."""
    states: dict[str, Any] = _kept.__dict__.setdefault("states", {})
    if name not in states:
        library = _coolprop()
        with _loading:
            states[name] = library.AbstractState("HEOS", name)
    return states[name]


@cache
def _range_of(name: str) -> tuple[float, float]:
    state = _state(name)
    if name.endswith(".mix"):
        return MIXTURE_LOWEST_K, float(state.T_reducing()) - MIXTURE_BELOW_REDUCING_K
    return max(float(state.Ttriple()), float(state.Tmin())), float(state.T_critical())


def _check_range(what: str, temperature_k: float, low_k: float, high_k: float) -> None:
    if not low_k <= temperature_k <= high_k:
        low_c, high_c = low_k - ZERO_CELSIUS_K, high_k - ZERO_CELSIUS_K
        raise OutsideModel(
            f"{temperature_k - ZERO_CELSIUS_K:.1f} C is outside the range for {what}: {low_c:.1f} to {high_c:.1f} C."
        )


def _saturated(code: str, temperature_k: float, quality: int) -> Any:
    name = _name(code)
    _check_range(code, temperature_k, *_range_of(name))
    state = _state(name)
    try:
        state.update(_coolprop().QT_INPUTS, quality, temperature_k)
    except ValueError as error:
        if code not in MIXTURES:
            raise OutsideModel(f"The model of {code} gives no answer at {temperature_k:.2f} K.") from error
        _solve_from_colder(code, state, temperature_k, quality)
    return state


def _solve_from_colder(code: str, state: Any, temperature_k: float, quality: int) -> None:
    library = _coolprop()
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
    low_pa, high_pa = _saturation_range_pa(code, quality)
    if not low_pa <= pressure_pa <= high_pa:
        raise OutsideModel(
            f"{pressure_pa / 1e5:.3f} bar absolute is outside the saturation range of {code}: "
            f"{low_pa / 1e5:.3g} to {high_pa / 1e5:.4g} bar absolute."
        )
    if code not in MIXTURES:
        state = _state(_name(code))
        try:
            state.update(_coolprop().PQ_INPUTS, pressure_pa, quality)
            return float(state.T())
        except ValueError:  # seen at the low end of a blend, by what the kept state held before
            pass
    return _root(lambda at_k: math.log(pressure_of(code, at_k) / pressure_pa), low_k, high_k)


@cache
def _saturation_range_pa(code: str, quality: int) -> tuple[float, float]:
    low_k, high_k = saturation_range_k(code)
    if code in PURE:
        return bubble_pressure_pa(code, low_k), critical_point(code)[1]
    # A blend's own critical point need not be its highest saturation pressure; half a kelvin below it is safe.
    high_k = high_k if code in MIXTURES else high_k - 0.5
    pressure_of = (bubble_pressure_pa, dew_pressure_pa)[quality]
    return pressure_of(code, low_k), pressure_of(code, high_k)


def _vapour_begins_k(code: str, pressure_pa: float) -> float:
    """Return the lowest temperature at which all is vapour (or above the critical point) at `pressure_pa`."""
    _low_pa, high_pa = _saturation_range_pa(code, 1)
    return dew_temperature_k(code, pressure_pa) if pressure_pa <= high_pa else saturation_range_k(code)[1]


def _check_vapour(code: str, pressure_pa: float, temperature_k: float) -> None:
    low_k, high_k = saturation_range_k(code)
    _check_range(code, temperature_k, low_k, float(_state(_name(code)).Tmax()))
    if not pressure_pa > 0:
        raise OutsideModel("The absolute pressure must be above nothing.")
    if temperature_k >= high_k and code not in MIXTURES:
        return
    # Above the tried range of a mixture its last dew pressure is kept as the limit: more could be liquid.
    limit_pa = dew_pressure_pa(code, min(temperature_k, high_k))
    if pressure_pa > limit_pa * (1 + 1e-6):
        raise OutsideModel(
            f"{code} at {temperature_k - ZERO_CELSIUS_K:.1f} C is all vapour only up to {limit_pa / 1e5:.2f} bar "
            f"absolute; {pressure_pa / 1e5:.2f} bar was asked for."
        )


@contextmanager
def _phase(state: Any, phase: int, pressure_pa: float, temperature_k: float) -> Iterator[Any]:
    library = _coolprop()
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
def _vapour(code: str, pressure_pa: float, temperature_k: float) -> Iterator[Any]:
    _check_vapour(code, pressure_pa, temperature_k)
    library, state = _coolprop(), _state(_name(code))
    above = temperature_k >= saturation_range_k(code)[1]
    with _phase(state, library.iphase_supercritical_gas if above else library.iphase_gas, pressure_pa, temperature_k):
        yield state


@contextmanager
def _one_phase(code: str, pressure_pa: float, temperature_k: float) -> Iterator[Any]:
    low_k, high_k = saturation_range_k(code)
    # At saturation both would do; the vapour is meant there, since the compressor's inlet is asked for most.
    if low_k <= temperature_k < high_k and pressure_pa > dew_pressure_pa(code, temperature_k) * (1 + 1e-6):
        if pressure_pa < bubble_pressure_pa(code, temperature_k):
            raise OutsideModel(
                f"{code} at {temperature_k - ZERO_CELSIUS_K:.1f} C and {pressure_pa / 1e5:.2f} bar absolute is liquid "
                "and vapour together: pressure and temperature do not tell how much of each."
            )
        state = _state(_name(code))
        with _phase(state, _coolprop().iphase_liquid, pressure_pa, temperature_k):
            yield state
        return
    with _vapour(code, pressure_pa, temperature_k) as state:
        yield state


@cache
def _enthalpy_shift_j_kg(code: str) -> float:
    low_k, high_k = saturation_range_k(code)
    if not low_k <= ZERO_CELSIUS_K < high_k:
        return 0.0
    return 200_000.0 - float(_saturated(code, ZERO_CELSIUS_K, 0).hmass())


def _root(function: Callable[[float], float], low: float, high: float) -> float:
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
