"""A difference is accounted for, and what comes out of a vehicle beyond the book; the book closed through a day."""

from datetime import date
from zoneinfo import ZoneInfo

from django.utils import timezone

from inventory import causes
from inventory.book import differences, ledger
from inventory.book.draft import Draft, Line
from inventory.book.ledger import one_entry
from inventory.book.refusals import Refused
from inventory.book.weighing import parts_mg
from inventory.measure import uncertainty
from inventory.measure.figures import show_mass
from inventory.models import Account, Book, Entry, Movement


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


@one_entry(Entry.CLOSE)
def close_through(draft: Draft, day: date) -> None:
    """Close the book through a day: nothing counts for it any more; later corrections count on the day of writing."""
    closed_through = draft.book.closed_through
    if day >= timezone.now().astimezone(ZoneInfo(draft.book.zone)).date():
        raise Refused(f"{day} is not over yet: a book is closed through a day that has passed.")
    if closed_through is not None and day <= closed_through:
        raise Refused(f"The book is closed through {closed_through} already.")
    draft.context = f"{ledger.CLOSED}{day.isoformat()}"  # so that the chain holds the day
    draft.then(lambda _: _set_closed(draft.book, day))


def _set_closed(book: Book, day: date) -> None:
    book.closed_through = day
    book.save(update_fields=["closed_through"])
