"""Pressures as people type them, in pascals absolute.

A unit may carry its reference (psig, bar absolute, inHg vacuum). Without one, inHg is below the atmosphere, as needles
show it; micron, torr, mmHg and atm are absolute; the others follow the field (`default_reference`).
"""

from dataclasses import replace
from decimal import Decimal

from inventory.measure.atmosphere import Air
from inventory.measure.figures import PRESSURE_DECIMALS, fixed, said, short
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.measure.typed import Doubtful, QuantityError, Typed, no_such_unit, quote, take, within_book
from inventory.measure.units import Reference, Unit, find_pressure, in_unit, unit_factor

_ABSOLUTE_BY_NATURE = ("micron", "torr", "mmHg", "atm")
_CUSTOMARY_PRESSURE = ("psi", "inHg", "micron", "torr", "mmHg", "atm", "kgf/cm2")
_LIKELY_SLIPS = ("psi", "bar", "kPa", "mbar", "micron", "inHg")  # tried where a pressure is not plausible
_SLIPS_FIRST = 1  # of these, before a decimal mark that slipped


def read_pressure(
    text: str,
    *,
    atmosphere_pa: float,
    default_unit: str | None = None,
    default_reference: Reference = "gauge",
    what: str = "pressure",
    plausible_pa: tuple[float, float] | None = None,
    air: Air | None = None,
    reader: Units | None = None,
) -> Typed:
    """Return the pressure that was typed, in pascals absolute.

    `atmosphere_pa` is the local atmosphere, against which gauge readings count. Units without a
    reference take `default_reference`, except inHg (below the atmosphere) and micron, torr, mmHg and
    atm (absolute). Less than nothing is refused. A value outside `plausible_pa` (absolute, both ends
    belong) that would lie inside in another unit or by another reference is asked about; one that no
    unit would save is returned, for a fact is not refused: the caller judges. Once a person has
    insisted, read again without `plausible_pa`. Where the height of the place is not known, `air` says
    what the atmosphere lies between; then a vacuum is refused only against the highest. What is echoed
    speaks the units of the `reader`. Raises ``Doubtful`` and ``QuantityError``.
    """

    def finish(number: str, unit_text: str) -> Typed:
        read = _pressure(text, number, unit_text, atmosphere_pa, default_reference, what, air, reader)
        if plausible_pa is not None and not plausible_pa[0] <= read.si <= plausible_pa[1]:
            _ask_other_pressures(text, number, unit_text, atmosphere_pa, default_reference, plausible_pa)
        return read

    return take(text, "pressure", default_unit, what, finish)


def _pressure(
    text: str,
    number: str,
    unit_text: str,
    atmosphere_pa: float,
    default_reference: Reference,
    what: str,
    air: Air | None = None,
    reader: Units | None = None,
) -> Typed:
    found = find_pressure(unit_text)
    if found is None:
        raise no_such_unit(text, unit_text, "pressure", what)
    unit, mark = found
    reference = _reference(text, unit, mark, default_reference)
    if reference == "vacuum" and number.startswith("-"):
        if mark == "vacuum":
            raise QuantityError(f"{quote(text)} has a minus and says vacuum as well. Write one of the two.")
        number = number[1:]  # needles print the vacuum side with a minus
    size_pa = float(in_unit(number, unit.pint, "pascal"))
    above_pa = {"absolute": 0.0, "gauge": atmosphere_pa, "vacuum": atmosphere_pa}[reference]
    below_pa = size_pa if reference == "vacuum" else -size_pa
    pa, not_known = above_pa - below_pa, ""
    if air is not None and not air.is_known and reference != "absolute" and below_pa > 0:
        pa, not_known = _below_unknown_air(below_pa, pa, air)
    if pa < 0:
        highest_pa = air.high_pa if not_known and air else atmosphere_pa
        local = short(highest_pa / float(unit_factor(unit.pint, "pascal")), 4)
        upto = "at most " if not_known else ""
        raise QuantityError(
            f"{quote(text)} was read as {said(number)} {unit.word} {_WORDS[reference]}, which is below zero "
            f"absolute: the local atmosphere is {upto}{local} {unit.word}. "
            f"Check the unit and the gauge, or write the {what} as absolute."
        )
    if reader is not None:
        not_known = in_own_units(not_known, reader)
    echo = _pressure_echo(number, unit, reference, pa, atmosphere_pa, reader) + not_known
    typed = Typed(text, marked(unit, reference), pa, echo)
    return within_book(typed, "pressure", what)


def _below_unknown_air(below_pa: float, pa: float, air: Air) -> tuple[float, str]:
    """Return a vacuum read on a gauge (Pa absolute) where the height is not known, and what is said of that.

    `pa` by the figure that `air` is read by; where that is less than nothing, the middle of what the highest leaves.
    """
    least_pa, most_pa = max(0.0, air.low_pa - below_pa), air.high_pa - below_pa
    found = pa if pa >= 0 else most_pa / 2 if most_pa >= 0 else most_pa
    said = f"{least_pa / 100:.0f} to {max(most_pa, 0.0) / 100:.0f} mbar absolute"
    return found, f". {air.words[:1].upper()}{air.words[1:]}: {said}"


