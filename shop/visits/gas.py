"""What a visit's steps say about the gas and the oil in the vehicle, so that nothing is asked twice."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from inventory.gases.catalogue import MIXED
from inventory.measure.units import unit_factor
from inventory.models import Movement
from shop.models import Step, Vehicle, Visit
from shop.visits import steps
from shop.visits.kinds import BY_NAME
from shop.visits.steps import si_of, text_of

PURE = Decimal("0.98")
OIL_OUT = (("recovery", "oil_out"), ("part out", "oil_found"))
OIL_IN = (("part in", "oil_in"),)
OUNCE, MILLILITRE = "fl oz", "mL"
PINT = {OUNCE: "fluid_ounce", MILLILITRE: "milliliter"}


@dataclass(frozen=True)
class FromVehicle:
    """What comes out of a vehicle: its designation and grade as known, the parts an identifier showed, if it did."""

    refrigerant: str
    grade: str = "recovered"
    parts: Mapping[str, str] | None = None


def reversed_by(step: Step) -> int | None:
    """Return the number of the line that reversed a step's line; None where none did."""
    reversal = getattr(step.entry, "reversal", None) if step.entry else None
    return reversal.seq if reversal else None


def standing(visit: Visit) -> list[Step]:
    """Return the steps that were neither replaced nor reversed, in their order, from fetched rows."""
    rows = list(visit.steps.all())
    replaced = {step.replaces_id for step in rows}
    return [step for step in rows if step.pk not in replaced and not reversed_by(step)]


def living(visit: Visit, kind: str) -> list[Step]:
    """Return the steps of one kind that stand, in their order, from fetched rows."""
    return [step for step in standing(visit) if step.kind == kind]


def lines_of(rows: Iterable[Step], *causes: str) -> list[Movement]:
    """Return the movements that fetched steps wrote for one of these causes."""
    return [one for step in rows if step.entry for one in step.entry.movements.all() if one.cause in causes]


def answered(step: Step) -> steps.Data:
    """Return what a step says, without what its other answers do not ask for."""
    return steps.applicable(BY_NAME.get(step.kind), step.data)


def gas_of(visit: Visit) -> FromVehicle:
    """Return what comes out of the vehicle: by the identifier where one was used, else as the record says.

    Below 98 % of one refrigerant (air not counted) it is a mixture and suspect; so is what nobody has a name for. What
    was identified before a charge says nothing of what came in by it.
    """
    parts = {} if _charged_since_identified(visit) else identified_parts(visit)
    gases = {code: Decimal(share) for code, share in parts.items() if code != "air"}
    if gases:
        code, share = max(gases.items(), key=lambda one: one[1])
        if share / sum(gases.values()) >= PURE:
            return FromVehicle(code, "recovered", parts)
        return FromVehicle(MIXED, "suspect", parts)
    held = [code for code, mass_mg in held_in(visit.vehicle).items() if mass_mg > 0]
    code = held[0] if len(held) == 1 else inside_now(visit)
    return FromVehicle(code or MIXED, "recovered" if code else "suspect", None)


def _charged_since_identified(visit: Visit) -> bool:
    rows = standing(visit)
    last = max((at for at, step in enumerate(rows) if step.kind == "identified"), default=-1)
    return bool(lines_of(rows[last + 1 :], "charge"))


def inside_now(visit: Visit) -> str:
    """Return what is in a vehicle as far as the visit says: what was charged, else what came, else what it is for.

    A conversion alone puts nothing in.
    """
    charged = lines_of(standing(visit), "charge")
    if charged:
        return charged[-1].refrigerant
    return (at_arrival(visit).refrigerant if living(visit, "conversion done") else "") or built_for(visit)


def gas_at(step: Step) -> str:
    """Return the refrigerant by which a step is judged: charged or converted to before it in its visit, else arrived.

    A step that is not written yet comes after all that are.
    """
    before, _ = _around(step)
    return next(filter(None, map(_came_by, reversed(before))), "") or at_arrival(step.visit).refrigerant


def gas_to_come(step: Step) -> str:
    """Return the refrigerant that a leak seen by nitrogen or vacuum lets go: what comes in next, else `gas_at`."""
    _, after = _around(step)
    return next(filter(None, map(_came_by, after)), "") or gas_at(step)


def _around(step: Step) -> tuple[list[Step], list[Step]]:
    rows = standing(step.visit)
    place = rows.index(step) if step in rows else len(rows)
    return rows[:place], rows[place + 1 :]


def _came_by(step: Step) -> str:
    """Return the refrigerant that a step put in, or said that the vehicle is for from then on; empty of any other."""
    if charged := lines_of([step], "charge"):
        return charged[-1].refrigerant
    return text_of(answered(step), "to") if step.kind == "conversion done" else ""


def built_for(visit: Visit) -> str:
    """Return the refrigerant that the system is for: by the vehicle's record, else by the label; empty if not known."""
    return visit.vehicle.refrigerant or labelled(visit)


