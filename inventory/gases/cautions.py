"""The closed list of cautions: what each says and where it stands. A page asks for those of its step.

They are short and cannot be put away for good. They do not replace the maker's instructions, local codes or licensed
practice, which the foot of each page puts first.
"""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """One caution: its id, its sentence and the steps or pages where it is shown."""

    id: str
    sentence: str
    places: frozenset[str]


def _caution(name: str, places: str, sentence: str) -> Caution:
    return Caution(name, sentence, frozenset(places.split()))


CAUTIONS = {
    one.id: one
    for one in (
        _caution(
            "connect",
            "standing-pressure recovery charge receive transfer",
            "Wear goggles and gloves. Work in a ventilated place, never in a pit: refrigerant is heavier than air and "
            "takes the place of the air you breathe.",
        ),
        _caution(
            "flammable",
            "flammable",
            "This can burn. No flame, spark or hot surface near it; ventilate; use only equipment made for it.",
        ),
        _caution(
            "unknown-gas",
            "ports-seen identified",
            "Identify what is in the circuit before a machine is joined to it.",
        ),
        _caution(
            "nitrogen",
            "pressure-hold",
            "Dry nitrogen only, through a regulator and a relief valve. Never oxygen, never air with refrigerant. Do "
            "not pass the pressure that the weakest side may take. Stand clear of the hoses.",
        ),
        _caution(
            "relieve",
            "circuit-opened leak-search",
            "Relieve the pressure before anything is opened.",
        ),
        _caution(
            "part-recovered",
            "part-recovered",
            "Only part of the refrigerant is out. Do not open this circuit: recover the rest first.",
        ),
        _caution(
            "high-voltage",
            "electric",
            "High voltage: isolate and lock out, and measure that it is dead, before the circuit is opened. Only the "
            "oil that the maker of the electric compressor names.",
        ),
        _caution(
            "high-side",
            "charge-high-side",
            "Charging the high side: engine off, and the high-side valve shut before it is started.",
        ),
        _caution(
            "liquid-low-side",
            "charge-liquid-low-side",
            "Liquid into the low side of a running compressor breaks it. Throttle it to vapour.",
        ),
        _caution(
            "heat",
            "charge recovery-slow",
            "Never heat a cylinder with a flame. Warm water below 50 °C at most.",
        ),
        _caution(
            "filling",
            "recovery transfer",
            "A single-trip cylinder is never filled. No cylinder is filled past its limit, and one past its test date "
            "takes nothing.",
        ),
        _caution(
            "damaged",
            "receive weigh",
            "Dents, rust or a valve that leaks: put the cylinder aside, outside or well ventilated, and say so.",
        ),
        _caution(
            "flush",
            "flush",
            "Never petrol or another fuel, no chlorinated degreaser. Use a flushing agent made for this, by its own "
            "data sheet, and keep the waste.",
        ),
        _caution(
            "r744",
            "r-744",
            "R-744 stands above 60 bar at room temperature: burst hoses, frostbite, and it takes the place of the air. "
            "Only equipment made for it.",
        ),
        _caution(
            "decomposition",
            "leak-search charge",
            "Refrigerant breaks down at flames and hot surfaces into acid fumes. If it smells sharp, leave and air the "
            "place.",
        ),
        _caution(
            "transport",
            "send-away consignment",
            "Cylinders travel upright, capped and held fast, with the flammable mark where it applies.",
        ),
        _caution(
            "advice",
            "advice",
            "The maker’s instructions, local codes and licensed practice come first.",
        ),
    )
}


def cautions_for(*places: str) -> list[Caution]:
    """Return the cautions shown at any of `places`, in the order of the list; an unknown place is a mistake."""
    wanted = set(places)
    unknown = wanted - PLACES
    if unknown:
        raise ValueError(f"No caution stands at {', '.join(sorted(unknown))}.")
    return [one for one in CAUTIONS.values() if one.places & wanted]


def _places(cautions: Iterable[Caution]) -> frozenset[str]:
    return frozenset(place for one in cautions for place in one.places)


PLACES = _places(CAUTIONS.values())
