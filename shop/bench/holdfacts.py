"""A pressure hold as it was read, and its numbers: what `shop.bench.hold` puts into words.

Vocabulary and errors stand at the head of `bench.hold`. The fall itself, its uncertainty and what could have been seen
of it need no inside volume; only a leak does, so every leak here has two ends: that of the least and of the greatest
volume. Where nobody took the temperature, the fall is as read, and its uncertainty allows for `UNTAKEN_K` of change.
"""

from dataclasses import dataclass
from functools import cached_property
from math import hypot, sqrt

from inventory.gases import testgases
from inventory.measure.uncertainty import detection_limit, give_or_take, rectangular, resolution
from shop.bench import leakrate, trend
from shop.bench.answers import MeasurementError, need_above_zero, need_finite
from shop.bench.insides import Around, Ends

LIMIT_G_PER_YEAR = leakrate.YARDSTICK_G_PER_YEAR[1]
COMPENSATIONS = ("ideal", "real")
NITROGEN, NITROGEN_HYDROGEN = "dry nitrogen", "nitrogen with hydrogen"
GASES = (NITROGEN, NITROGEN_HYDROGEN)
HYDROGEN_FRACTION = 0.05
UNTAKEN_K = 5.0
"""By how much a circuit may have warmed or cooled in a hold when nobody took its temperature: common practice, no
source.
"""
USUAL_K = 293.15


@dataclass(frozen=True)
class HoldReading:
    """One reading: seconds, absolute pascals, kelvin (None where the temperature was not taken)."""

    time_s: float
    pressure_pa: float
    temperature_k: float | None = None


@dataclass(frozen=True, kw_only=True)
class Hold(Around):
    """A pressure hold as it was read; at least two readings at rising times.

    `refrigerant` is what will be charged, "" where nobody knows. `pressure_step_pa` and `temperature_step_k` are the
    steps of gauge and thermometer. `allowed_pa` is what the plate of the weakest side allows (absolute). `compensation`
    is "ideal" (p/T) or "real" (nitrogen's equation of state, also for nitrogen with hydrogen). `gas` is one of `GASES`;
    the mixture is taken to hold 5 % of hydrogen by volume (common practice, no source). `atmosphere_by` says in words
    where the atmosphere came from.
    """

    readings: tuple[HoldReading, ...]
    refrigerant: str = ""
    pressure_step_pa: float
    temperature_step_k: float = 1.0
    allowed_pa: float | None = None
    compensation: str = "ideal"
    gas: str = NITROGEN
    atmosphere_by: str = ""

    @cached_property
    def used(self) -> tuple[HoldReading, ...]:
        """The readings that the trend is of: those with a temperature, or all where fewer than two have one."""
        warm = tuple(reading for reading in self.readings if reading.temperature_k is not None)
        return warm if len(warm) > 1 else self.readings

    @property
    def is_corrected(self) -> bool:
        """Whether the fall is corrected for temperature."""
        return all(reading.temperature_k is not None for reading in self.used)

    @property
    def above_allowed(self) -> bool | None:
        """Whether more was read than the weakest side allows; None where that was not entered."""
        return None if self.allowed_pa is None else self.highest_pa > self.allowed_pa

    @property
    def highest_pa(self) -> float:
        """The highest absolute pressure read."""
        return max(reading.pressure_pa for reading in self.readings)


@dataclass(frozen=True)
class Numbers(leakrate.Leaks):
    """What a hold comes to: the change (Pa, below zero: falling) over the readings used, and the leak that it means.

    Leaks are of the hold's gas (Pa m3/s), and positive when pressure falls; they are not clipped, so that within the
    uncertainty they may come out below zero. `least` and `most` include give or take as well as the volume, and are
    never below zero. `time_to_see_s` is that of the high end, the safe one. Grams a year are of the refrigerant to be
    charged, at 25 C, None where there is no property data (`hole.why_not`).
    """

    duration_s: float
    change_pa: float
    u_change_pa: float
    leak: Ends
    u_leak: Ends
    least: float
    most: float
    smallest: Ends
    smallest_by_gauge: float
    hole: leakrate.SameHole
    time_to_see_s: float | None


def check(hold: Hold) -> None:
    """Raise ``MeasurementError`` with a sentence for readings that cannot be."""
    if len(hold.readings) < 2:
        raise MeasurementError("A hold needs at least two readings.")
    for reading in hold.readings:
        need_finite(time=reading.time_s)
        need_above_zero(absolute_pressure=reading.pressure_pa, absolute_temperature=reading.temperature_k)
    if any(b.time_s <= a.time_s for a, b in zip(hold.readings, hold.readings[1:], strict=False)):
        raise MeasurementError("Each reading must be later than the one before it.")
    need_above_zero(
        volume=hold.space.low_m3,
        step_of_the_gauge=hold.pressure_step_pa,
        step_of_the_thermometer=hold.temperature_step_k,
        atmospheric_pressure=hold.atmosphere_pa,
        allowed_pressure=hold.allowed_pa,
    )
    if hold.compensation not in COMPENSATIONS:
        raise MeasurementError(f"The compensation is one of: {', '.join(COMPENSATIONS)}.")
    if hold.gas not in GASES:
        raise MeasurementError(f"The gas is one of: {', '.join(GASES)}.")
    if sum(reading.pressure_pa for reading in hold.readings) <= hold.atmosphere_pa * len(hold.readings):
        raise MeasurementError("The pressure is not above the atmosphere, so nothing could leak out.")


