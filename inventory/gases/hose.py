"""What stands in a hose: the refrigerant that a charge leaves between the bottle and the vehicle."""

import math
from dataclasses import dataclass

from inventory.gases import fluids

G_PER_KG = 1000.0


@dataclass(frozen=True)
class HoseContent:
    """The room inside a hose and the refrigerant in it, all boiling liquid or all dry vapour, in grams.

    A hose in use holds something between the two. `vapour_g` is at the saturation pressure of that temperature.
    """

    volume_m3: float
    liquid_g: float
    vapour_g: float


def hose_content(code: str, *, length_m: float, bore_m: float, temperature_k: float) -> HoseContent:
    """Return what a hose of `length_m` and inside diameter `bore_m` holds at `temperature_k`.

    Length and bore above nothing, up to 100 m and 0.1 m. Raises ``ValueError`` with a sentence, and the errors of
    ``gases.fluids``. Source: the volume of a cylinder times saturated densities by CoolProp. A hose gives way a
    little under pressure; that is not counted.
    """
    if not 0 < length_m <= 100:
        raise ValueError("The length of the hose must be above 0 and at most 100 m.")
    if not 0 < bore_m <= 0.1:
        raise ValueError("The bore of the hose must be above 0 and at most 100 mm.")
    volume_m3 = math.pi / 4 * bore_m**2 * length_m
    return HoseContent(
        volume_m3=volume_m3,
        liquid_g=volume_m3 * fluids.liquid_density_kg_m3(code, temperature_k) * G_PER_KG,
        vapour_g=volume_m3 * fluids.saturated_vapour_density_kg_m3(code, temperature_k) * G_PER_KG,
    )
