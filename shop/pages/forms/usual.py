"""Questions beside what is unusual of a vehicle or of a reading at it, with the slip that was likely made.

`ask_about_step` looks at the fields of a step by what `steps` says of each (`known`, `not_above`); masses and the
inside volume by the vehicle. Nothing is refused: whoever is asked may say that it does read so.
"""

from collections.abc import Callable, Iterable
from typing import Any

from inventory.book.weighing import Gross
from inventory.measure.displays import moved
from inventory.measure.masses import Mass
from inventory.measure.own import Units
from inventory.measure.slips import within
from inventory.measure.typed import Typed
from inventory.pages.fields.quantity import QuantityField
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.slips import ask, slip_choices
from shop.bench.insides import CLASS_OF
from shop.models import Vehicle, Visit, Workshop
from shop.visits import usual
from shop.visits.gas import inside_now, label_of, lines_of, living
from shop.visits.inputs import inside_of, ranges_of
from shop.visits.proofs import recovered
from shop.visits.steps import StepField
from shop.visits.usual import Usual


def ask_about_step(form: PlainForm, fields: Iterable[StepField], vehicle: Vehicle | None, workshop: Workshop) -> None:
    """Ask about what a step's form holds that is unusual; nothing beside a field that has an error already."""
    named, units = {one.name: one for one in fields}, form.units
    for one in named.values():
        if (value := _sound(form, one.name)) is None:
            continue
        known = _known(one, vehicle, workshop)
        other = _sound(form, one.not_above) if one.not_above else None
        if one.type == "mass":
            _ask_about_mass_of_step(form, one, vehicle, workshop)
        elif known is not None and not known[0] <= value.si <= known[1]:
            span = f"{_said(one, known[0], units)} to {_said(one, known[1], units)}"
            words = f"{one.words}: {value.echo} is outside what is likely here ({span}). Is it so?"
            ask(form, one.name, words, likely=within(*known))
        elif other is not None and value.si > other.si:
            beside = named[one.not_above].words
            words = f"{one.words}: {value.echo}. {beside}: {other.echo}. The first is above the second. Is it so?"
            ask(form, one.name, words, likely=within(known[0] if known else 0.0, other.si))


def _ask_about_mass_of_step(form: PlainForm, one: StepField, vehicle: Vehicle | None, workshop: Workshop) -> None:
    """Ask about the mass of a label by the class of the vehicle, about a target by its label too."""
    units = form.units
    if one.name == "tolerance":
        ask_about_tolerance(form, "tolerance", "target" if "target" in form.fields else "mass", units)
    elif vehicle is not None:
        label = one.name == "mass"
        than = usual.of_class(vehicle.vehicle_class) if label else of_vehicle(vehicle, workshop)
        ask_about_mass(form, one.name, than, units)


def of_vehicle(
    vehicle: Vehicle, workshop: Workshop, label_mg: int | None = None, *, recovered: bool = False, code: str = ""
) -> Usual:
    """Return what a vehicle may be filled with: by label (that of its record where none is given), class, volume."""
    mass_mg = label_mg or vehicle.nameplate_mg
    return usual.of_vehicle(
        vehicle.vehicle_class,
        label_kg=mass_mg / 1e6 if mass_mg else None,
        inside=inside_of(vehicle, workshop),
        refrigerant=code or vehicle.refrigerant,
        recovered=recovered,
    )


def ask_about_mass(form: PlainForm, name: str, than: Usual, units: Units) -> None:
    """Ask about a mass of a label or a target that is not usual."""
    mass = _sound(form, name)
    if isinstance(mass, Mass) and mass.mg > 0 and (question := unusual_mass(mass.mg, than, units.small_mass_said)):
        ask(form, name, f"{form.fields[name].label}: {question} {than.asked}", likely=within(than.low_kg, than.high_kg))


def unusual_mass(mass_mg: int, than: Usual, say: Callable[[int | float], str], *, least: bool = True) -> str:
    """Return in a sentence that a mass is more than usual, or (not without `least`) less; empty for any other."""
    more, less = mass_mg > than.high_kg * 1e6, least and mass_mg < than.low_kg * 1e6
    if not more and not less:
        return ""
    span = f"{say(than.low_kg * 1e6)} to {say(than.high_kg * 1e6)}"
    return f"{say(mass_mg)} is {'more' if more else 'less'} than {than.why} ({span})."


def ask_about_tolerance(form: PlainForm, name: str, mass_name: str, units: Units) -> None:
    """Ask about a tolerance that is a large part of the mass it belongs to."""
    tolerance, mass = _sound(form, name), _sound(form, mass_name)
    if not isinstance(tolerance, Mass) or not isinstance(mass, Mass) or not mass.mg:
        return
    most_kg = mass.si * usual.MOST_TOLERANCE
    if tolerance.si > most_kg:
        own, whole = units.small_mass_said(tolerance.mg), units.small_mass_said(mass.mg)
        ask(form, name, f"{own} either way is much beside {whole}. Is it so?", likely=within(0.0, most_kg))