_WORDS: dict[Reference, str] = {
    "gauge": "gauge",
    "absolute": "absolute",
    "vacuum": "below the atmosphere",
}


def _reference(text: str, unit: Unit, mark: Reference | None, default: Reference) -> Reference:
    if unit.word == "micron" and mark not in (None, "absolute"):
        raise QuantityError(f"{quote(text)}: microns count from zero absolute. Write them without gauge or vacuum.")
    if mark is not None:
        return mark
    if unit.word == "inHg":
        return "vacuum"
    return "absolute" if unit.word in _ABSOLUTE_BY_NATURE else default


def marked(unit: Unit, reference: Reference) -> str:
    """Return the unit word with its reference, itself a unit that can be typed: psig, inHg vacuum."""
    if unit.word == "micron":
        return unit.word
    if unit.word in ("psi", "bar") and reference != "vacuum":
        return unit.word + reference[0]
    return f"{unit.word} {reference}"


def _pressure_echo(
    number: str, unit: Unit, reference: Reference, pa: float, atmosphere_pa: float, reader: Units | None
) -> str:
    """Say what was read and the other reference in the same unit; in brackets its size in another.

    That is the reader's own where it was typed in none of those; without a reader the metric one of a customary unit.
    """
    read = f"{said(number)} {unit.word} {_WORDS[reference]}"
    metric = f" ({_bar(pa)} absolute)" if unit.word in _CUSTOMARY_PRESSURE else ""
    if reader is not None:
        own = (reader.pressure, reader.vacuum, reader.barometer)
        metric = "" if unit.word in own else f" ({replace(reader, atmosphere_pa=atmosphere_pa).pressure_said(pa)})"
    if unit.word in _ABSOLUTE_BY_NATURE:
        return f"{read}{metric}"
    other_pa = pa - atmosphere_pa if reference == "absolute" else pa
    return f"{read}, {_sized(other_pa, unit)} {'gauge' if reference == 'absolute' else 'absolute'}{metric}"


def _sized(pa: float, unit: Unit) -> str:
    """A size of pressure in a unit, with the decimals that its instruments have."""
    if unit.word == "bar":
        return _bar(pa)
    size = Decimal(pa / float(unit_factor(unit.pint, "pascal")))
    return f"{said(fixed(size, PRESSURE_DECIMALS.get(unit.word, 0)))} {unit.word}"


def _bar(pa: float) -> str:
    """A pressure in bar, or in mbar where bar would show too little of it."""
    if abs(pa) >= 10_000:
        return f"{said(fixed(Decimal(pa) / 10**5, 2))} bar"
    return f"{said(fixed(Decimal(pa) / 100, 3 if abs(pa) < 1000 else 1))} mbar"


def _ask_other_pressures(
    text: str,
    number: str,
    unit_text: str,
    atmosphere_pa: float,
    default_reference: Reference,
    plausible_pa: tuple[float, float],
) -> None:
    """Ask whether the decimal mark or the unit slipped, where that would make an unlikely pressure a likely one."""
    found = find_pressure(unit_text)
    if found is None:
        return
    unit, mark = found
    same = [] if mark else [f"{unit.word} gauge", f"{unit.word} absolute"]
    tail = f" {mark}" if mark else ""
    units = [word + tail for word in _LIKELY_SLIPS if word != unit.word]
    slips = [f"{number} {other}" for other in units]
    moved = [f"{Decimal(number).scaleb(places):f} {unit_text}" for places in (-1, 1)]

    def likely(meant: str) -> bool:
        digits, _, other = meant.partition(" ")
        try:
            read = _pressure(text, digits, other, atmosphere_pa, default_reference, "pressure")
        except QuantityError:
            return False
        return plausible_pa[0] <= read.si <= plausible_pa[1]

    by_reference = [one for other in same if likely(one := f"{number} {other}")]
    # psi and bar are taken for each other most; with the reference that was left out, no mark has slipped.
    choices = by_reference + [
        one for one in (*slips[:_SLIPS_FIRST], *(() if by_reference else moved), *slips[_SLIPS_FIRST:]) if likely(one)
    ]
    if not choices:
        return
    low, high = (_sized(pa, unit) for pa in plausible_pa)
    asked = "? Or ".join(choice + _bracket(choice) for choice in choices)
    raise Doubtful(
        f"{quote(text)} is outside what is likely here ({low} to {high} absolute): did you mean {asked}?", choices
    )


def _bracket(choice: str) -> str:
    """Return " (17.2 bar)" for "250 psi", by the size of the pressure alone."""
    number, unit_text = choice.split(" ", 1)
    found = find_pressure(unit_text)
    if found is None or found[0].word == "bar":
        return ""
    bar = float(in_unit(number, found[0].pint, "bar"))
    return f" ({short(bar)} bar)" if abs(bar) >= 0.1 else f" ({short(bar * 1000)} mbar)"
