"""What a cylinder may hold, and why nothing may be filled into it.

Three rules of law and trade, and one guard of ours:

- ``p200``: ADR/RID 4.1.4.1 P200. The ratio that its table prints; where it prints none, the density rule of
  P200(5)(c): 0.95 times the liquid's density at 50 C, and not full of liquid at 60 C, whichever is less.
- ``49cfr-density``: the filling density of 49 CFR 173.304a, per cent of the weight of water that the cylinder holds at
  60 F; where it prints none, 173.304(b): liquid must not fill the cylinder at any temperature up to 55 C.
- ``eighty-percent``: 0.80 times the water capacity times the specific gravity of the liquid at 77 F (AHRI Guideline K).
- ``liquid-full-60c``: stands beside them only where they alone, by the property data here, would let liquid fill the
  cylinder at 60 C: some printed ratios are rounded up past that point, and the United States rules look at 55 C.

Where a blend has no model, densities are estimated from its components, and what the estimate may be off is taken off.
A gas whose critical point lies below 60 C, R-744 above all, has no liquid to reckon with: only printed ratios count.
A limit is a mass on the scale, not a level: a level read warm or cold is another mass.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from functools import cache

from inventory.gases import estimated, fluids
from inventory.gases.rows import is_from_memory, rows

WATER_60F_KG_M3 = 999.0
G_PER_KG = 1000.0
LITRES_PER_M3 = 1000.0
AT_25_C, AT_50_C, AT_55_C, AT_60_C = (fluids.ZERO_CELSIUS_K + celsius for celsius in (25, 50, 55, 60))

P200, CFR_DENSITY, EIGHTY, LIQUID_FULL = "p200", "49cfr-density", "eighty-percent", "liquid-full-60c"
STAMPED = "stamped"  # no rule of ours: the filling limit that stands on the cylinder itself
RULE_WORDS = {
    P200: "ADR/RID P200",
    CFR_DENSITY: "filling density of 49 CFR",
    EIGHTY: "80 per cent rule",
    LIQUID_FULL: "not full of liquid at 60 °C",
    STAMPED: "as stamped on it",
}
RULES_OF = {"us": (CFR_DENSITY, EIGHTY, LIQUID_FULL), "eu": (P200, LIQUID_FULL)}
"""The rules that apply in a jurisdiction; in any other, and where none is set, all of them."""

EIGHTY_SOURCE = (
    "AHRI Guideline K: 0.80 x water capacity x specific gravity at 77 F (as restated in a trade article on the 2004 "
    "edition); specific gravity by CoolProp, over water at 60 F"
)
P200_RULE_SOURCE = "ADR/RID 2025 4.1.4.1 P200(5)(c), density rule, since the table prints no ratio; density by CoolProp"
CFR_RULE_SOURCE = "49 CFR 173.304(b): liquid must not fill the packaging up to 55 C; density by CoolProp"
GUARD_SOURCE = "P200(5)(c): liquid must not fill the cylinder at any temperature up to 60 C; density by CoolProp"


class NoLimit(ValueError):
    """No rule here gives a limit for this content; the message is a sentence."""


@dataclass(frozen=True)
class Limit:
    """The most that a cylinder may hold by one rule, in grams net, with where the figure is from."""

    rule: str
    max_net_g: float
    source: str
    from_memory: bool
    note: str = ""

    @property
    def max_net_mg(self) -> int:
        """It in whole milligrams, as the book has masses."""
        return round(self.max_net_g * 1000)

    @property
    def words(self) -> str:
        """The rule as it is said on a page."""
        return RULE_WORDS.get(self.rule, self.rule)


@dataclass(frozen=True)
class _Printed:
    value: float
    source: str
    from_memory: bool
    note: str
    un_number: str


def limits(code: str, water_capacity_m3: float) -> tuple[Limit, ...]:
    """Return the limit of each rule that has one for `code`, in the order of the rules.

    `water_capacity_m3` above nothing, up to 3 m3. Empty where there are neither printed ratios nor property data.
    Raises ``ValueError`` for a capacity that no cylinder has.
    """
    if not 0 < water_capacity_m3 <= 3:
        raise ValueError("The water capacity must be above 0 and at most 3,000 litres.")
    found = [
        limit
        for limit in (
            _p200(code, water_capacity_m3),
            _cfr_density(code, water_capacity_m3),
            _eighty(code, water_capacity_m3),
        )
        if limit is not None
    ]
    guard = _liquid_full(code, water_capacity_m3)
    if guard is not None and any(guard.max_net_g < limit.max_net_g for limit in _governing_anywhere(found)):
        found.append(guard)
    return tuple(found)


def governing(found: Iterable[Limit], jurisdiction: str | None = None) -> Limit:
    """Return the limit to keep: the least of those that apply in `jurisdiction` ("us", "eu", or any other for all).

    Where none of the jurisdiction's own rules has a figure, the least of the others. Raises ``NoLimit`` when
    `found` is empty.
    """
    every = tuple(found)
    if not every:
        raise NoLimit("No filling limit is known for this refrigerant: take it from the supplier's data for the gas.")
    applying = tuple(limit for limit in every if limit.rule in RULES_OF.get(jurisdiction or "", ()))
    return min(applying or every, key=lambda limit: limit.max_net_g)


def mixture_limit(parts: Iterable[str], water_capacity_m3: float, jurisdiction: str | None = None) -> Limit:
    """Return the least of the governing limits of all `parts` of a mixed content, naming the part.

    Raises ``NoLimit`` when a part has no limit or there are no parts: the rest would say nothing about the whole.
    """
    strictest: Limit | None = None
    for code in parts:
        found = limits(code, water_capacity_m3)
        if not found:
            raise NoLimit(f"No filling limit is known for {code}, so none for a content with {code} in it.")
        limit = governing(found, jurisdiction)
        if strictest is None or limit.max_net_g < strictest.max_net_g:
            strictest = replace(limit, note=f"Strictest of the parts: {code}. {limit.note}".strip())
    if strictest is None:
        raise NoLimit("A mixed content needs at least one named refrigerant to have a filling limit.")
    return strictest


def room(limit: Limit, held_g: float) -> float:
    """Return how many grams more the cylinder may take; below nothing where it already holds more than it may."""
    return limit.max_net_g - held_g


def liquid_fraction(code: str, *, held_g: float, water_capacity_m3: float, temperature_k: float) -> float:
    """Return the fraction of the room that liquid takes up: 0 none, 1 or more full of liquid.

    Mass balance m = V (x rho_liquid + (1 - x) rho_vapour) at saturation. Raises the errors of ``gases.fluids``.
    """
    liquid = fluids.liquid_density_kg_m3(code, temperature_k)
    vapour = fluids.saturated_vapour_density_kg_m3(code, temperature_k)
    mean = held_g / G_PER_KG / water_capacity_m3
    return max(0.0, (mean - vapour) / (liquid - vapour))


def vapour_only_g(code: str, *, water_capacity_m3: float, temperature_k: float) -> float:
    """Return the grams of vapour that still fill a cylinder when its last liquid has gone, at `temperature_k`.

    Raises the errors of ``inventory.gases.fluids``.
    """
    return water_capacity_m3 * fluids.saturated_vapour_density_kg_m3(code, temperature_k) * G_PER_KG


def refusal(kind: str, requalify_by: date | None, today: date) -> str | None:
    """Return why nothing may be filled into a cylinder of `kind`, as a sentence, or None where that is no obstacle.

    `kind` as the book knows it ("single-trip", "refillable", "recovery", "machine tank", "can lot"). The last day of
    the requalification still counts. An unknown date is no obstacle here; the page shows that it is missing.
    Source: 49 CFR 178.65(i) and 180.205(c) (the latter from memory); ADR 4.1.6.10.
    """
    if kind in ("single-trip", "can lot"):
        return "A single-trip container is never filled. Choose a refillable or recovery cylinder."
    if requalify_by is not None and today > requalify_by:
        return (
            f"Its requalification date, {requalify_by.isoformat()}, has gone by: it takes nothing until it has been "
            "tested. What is in it may still be drawn."
        )
    return None


def un_number(code: str) -> str:
    """Return the UN number that ADR/RID P200 prints beside a pure or named gas, such as "1028"; empty where none is."""
    printed = _printed(code, P200)
    return printed.un_number if printed else ""


def eighty_percent_kg(water_kg: float, specific_gravity: float) -> float:
    """Return 0.80 x `water_kg` (the weight of water that it holds) x `specific_gravity`, in kg (or in lb from lb).

    Source: AHRI Guideline K, as restated in a trade article on the 2004 edition.
    """
    return 0.80 * water_kg * specific_gravity


def specific_gravity(code: str) -> float:
    """Return the density of the boiling liquid at 77 F over that of water at 60 F, to three decimals as printed."""
    return round(_liquid_kg_m3(code, AT_25_C) / WATER_60F_KG_M3, 3)


def density_rule_kg_per_litre(code: str) -> float:
    """Return the filling ratio of P200(5)(c), cut to hundredths as the table prints them.

    Raises the errors of ``inventory.gases.fluids``: a gas whose critical point lies below 60 C has no such ratio.
    """
    at_50 = _liquid_kg_m3(code, AT_50_C)
    at_60 = _liquid_kg_m3(code, AT_60_C)
    return _cut(min(0.95 * at_50, at_60) / LITRES_PER_M3, 2)


def _governing_anywhere(found: list[Limit]) -> list[Limit]:
    return [governing(found, jurisdiction) for jurisdiction in (None, *RULES_OF)] if found else []


def _p200(code: str, water_capacity_m3: float) -> Limit | None:
    litres = water_capacity_m3 * LITRES_PER_M3
    printed = _printed(code, P200)
    if printed is not None:
        return Limit(P200, _grams(printed.value * litres), printed.source, printed.from_memory, printed.note)
    if not _is_low_pressure(code):
        return None
    ratio = density_rule_kg_per_litre(code)
    return Limit(
        P200,
        _grams(ratio * litres),
        P200_RULE_SOURCE,
        False,
        f"{ratio:.2f} kg per litre, worked out{_estimate_said(code)}",
    )


def _cfr_density(code: str, water_capacity_m3: float) -> Limit | None:
    water_kg = water_capacity_m3 * WATER_60F_KG_M3
    printed = _printed(code, CFR_DENSITY)
    if printed is not None:
        grams = _grams(printed.value / 100 * water_kg)
        return Limit(CFR_DENSITY, grams, printed.source, printed.from_memory, printed.note)
    if not _is_low_pressure(code):
        return None
    percent = _cut(_liquid_kg_m3(code, AT_55_C) / WATER_60F_KG_M3 * 100, 1)
    note = f"{percent:.1f} per cent of the weight of water, worked out{_estimate_said(code)}"
    return Limit(CFR_DENSITY, _grams(percent / 100 * water_kg), CFR_RULE_SOURCE, False, note)


def _eighty(code: str, water_capacity_m3: float) -> Limit | None:
    if not _is_low_pressure(code):
        return None
    gravity = specific_gravity(code)
    kg = eighty_percent_kg(water_capacity_m3 * WATER_60F_KG_M3, gravity)
    return Limit(EIGHTY, _grams(kg), EIGHTY_SOURCE, False, f"specific gravity {gravity:.3f}{_estimate_said(code)}")


def _liquid_full(code: str, water_capacity_m3: float) -> Limit | None:
    if not _is_low_pressure(code):
        return None
    ratio = _cut(_liquid_kg_m3(code, AT_60_C) / LITRES_PER_M3, 3)
    note = f"The other rules would let liquid fill it at 60 C; {ratio:.3f} kg per litre does not{_estimate_said(code)}."
    return Limit(LIQUID_FULL, _grams(ratio * water_capacity_m3 * LITRES_PER_M3), GUARD_SOURCE, False, note)


def _is_low_pressure(code: str) -> bool:
    """Tell whether a liquid stands up to 60 C: only then do its densities bound a filling. R-744 is not one."""
    if fluids.has_data(code):
        return fluids.saturation_range_k(code)[1] >= AT_60_C
    return estimated.is_estimated(code)


@cache
def _liquid_kg_m3(code: str, temperature_k: float) -> float:
    """Keep the few densities that the rules ask for: a blend's takes milliseconds, a page shows many cylinders."""
    if estimated.is_estimated(code):
        return estimated.liquid_density_kg_m3(code, temperature_k).low
    return fluids.liquid_density_kg_m3(code, temperature_k)


