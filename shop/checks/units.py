"""The checks that turn one figure into another: air pressure at a height, a value in another unit."""

from inventory.measure import conversion
from inventory.measure.figures import parted
from shop.checks.values import Check, CheckAnswer, Values


def _atmosphere(v: Values) -> CheckAnswer:
    return CheckAnswer(
        verdict="figure",
        sentence=f"The standard atmosphere there is {v.atmosphere_pa / 100:.1f} hPa; weather moves it by some 30 hPa.",
        workings=(("Pressure", f"{parted(v.atmosphere_pa)} Pa"),),
        sources=("ISO 2533:1975",),
        figures={"pressure_pa": v.atmosphere_pa},
        formula="101 325 (1 - 0.0065 h / 288.15)^5.25588 Pa",
    )


def _convert(v: Values) -> CheckAnswer:
    value, words = conversion.convert(v["value"], v["to"], atmosphere_pa=v.atmosphere_pa)
    return CheckAnswer(
        verdict="figure",
        sentence=f"{words}.",
        workings=(("Result", words),),
        sources=("Units by their definitions",),
        figures={"value": value},
        formula="value x unit / unit",
    )


ATMOSPHERE = Check("atmosphere", "Atmosphere", "Air pressure at a height.", _atmosphere)
CONVERT = Check("convert", "Units", "A value in another unit.", _convert)
