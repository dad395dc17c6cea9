"""The values of a check as typed, read one by one: what each kind of input is, and how it is said again."""

import re
from collections.abc import Callable, Mapping
from typing import Any

from inventory.gases import catalogue
from inventory.measure import atmosphere, conversion, masses, pressures, quantities
from inventory.measure.typed import Doubtful, QuantityError, Typed
from inventory.measure.units import find_pressure
from shop.bench import holdfacts, insides
from shop.bench.answers import span
from shop.checks.values import Check, CheckFault, GaugeReading, Input, Values

Reader = Callable[[str, Input, Values], tuple[Any, str]]


def read_all(check: Check, typed: Mapping[str, str], atmosphere_pa: float, air: atmosphere.Air | None) -> Values:
    """Return all values of a check as read; raises ``CheckFault`` for an unknown key, a missing or unreadable value."""
    known = {one.key for one in check.inputs}
    takes = f"{check.name} takes {', '.join(one.key if one.required else f'[{one.key}]' for one in check.inputs)}."
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
        raise CheckFault(as_sentence(error), one.key) from None
    values.read[one.key] = value
    values.echoes.append((one.label, echo if text else f"{echo} (not entered: assumed)"))


def _refrigerant(text: str, one: Input, values: Values) -> tuple[str, str]:
    code = catalogue.find(text).code
    return code, code


def _candidates(text: str, one: Input, values: Values) -> tuple[tuple[str, ...], str]:
    codes = tuple(catalogue.find(part).code for part in re.split(r"[;,]", text) if part.strip())
    return codes, ", ".join(codes)


def _pressure(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = pressures.read_pressure(text, what=one.label.lower(), atmosphere_pa=values.atmosphere_pa, air=values.air)
    return read.si, read.echo


def _mass(text: str, one: Input, values: Values) -> tuple[float, str]:
    read = masses.read_mass(text, what=one.label.lower())
    return read.mg / 1000, read.echo


def _masses(text: str, one: Input, values: Values) -> tuple[tuple[float, ...], str]:
    read = [masses.read_mass(part, what=one.label.lower()) for part in text.split(";") if part.strip()]
    return tuple(each.mg / 1000 for each in read), "; ".join(each.echo for each in read)


def _read_by(reader: Callable[..., Typed]) -> Reader:
    """A reader that needs to know nothing beside the name of the value."""

    def read(text: str, one: Input, values: Values) -> tuple[float, str]:
        found = reader(text, what=one.label.lower())
        return found.si, found.echo

    return read


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


def _readings(text: str, one: Input, values: Values) -> tuple[tuple[GaugeReading, ...], str]:
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


def _reading(row: str, one: Input, values: Values) -> tuple[GaugeReading, str]:
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
    return GaugeReading(time_s, pressure.si, temperature_k, step_pa, step_k, needle), said


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


_READERS: dict[str, Reader] = {
    "refrigerant": _refrigerant,
    "candidates": _candidates,
    "pressure": _pressure,
    "temperature": _read_by(quantities.read_temperature),
    "mass": _mass,
    "masses": _masses,
    "volume": _read_by(quantities.read_volume),
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
    "compensation": holdfacts.COMPENSATIONS,
    "gas": holdfacts.GASES,
    "vehicle_class": insides.CLASSES,
}


_SAME_WORD = {"nitrogen": holdfacts.NITROGEN, "nitrogen-hydrogen": holdfacts.NITROGEN_HYDROGEN}


def as_sentence(error: Exception) -> str:
    """Return what an error says as a sentence."""
    text = str(error.args[0]) if error.args else "No answer."
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?")) else ".")
