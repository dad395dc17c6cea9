"""What is asked before a charge is written that may be a mistake, and said before a circuit is opened.

What has happened is never refused: it is asked.
"""

from collections.abc import Callable
from datetime import datetime

from django.utils import timezone

from inventory.book.weighing import Gross
from inventory.causes import VEHICLE
from inventory.gases.catalogue import MIXED
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.models import Account, Cylinder, Movement, Weighing
from inventory.shelf.queries import content_of
from shop.bench.residue import EMPTIED, UNLESS_COLD
from shop.models import Vehicle, Visit
from shop.visits import endings
from shop.visits.gas import built_for, gas_of, held_in, label_of, living
from shop.visits.usual import is_past_label

RULES_OF_CHARGES: list[Callable[[str, str, str, datetime], str]] = []
"""What floors above know of rules on gas that is charged: by jurisdiction, refrigerant, grade and time, or empty."""
RECOVERED = ("recovery", "recovery-through-machine")
ASKED_IF_IT_WAS = "Was it charged so? Then write it."


def charge_in_doubt(visit: Visit, cylinder: Cylinder, *, elsewhere: bool = False) -> str:
    """Return what is asked before a charge from `cylinder` is written; empty where nothing is odd about it.

    `elsewhere`: it is entered away from the visit, whose log is not in sight: then a content that nobody has looked
    at is asked about too.
    """
    found = [_content_unknown(visit)] if elsewhere else []
    if (held := content_of(cylinder.account)) is not None:
        code, grade, _ = held
        of_gas = _gas_in_doubt(cylinder, code, grade) or _untreated_in_doubt(visit, cylinder, code, grade)
        found = [of_gas, _other_gas(visit, cylinder, code), *found]
    return " ".join(filter(None, found))


def past_label(visit: Visit, charged_mg: int, say: Callable[[int], str]) -> str:
    """Return what is asked before a charge comes onto what the book has in a vehicle, and both pass its label; else "".

    Masses are milligrams; `say` puts them in words.
    """
    held = {code: mass for code, mass in held_in(visit.vehicle).items() if mass > 0}
    label_code, label_mg = label_of(visit)
    inside_mg = sum(held.values())
    if label_mg is None or not is_past_label(inside_mg, charged_mg, label_mg):
        return ""
    inside = " and ".join(f"{say(mass)} {code}" for code, mass in held.items())
    label = f"its label for {label_code}" if label_code not in ("", visit.vehicle.refrigerant) else "its label"
    with_it = f"With {say(charged_mg)} more it has {say(inside_mg + charged_mg)}, and {label} says {say(label_mg)}."
    return (
        f"By the book {visit.vehicle} has {inside} in it. {with_it} Was some of it recovered, lost or leaked and is "
        "not entered? Is the target or the vehicle another?"
    )


def read_again(cylinder: Cylinder, before: Gross, after: Gross) -> str:
    """Return what is asked where both readings of a leg are the last two of the cylinder, and not alike; else empty."""
    last = list(
        Weighing.objects.standing().filter(account=cylinder.account).order_by("-id").select_related("entry")[:2]
    )
    same = [one.gross_mg for one in last] == [after.gross_mg, before.gross_mg] != [before.gross_mg, after.gross_mg]
    if not same or {one.scale_id for one in last} != {before.scale.pk}:
        return ""
    line = last[0].entry.seq
    return f"These are the readings of line {line} once more. Did gas move again by just these? Then write it."


def untreated(visit: Visit, cylinder: Cylinder) -> str:
    """Return what is said of gas that was recovered and that nobody has cleaned; empty of any other."""
    held = content_of(cylinder.account)
    if held is None or held[1] != "recovered":
        return ""
    others = [one for one in _came_out_of(cylinder, held[2]) if one not in visit.vehicle.account.together()]
    whose = ", and came at least in part out of another vehicle" if others else ""
    words = f"{cylinder} holds {held[0]} that was recovered and that nobody has recycled or reclaimed{whose}."
    return f"{words} It may hold air, oil, water and another gas."


def _untreated_in_doubt(visit: Visit, cylinder: Cylinder, code: str, grade: str) -> str:
    """Return what is asked before untreated gas is charged, by what a rule of the jurisdiction says; empty else."""
    if grade != "recovered":
        return ""
    now = timezone.now()
    said = [rule for ask in RULES_OF_CHARGES if (rule := ask(visit.workshop.jurisdiction, code, grade, now))]
    return " ".join((untreated(visit, cylinder), *said, ASKED_IF_IT_WAS)) if said else ""


