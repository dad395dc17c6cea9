"""Air in a cylinder, from its pressure after it has stood at a known temperature.

Air does not condense: in a cylinder that holds liquid and has come to rest, whatever the gauge shows above the
refrigerant's own saturation pressure is air. Two ways to judge it:

- the published container-pressure tables for CFC-12 and HFC-134a, looked up and never interpolated;
- for any refrigerant with property data, the excess over the bubble pressure, and from the vapour space the mass
  of air. Where there is a table it alone gives the verdict, and outside it there is none.

Both mean nothing without liquid in the cylinder, or before it has stood (``REST_CONDITIONS``). An excess does not tell
air from another refrigerant: only an identifier does.
"""

import math
from dataclasses import dataclass
from functools import cache

from inventory.gases import fluids
from inventory.gases.rows import is_from_memory, rows
from inventory.measure.atmosphere import SEA_LEVEL_PA
from inventory.measure.figures import bar

AIR_KG_MOL = 0.0289647
GAS_CONSTANT_J_MOL_K = 8.314462618
PSI_PA = 6894.757293168
G_PER_KG = 1000.0
COVERAGE = 2.0
NEAR_A_WHOLE_DEGREE_F = 0.3
GAUGE_U_PA = PSI_PA / math.sqrt(12)
THERMOMETER_U_K = 0.5 / math.sqrt(3)
"""Standard uncertainties where none are stated: gauge read to 1 psi, as the procedure asks, thermometer to 0.5 K."""

WITHIN_TABLE = "no more air than the table allows"
ABOVE_TABLE = "more air than the table allows"
NO_AIR_SHOWN = "no air shown"
AIR_OR_ANOTHER = "air or another refrigerant"
NO_VERDICT = "no verdict"

REST_CONDITIONS = (
    "The cylinder has stood for 12 hours at 65 F (18.3 C) or warmer, out of direct sun and away from heat; the "
    "thermometer hung within 4 inches (10 cm) of it; the gauge can be read to 1 psi (0.07 bar)."
)
"""To be confirmed before a reading counts. Source: SAE J1989 procedure as restated in a United States Army technical
manual; the 12 hours from memory."""

NOT_RESTED = "The cylinder has not stood long enough in known conditions: its pressure says nothing about air."


@dataclass(frozen=True)
class TableRow:
    """A row of a container-pressure table: the highest pressure (Pa, gauge, at sea level) at a whole degree F."""

    refrigerant: str
    temperature_f: int
    limit_pa: float
    source: str
    from_memory: bool


@dataclass(frozen=True)
class TableCheck:
    """What the table says: WITHIN_TABLE, ABOVE_TABLE or NO_VERDICT, the rows looked at, and the reason in words."""

    verdict: str
    rows: tuple[TableRow, ...]
    reason: str
    has_table: bool = True

    @property
    def limit_pa(self) -> float | None:
        """Return the gauge pressure (Pa) of the stricter of the rows, or None without a row."""
        return min((row.limit_pa for row in self.rows), default=None)

    @property
    def from_memory(self) -> bool:
        """Tell whether any row that was looked at comes from memory and wants checking."""
        return any(row.from_memory for row in self.rows)


@dataclass(frozen=True)
class AirEstimate:
    """Air in the vapour space, in grams and as parts per million of the whole content by mass, with its uncertainty.

    Air dissolved in the liquid is not in it.
    """

    air_g: float
    ppm_by_mass: float
    u_ppm_by_mass: float


@dataclass(frozen=True)
class AirCheck:
    """All that one reading says about air: the verdict, its reason, and the figures behind it.

    `excess_pa` is the pressure above saturation and None outside the property data. `bleeding_g_per_g` is the least
    refrigerant that goes with each gram of air let off, None where no air is shown.
    """

    verdict: str
    reason: str
    table: TableCheck
    excess_pa: float | None
    u_excess_pa: float | None
    estimate: AirEstimate | None
    bleeding_g_per_g: float | None