def meant_in(visit: Visit) -> str:
    """Return the refrigerant that a vehicle was for in this visit, by its record before a later conversion."""
    vehicle = visit.vehicle
    turned_elsewhere = vehicle.original_refrigerant and not living(visit, "conversion done")
    return (at_arrival(visit).refrigerant if turned_elsewhere else "") or vehicle.refrigerant


def labelled(visit: Visit) -> str:
    """Return the refrigerant of the label as it was read in this visit; empty where none was."""
    labels = living(visit, "label read")
    return text_of(answered(labels[-1]), "refrigerant") if labels else ""


def label_of(visit: Visit) -> tuple[str, int | None]:
    """Return the refrigerant and the mass (mg) of the label: as read in this visit, else as the record has it.

    The mass of the record is that of the label the vehicle came with, also after a conversion.
    """
    vehicle, labels = visit.vehicle, living(visit, "label read")
    data = answered(labels[-1]) if labels else {}
    code = vehicle.original_refrigerant or vehicle.refrigerant or text_of(data, "refrigerant")
    if mass := data.get("mass"):
        return text_of(data, "refrigerant") or code, int(mass["mg"])
    return code, vehicle.nameplate_mg


def identified_parts(visit: Visit) -> dict[str, str]:
    """Return the mass fractions that an identifier showed in this visit; empty where none was used."""
    found = living(visit, "identified")
    shares = si_of(answered(found[-1]), "shares") if found else None
    return dict(shares) if shares else {}


def held_in(vehicle: Vehicle) -> dict[str, int]:
    """Return what the book has in a vehicle by refrigerant, in milligrams, from fetched rows; joined records count."""
    held: dict[str, int] = {}
    for account in (vehicle.account, *vehicle.account.joined.all()):
        for row in account.holdings.all():
            held[row.refrigerant] = held.get(row.refrigerant, 0) + int(row.mass_mg)
    return {code: mass for code, mass in sorted(held.items()) if mass}


@dataclass(frozen=True)
class AtArrival:
    """What the book said of the vehicle when the visit was opened; masses in milligrams by refrigerant."""

    refrigerant: str
    content: str
    held_mg: dict[str, int]

    @property
    def known_g(self) -> float | None:
        """The mass that the book itself charged into an evacuated vehicle, None where it is not known."""
        total = sum(self.held_mg.values())
        return total / 1000 if self.content == "known" and total > 0 else None


def at_arrival(visit: Visit) -> AtArrival:
    """Return what the book said at arrival; of a visit that kept none, what the vehicle's record says now."""
    received = living(visit, "received")
    kept = received[0].data.get(steps.HELD_BACK_AS) if received else None
    if kept:
        held = {str(code): int(mass) for code, mass in (kept.get("si") or {}).items()}
        return AtArrival(kept.get("refrigerant") or labelled(visit) or _came_with(visit), str(kept["text"]), held)
    return AtArrival(_came_with(visit), "unknown", {})


def _came_with(visit: Visit) -> str:
    """Return the refrigerant by the record before a conversion in this visit, else by the label, else as identified."""
    converted = bool(living(visit, "conversion done"))
    code = visit.vehicle.original_refrigerant if converted else visit.vehicle.refrigerant
    parts = {one: Decimal(share) for one, share in identified_parts(visit).items() if one != "air"}
    return code or labelled(visit) or max(parts, key=lambda one: parts[one], default="")


@dataclass(frozen=True)
class Taken:
    """A volume of oil as a form begins with it, its unit, and in words which steps it was taken from."""

    text: str
    unit: str
    words: str


def oil_taken(visit: Visit) -> dict[str, Taken]:
    """Return the oil out and the oil in, by field of the oil balance; without one of which the log says nothing."""
    found = {"out": _sum(visit, OIL_OUT), "in": _sum(visit, OIL_IN)}
    return {name: one for name, one in found.items() if one is not None}


def _sum(visit: Visit, places: Iterable[tuple[str, str]]) -> Taken | None:
    rows = [
        (step, field) for kind, field in places for step in living(visit, kind) if si_of(step.data, field) is not None
    ]
    if not rows:
        return None
    unit = OUNCE if all(step.data[field].get("unit") == OUNCE for step, field in rows) else MILLILITRE
    total_m3 = sum(float(si_of(step.data, field)) for step, field in rows)
    text = f"{total_m3 / float(unit_factor(PINT[unit], 'meter ** 3')):.4g}"
    return Taken(
        text, unit, f"Taken from the log: {', '.join(_named(*row) for row in rows)}. Change it where it differs."
    )


def _named(step: Step, field: str) -> str:
    """Return "part out (compressor) 20 mL"."""
    text, unit = text_of(step.data, field), str(step.data[field].get("unit", ""))
    part = text_of(step.data, "part")
    named = f"{BY_NAME[step.kind].done.lower()} ({part})" if part else "recovery"
    return f"{named} {text if any(letter.isalpha() for letter in text) else f'{text} {unit}'.strip()}"
