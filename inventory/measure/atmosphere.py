"""Pressure of the standard atmosphere at the height of a workshop.

The local atmosphere turns a gauge reading into an absolute one and bounds what a vacuum gauge can show:
"29.9 inHg" below an atmosphere of 24.97 inHg is a slip of a unit or of a place. Where nobody has entered the height,
a stated range takes its place.
"""

from dataclasses import dataclass

SEA_LEVEL_PA = 101_325.0
SEA_LEVEL_K = 288.15
LAPSE_K_M = 0.0065
EXPONENT = 9.80665 * 0.0289644 / (8.31432 * LAPSE_K_M)  # g M / (R L) with the constants of the standard: 5.25588
LOWEST_M, HIGHEST_M = -500.0, 11_000.0
RECORD_LOW, RECORD_HIGH = 0.85, 1.08
WEATHER_MOVES_BY = 0.04
UNKNOWN_LOW_PA, UNKNOWN_HIGH_PA = 75_000.0, 104_000.0
"""What is reckoned with where the height is not known: from some 2,500 m above the sea, where the standard atmosphere
has 747 hPa, down to the sea under a high. An estimate without a source: few workshops stand higher."""

_REDUCED = "it looks reduced to sea level, as forecasts print it. Enter what the air has here."
_NEITHER = "no weather does that. Enter the pressure that the air has here, and the height."


class OutsideAtmosphere(ValueError):
    """A height or a pressure that no workshop has; the message is a sentence."""


@dataclass(frozen=True)
class Air:
    """The local atmosphere, absolute (Pa): what gauges are read against, and what it lies between.

    `words` say what is not known of it, "" where the height is known: then the three figures are one.
    """

    pressure_pa: float
    low_pa: float
    high_pa: float
    words: str = ""

    @property
    def is_known(self) -> bool:
        """Whether the height, or a barometer, says what it is."""
        return self.low_pa == self.high_pa

    @property
    def said(self) -> str:
        """It in words: "988 hPa", or "750 to 1040 hPa"."""
        return f"{self.pressure_pa / 100:.0f} hPa" if self.is_known else range_said(self.low_pa, self.high_pa)


def range_said(low_pa: float, high_pa: float) -> str:
    """Return two pressures as "750 to 1040 hPa"."""
    return f"{low_pa / 100:.0f} to {high_pa / 100:.0f} hPa"


def air_at(altitude_m: float | None) -> Air:
    """Return the air at a height (m), or a stated range where the height is None; raises ``OutsideAtmosphere``."""
    if altitude_m is None:
        said = range_said(UNKNOWN_LOW_PA, UNKNOWN_HIGH_PA)
        words = f"the height of the workshop is not entered; {said} is reckoned with"
        return Air(SEA_LEVEL_PA, UNKNOWN_LOW_PA, UNKNOWN_HIGH_PA, words)
    pressure_pa = standard_pressure_pa(altitude_m)
    return Air(pressure_pa, pressure_pa, pressure_pa)


def standard_pressure_pa(altitude_m: float) -> float:
    """Return the absolute pressure (Pa) of the standard atmosphere at `altitude_m` above the sea.

    From -500 to 11,000 geopotential metres; a height from a map differs by under 0.1 hPa up to 3,000 m. Raises
    ``OutsideAtmosphere``. Weather moves the true pressure by some 3 kPa either way.
    Source: ISO 2533:1975, the same as the US Standard Atmosphere 1976 in this layer.
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise OutsideAtmosphere(
            f"{altitude_m:g} m is outside the heights for which there is an answer: {LOWEST_M:g} to {HIGHEST_M:g} m."
        )
    return float(SEA_LEVEL_PA * (1 - LAPSE_K_M * altitude_m / SEA_LEVEL_K) ** EXPONENT)


def altitude_m(pressure_pa: float) -> float:
    """Return the height (geopotential m) at which the standard atmosphere has the absolute `pressure_pa`.

    The inverse of ``standard_pressure_pa``, with the same range and source. Raises ``OutsideAtmosphere``.
    """
    low_pa, high_pa = standard_pressure_pa(HIGHEST_M), standard_pressure_pa(LOWEST_M)
    if not low_pa <= pressure_pa <= high_pa:
        raise OutsideAtmosphere(
            f"{pressure_pa / 100:.1f} hPa is outside the standard atmosphere: "
            f"{low_pa / 100:.1f} to {high_pa / 100:.1f} hPa."
        )
    return float(SEA_LEVEL_K / LAPSE_K_M * (1 - (pressure_pa / SEA_LEVEL_PA) ** (1 / EXPONENT)))


def barometer_doubt(reading_pa: float, air: Air) -> str:
    """Return what is doubtful about a barometer's absolute `reading_pa` (Pa) in this air, or "" where nothing is.

    Where the height is not known, only a reading outside the range is asked about. Raises ``OutsideAtmosphere``.
    """
    if air.is_known:
        return barometer_question(reading_pa, air.pressure_pa)
    if air.low_pa <= reading_pa <= air.high_pa:
        return ""
    apart = f"{reading_pa / 100:.1f} hPa is outside the {air.said} that is reckoned with while no height is entered"
    if not RECORD_LOW * standard_pressure_pa(HIGHEST_M) <= reading_pa <= RECORD_HIGH * SEA_LEVEL_PA:
        raise OutsideAtmosphere(f"{apart}: {_NEITHER}")
    return f"{apart}. Is the unit right?"


def barometer_question(reading_pa: float, standard_pa: float) -> str:
    """Return what is doubtful about a barometer's absolute `reading_pa` (Pa), or "" where nothing is.

    `standard_pa` is the standard atmosphere at the height of the place. Weather moves the pressure by some 3 % either
    way, so from 4 % on it is asked; a reading that would suit the sea better than the height is most likely
    reduced to sea level, as forecasts print it. Raises ``OutsideAtmosphere`` where no weather on record can be meant.
    Source: record pressures reduced to sea level, 870 and 1084 hPa (World Meteorological Organization, from memory),
    which are 0.859 and 1.070 of the standard.
    """
    ratio = reading_pa / standard_pa
    apart = f"{reading_pa / 100:.1f} hPa is far from the {standard_pa / 100:.1f} hPa that the height gives"
    reduced = abs(reading_pa - SEA_LEVEL_PA) < abs(reading_pa - standard_pa)
    if not RECORD_LOW <= ratio <= RECORD_HIGH:
        raise OutsideAtmosphere(f"{apart}: {_REDUCED if reduced else _NEITHER}")
    if abs(ratio - 1) <= WEATHER_MOVES_BY:
        return ""
    return f"{apart}. {'Is it reduced to sea level?' if reduced else 'Are unit and height right?'}"
