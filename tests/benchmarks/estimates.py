"""How far blends estimated from their components may be off; the tables of `inventory.gases.estimated` made anew.

Run: .venv/bin/python tests/benchmarks/estimates.py. It tries the method on each blend whose mixture CoolProp knows,
prints by how much it is off there, and writes `interactions.csv` and `estimates.csv` beside the data of gases.
"""

import csv
import itertools
import math
import statistics
import sys
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from inventory.gases import fluids
from inventory.gases.catalogue import Refrigerant, refrigerant, refrigerants
from inventory.gases.estimated import BUBBLE, DEW, LIQUID, LOW_K, VAPOUR, Pair, pair, reckon
from inventory.gases.rows import DATA

FITTED_AT = [(part, kelvin) for part in (0.2, 0.5, 0.8) for kelvin in (253.15, 293.15, 313.15)]
SEARCHED = (-0.2, 0.3)
AT_K = [LOW_K + 10 * step for step in range(11)]
FIGURES = (BUBBLE, DEW, LIQUID, VAPOUR)
NO_ALKANES = {"R-1270"}
NOT_TRIED = {"R-744"}  # a blend with it was off by 12 %
MODEL = {
    BUBBLE: fluids.bubble_pressure_pa,
    DEW: fluids.dew_pressure_pa,
    LIQUID: fluids.liquid_density_kg_m3,
    VAPOUR: fluids.saturated_vapour_density_kg_m3,
}


def fitted(of: Pair) -> float | None:
    """Return the k that gives the bubble pressures of CoolProp's own mixture of a pair; None where it has none."""
    names = "&".join(fluids.PURE[code] for code in of)
    try:
        known = fluids.coolprop().AbstractState("HEOS", names)
    except ValueError:
        return None
    found = [k for part, kelvin in FITTED_AT if (k := _fitted_at(known, names, part, kelvin)) is not None]
    return statistics.median(found) if found else None


def _fitted_at(known: Any, names: str, part: float, kelvin: float) -> float | None:
    quality = fluids.coolprop().QT_INPUTS
    cubic = fluids.coolprop().AbstractState("PR", names)
    low, high = SEARCHED
    try:
        for state in (known, cubic):
            state.set_mole_fractions([part, 1 - part])
        known.update(quality, 0, kelvin)
        for _ in range(30):
            middle = (low + high) / 2
            cubic.set_binary_interaction_double(0, 1, "kij", middle)
            cubic.update(quality, 0, kelvin)
            low, high = (middle, high) if cubic.p() < known.p() else (low, middle)
    except ValueError:
        return None
    return (low + high) / 2


def every_pair() -> dict[Pair, float]:
    """Return k of each pair of single substances of which CoolProp has a mixture."""
    codes = sorted(one.code for one in refrigerants() if one.code in fluids.PURE)
    return {of: k for of in itertools.combinations(codes, 2) if (k := fitted(of)) is not None}


def by_kind(fits: dict[Pair, float]) -> dict[Pair, list[float]]:
    """Return the fitted k of each kind of pair: its two families."""
    kinds = defaultdict(list)
    for of, k in fits.items():
        if not NO_ALKANES & set(of):
            kinds[kind(of)].append(k)
    return kinds


def kind(of: Pair) -> Pair:
    one, other = (refrigerant(code).family for code in of)
    return pair(one, other)


def pairs_of(blend: Refrigerant) -> list[Pair]:
    return [pair(one, other) for (one, _), (other, _) in itertools.combinations(blend.components, 2)]


def can_be_tried(blend: Refrigerant, known: Iterable[Pair]) -> bool:
    """Whether a blend is of single substances with an equation each, in pairs that are known, or whose kind is."""
    parts = {code for code, _ in blend.components}
    if not blend.is_blend or parts & NOT_TRIED or not parts <= set(fluids.PURE):
        return False
    return all(of in known for of in pairs_of(blend))


def off(code: str, k: dict[Pair, float], what: str) -> float:
    """Return the largest part by which the method misses the model of a blend, at every ten kelvin that both know."""
    worst = 0.0
    for kelvin in AT_K:
        try:
            model, ours = MODEL[what](code, kelvin), reckon(code, what, kelvin, k)
        except fluids.FluidError:
            continue
        worst = max(worst, ours / model - 1, 1 - ours / model)
    return worst


def moved(code: str, k: dict[Pair, float], ends: dict[Pair, tuple[float, float]], what: str) -> float:
    """Return by which part the ends of the kinds move a figure at most, the pairs together."""
    worst = 0.0
    for kelvin in AT_K:
        middle = reckon(code, what, kelvin, k)
        sums = [abs(reckon(code, what, kelvin, {**k, of: end}) / middle - 1) for of in ends for end in ends[of]]
        worst = max(worst, sum(max(sums[i], sums[i + 1]) for i in range(0, len(sums), 2)))
    return worst


def write(name: str, head: str, lines: list[list[object]]) -> None:
    with (DATA / name).open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([head.split(","), *lines])


def main() -> None:
    fits = every_pair()
    kinds = by_kind(fits)
    blends = [
        one for one in refrigerants() if one.is_blend and {code for code, _ in one.components} <= set(fluids.PURE)
    ]
    needed = sorted({of for blend in blends for of in pairs_of(blend)})
    k = {
        of: fits[of] if of in fits else statistics.median(kinds[kind(of)])
        for of in needed
        if of in fits or kind(of) in kinds
    }
    tried = [blend.code for blend in blends if can_be_tried(blend, k)]
    known = [code for code in tried if fluids.has_data(code)]
    missed = {code: {what: off(code, k, what) for what in FIGURES} for code in known}
    print("Blends whose mixture is known: the method misses it, at -40 to 60 C, by at most")
    for code, by in missed.items():
        print(f"  {code:8}", *(f"{what} {by[what]:6.2%}" for what in FIGURES))
    of_method = {what: max(by[what] for by in missed.values()) for what in FIGURES}
    print("  the worst", *(f"{what} {of_method[what]:6.2%}" for what in FIGURES))
    rows: list[list[object]] = []
    for blend in blends:
        if blend.code not in tried or fluids.has_data(blend.code):
            continue
        ends = {of: (min(kinds[kind(of)]), max(kinds[kind(of)])) for of in pairs_of(blend) if of not in fits}
        try:
            by = {what: of_method[what] + moved(blend.code, k, ends, what) for what in FIGURES}
        except fluids.FluidError as error:
            print(f"  {blend.code}: none; {error}")
            continue
        rows.append([blend.code, *(math.ceil(by[what] * 100) for what in FIGURES)])
        print(f"  {blend.code:8}", *(f"{what} {by[what]:6.2%}" for what in FIGURES), f"{len(ends)} pairs of a kind")
    write("estimates.csv", "code,bubble_percent,dew_percent,liquid_percent,vapour_percent", rows)
    write(
        "interactions.csv",
        "one,other,k,how",
        [[*of, f"{k[of]:.4f}", "fitted" if of in fits else "kind"] for of in sorted(k)],
    )


if __name__ == "__main__":
    main()
