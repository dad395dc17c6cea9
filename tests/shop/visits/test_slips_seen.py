"""How many slips of the hand at what is usual are seen, and how often the honest value is proposed."""

import random
import sys
from collections.abc import Callable
from typing import Any

import pytest

from inventory.measure.masses import read_mass
from inventory.measure.pressures import read_pressure
from inventory.measure.quantities import read_temperature, read_volume
from inventory.measure.slips import proposals, within
from inventory.measure.typed import QuantityError
from shop.bench import insides
from shop.visits import usual
from shop.visits.kinds import BY_NAME

SEEDS = 400


def _mass(rng: random.Random) -> str:
    return f"{rng.randrange(350, 1_000, 5)}"


HONEST: dict[str, tuple[str, str, Callable[[random.Random], str], Any]] = {
    "label of a car, g": ("mass", "g", _mass, read_mass),
    "target beside its label, g": ("mass", "g", _mass, read_mass),
    "air, C": ("temperature", "C", lambda rng: f"{rng.randrange(50, 350) / 10:g}", read_temperature),
    "air, F": ("temperature", "F", lambda rng: f"{rng.randrange(40, 100)}", read_temperature),
    "standing, bar": ("pressure", "bar", lambda rng: f"{rng.randrange(350, 850) / 100:g}", read_pressure),
    "standing, psi": ("pressure", "psi", lambda rng: f"{rng.randrange(50, 125)}", read_pressure),
    "oil out, mL": ("volume", "mL", lambda rng: f"{rng.randrange(15, 200, 5)}", read_volume),
    "inside volume, L": ("volume", "L", lambda rng: f"{rng.randrange(120, 400) / 100:g}", read_volume),
}
KNOWN = {
    "air, C": ("standing pressure", "air"),
    "air, F": ("standing pressure", "air"),
    "standing, bar": ("standing pressure", "pressure"),
    "standing, psi": ("standing pressure", "pressure"),
    "oil out, mL": ("oil balance", "out"),
}
# A unit that would make a likely reading of another one cannot be seen: 20 C taken for 20 F, 5 bar for 5 psi.
OTHER = {"g": "oz", "C": "F", "F": "C", "bar": "psi", "psi": "bar", "mL": "L", "L": "mL"}


def slipped(text: str, slip: str, rng: random.Random) -> tuple[str, bool]:
    """Return a text after a slip, and whether it is another one: a decimal mark moved, two digits exchanged."""
    if slip == "decimal":
        value = float(text) * rng.choice((10, 0.1))
        return f"{value:.6g}", True
    places = [place for place in range(len(text) - 1) if text[place : place + 2].isdigit()]
    if not places:
        return text, False
    at = rng.choice(places)
    made = text[:at] + text[at + 1] + text[at] + text[at + 2 :]
    return made, made != text


def span(name: str, honest: float) -> tuple[float, float]:
    """Return between what a reading is not asked about; a target goes by its label, here the honest value."""
    if name == "label of a car, g":
        return usual.CHARGES_KG["car"]
    if name == "target beside its label, g":
        than = usual.of_vehicle("car", label_kg=honest)
        return than.low_kg, than.high_kg
    if name == "inside volume, L":
        return usual.volume_range_m3(*insides.RANGES_M3["car"])
    known = BY_NAME[KNOWN[name][0]].field(KNOWN[name][1]).known
    assert known is not None
    return known


def seen(name: str, slip: str) -> tuple[int, int, int]:
    """Return how many of the slips were looked at, asked about, and had the honest value among the proposals."""
    kind, unit, make, read = HONEST[name]
    rng = random.Random(f"{name} {slip}")
    more = {"atmosphere_pa": 101_325.0} if kind == "pressure" else {}
    tried = asked = right = 0
    for _ in range(SEEDS):
        text = make(rng)
        honest = read(text, default_unit=unit, **more)
        low, high = span(name, honest.si)
        assert low <= honest.si <= high, f"an honest {name} of {text} is not asked about"
        wrong, is_other = (text, True) if slip == "unit" else slipped(text, slip, rng)
        if not is_other:
            continue
        tried += 1
        chosen = OTHER[unit] if slip == "unit" else unit
        try:
            value = read(wrong, default_unit=chosen, **more).si
        except QuantityError:
            asked += 1
            continue
        if low <= value <= high:
            continue
        asked += 1
        offers = proposals(wrong, chosen, kind, within(low, high), known=more)
        right += any(abs(read(one.text, **more).si - honest.si) < 1e-6 * abs(honest.si) for one in offers)
    return tried, asked, right


@pytest.mark.parametrize(
    ("name", "slip", "least"),
    [
        ("label of a car, g", "decimal", 0.99),
        ("label of a car, g", "unit", 0.99),
        ("target beside its label, g", "decimal", 1.0),
        ("target beside its label, g", "unit", 1.0),
        ("target beside its label, g", "digits", 0.25),
        ("air, C", "decimal", 0.45),
        ("air, F", "decimal", 0.45),
        ("air, F", "unit", 0.7),
        ("standing, bar", "decimal", 0.4),
        ("standing, psi", "decimal", 0.3),
        ("standing, psi", "unit", 0.99),
        ("oil out, mL", "decimal", 0.1),
        ("oil out, mL", "unit", 1.0),
        ("inside volume, L", "decimal", 0.9),
        ("inside volume, L", "unit", 1.0),
    ],
)
def test_slips_are_asked_about_where_the_record_can_tell(
    name: str, slip: str, least: float, record_property: Any
) -> None:
    tried, asked, right = seen(name, slip)
    said = f"{name}, {slip}: asked about {asked} of {tried} slips, the honest value offered in {right}"
    record_property("slips", said)
    sys.stdout.write(f"{said}\n")  # shown with -rP
    assert tried > SEEDS / 2
    assert asked >= least * tried, said
