"""Blends that no mixture model knows, estimated from their components; each figure says how far it may be off.

Pressures and vapour come from the cubic equation of Peng and Robinson with an interaction k for each pair of
components, in the temperatures that a workshop meets (-40 to 60 C). Where CoolProp has a mixture of the pair, k is
what gives its bubble pressures; else it is the median of the pairs of the same kind (an HCFC with an alkane). The
liquid takes the volumes of its components' liquids added up. How far that may be off was seen on the blends whose
mixture is known, by `tests/benchmarks/estimates.py`, which writes both tables; for a pair of a kind, what the ends of
its kind change is added. Blends with R-744 were off by 12 % and are not estimated.

Errors: ``NoPropertyData`` for a blend that is not estimated; ``OutsideModel`` beyond the temperatures.

Source: D.-Y. Peng and D. B. Robinson, Ind. Eng. Chem. Fundam. 1976, 15, 59-64, by CoolProp.
"""

import itertools
from dataclasses import dataclass
from functools import cache
from typing import Any

from inventory.gases import fluids
from inventory.gases.catalogue import refrigerant
from inventory.gases.rows import rows
from inventory.measure.figures import NARROW

LOW_K, HIGH_K = fluids.ZERO_CELSIUS_K - 40.0, fluids.ZERO_CELSIUS_K + 60.0
BUBBLE, DEW, LIQUID, VAPOUR = "bubble", "dew", "liquid", "vapour"
Pair = tuple[str, str]


@dataclass(frozen=True)
class Estimate:
    """A value in SI units and the part of it, such as 0.06, by which it may be off to either side."""

    value: float
    within: float

    @property
    def low(self) -> float:
        return self.value * (1 - self.within)

    @property
    def high(self) -> float:
        return self.value * (1 + self.within)

    @property
    def words(self) -> str:
        """How sure it is, as it is said beside the figure."""
        return f"estimated, within {self.within:.0%}".replace("%", f"{NARROW}%")


def is_estimated(code: str) -> bool:
    """Tell whether `code` is a blend that has estimates here and no model."""
    return code in _within()


def bubble_pressure_pa(code: str, temperature_k: float) -> Estimate:
    """Return the absolute pressure (Pa) at which the liquid begins to boil."""
    return _estimate(code, BUBBLE, temperature_k)


def dew_pressure_pa(code: str, temperature_k: float) -> Estimate:
    """Return the absolute pressure (Pa) at which the vapour begins to condense."""
    return _estimate(code, DEW, temperature_k)


def liquid_density_kg_m3(code: str, temperature_k: float) -> Estimate:
    """Return the density (kg/m3) of the boiling liquid."""
    return _estimate(code, LIQUID, temperature_k)


def vapour_density_kg_m3(code: str, temperature_k: float) -> Estimate:
    """Return the density (kg/m3) of the vapour at its dew point."""
    return _estimate(code, VAPOUR, temperature_k)


def _estimate(code: str, what: str, temperature_k: float) -> Estimate:
    within = _within().get(code)
    if within is None:
        raise fluids.NoPropertyData(f"no property data for {code}, and no estimate")
    fluids.check_range(f"estimates of {code}", temperature_k, LOW_K, HIGH_K)
    return Estimate(reckon(code, what, temperature_k, interactions()), within[what])


def reckon(code: str, what: str, temperature_k: float, k: dict[Pair, float]) -> float:
    """Return a figure of any blend by this method, in SI units, with the interaction of each pair of its components.

    Raises ``OutsideModel`` where the equation has no solution or a component has no liquid.
    """
    try:
        if what == LIQUID:
            return _liquid_kg_m3(code, temperature_k)
        state = _cubic(code, k)
        state.update(fluids.coolprop().QT_INPUTS, 0 if what == BUBBLE else 1, temperature_k)
        return float(state.rhomass() if what == VAPOUR else state.p())
    except ValueError as error:
        raise fluids.OutsideModel(f"There is no estimate of {code} at {temperature_k:.2f} K.") from error


def _liquid_kg_m3(code: str, temperature_k: float) -> float:
    parts = refrigerant(code).components
    return 1 / sum(float(part) / fluids.liquid_density_kg_m3(one, temperature_k) for one, part in parts)


def _cubic(code: str, k: dict[Pair, float]) -> Any:
    parts = refrigerant(code).components
    state = fluids.coolprop().AbstractState("PR", "&".join(fluids.PURE[one] for one, _ in parts))
    moles = [float(part) / fluids.molar_mass_kg_mol(one) for one, part in parts]
    state.set_mole_fractions([mole / sum(moles) for mole in moles])
    for (i, (one, _)), (j, (other, _)) in itertools.combinations(enumerate(parts), 2):
        state.set_binary_interaction_double(i, j, "kij", k[pair(one, other)])
    return state


def pair(one: str, other: str) -> Pair:
    """Return two components in the order in which the table has them."""
    return (one, other) if one < other else (other, one)


@cache
def interactions() -> dict[Pair, float]:
    """Return k of each pair that a blend needs."""
    return {(row["one"], row["other"]): float(row["k"]) for row in rows("interactions.csv")}


@cache
def _within() -> dict[str, dict[str, float]]:
    return {
        row["code"]: {what: float(row[f"{what}_percent"]) / 100 for what in (BUBBLE, DEW, LIQUID, VAPOUR)}
        for row in rows("estimates.csv")
    }
