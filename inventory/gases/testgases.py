"""Nitrogen, with hydrogen in it or without, and water: what a circuit is tested with, and what is drawn out of it.

Figures by CoolProp (see ``inventory.gases.fluids``, also for the errors). The one estimate is the viscosity of a gas
mixture, `mixed_viscosity_pa_s`: CoolProp has viscosities of single substances, and for a mixture no measured model.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from inventory.gases import fluids

WATER_TRIPLE_K = 273.16
WATER_TRIPLE_PA = 611.657
THIN_VAPOUR_PA = 10_000.0
NITROGEN_KG_MOL, HYDROGEN_KG_MOL = 0.0280134, 0.00201588


@dataclass(frozen=True)
class ThinGas:
    """One part of a gas mixture: its amount (moles or volume), viscosity and molar mass."""

    amount: float
    viscosity_pa_s: float
    molar_mass_kg_mol: float


def blend_viscosity_pa_s(parts: Mapping[str, float], temperature_k: float) -> float:
    """Return an estimate of the dynamic viscosity (Pa s) of a thin vapour from its components, by Wilke's rule.

    `parts` are mass fractions by refrigerant code; pressure well below saturation, where it hardly matters. Raises
    ``NoPropertyData`` naming the component that has no viscosity model; ``OutsideModel``. See
    ``mixed_viscosity_pa_s`` for the source and how good it is.
    """
    thin = []
    for code, fraction in parts.items():
        viscosity_pa_s = fluids.vapour_viscosity_pa_s(code, THIN_VAPOUR_PA, temperature_k)
        molar_mass = fluids.molar_mass_kg_mol(code)
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


def nitrogen_viscosity_pa_s(temperature_k: float, pressure_pa: float = 101_325.0) -> float:
    """Return the dynamic viscosity (Pa s) of nitrogen, 200 to 1000 K, at one atmosphere unless said."""
    return float(_nitrogen(pressure_pa, temperature_k).viscosity())


def nitrogen_hydrogen_viscosity_pa_s(temperature_k: float, pressure_pa: float, hydrogen_fraction: float) -> float:
    """Return an estimate of the viscosity (Pa s) of nitrogen with `hydrogen_fraction` (0 to 1) of hydrogen by volume.

    Both gases by CoolProp at the pressure of the mixture, 200 to 1000 K, mixed by Wilke's rule. Raises
    ``OutsideModel``.
    """
    if not 0 <= hydrogen_fraction <= 1:
        raise fluids.OutsideModel("The part of hydrogen lies between 0 and 1.")
    nitrogen = ThinGas(1 - hydrogen_fraction, nitrogen_viscosity_pa_s(temperature_k, pressure_pa), NITROGEN_KG_MOL)
    state = fluids.state_of("Hydrogen")
    state.update(fluids.coolprop().PT_INPUTS, pressure_pa, temperature_k)
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
    state = fluids.state_of("Water")
    fluids.check_range("water", temperature_k, WATER_TRIPLE_K, float(state.T_critical()))
    state.update(fluids.coolprop().QT_INPUTS, 0, temperature_k)
    return float(state.p())


def _ice_vapour_pressure_pa(temperature_k: float) -> float:
    fluids.check_range("ice", temperature_k, 190.0, WATER_TRIPLE_K)
    theta = temperature_k / WATER_TRIPLE_K
    terms = ((-21.2144006, 0.00333333333), (27.3203819, 1.20666667), (-6.10598130, 1.70333333))
    return WATER_TRIPLE_PA * math.exp(sum(a * theta**b for a, b in terms) / theta)


def _nitrogen(pressure_pa: float, temperature_k: float) -> Any:
    fluids.check_range("nitrogen", temperature_k, 200.0, 1000.0)
    if not 0 < pressure_pa <= 100e6:
        raise fluids.OutsideModel("The pressure must lie between nothing and 100 MPa for nitrogen.")
    state = fluids.state_of("Nitrogen")
    state.update(fluids.coolprop().PT_INPUTS, pressure_pa, temperature_k)
    return state
