"""What a reading at a circuit stands in: its inside volume and the air outside, each as far as it is known."""

from dataclasses import dataclass
from functools import cached_property

from inventory.measure.atmosphere import SEA_LEVEL_PA
from shop.bench import insides
from shop.bench.insides import Inside


@dataclass(frozen=True, kw_only=True)
class Around:
    """The facts that every measurement at a circuit shares.

    `inside` is the inside volume as an interval; where it is None, the one figure `volume_m3` holds, and with neither a
    car is assumed. Gauges are read against `atmosphere_pa`; `atmosphere_low_pa` and `atmosphere_high_pa` are its range
    where the height is not known.
    """

    volume_m3: float | None = None
    inside: Inside | None = None
    atmosphere_pa: float = SEA_LEVEL_PA
    atmosphere_low_pa: float | None = None
    atmosphere_high_pa: float | None = None

    @cached_property
    def space(self) -> Inside:
        """The inside volume that holds; raises ``MeasurementError`` for a figure that cannot be."""
        return insides.taken(self.inside, self.volume_m3)

    @property
    def lowest_air_pa(self) -> float:
        """The lowest that the local atmosphere may be."""
        return min(self.atmosphere_pa, self.atmosphere_low_pa or self.atmosphere_pa)

    @property
    def highest_air_pa(self) -> float:
        """The highest that the local atmosphere may be."""
        return max(self.atmosphere_pa, self.atmosphere_high_pa or 0.0)

    @property
    def air_good_to_pa(self) -> float:
        """By how much the local atmosphere may differ from the one reckoned with; 0 where it is known."""
        return max(self.highest_air_pa - self.atmosphere_pa, self.atmosphere_pa - self.lowest_air_pa)