def ask_about_volume(form: PlainForm, name: str, vehicle_class: str, workshop: Workshop) -> None:
    """Ask about an inside volume that is far from what the class of vehicle has."""
    volume, (low, high) = _sound(form, name), volumes_of(vehicle_class, workshop)
    if volume is not None and volume.si > 0 and not low <= volume.si <= high:
        span = f"{form.units.volume_said(low)} to {form.units.volume_said(high)}"
        words = f"{volume.echo} is far from what such vehicles have ({span}). Is it so?"
        ask(form, name, words, likely=within(low, high))


def volumes_of(vehicle_class: str, workshop: Workshop) -> tuple[float, float]:
    """Return between what an inside volume is taken as it was typed, in cubic metres."""
    return usual.volume_range_m3(*ranges_of(workshop)[CLASS_OF.get(vehicle_class, "machine")])


def _known(one: StepField, vehicle: Vehicle | None, workshop: Workshop) -> tuple[float, float] | None:
    """Return between what a reading is likely, in SI; None where nothing is known."""
    if one.type == "volume" and one.name == "volume" and vehicle is not None:
        return volumes_of(vehicle.vehicle_class, workshop)
    return one.known_of(vehicle.refrigerant if vehicle else "")


def _sound(form: Any, name: str) -> Typed | None:
    """Return the quantity of a field that is there and has no error."""
    if name in form.errors or not isinstance(form.fields.get(name), QuantityField):
        return None
    value = form.cleaned_data.get(name)
    return value if isinstance(value, Typed) else None


def _said(one: StepField, si: float, units: Units) -> str:
    if one.type == "pressure":
        return units.pressure_said(si)
    if one.type == "temperature":
        return units.temperature_said(si)
    if one.type == "volume":
        return units.volume_said(si) if si >= 0.001 else units.oil_said(si)
    return f"{si / 3600:g} h"


def leg_doubt(
    form: PlainForm,
    name: str,
    visit: Visit,
    change_mg: int,
    after: Gross | None = None,
    *,
    gains: bool | None = None,
) -> str:
    """Return in a sentence that a leg brings more than the vehicle seems to hold, empty for any other; ask about it.

    `change_mg`: what the cylinder gained (a recovery) or lost (below nothing, a charge); `after` its second reading,
    None where the field `name` says the mass itself; `gains` which of the two this leg is, where that is known. Asked
    in the field whose slip would explain it, in the second where none does, unless it was insisted on: the sentence
    then stands in what is read back. A mass that went the wrong way is asked about where a slip explains it; else the
    act refuses it.
    """
    charged = change_mg < 0 if gains is None else not gains
    mass_mg = -change_mg if charged else change_mg
    if not mass_mg:
        return ""
    legs = lines_of(living(visit, "charge"), "charge") if charged else ()
    earlier_mg = sum(int(one.mass_mg) for one in legs) if charged else round(recovered(visit).grams * 1000)
    code = visit.vehicle.refrigerant if charged else inside_now(visit)
    than = of_vehicle(visit.vehicle, visit.workshop, label_of(visit)[1], recovered=not charged, code=code)
    say = _as_on_the_scale(after, form.units)
    said = unusual_mass(earlier_mg + mass_mg, than, say, least=False)
    if not said and mass_mg > 0:
        return ""
    room_mg = than.high_kg * 1e6 - earlier_mg
    fits = _fitting(name, change_mg, after, room_mg, charged=charged)
    where = next((one for one in fits if one in form.fields and slip_choices(form, one, possible=fits[one])), None)
    if mass_mg < 0:
        way = f"the cylinder would have {'gained' if charged else 'lost'} {say(-mass_mg)}"
        if where is not None:
            ask(form, where, f"{'Charged' if charged else 'Recovered'}? By these readings {way}.", likely=fits[where])
        return ""
    whole = f"{'Charged' if charged else 'Recovered'} in all by this: "
    ask(form, where or name, f"{whole}{said} {than.asked}", likely=fits[where or name])
    return f"{whole}{said}"


def _fitting(
    name: str, change_mg: int, after: Gross | None, room_mg: float, *, charged: bool
) -> dict[str, Callable[[Mass], bool]]:
    """Return by field whether another value there would make a leg one that the vehicle can hold."""
    if after is None:
        return {name: lambda value: 0 < value.mg <= room_mg}
    sign, after_mg, before_mg = -1 if charged else 1, after.gross_mg, after.gross_mg - change_mg
    return {
        name: lambda value: 0 < sign * (value.mg - before_mg) <= room_mg,
        "before": lambda value: 0 < sign * (after_mg - value.mg) <= room_mg,
    }


def _as_on_the_scale(after: Gross | None, units: Units) -> Callable[[int | float], str]:
    """Return how a mass of a leg is said: in the unit of its scale, as a machine's in the book's."""
    if after is None:
        return units.small_mass_said
    unit = "kg" if after.scale.step.unit in ("kg", "g") else "lb"
    return lambda mg: moved(round(mg), unit)
