"""A quantity that was typed, in another unit."""

from decimal import Decimal

from inventory.measure.figures import said, short
from inventory.measure.masses import ounces_of_both
from inventory.measure.pressures import marked
from inventory.measure.typed import QuantityError, bare_name, quote, take
from inventory.measure.units import (
    KINDS,
    Reference,
    Unit,
    clean_text,
    find_pressure,
    find_unit,
    in_unit,
    kind_of,
    temperature_in,
    unit_factor,
)


def convert(text: str, to: str, *, atmosphere_pa: float | None = None) -> tuple[float, str]:
    """Return what was typed in the unit `to`, and a line that says both.

    Any kind of quantity of this module, and leak rates and masses a year. From gauge to absolute or
    back, the local `atmosphere_pa` is needed; a pressure whose reference is not written on both sides
    is converted by size alone. Raises ``Doubtful`` and ``QuantityError``.
    """

    def finish(number: str, unit_text: str) -> tuple[float, str]:
        ounces = ounces_of_both(text, number, unit_text)
        size, unit_text = (number, unit_text) if ounces is None else (str(ounces), "oz")
        value, word, target = _converted(text, size, unit_text, to, atmosphere_pa)
        shown = f"{said(number)} {word}" if ounces is None else " ".join(clean_text(text).split())
        return value, f"{shown} = {said(short(value, 6))} {target}"

    return take(text, "quantity", None, "quantity", finish, offered=())


def _converted(text: str, number: str, unit_text: str, to: str, atmosphere_pa: float | None) -> tuple[float, str, str]:
    """Return value, word of the unit given and word of the unit asked for."""
    if (pressure := find_pressure(unit_text)) and (wanted := find_pressure(to)):
        return _converted_pressure(text, number, pressure, wanted, atmosphere_pa)
    for kind in KINDS:
        unit, target = find_unit(unit_text, kind), find_unit(to, kind)
        if unit and target and kind == "temperature":
            return float(temperature_in(Decimal(number), unit, target.pint)), unit.word, target.word
        if unit and target:
            return float(in_unit(number, unit.pint, target.pint)), unit.word, target.word
    kind_given, kind_asked = kind_of(unit_text), kind_of(to)
    if kind_given and kind_asked:
        raise QuantityError(
            f"{quote(text)} is {KINDS[kind_given].name} and {quote(to)} a unit of "
            f"{bare_name(kind_asked)}: one does not turn into the other. Choose another unit."
        )
    unknown = to if kind_given else unit_text
    raise QuantityError(f"{quote(unknown)} is no unit that is known here. Write one such as kg, psi, C, L or m.")


def _converted_pressure(
    text: str,
    number: str,
    given: tuple[Unit, Reference | None],
    wanted: tuple[Unit, Reference | None],
    atmosphere_pa: float | None,
) -> tuple[float, str, str]:
    (unit, mark), (target, target_mark) = given, wanted
    words = tuple(marked(one, ref) if ref else one.word for one, ref in (given, wanted))
    if target_mark or mark:
        mark = mark or ("absolute" if unit.word == "micron" else None)
        target_mark = target_mark or ("absolute" if target.word == "micron" else None)
    if mark == target_mark:
        return float(in_unit(number, unit.pint, target.pint)), words[0], words[1]
    if mark is None or target_mark is None:
        raise QuantityError(
            f"{quote(text)} to {words[1]}: one side says gauge, absolute or vacuum and the other does not. "
            "Write it on both, such as psig and bara."
        )
    if atmosphere_pa is None:
        raise QuantityError(f"{quote(text)} to {words[1]} needs the local atmosphere. Give the height above the sea.")
    size_pa = float(in_unit(number, unit.pint, "pascal"))
    pa = {"absolute": size_pa, "gauge": atmosphere_pa + size_pa, "vacuum": atmosphere_pa - size_pa}[mark]
    if pa < 0:
        raise QuantityError(
            f"{quote(text)} is below zero absolute: the local atmosphere is {atmosphere_pa:.0f} Pa. "
            "Check the unit and the gauge."
        )
    out_pa = {"absolute": pa, "gauge": pa - atmosphere_pa, "vacuum": atmosphere_pa - pa}[target_mark]
    return out_pa / float(unit_factor(target.pint, "pascal")), words[0], words[1]
