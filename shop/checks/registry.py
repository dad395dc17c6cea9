"""Every measurement alone: a name and values as people type them in, a worked answer in SI units out.

The Checks pages and the command ``reckon`` both use `reckon`, so that they cannot differ. `figures` carries plain
values for scripts: SI units, each key ending in its unit, None where there is no figure.

Where the step of a gauge or thermometer is not given, it is that of the last digit written: "250 psi" was read to
1 psi. An uncertainty that nobody stated is assumed and said among the inputs.

The atmosphere is that of the barometer where one is given, else of the height, else of the workshop; the answer says
which. The verdict of `vacuum` is one of four words, `tight`, `leak`, `moisture`, `cannot-tell`: gas coming out of the
oil is neither leak nor water, so it is `cannot-tell`, and `verdict_detail` then says `outgassing`. How they are told
apart stands at the head of `shop.bench.vacuum`.

Errors: ``CheckFault`` with a sentence and, where it is about one value, its key.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any

from inventory.gases import catalogue, filling, fluids, hose, identify, purity
from inventory.measure import atmosphere, conversion, masses, pressures, quantities
from inventory.measure.typed import Doubtful, QuantityError
from inventory.measure.uncertainty import machine, resolution
from inventory.measure.units import find_pressure
from shop.bench import hold, insides, leakrate, performance
from shop.bench.answers import INSTRUCTIONS_FIRST, bar, celsius, figure, mass, span
from shop.checks.circuit import judge_hold, judge_recovery, judge_vacuum
from shop.checks.values import Check, CheckAnswer, CheckFault, Input, Reading, Values

__all__ = ("CHECKS", "Check", "CheckAnswer", "CheckFault", "Input", "find", "reckon")

DEFAULT_REFRIGERANT = "R-134a"
LABEL_TOLERANCE = "20 g"
MACHINE_LIMIT = "10 g"
WAITED = "5 min"
COMMON = ("R-12", "R-134a", "R-1234yf", "R-22", "R-152a", "R-290", "R-600a", "R-404A", "R-407C", "R-410A", "R-744")


def reckon(
    name: str,
    typed: Mapping[str, str],
    *,
    atmosphere_pa: float = atmosphere.SEA_LEVEL_PA,
    air: atmosphere.Air | None = None,
) -> CheckAnswer:
    """Return the answer of check `name` for values as typed; `atmosphere_pa` holds where no altitude is given.

    `air` says what that lies between in a workshop whose height is not entered.

    Raises ``CheckFault``: an unknown name or key, a missing or unreadable value, readings that cannot be.
    """
    check = find(name)
    values = _read_all(check, typed, atmosphere_pa, air)
    try:
        answer = check.judge(values)
    except CheckFault:
        raise
    except (LookupError, ValueError) as error:
        raise CheckFault(_as_sentence(error)) from None
    return _with_inputs(answer, values)


def find(name: str) -> Check:
    """Return the check of this name; raises ``CheckFault`` naming all of them."""
    if name not in CHECKS:
        raise CheckFault(f"There is no check called {name!r}. There are: {', '.join(CHECKS)}.")
    return CHECKS[name]


def _with_inputs(answer: CheckAnswer, values: Values) -> CheckAnswer:
    own = {name: getattr(answer, name) for name in answer.__dataclass_fields__}
    return CheckAnswer(**own | {"inputs": tuple(values.echoes)})


def _as_sentence(error: Exception) -> str:
    text = str(error.args[0]) if error.args else "No answer."
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?")) else ".")


# Reading what was typed


def _read_all(check: Check, typed: Mapping[str, str], atmosphere_pa: float, air: atmosphere.Air | None) -> Values:
    known = {one.key for one in check.inputs}
    takes = f"{check.name} takes {', '.join(_key_words(one) for one in check.inputs)}."
    for key in typed:
        if key not in known:
            raise CheckFault(f"{key!r} is not known here: {takes}")
    at_sea = atmosphere_pa == atmosphere.SEA_LEVEL_PA
    by = "standard at sea level, no height entered" if at_sea else "standard at the workshop's height"
    values = Values(atmosphere_pa=atmosphere_pa, atmosphere_by=by, air=air)
    # Height and then barometer come first: every gauge pressure is read against the atmosphere.
    for one in sorted(check.inputs, key=lambda one: _FIRST.get(one.kind, len(_FIRST))):
        text = typed.get(one.key, "").strip()
        if not text and one.required:
            raise CheckFault(f"Enter the {one.label.lower()} ({one.key}): {takes}", one.key)
        if text or one.default:
            _read_one(one, text, values)
    return values


_FIRST = {"altitude": 0, "barometer": 1}


def _key_words(one: Input) -> str:
    return one.key if one.required else f"[{one.key}]"


def _read_one(one: Input, text: str, values: Values) -> None:
    try:
        value, echo = _READERS[one.kind](text or one.default, one, values)
    except CheckFault as fault:
        raise CheckFault(fault.sentence, one.key, question=fault.question, choices=fault.choices) from None
    except Doubtful as doubt:
        said = f"{doubt.sentence} Choices: {'; '.join(doubt.choices)}."
        raise CheckFault(said, one.key, question=doubt.sentence, choices=doubt.choices) from None
    except QuantityError as error:
        raise CheckFault(error.sentence, one.key) from None
    except (LookupError, ValueError) as error:
        raise CheckFault(_as_sentence(error), one.key) from None
    values.read[one.key] = value
    values.echoes.append((one.label, echo if text else f"{echo} (not entered: assumed)"))


def _refrigerant(text: str, one: Input, values: Values) -> tuple[str, str]:
    code = catalogue.find(text).code
    return code, code


def _candidates(text: str, one: Input, values: Values) -> tuple[tuple[str, ...], str]:
    codes = tuple(catalogue.find(part).code for part in re.split(r"[;,]", text) if part.strip())
    return codes, ", ".join(codes)


def _pressure(text: str, one: Input, values: Values) -> tuple[float, str]:
    known: dict[str, Any] = {"atmosphere_pa": values.atmosphere_pa, "air": values.air}
    read = pressures.read_pressure(text, what=one.label.lower(), **known)
    return read.si, read.echo


def _temperature(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = quantities.read_temperature(text, what=one.label.lower())
    return read.si, read.echo


def _mass(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = masses.read_mass(text, what=one.label.lower())
    return read.mg / 1000, read.echo


def _masses(text: str, one: Input, values: Values) -> tuple[tuple[float, ...], str]:
    read = [masses.read_mass(part, what=one.label.lower()) for part in text.split(";") if part.strip()]
    return tuple(each.mg / 1000 for each in read), "; ".join(each.echo for each in read)


def _volume(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = quantities.read_volume(text, what=one.label.lower())
    return read.si, read.echo


def _water(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = quantities.read_water_capacity(text)
    return read.si, read.echo


def _length(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = quantities.read_length(text, default_unit=None if one.key == "bore" else "m", what=one.label.lower())
    return read.si, read.echo


def _altitude(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = quantities.read_length(text, what="altitude", lowest_m=atmosphere.LOWEST_M)
    values.atmosphere_pa = atmosphere.standard_pressure_pa(read.si)
    values.atmosphere_by, values.air = "standard at this height", None
    return read.si, f"{read.echo}; atmosphere {values.atmosphere_pa / 100:.1f} hPa"


def _barometer(text: str, one: Input, values: Values) -> tuple[float, str]:
    by_height_pa = values.atmosphere_pa
    # Barometers count from nothing, those marked in inches of mercury too, which on a gauge would be a vacuum.
    if re.fullmatch(r"[\d.,\s]+", text):
        raise CheckFault(
            f"{text!r} has no unit. Barometers show hPa (the same as mbar), inHg or mmHg: write it with one."
        )
    inches = _INCHES.fullmatch(text)
    read = pressures.read_pressure(
        f"{inches[1]} inHg abs" if inches else text,
        atmosphere_pa=by_height_pa,
        default_reference="absolute",
        what=one.label.lower(),
    )
    around = values.air or atmosphere.Air(by_height_pa, by_height_pa, by_height_pa)
    values.barometer_doubt = atmosphere.barometer_doubt(read.si, around)
    values.atmosphere_pa, values.atmosphere_by, values.air = read.si, "by the barometer", None
    otherwise = f"by the height it would be {by_height_pa / 100:.1f}" if around.is_known else "no height is entered"
    return read.si, f"{read.si / 100:.1f} hPa, taken as the atmosphere; {otherwise}"


def _days(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = quantities.read_number(text, what="number of days", lowest=0.0, highest=1e5, unit_word="days")
    return read, f"{read:g} days"


def _span(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = quantities.read_duration(text, what=one.label.lower())
    return float(read.si), span(read.si)


def _percent(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = quantities.read_percent(text, what=one.label.lower())
    return read, f"{read:g} %"


def _word(text: str, one: Input, values: Values) -> tuple[str, str]:
    offered = _WORDS.get(one.key)
    if offered is None:
        return text, text
    for word in offered:
        if word.casefold() == _SAME_WORD.get(text.casefold(), text).casefold():
            return word, word
    raise CheckFault(f"{text!r} is not known as {one.label.lower()}. There are: {', '.join(offered)}.")


def _pressure_step(text: str, one: Input, values: Values) -> tuple[float, str]:
    # A step is a difference: neither gauge nor absolute, so it is converted by size alone.
    step, words = conversion.convert(text, "Pa")
    if step <= 0:
        raise CheckFault("The step of the gauge must be above zero.")
    return step, words


def _temperature_step(text: str, one: Input, values: Values) -> tuple[float, str]:
    match = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*°?\s*([CFK]?)\s*", text, re.IGNORECASE)
    if match is None or float(match[1].replace(",", ".")) <= 0:
        raise CheckFault(f"{text!r} is no step of a thermometer. Write one such as 0.1 C.")
    step_k = float(match[1].replace(",", ".")) / (1.8 if match[2].upper() == "F" else 1.0)
    return step_k, f"{step_k:.3g} K"


_TIME = r"\d{1,2}:\d\d(?::\d\d)?|\d+(?:[.,]\d+)?\s*(?:seconds?|sec|s|minutes?|min|hours?|hr|h|days?|d)?"
_ROW = re.compile(
    rf"(?P<time>{_TIME})\s+(?P<pressure>\S.*?)(?:\s+(?P<temperature>[-−]?\d+(?:[.,]\d+)?\s*°?\s*[CFK]))?",
    re.IGNORECASE,
)


def _readings(text: str, one: Input, values: Values) -> tuple[tuple[Reading, ...], str]:
    rows = [part.strip() for part in re.split(r"[;\n]", text) if part.strip()]
    found, words = [], []
    for number, row in enumerate(rows, 1):
        try:
            reading, said = _reading(row, one, values)
        except Doubtful as doubt:
            question = f"Reading {number}: {doubt.sentence}"
            choices = [f"{number}: {one}" for one in doubt.choices]
            said = f"{question} Choices: {'; '.join(doubt.choices)}."
            raise CheckFault(said, question=question, choices=choices) from None
        except QuantityError as error:
            raise CheckFault(f"Reading {number}: {error.sentence}") from None
        except CheckFault as fault:
            raise CheckFault(f"Reading {number}: {fault.sentence}") from None
        found.append(reading)
        words.append(said)
    return tuple(found), "; ".join(words)


def _reading(row: str, one: Input, values: Values) -> tuple[Reading, str]:
    match = _ROW.fullmatch(row)
    with_temperature = one.kind == "readings"
    if match is None:
        raise CheckFault(f"{row!r} cannot be read. Write each as in {one.example.split(';')[0]!r}, with ; between two.")
    time_s = _clock_s(match["time"])
    pressure = pressures.read_pressure(
        match["pressure"],
        atmosphere_pa=values.atmosphere_pa,
        default_reference="gauge" if with_temperature else "absolute",
        air=values.air,
    )
    pressure_unit = re.sub(r"^[-−+\s\d.,]+", "", match["pressure"])
    temperature_k, step_k, said = None, 1.0, f"{match['time']}: {pressure.echo}"
    if match["temperature"]:
        temperature = quantities.read_temperature(match["temperature"])
        temperature_k, said = temperature.si, f"{said}, {temperature.echo}"
        step_k = _last_digit(match["temperature"]) / (1.8 if temperature.unit == "F" else 1.0)
    size_pa = conversion.convert(f"1 {_bare_unit(pressure_unit)}", "Pa")[0]
    step_pa = _last_digit(match["pressure"]) * size_pa
    needle = "inhg" in pressure_unit.casefold().replace(" ", "")
    return Reading(time_s, pressure.si, temperature_k, step_pa, step_k, needle), said


def _clock_s(text: str) -> float:
    if ":" in text:
        hours, minutes, *seconds = (int(part) for part in text.split(":"))
        return hours * 3600.0 + minutes * 60 + (seconds[0] if seconds else 0)
    return float(quantities.read_duration(text, what="time").si)


def _bare_unit(text: str) -> str:
    found = find_pressure(text)
    return found[0].word if found else text


def _last_digit(text: str) -> float:
    decimals = re.search(r"\d+(?:[.,](\d+))?", text)
    return float(10.0 ** -len(decimals[1] or "")) if decimals else 1.0


_INCHES = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*in\s*hg\s*", re.IGNORECASE)

_READERS: dict[str, Callable[[str, Input, Values], tuple[Any, str]]] = {
    "refrigerant": _refrigerant,
    "candidates": _candidates,
    "pressure": _pressure,
    "temperature": _temperature,
    "mass": _mass,
    "masses": _masses,
    "volume": _volume,
    "water": _water,
    "length": _length,
    "altitude": _altitude,
    "barometer": _barometer,
    "days": _days,
    "span": _span,
    "percent": _percent,
    "word": _word,
    "class": _word,
    "pressure-step": _pressure_step,
    "temperature-step": _temperature_step,
    "readings": _readings,
    "rises": _readings,
}
_WORDS = {
    "method": ("annualising", "rolling", "between-visits"),
    "jurisdiction": ("us", "eu"),
    "as_read": ("yes", "no"),
    "rested": ("yes", "no"),
    "photographed": ("yes", "no"),
    "compensation": hold.COMPENSATIONS,
    "gas": hold.GASES,
    "vehicle_class": insides.CLASSES,
}
_SAME_WORD = {"nitrogen": hold.NITROGEN, "nitrogen-hydrogen": hold.NITROGEN_HYDROGEN}


# The checks


def _saturation(v: Values) -> CheckAnswer:
    code, at_k = v["refrigerant"], v["temperature"]
    bubble, dew = fluids.bubble_pressure_pa(code, at_k), fluids.dew_pressure_pa(code, at_k)
    liquid = fluids.liquid_density_kg_m3(code, at_k)
    vapour = fluids.saturated_vapour_density_kg_m3(code, at_k)
    return CheckAnswer(
        verdict="saturated",
        sentence=f"{code} at {celsius(at_k)} boils at {bar(bubble)} absolute, {bar(bubble - v.atmosphere_pa)} gauge.",
        workings=(
            ("Bubble", f"{bubble:,.0f} Pa absolute"),
            ("Dew", f"{dew:,.0f} Pa absolute"),
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
        rows.append(("Above saturation", f"{found.excess_pa:,.0f} Pa, u {found.u_excess_pa or 0:,.0f} Pa"))
    if estimate is not None:
        rows.append(("Air by mass", f"{estimate.ppm_by_mass:,.0f} ppm, u {estimate.u_ppm_by_mass:,.0f}"))
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
        sources=("Saturation by CoolProp; up to 2 u fits, beyond 3 u does not",),
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


def _leak_rate(v: Values) -> CheckAnswer:
    method, full, added = v["method"], v["full_charge"], v["added"]
    if method == "between-visits":
        return _between(v, sum(added), full)
    if method == "annualising":
        if v["days"] is None:
            raise CheckFault("Annualising needs the days since the last addition (days).", "days")
        rate = leakrate.annualising_percent(added=sum(added), full_charge=full, days=v["days"])
        formula = "added / full charge x 365 / least of days and 365 x 100"
    else:
        rate = leakrate.rolling_percent(additions=added, full_charge=full)
        formula = "sum of what was added in 365 days / full charge x 100"
    return CheckAnswer(
        verdict="rate",
        sentence=leakrate.statutory_sentence(rate, method=method),
        workings=(("A year", f"{rate:.2f} % = {rate / 100 * full:.1f} g"),),
        sources=("40 CFR 82.152 (read second-hand)",),
        cautions=(leakrate.NOT_FOR_CARS,),
        figures={"percent_per_year": rate, "g_per_year": rate / 100 * full},
        formula=formula,
    )


def _between(v: Values, added: float, full: float) -> CheckAnswer:
    if v["days"] is None:
        raise CheckFault("A rate between visits needs the days between them (days).", "days")
    if added > full:
        raise CheckFault("More was added than the full charge: read both again.", "added")
    u_g = machine(v["mass_limit"]).total_g
    answer = leakrate.between_visits(
        leakrate.BetweenVisits(
            charged_g=full,
            u_charged_g=u_g,
            recovered_g=full - added,
            u_recovered_g=u_g,
            residue_g=0.0,
            u_residue_g=0.0,
            days=v["days"],
        )
    )
    return CheckAnswer(
        verdict=answer.verdict,
        sentence=answer.sentence,
        workings=answer.workings,
        sources=answer.sources,
        cautions=answer.cautions,
        figures={
            "percent_per_year": answer.percent_per_year,
            "g_per_year": answer.g_per_year,
            "u_g_per_year": answer.u_g_per_year,
            "loss_g": answer.loss_g,
        },
        formula="What it took to fill it up again x 365.25 / days",
    )


def _gwp(v: Values) -> CheckAnswer:
    return _potential("GWP", "kg CO2 per kg", v, catalogue.gwp(v["refrigerant"], _basis(v, _GWP_BASES)))


def _odp(v: Values) -> CheckAnswer:
    return _potential("ODP", "kg CFC-11 per kg", v, catalogue.odp(v["refrigerant"], _basis(v, catalogue.ODP_BASES)))


_GWP_BASES = catalogue.GWP_BASES + catalogue.FORMER_GWP_BASES


def _basis(v: Values, offered: tuple[str, ...]) -> str:
    for basis in offered:
        if basis.casefold() == v["basis"].casefold():
            return basis
    raise CheckFault(f"{v['basis']!r} is no basis here. There are: {', '.join(offered)}.", "basis")


def _potential(what: str, unit: str, v: Values, found: catalogue.Figure) -> CheckAnswer:
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
    found = catalogue.gwp(v["refrigerant"], basis)
    co2e_kg = catalogue.co2e_mg(v["refrigerant"], round(v["mass"] * 1000), basis) / 1e6
    return CheckAnswer(
        verdict="figure",
        sentence=f"{mass(v['mass'])} of {v['refrigerant']} stand for {figure(co2e_kg, 4)} kg CO2e, basis {basis}.",
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


def _atmosphere(v: Values) -> CheckAnswer:
    return CheckAnswer(
        verdict="figure",
        sentence=f"The standard atmosphere there is {v.atmosphere_pa / 100:.1f} hPa; weather moves it by some 30 hPa.",
        workings=(("Pressure", f"{v.atmosphere_pa:,.0f} Pa"),),
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


def _performance(v: Values) -> CheckAnswer:
    answer = performance.judge(
        performance.Running(
            refrigerant=v["refrigerant"],
            low_pa=v["low"],
            high_pa=v["high"],
            suction_line_k=v["suction_line"],
            liquid_line_k=v["liquid_line"],
            ambient_k=v["ambient"],
            humidity=None if v["humidity"] is None else v["humidity"] / 100,
            vent_k=v["vent"],
            atmosphere_pa=v.atmosphere_pa,
        )
    )
    return CheckAnswer(
        verdict=answer.verdict,
        sentence=answer.sentence,
        workings=answer.workings,
        sources=answer.sources,
        cautions=answer.cautions,
        figures={
            "evaporating_k": answer.evaporating_k,
            "condensing_k": answer.condensing_k,
            "superheat_k": answer.superheat_k,
            "subcooling_k": answer.subcooling_k,
            "ideal_cop": answer.ideal_cop,
        },
        formula="Saturation at the two pressures; ideal cycle between them",
        picture=answer.diagram,
    )


_REFRIGERANT = Input("refrigerant", "Refrigerant", "refrigerant", "R-134a")
_TEMPERATURE = Input("temperature", "Temperature", "temperature", "20 C")
_VOLUME = Input("volume", "Inside volume", "volume", "2 L", required=False)
_CLASS = Input("vehicle_class", "Class of vehicle, in place of the inside volume", "class", "van", required=False)
_ALTITUDE = Input("altitude", "Height above the sea", "altitude", "210 m", required=False)
_BAROMETER = Input("barometer", "Barometer, the air's own pressure", "barometer", "1003 hPa", required=False)
_AS_READ = Input("as_read", "It does read so (yes)", "word", "yes", required=False)
_GAUGE_STEP = Input("pressure_step", "Step of the gauge", "pressure-step", "1 psi", required=False)
_THERMOMETER_STEP = Input("temperature_step", "Step of the thermometer", "temperature-step", "1 C", required=False)
_WATER = Input("water_capacity", "Water capacity", "water", "26.2 lb")
_LIMIT = "Limit of error of each mass"

CHECKS: dict[str, Check] = {
    one.name: one
    for one in (
        Check(
            "hold",
            "Pressure hold",
            "What a standing pressure of nitrogen can tell about a leak, and what it cannot.",
            (
                _VOLUME,
                _CLASS,
                Input("refrigerant", "Refrigerant to be charged", "refrigerant", "R-134a", required=False),
                Input("readings", "Readings", "readings", "0 min 250 psi 20 C; 20 min 249 psi 20 C"),
                _GAUGE_STEP,
                _THERMOMETER_STEP,
                _ALTITUDE,
                Input("allowed", "Allowed pressure of the weakest side", "pressure", "20 bar", required=False),
                Input("compensation", "Compensation (ideal or real)", "word", "ideal", required=False),
                Input(
                    "gas",
                    f"Gas ({' or '.join(hold.GASES)})",
                    "word",
                    hold.NITROGEN,
                    required=False,
                    default=hold.NITROGEN,
                ),
                _BAROMETER,
                _AS_READ,
            ),
            judge_hold,
        ),
        Check(
            "vacuum",
            "Vacuum hold",
            "A rise told apart: leak, moisture, or neither.",
            (
                Input("readings", "Readings", "rises", "0 min 500 micron; 10 min 520 micron; 20 min 540 micron"),
                Input("temperature", "Temperature of the coldest part", "temperature", "20 C", required=False),
                _VOLUME,
                _CLASS,
                Input(
                    "refrigerant", "Refrigerant", "refrigerant", "R-134a", required=False, default=DEFAULT_REFRIGERANT
                ),
                _GAUGE_STEP,
                _ALTITUDE,
                _BAROMETER,
                _AS_READ,
            ),
            judge_vacuum,
        ),
        Check(
            "recovery",
            "Recovery",
            "What should have come out, what did, and what can still be inside.",
            (
                _REFRIGERANT,
                Input("expected", "Expected mass", "mass", "550 g"),
                Input("recovered", "Recovered mass", "mass", "512 g"),
                Input("final_pressure", "Pressure after the wait", "pressure", "0 bar"),
                Input("waited", "Time waited", "span", "5 min", required=False, default=WAITED),
                Input("temperature", "Temperature of the coldest part", "temperature", "20 C", required=False),
                _VOLUME,
                _CLASS,
                Input("arrival_pressure", "Standing pressure on arrival", "pressure", "4.7 bar", required=False),
                Input("photographed", "It was photographed (yes)", "word", "yes", required=False),
                Input("oil", "Oil in the system", "mass", "120 g", required=False),
                Input("tolerance", "Tolerance of the label", "mass", "20 g", required=False, default=LABEL_TOLERANCE),
                Input("recovered_limit", _LIMIT, "mass", "10 g", required=False, default=MACHINE_LIMIT),
                _ALTITUDE,
            ),
            judge_recovery,
        ),
        Check(
            "filling",
            "Filling limit",
            "How much a cylinder may hold, by which rule, and the room left.",
            (
                _REFRIGERANT,
                _WATER,
                Input("tare", "Empty mass", "mass", "7 kg", required=False),
                Input("gross", "Gross mass now", "mass", "13.9 kg", required=False),
                Input("jurisdiction", "Rules of (us or eu; all if left out)", "word", "eu", required=False),
            ),
            _filling,
        ),
        Check(
            "air",
            "Air in a cylinder",
            "Whether a cylinder at rest shows more pressure than its refrigerant has.",
            (
                _REFRIGERANT,
                Input("temperature", "Temperature beside it", "temperature", "70 F"),
                Input("pressure", "Pressure", "pressure", "76 psi"),
                Input("water_capacity", "Water capacity", "water", "26.2 lb", required=False),
                Input("contents", "Content", "mass", "10 kg", required=False),
                Input("rested", "It has stood as the procedure asks (yes or no)", "word", "yes", required=False),
                _ALTITUDE,
            ),
            _air,
        ),
        Check(
            "identify",
            "Which refrigerant is it",
            "A standing pressure against refrigerants that it may speak for.",
            (
                Input("pressure", "Standing pressure", "pressure", "4.7 bar"),
                Input("temperature", "Temperature of the coldest part", "temperature", "20 C"),
                Input(
                    "candidates",
                    "Refrigerants",
                    "candidates",
                    "R-12, R-134a",
                    required=False,
                    default=", ".join(COMMON),
                ),
                Input(
                    "pressure_step", "Step of the gauge", "pressure-step", "0.1 bar", required=False, default="0.1 bar"
                ),
                Input(
                    "temperature_step",
                    "Step of the thermometer",
                    "temperature-step",
                    "1 C",
                    required=False,
                    default="1 C",
                ),
                _ALTITUDE,
            ),
            _identify,
        ),
        Check(
            "saturation",
            "Saturation",
            "Pressure and densities at a temperature.",
            (_REFRIGERANT, _TEMPERATURE),
            _saturation,
        ),
        Check(
            "performance",
            "Running test",
            "Superheat, subcooling and the ideal cycle on a drawing.",
            (
                _REFRIGERANT,
                Input("low", "Low-side pressure", "pressure", "2 bar"),
                Input("high", "High-side pressure", "pressure", "14 bar"),
                Input("suction_line", "Suction line", "temperature", "8 C", required=False),
                Input("liquid_line", "Liquid line", "temperature", "45 C", required=False),
                Input("ambient", "Air outside", "temperature", "30 C", required=False),
                Input("humidity", "Humidity of the air", "percent", "50 %", required=False),
                Input("vent", "Vent", "temperature", "8 C", required=False),
                _ALTITUDE,
            ),
            _performance,
        ),
        Check(
            "hose",
            "Hose content",
            "What stands in a hose after a charge.",
            (
                _REFRIGERANT,
                Input("length", "Length", "length", "1.8 m"),
                Input("bore", "Inside diameter", "length", "5 mm"),
                _TEMPERATURE,
            ),
            _hose,
        ),
        Check(
            "leak-rate",
            "Leak rate",
            "What went in a year, between visits or by the statutory formulas.",
            (
                Input("method", "Method (annualising, rolling or between-visits)", "word", "between-visits"),
                Input("added", "Added (several with ; between)", "masses", "120 g"),
                Input("full_charge", "Full charge", "mass", "550 g"),
                Input("days", "Days", "days", "365", required=False),
                Input("mass_limit", _LIMIT, "mass", "10 g", required=False, default=MACHINE_LIMIT),
            ),
            _leak_rate,
        ),
        Check(
            "gwp",
            "GWP",
            "Global warming potential on a stated basis.",
            (_REFRIGERANT, Input("basis", "Basis", "word", "AR4")),
            _gwp,
        ),
        Check(
            "odp",
            "ODP",
            "Ozone depletion potential.",
            (_REFRIGERANT, Input("basis", "Basis", "word", "montreal", required=False, default="montreal")),
            _odp,
        ),
        Check(
            "co2e",
            "CO2 equivalent",
            "A mass as CO2 on a stated basis.",
            (Input("mass", "Mass", "mass", "0.5 kg"), _REFRIGERANT, Input("basis", "Basis", "word", "AR4")),
            _co2e,
        ),
        Check(
            "atmosphere",
            "Atmosphere",
            "Air pressure at a height.",
            (Input("altitude", "Height above the sea", "altitude", "1500 m"),),
            _atmosphere,
        ),
        Check(
            "convert",
            "Units",
            "A value in another unit.",
            (Input("value", "Value", "word", "250 psi"), Input("to", "Unit wanted", "word", "bar"), _ALTITUDE),
            _convert,
        ),
    )
}
