"""The checks of a refrigerant: which it is, its saturation, what it weighs in the air."""

from inventory.gases import estimated, fluids, identify, potentials
from inventory.measure.figures import parted
from inventory.measure.uncertainty import resolution
from shop.bench.answers import bar, celsius, figure, mass
from shop.checks.values import Check, CheckAnswer, CheckFault, Values

_GWP_BASES = potentials.GWP_BASES + potentials.FORMER_GWP_BASES


def _identify(v: Values) -> CheckAnswer:
    step_pa, step_k = v["pressure_step"], v["temperature_step"]
    found = identify.identify(
        v["candidates"],
        pressure_pa=v["pressure"],
        temperature_k=v["temperature"],
        u_pressure_pa=resolution(step_pa),
        u_temperature_k=resolution(step_k),
    )
    fitting = found.codes(identify.FITS)
    return CheckAnswer(
        verdict="fits" if fitting else "cannot tell" if found.codes(identify.CANNOT_TELL) else "does not fit",
        sentence=found.sentence,
        workings=tuple((one.code, f"{one.verdict}: {one.reason}") for one in found.candidates),
        sources=("Saturation by CoolProp; up to 2 standard uncertainties fits, beyond 3 does not",),
        cautions=(found.caution,),
        figures={
            "fits": list(fitting),
            "does_not_fit": list(found.codes(identify.DOES_NOT_FIT)),
            "cannot_tell": list(found.codes(identify.CANNOT_TELL)),
            "candidates": [
                {
                    "refrigerant": one.code,
                    "verdict": one.verdict,
                    "bubble_pressure_pa": one.bubble_pa,
                    "gap_pa": one.gap_pa,
                }
                for one in found.candidates
            ],
        },
        formula="Gap between reading and saturation, against the uncertainty of gauge and thermometer",
    )


def _saturation(v: Values) -> CheckAnswer:
    code, at_k = v["refrigerant"], v["temperature"]
    if estimated.is_estimated(code):
        return _estimated(code, at_k, v.atmosphere_pa)
    bubble, dew = fluids.bubble_pressure_pa(code, at_k), fluids.dew_pressure_pa(code, at_k)
    liquid = fluids.liquid_density_kg_m3(code, at_k)
    vapour = fluids.saturated_vapour_density_kg_m3(code, at_k)
    return CheckAnswer(
        verdict="saturated",
        sentence=f"{code} at {celsius(at_k)} boils at {bar(bubble)} absolute, {bar(bubble - v.atmosphere_pa)} gauge.",
        workings=(
            ("Bubble", f"{parted(bubble)} Pa absolute"),
            ("Dew", f"{parted(dew)} Pa absolute"),
            ("Liquid", f"{liquid:.1f} kg/m3"),
            ("Vapour", f"{vapour:.3f} kg/m3"),
        ),
        sources=("CoolProp and the equations of state it cites",),
        figures={
            "bubble_pressure_pa": bubble,
            "dew_pressure_pa": dew,
            "liquid_density_kg_m3": liquid,
            "vapour_density_kg_m3": vapour,
        },
        formula="Saturation by the equation of state of the refrigerant",
    )


def _estimated(code: str, at_k: float, atmosphere_pa: float) -> CheckAnswer:
    bubble, dew = estimated.bubble_pressure_pa(code, at_k), estimated.dew_pressure_pa(code, at_k)
    liquid, vapour = estimated.liquid_density_kg_m3(code, at_k), estimated.vapour_density_kg_m3(code, at_k)
    low, high = (bar(end - atmosphere_pa) for end in (bubble.low, bubble.high))
    return CheckAnswer(
        verdict="estimated",
        sentence=f"{code} at {celsius(at_k)} boils between {low} and {high} gauge, by an estimate from its components.",
        workings=(
            ("Bubble", f"{parted(bubble.value)} Pa absolute, {bubble.words}"),
            ("Dew", f"{parted(dew.value)} Pa absolute, {dew.words}"),
            ("Liquid", f"{liquid.value:.0f} kg/m3, {liquid.words}"),
            ("Vapour", f"{vapour.value:.1f} kg/m3, {vapour.words}"),
        ),
        sources=("Peng and Robinson 1976 by CoolProp, with interactions from its mixtures of two components",),
        figures={
            "bubble_pressure_pa": bubble.value,
            "bubble_within": bubble.within,
            "dew_pressure_pa": dew.value,
            "dew_within": dew.within,
            "liquid_density_kg_m3": liquid.value,
            "liquid_within": liquid.within,
            "vapour_density_kg_m3": vapour.value,
            "vapour_within": vapour.within,
        },
        formula="Saturation by a cubic equation of state; the liquid by the volumes of its components",
    )


def _gwp(v: Values) -> CheckAnswer:
    return _potential("GWP", "kg CO2 per kg", v, potentials.gwp(v["refrigerant"], _basis(v, _GWP_BASES)))


def _odp(v: Values) -> CheckAnswer:
    return _potential("ODP", "kg CFC-11 per kg", v, potentials.odp(v["refrigerant"], _basis(v, potentials.ODP_BASES)))


def _basis(v: Values, offered: tuple[str, ...]) -> str:
    for basis in offered:
        if basis.casefold() == v["basis"].casefold():
            return basis
    raise CheckFault(f"{v['basis']!r} is no basis here. There are: {', '.join(offered)}.", "basis")


def _potential(what: str, unit: str, v: Values, found: potentials.Figure) -> CheckAnswer:
    memory = " From memory: to be checked." if found.from_memory else ""
    return CheckAnswer(
        verdict="figure",
        sentence=f"{what} of {v['refrigerant']}, basis {v['basis']}: {found.value:f} {unit}.{memory}",
        workings=((what, f"{found.value:f} {unit}"),),
        sources=(found.source,),
        figures={"value": float(found.value), "source": found.source, "from_memory": found.from_memory},
        formula="Published figure; a blend by mass fractions",
    )


def _co2e(v: Values) -> CheckAnswer:
    basis = _basis(v, _GWP_BASES)
    found = potentials.gwp(v["refrigerant"], basis)
    co2e_kg = potentials.co2e_mg(v["refrigerant"], round(v["mass"] * 1000), basis) / 1e6
    said = f"{figure(co2e_kg, 4)} kg" if co2e_kg < 1000 else f"{figure(co2e_kg / 1000, 4)} t"
    return CheckAnswer(
        verdict="figure",
        sentence=f"{mass(v['mass'])} of {v['refrigerant']} stand for {said} CO2e, basis {basis}.",
        workings=(("GWP", f"{found.value:f}"), ("CO2 equivalent", f"{co2e_kg:.3f} kg")),
        sources=(found.source,),
        figures={
            "co2e_kg": co2e_kg,
            "gwp": float(found.value),
            "source": found.source,
            "from_memory": found.from_memory,
        },
        formula="mass x GWP",
    )


IDENTIFY = Check(
    "identify", "Which refrigerant is it", "A standing pressure against refrigerants that it may speak for.", _identify
)
SATURATION = Check("saturation", "Saturation", "Pressure and densities at a temperature.", _saturation)
GWP = Check("gwp", "GWP", "Global warming potential on a stated basis.", _gwp)
ODP = Check("odp", "ODP", "Ozone depletion potential.", _odp)
CO2E = Check("co2e", "CO2 equivalent", "A mass as CO2 on a stated basis.", _co2e)
