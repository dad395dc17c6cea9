"""What a vacuum hold says: its state, its sentence, and why nobody can tell, for `shop.bench.vacuum`."""

from inventory.gases import testgases
from shop.bench import leakrate
from shop.bench.answers import (
    PA_PER_INHG,
    celsius,
    celsius_read,
    figures_between,
    mbar,
    mbar_read,
    span,
    yearly_between,
)
from shop.bench.vacuumfits import ABSOLUTE, COLD_K, NEEDLE, WARM_K, Fits, Seen, Vacuum, nothing_shown


def state(verdict: str, seen: Seen) -> str:
    """Return the state as pages print it."""
    larger = leakrate.yearly_words(seen.hole, seen.not_larger, "air")
    known = {
        "tight": f"no leak larger than {larger}",
        "leak": "rising steadily",
        "moisture": "levelling off (moisture)",
        "outgassing": "levelling off (refrigerant from oil)",
    }
    return known.get(verdict, "cannot tell")


def sentence(verdict: str, vacuum: Vacuum, fits: Fits, seen: Seen) -> str:
    """Return the verdict with first and last level and the rise, and what was taken where it is not known."""
    said = _verdict_sentence(verdict, vacuum, fits, seen)
    return ". ".join((said, *_taken_words(verdict, vacuum))) + "."


def _verdict_sentence(verdict: str, vacuum: Vacuum, fits: Fits, seen: Seen) -> str:
    rose, at_water = _rose_words(vacuum), water(vacuum, fits)
    if verdict == "tight":
        limit = leakrate.yearly_words(seen.hole, seen.not_larger, "air", vacuum.refrigerant) + seen.hole.note_words
        return f"No leak larger than {limit}, and no moisture: {rose}, no rise beyond what the gauge can tell"
    if verdict == "leak":
        return f"Leak: the pressure rises steadily, {rose}; {_leak_words(vacuum, seen)}"
    if verdict == "moisture":
        return f"Moisture: the pressure goes {rose} and levels off at {at_water}; pull again"
    if verdict == "outgassing":
        return (
            f"Not water: the pressure goes {rose} and levels off at {mbar(fits.free.level_pa)}, above {at_water}; "
            "refrigerant is coming out of the oil, or a leak shut"
        )
    return f"Cannot tell: {_why_not(vacuum, fits, at_water)}. It went {rose}"


def _rose_words(vacuum: Vacuum) -> str:
    first_pa, last_pa = vacuum.readings[0].pressure_pa, vacuum.readings[-1].pressure_pa
    by_minute = vacuum.rise_pa / vacuum.duration_s * 60
    per_minute = f"{'+' if by_minute > 0 else ''}{mbar(by_minute)} a minute" if by_minute else ""
    words = f"from {mbar_read(first_pa)} to {mbar_read(last_pa)} in {span(vacuum.duration_s)}"
    return f"{words} ({per_minute})" if per_minute else words


def water(vacuum: Vacuum, fits: Fits) -> str:
    """Return water's own pressure in words, at the temperature taken or between those of a workshop."""
    if vacuum.temperature_k is not None:
        return f"water's {mbar(fits.water_pa)} at {celsius_read(vacuum.temperature_k)}"
    return f"water's {mbar(fits.water_low_pa)} to {mbar(fits.water_high_pa)} at {celsius(COLD_K)} to {celsius(WARM_K)}"


def _taken_words(verdict: str, vacuum: Vacuum) -> tuple[str, ...]:
    """What holds in place of what nobody entered, each as a sentence without its stop."""
    found = []
    if vacuum.temperature_k is None and vacuum.gauge_kind == ABSOLUTE and verdict != "tight":
        found.append("The temperature of the coldest part was not taken, so water cannot be told apart by its pressure")
    if vacuum.gauge_kind == NEEDLE and vacuum.air_good_to_pa > 0:
        found.append(
            f"The gauge reads against an air that is only known to within {mbar(vacuum.air_good_to_pa)}, and so are "
            "these levels; the rise is not touched by it"
        )
    if verdict in ("tight", "leak") and not vacuum.space.is_one:
        found.append(f"Inside volume taken: {vacuum.space.words}")
    return tuple(found)


def _leak_words(vacuum: Vacuum, seen: Seen) -> str:
    leak = seen.rise
    words, grams = f"{figures_between(leak.low, leak.high)} Pa m3/s of air come in", seen.hole.grams(leak)
    if grams is None:
        return words
    rate = yearly_between(grams.low, grams.high)
    return f"{words}, the same hole would lose {rate} of {vacuum.refrigerant}{seen.hole.note_words}"


def _why_not(vacuum: Vacuum, fits: Fits, at_water: str) -> str:
    if vacuum.gauge_kind == NEEDLE:
        step = f"{vacuum.pressure_step_pa / PA_PER_INHG:.2g} inHg"
        return f"a needle gauge with steps of {step} is too coarse; use an absolute gauge"
    if vacuum.temperature_k is None and nothing_shown(vacuum, fits):
        return (
            f"no rise beyond what the gauge can tell, but it stands where water would {_at_water_words(vacuum.mean_pa)}"
        )
    if fits.line.slope < 0:
        return "the pressure falls; the pump may still be connected, or the gauge is settling"
    if len(vacuum.readings) < 3:
        return "the pressure rises, but two readings do not show whether it is a leak or moisture; read it further"
    if vacuum.temperature_k is None and fits.bends and fits.free.level_pa <= fits.water_high_pa:
        level_pa = fits.free.level_pa
        return f"the pressure levels off at {mbar(level_pa)}, where water would {_at_water_words(level_pa)}"
    if fits.bends and fits.free.level_pa < fits.water_low_pa:
        return (
            f"the pressure levels off at {mbar(fits.free.level_pa)}, below {at_water}; refrigerant from the oil, or "
            "water in a part colder than the one measured"
        )
    return "the pressure rises, but a leak and moisture both fit, or both at once; let it stand longer"


def _at_water_words(pressure_pa: float) -> str:
    """At what temperature water stands at this pressure, by bisection; ends of the range are said as such."""
    low_k, high_k = COLD_K, WARM_K
    if pressure_pa <= testgases.water_vapour_pressure_pa(low_k):
        return f"at {celsius(low_k)} or below; measure the coldest part"
    while high_k - low_k > 0.05:
        middle_k = (low_k + high_k) / 2
        low_k, high_k = (
            (middle_k, high_k) if testgases.water_vapour_pressure_pa(middle_k) < pressure_pa else (low_k, middle_k)
        )
    return f"at {celsius(low_k)}; measure the coldest part"
