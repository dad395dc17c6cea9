"""The checks of a cylinder and its hose: how much it may hold, air in it, what stands in a hose."""

from inventory.gases import filling, hose, purity
from inventory.measure.figures import parted
from shop.bench.answers import INSTRUCTIONS_FIRST, mass
from shop.checks.values import Check, CheckAnswer, CheckFault, Values


def _filling(v: Values) -> CheckAnswer:
    found = filling.limits(v["refrigerant"], v["water_capacity"])
    limit = filling.governing(found, v["jurisdiction"])
    tare, gross = v["tare"], v["gross"]
    if gross is not None and tare is None:
        raise CheckFault("Room from a gross mass needs the empty mass (tare) as well.", "tare")
    if gross is not None and gross < tare:
        raise CheckFault("The gross mass is below the tare: read both again.", "gross")
    room_g = None if gross is None else filling.room(limit, gross - tare)
    words = f"At most {mass(limit.max_net_g)} net of {v['refrigerant']} ({limit.words})"
    if room_g is not None:
        words += f"; can take {mass(room_g)} more" if room_g >= 0 else f"; {mass(-room_g)} over its limit"
    return CheckAnswer(
        verdict="over" if room_g is not None and room_g < 0 else "limit",
        sentence=f"{words}.",
        workings=tuple((one.words, f"{one.max_net_g / 1000:.3f} kg. {one.note}".strip()) for one in found),
        sources=tuple(f"{one.source}{' (from memory)' if one.from_memory else ''}" for one in found),
        cautions=("A single-trip cylinder is never filled; one past its test date takes nothing.", INSTRUCTIONS_FIRST),
        figures={
            "rules": [
                {
                    "rule": one.rule,
                    "max_net_kg": one.max_net_g / 1000,
                    "source": one.source,
                    "from_memory": one.from_memory,
                }
                for one in found
            ],
            "max_net_kg": limit.max_net_g / 1000,
            "max_gross_kg": None if tare is None else (limit.max_net_g + tare) / 1000,
            "room_kg": None if room_g is None else room_g / 1000,
            "governing_rule": limit.rule,
        },
        formula="The least of the rules that apply: ratio or density times water capacity",
    )


def _air(v: Values) -> CheckAnswer:
    if (v["water_capacity"] is None) != (v["contents"] is None):
        raise CheckFault("The mass of air needs both the water capacity and the contents.", "contents")
    found = purity.check_air(
        v["refrigerant"],
        pressure_pa=v["pressure"],
        temperature_k=v["temperature"],
        water_capacity_m3=v["water_capacity"],
        contents_g=v["contents"],
        rested=v["rested"] != "no",
    )
    estimate = found.estimate
    rows = [("Table", found.table.reason), ("Must hold", purity.REST_CONDITIONS)]
    if found.excess_pa is not None:
        rows.append(
            (
                "Above saturation",
                f"{parted(found.excess_pa)} Pa, give or take {parted(2 * (found.u_excess_pa or 0))} Pa",
            )
        )
    if estimate is not None:
        rows.append(
            ("Air by mass", f"{parted(estimate.ppm_by_mass)} ppm, give or take {parted(2 * estimate.u_ppm_by_mass)}")
        )
    return CheckAnswer(
        verdict=found.verdict,
        sentence=f"{found.verdict[:1].upper()}{found.verdict[1:]}: {found.reason}",
        workings=tuple(rows),
        sources=(*dict.fromkeys(row.source for row in found.table.rows), "Saturation by CoolProp; air as an ideal gas"),
        cautions=("An excess does not tell air from another refrigerant: only an identifier does.", INSTRUCTIONS_FIRST),
        figures={
            "table_limit_pa": found.table.limit_pa,
            "excess_pa": found.excess_pa,
            "u_excess_pa": found.u_excess_pa,
            "air_ppm_by_mass": None if estimate is None else estimate.ppm_by_mass,
            "table_from_memory": found.table.from_memory,
        },
        formula="Excess = pressure - saturation; air = excess x vapour space x M / (R T)",
    )


def _hose(v: Values) -> CheckAnswer:
    found = hose.hose_content(v["refrigerant"], length_m=v["length"], bore_m=v["bore"], temperature_k=v["temperature"])
    return CheckAnswer(
        verdict="content",
        sentence=f"The hose holds {mass(found.liquid_g)} full of liquid, {mass(found.vapour_g)} full of vapour.",
        workings=(("Room inside", f"{found.volume_m3 * 1e6:.1f} ml"),),
        sources=("Saturated densities by CoolProp",),
        figures={"liquid_g": found.liquid_g, "vapour_g": found.vapour_g, "volume_m3": found.volume_m3},
        formula="pi / 4 x bore2 x length x density",
    )


FILLING = Check("filling", "Filling limit", "How much a cylinder may hold, by which rule, and the room left.", _filling)
AIR = Check(
    "air", "Air in a cylinder", "Whether a cylinder at rest shows more pressure than its refrigerant has.", _air
)
HOSE = Check("hose", "Hose content", "What stands in a hose after a charge.", _hose)
