"""A difference is accounted for, and what comes out of a vehicle beyond what the book put in."""

from inventory import causes
from inventory.acts.writing import one_entry
from inventory.book import differences
from inventory.book.draft import Draft, Line
from inventory.book.refusals import Refused
from inventory.book.weighing import parts_mg
from inventory.measure import uncertainty
from inventory.measure.showing import show_mass
from inventory.models import Account, Movement


@one_entry()
def explain(draft: Draft, difference: Movement, *, cause: str, mass_mg: int, vehicle: Account | None = None) -> None:
    """Account for a weighing difference: to air (loss-explained), to or from a vehicle (late-charge, late-recovery)."""
    open_mg = differences.open_mg(difference)
    missing = cause != "late-recovery"
    if (open_mg > 0) != missing or abs(open_mg) < mass_mg or mass_mg <= 0:
        raise Refused(
            f"{show_mass(mass_mg)} cannot be explained: {show_mass(abs(open_mg))} of this difference is open."
        )
    if cause != "loss-explained" and vehicle is None:
        raise Refused("Name the vehicle.")
    unexplained, content = draft.account(causes.UNEXPLAINED), (difference.refrigerant, difference.grade, mass_mg)
    if cause == "late-recovery":
        assert vehicle is not None  # noqa: S101 - for the type; refused above
        found_in_vehicle(draft, vehicle, *content, "rest")
        draft.move(Line(cause, vehicle, unexplained, *content, "rest", explains=difference))
        return
    target = vehicle if cause == "late-charge" and vehicle is not None else draft.account(causes.AIR)
    draft.move(Line(cause, unexplained, target, *content, "rest", explains=difference))


def found_in_vehicle(
    draft: Draft, vehicle: Account, code: str, grade: str, mass_mg: int, basis: str, u: uncertainty.U | None = None
) -> int:
    """Post what comes out of a vehicle beyond what the book put in; return that mass in milligrams."""
    held_mg = draft.balances.together(vehicle).get((code, ""), 0)
    found_mg = mass_mg - max(held_mg, 0)
    if found_mg <= 0:
        return 0
    parts = parts_mg(u) if u else (0, 0)
    draft.move(Line("found-in-vehicle", draft.account(causes.OPENING), vehicle, code, grade, found_mg, basis, *parts))
    return found_mg