def compensated_pa(readings: tuple[HoldReading, ...], compensation: str = "ideal") -> tuple[float, ...]:
    """Return each reading as the pressure (Pa absolute) it would show at the first reading's temperature.

    "ideal": p T0 / T. "real": the pressure at T0 of nitrogen at the density it had, from CoolProp. Where one of them
    has no temperature, the pressures as read.
    """
    at_k = [reading.temperature_k for reading in readings if reading.temperature_k is not None]
    pressures = [reading.pressure_pa for reading in readings]
    if len(at_k) < len(readings):
        return tuple(pressures)
    if compensation == "ideal":
        return tuple(pressure_pa * at_k[0] / kelvin for pressure_pa, kelvin in zip(pressures, at_k, strict=True))
    return tuple(_at_same_density_pa(p, kelvin, at_k[0]) for p, kelvin in zip(pressures, at_k, strict=True))


def _at_same_density_pa(read_pa: float, read_k: float, temperature_k: float) -> float:
    density = testgases.nitrogen_density_kg_m3(read_pa, read_k)
    pressure_pa = read_pa * temperature_k / read_k
    # Density is nearly proportional to pressure, so each turn leaves well under a tenth of the error.
    for _turn in range(12):
        pressure_pa *= density / testgases.nitrogen_density_kg_m3(pressure_pa, temperature_k)
    return pressure_pa


def u_of_one_pa(hold: Hold) -> float:
    """Return gauge and thermometer together: u2 = u_p2 + (p/T u_T)2 at the first reading.

    One value for all readings: the same two instruments read them, and T0/T differs from 1 by a per cent or two.
    Without temperatures the change by up to `UNTAKEN_K` either way is shared between the two ends.
    """
    first = hold.used[0]
    u_k = resolution(hold.temperature_step_k) if hold.is_corrected else rectangular(UNTAKEN_K) / sqrt(2)
    by_thermometer = first.pressure_pa / (first.temperature_k or USUAL_K) * u_k
    return hypot(resolution(hold.pressure_step_pa), by_thermometer)


def reckon(hold: Hold, compensated: tuple[float, ...], line: trend.Trend) -> Numbers:
    """Return the numbers of a hold whose readings were checked; `line` is the trend of `compensated`."""
    duration_s = hold.used[-1].time_s - hold.used[0].time_s
    hole = _hole(hold, sum(compensated) / len(compensated))
    leak = hold.space.times(0.0 - line.slope)  # from zero: no fall is a leak of 0, not -0
    u_leak = hold.space.times(line.u_slope)
    by_gauge = detection_limit(sqrt(2) * resolution(hold.pressure_step_pa)) * hold.space.mid_m3 / duration_s
    return Numbers(
        duration_s=duration_s,
        change_pa=line.slope * duration_s,
        u_change_pa=line.u_slope * duration_s,
        leak=leak,
        u_leak=u_leak,
        least=max(0.0, min(leak.low - give_or_take(u_leak.low), leak.high - give_or_take(u_leak.high))),
        most=max(0.0, leak.low + give_or_take(u_leak.low), leak.high + give_or_take(u_leak.high)),
        smallest=hold.space.times(detection_limit(line.u_slope)),
        smallest_by_gauge=by_gauge,
        hole=hole,
        time_to_see_s=hole.time_to_see_s(u_of_one_pa(hold), hold.space.high_m3, LIMIT_G_PER_YEAR),
    )


def seconds_to_see(hold: Hold) -> float | None:
    """Return how long a hold has to stand (s) to show `LIMIT_G_PER_YEAR`, by its first reading alone.

    None where there is no property data. Raises ``MeasurementError`` where the pressure is not above the atmosphere.
    """
    first_pa = hold.readings[0].pressure_pa
    if first_pa <= hold.atmosphere_pa:
        raise MeasurementError("The pressure is not above the atmosphere, so nothing could leak out.")
    return _hole(hold, first_pa).time_to_see_s(u_of_one_pa(hold), hold.space.high_m3, LIMIT_G_PER_YEAR)


def _hole(hold: Hold, upstream_pa: float) -> leakrate.SameHole:
    return leakrate.same_hole(
        hold.refrigerant,
        gas_viscosity_pa_s=_gas_viscosity_pa_s(hold.gas, upstream_pa),
        upstream_pa=upstream_pa,
        downstream_pa=hold.atmosphere_pa,
        atmosphere_pa=hold.atmosphere_pa,
    )


def _gas_viscosity_pa_s(gas: str, pressure_pa: float) -> float:
    if gas == NITROGEN:
        return testgases.nitrogen_viscosity_pa_s(leakrate.CONVERSION_K, pressure_pa)
    return testgases.nitrogen_hydrogen_viscosity_pa_s(leakrate.CONVERSION_K, pressure_pa, HYDROGEN_FRACTION)


def atmosphere_moves_pa(hold: Hold) -> float:
    """Return how far an atmosphere that is only known within a range can move the change (Pa); 0 where it is known.

    A gauge reading is turned into an absolute one by it, and only the part that temperature multiplies counts.
    """
    first_k, last_k = hold.used[0].temperature_k, hold.used[-1].temperature_k
    return 0.0 if first_k is None or last_k is None else hold.air_good_to_pa * abs(1 - first_k / last_k)