def _estimate_said(code: str) -> str:
    """Return what a limit says of an estimated density, with a space before it; empty where it is modelled."""
    if not estimated.is_estimated(code):
        return ""
    return f" (liquid {estimated.liquid_density_kg_m3(code, AT_25_C).words}, which is taken off)"


def _grams(kg: float) -> float:
    return round(kg * G_PER_KG, 3)  # to the milligram of the book, so that equal limits compare as equal


def _cut(value: float, decimals: int) -> float:
    """Cut `value` down to `decimals`: a limit is never rounded up."""
    scale = 10.0**decimals
    return math.floor(value * scale) / scale


def _printed(code: str, rule: str) -> _Printed | None:
    return _table().get((code, rule))


@cache
def _table() -> dict[tuple[str, str], _Printed]:
    """Read the printed ratios; of several for different test pressures the least, since the plate is not known here."""
    printed = sorted(rows("filling-ratios.csv"), key=lambda row: float(row["value"]), reverse=True)
    return {(row["refrigerant"], row["rule"]): _read(row) for row in printed}


def _read(row: dict[str, str]) -> _Printed:
    bar = row["test_pressure_bar"]
    note = f"{row['value']} {row['unit']}" + (f", test pressure {bar} bar" if bar else "")
    return _Printed(float(row["value"]), row["source"], is_from_memory(row), note, row["un_number"])