def table_check(code: str, *, pressure_pa: float, temperature_k: float) -> TableCheck:
    """Judge the absolute `pressure_pa` at `temperature_k` by the published table of `code`.

    A temperature within 0.3 F of a whole degree is looked up there. Between two degrees both are looked at, and there
    is a verdict only where they agree. No verdict outside the table, and none for a refrigerant without one.
    The tables are gauge pressures at sea level, so the reading is compared as `pressure_pa` less 101,325 Pa: a gauge
    at 1,500 m shows 0.17 bar more for the same content. A reading at the limit counts as below it, as in the United
    States Army manual; the rule itself is silent. Source: 40 CFR 82 Subpart B Appendix A Table 1 (R-12), SAE J2211
    (R-134a).
    """
    table = container_table(code)
    if not table:
        return TableCheck(NO_VERDICT, (), f"There is no published container-pressure table for {code}.", False)
    at_f = (temperature_k - fluids.ZERO_CELSIUS_K) * 1.8 + 32
    whole = round(at_f)
    degrees = (whole,) if abs(at_f - whole) <= NEAR_A_WHOLE_DEGREE_F else (math.floor(at_f), math.ceil(at_f))
    rows = tuple(table[degree] for degree in degrees if degree in table)
    if len(rows) < len(degrees):
        return TableCheck(
            NO_VERDICT, (), f"{at_f:.1f} F is outside the table, which runs from {min(table)} to {max(table)} F."
        )
    above = {pressure_pa - SEA_LEVEL_PA > row.limit_pa + 1e-6 for row in rows}
    limit = " and ".join(f"{row.limit_pa / PSI_PA:.0f} psi at {row.temperature_f} F" for row in rows)
    if len(above) > 1:
        return TableCheck(NO_VERDICT, rows, f"Between two degrees whose limits disagree ({limit}): read again.")
    if above == {True}:
        return TableCheck(ABOVE_TABLE, rows, f"Above the limit of the table ({limit}).")
    return TableCheck(WITHIN_TABLE, rows, f"At or below the limit of the table ({limit}).")


def container_table(code: str) -> dict[int, TableRow]:
    """Return the container-pressure table of `code` by whole degree F, empty where there is none."""
    return {row.temperature_f: row for row in _rows() if row.refrigerant == code}


def excess_pa(
    code: str,
    *,
    pressure_pa: float,
    temperature_k: float,
    u_pressure_pa: float = GAUGE_U_PA,
    u_temperature_k: float = THERMOMETER_U_K,
) -> tuple[float, float]:
    """Return how far `pressure_pa` (absolute) lies above the bubble pressure at `temperature_k`, and its uncertainty.

    Both in Pa; the uncertainty is standard, from those of gauge and thermometer. Raises the errors of ``fluids``.
    """
    excess = pressure_pa - fluids.bubble_pressure_pa(code, temperature_k)
    slope = bubble_slope_pa_k(code, temperature_k)
    return excess, math.hypot(u_pressure_pa, slope * u_temperature_k)


def bubble_slope_pa_k(code: str, temperature_k: float) -> float:
    """Return how fast the bubble pressure rises (Pa/K), over half a kelvin to either side within the range."""
    low_k, high_k = fluids.saturation_range_k(code)
    below, above = max(low_k, temperature_k - 0.5), min(high_k, temperature_k + 0.5)
    rise = fluids.bubble_pressure_pa(code, above) - fluids.bubble_pressure_pa(code, below)
    return rise / (above - below)


def has_liquid(code: str, *, contents_g: float, water_capacity_m3: float, temperature_k: float) -> bool:
    """Tell whether `contents_g` is more than the vapour alone that fills the cylinder. Raises as ``fluids`` does."""
    vapour_g = water_capacity_m3 * fluids.saturated_vapour_density_kg_m3(code, temperature_k) * G_PER_KG
    return contents_g > vapour_g


def air_estimate(
    code: str,
    *,
    excess_pa: float,
    u_excess_pa: float,
    temperature_k: float,
    water_capacity_m3: float,
    contents_g: float,
) -> AirEstimate:
    """Return the air that an excess pressure means, from the vapour space: m = dp V M / (R T), an ideal gas.

    The vapour space is what the saturated liquid leaves of the water capacity. Air dissolved in the liquid is left out,
    so the figure is on the low side. An excess below nothing counts as nothing. Raises ``ValueError`` with a sentence
    where there is no liquid, or no vapour space, and the errors of ``fluids``.
    """
    if not (water_capacity_m3 > 0 and contents_g > 0):
        raise ValueError("Water capacity and content must both be above nothing.")
    if not has_liquid(code, contents_g=contents_g, water_capacity_m3=water_capacity_m3, temperature_k=temperature_k):
        raise ValueError("There is no liquid in the cylinder: its pressure says nothing about air.")
    liquid = fluids.liquid_density_kg_m3(code, temperature_k)
    vapour = fluids.saturated_vapour_density_kg_m3(code, temperature_k)
    space_m3 = (water_capacity_m3 * liquid - contents_g / G_PER_KG) / (liquid - vapour)
    if space_m3 <= 0:
        raise ValueError("The cylinder is full of liquid: stay clear, and let it be emptied by someone who knows how.")
    g_per_pa = space_m3 * AIR_KG_MOL / (GAS_CONSTANT_J_MOL_K * temperature_k) * G_PER_KG
    air_g = max(0.0, excess_pa) * g_per_pa
    return AirEstimate(
        air_g=air_g,
        ppm_by_mass=air_g / contents_g * 1e6,
        u_ppm_by_mass=u_excess_pa * g_per_pa / contents_g * 1e6,
    )