def _came_out_of(cylinder: Cylinder, held_mg: int) -> list[int]:
    """Return the accounts of the vehicles that the newest lines say its content came out of."""
    lines = Movement.objects.standing().filter(target=cylinder.account, cause__in=RECOVERED)
    found, left_mg = [], held_mg
    for source, kind, mass_mg in lines.order_by("-entry__seq").values_list("source", "source__kind", "mass_mg"):
        if left_mg > 0 and kind == VEHICLE:
            found.append(source)
        left_mg -= mass_mg
    return found


def _gas_in_doubt(cylinder: Cylinder, code: str, grade: str) -> str:
    """Return what is to be said before a content that is mixed or suspect is charged; empty for any other."""
    if code != MIXED and grade != "suspect":
        return ""
    what = "a mixture" if code == MIXED else f"{code} that is suspect: it may be another gas, or hold air"
    return (
        f"{cylinder} holds {what}. Such gas goes to be reclaimed or destroyed, into no vehicle. "
        "Is it this cylinder that was charged from? If it was, write it: the vehicle’s content is then in doubt too."
    )


def recovery_in_doubt(visit: Visit) -> str:
    """Return what is said before gas that nobody has a name for is written as recovered; empty where it has one."""
    gas = gas_of(visit)
    if gas.grade != "suspect":
        return ""
    return (
        f"What is in {visit.vehicle} has no name: it is written as {gas.refrigerant}, suspect, to be reclaimed or "
        "destroyed. Read the label or use an identifier first where you can."
    )


def late_charge_in_doubt(account: Account, code: str, grade: str) -> str:
    """Return what is asked before a charge that nobody wrote down is put into a vehicle; empty where nothing is odd."""
    vehicle = Vehicle.objects.filter(account=account).select_related("account").first()
    if vehicle is None:
        return ""
    held = f"What is missing is {code} {grade}"
    found = [_another(vehicle, vehicle.refrigerant, code, held, "and no label was read")]
    if grade == "suspect":
        found.append(f"{held}, and such gas goes into no vehicle. {ASKED_IF_IT_WAS}")
    return " ".join(sentence for sentence in found if sentence)


def _other_gas(visit: Visit, cylinder: Cylinder, code: str) -> str:
    if code == MIXED:
        return ""
    unread = f"and no label was read in visit {visit.number}"
    return _another(visit.vehicle, built_for(visit), code, f"{cylinder} holds {code}", unread)


def _another(vehicle: Vehicle, meant: str, code: str, held: str, unread: str) -> str:
    """Return the question where `code` is not what a vehicle is for, or nothing says what it is for."""
    if meant == code:
        return ""
    if not meant:
        return (
            f"Nothing says which refrigerant {vehicle} is for: none is entered, {unread}. {held}. Look at the label. "
            f"{ASKED_IF_IT_WAS}"
        )
    return (
        f"{vehicle} is for {meant}. {held}. Is it this gas and this vehicle? {ASKED_IF_IT_WAS} What is then in the "
        "vehicle is another gas than its label says, or a mixture."
    )


def _content_unknown(visit: Visit) -> str:
    if visit.vehicle.content != "unknown" or living(visit, "recovery") or living(visit, "vacuum hold"):
        return ""
    return (
        f"What was in {visit.vehicle} before is not known: in visit {visit.number} nothing was recovered and no vacuum "
        f"was held. Is it this vehicle? {ASKED_IF_IT_WAS} It then holds at least what was charged."
    )


def may_hold_gas(visit: Visit) -> bool:
    """Whether only part was recovered: not so of a circuit that stands emptied, with the wait or still without it."""
    if visit.vehicle.content != "part recovered":
        return False
    rest = endings.rest_of(visit, visit.workshop.air.pressure_pa)
    return rest is None or rest.state not in (EMPTIED, UNLESS_COLD)


def wait_first(visit: Visit, units: Units) -> str:
    """Return what is to be done before a circuit is opened that stands low and was not waited for; empty else."""
    rest = endings.rest_of(visit, visit.workshop.air.pressure_pa)
    if visit.vehicle.content != "part recovered" or rest is None or rest.state != UNLESS_COLD:
        return ""
    return in_own_units(rest.sentence, units)