def bleeding_cost_g_per_g(code: str, *, excess_pa: float, temperature_k: float) -> float:
    """Return the least grams of refrigerant that leave with each gram of air when the vapour is let off.

    p_sat M / (dp M_air), both as ideal gases; the real vapour is denser (R-134a at 25 C by some 18 %), so it costs at
    least this much. `excess_pa` above nothing. Raises ``ValueError`` and the errors of ``fluids``.
    """
    if excess_pa <= 0:
        raise ValueError("There is no air to let off: the pressure is not above saturation.")
    saturated_pa = fluids.bubble_pressure_pa(code, temperature_k)
    return saturated_pa * fluids.molar_mass_kg_mol(code) / (excess_pa * AIR_KG_MOL)


def check_air(
    code: str,
    *,
    pressure_pa: float,
    temperature_k: float,
    water_capacity_m3: float | None = None,
    contents_g: float | None = None,
    u_pressure_pa: float = GAUGE_U_PA,
    u_temperature_k: float = THERMOMETER_U_K,
    rested: bool = True,
) -> AirCheck:
    """Judge one reading of a cylinder: absolute `pressure_pa` at `temperature_k`, standard uncertainties if known.

    `rested` says whether ``REST_CONDITIONS`` were kept; without them, and where the content is too small for any
    liquid, there is no verdict. A table gives the verdict where there is one for the refrigerant, and outside it there
    is none; elsewhere the excess does, against twice its standard uncertainty. Nothing is raised for a refrigerant
    without data: the answer is NO_VERDICT with the reason.
    """
    table = table_check(code, pressure_pa=pressure_pa, temperature_k=temperature_k)
    try:
        excess, u_excess = excess_pa(
            code,
            pressure_pa=pressure_pa,
            temperature_k=temperature_k,
            u_pressure_pa=u_pressure_pa,
            u_temperature_k=u_temperature_k,
        )
    except fluids.FluidError as error:
        return AirCheck(NO_VERDICT, _sentence(error), table, None, None, None, None)
    estimate, obstacle = None, "" if rested else NOT_RESTED
    if water_capacity_m3 is not None and contents_g is not None:
        try:
            estimate = air_estimate(
                code,
                excess_pa=excess,
                u_excess_pa=u_excess,
                temperature_k=temperature_k,
                water_capacity_m3=water_capacity_m3,
                contents_g=contents_g,
            )
        except ValueError as error:
            obstacle = _sentence(error)
    verdict, reason = (NO_VERDICT, obstacle) if obstacle else _verdict(table, excess, u_excess)
    bleeding = None
    if verdict in (ABOVE_TABLE, AIR_OR_ANOTHER) and excess > 0:
        bleeding = bleeding_cost_g_per_g(code, excess_pa=excess, temperature_k=temperature_k)
    return AirCheck(verdict, reason, table, excess, u_excess, estimate, bleeding)


def _verdict(table: TableCheck, excess: float, u_excess: float) -> tuple[str, str]:
    if excess < -COVERAGE * u_excess:
        return NO_VERDICT, (
            f"{bar(-excess)} below saturation: there is no liquid, it has not come to rest, or it is "
            "another refrigerant."
        )
    if table.has_table:
        return table.verdict, table.reason
    if excess > COVERAGE * u_excess:
        return AIR_OR_ANOTHER, f"{bar(excess)} above saturation, more than the readings can tell."
    return NO_AIR_SHOWN, "At saturation, within what the readings can tell."


def _sentence(error: Exception) -> str:
    text = str(error)
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


@cache
def _rows() -> tuple[TableRow, ...]:
    return tuple(
        TableRow(
            refrigerant=row["refrigerant"],
            temperature_f=int(row["temperature_f"]),
            limit_pa=float(row["max_pressure_psig"]) * PSI_PA,
            source=row["source"],
            from_memory=is_from_memory(row),
        )
        for row in rows("container-pressure.csv")
    )
