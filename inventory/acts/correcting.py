"""An old reading after a charge or a recovery is put right: its line is reversed and written anew."""

from collections.abc import Sequence
from dataclasses import replace
from uuid import uuid5

from django.db import transaction

from inventory import causes
from inventory.acts import undoing
from inventory.book import ledger
from inventory.book.draft import Balances, Draft, Line, Reading
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.models import Account, Book, Entry, Movement, Weighing

APART = ("weighing-difference", "re-identified")  # they stand beside what the reading after has measured


def correct_after(book: Book, act: Act, entry: Entry, *, gross_mg: int, typed: str) -> tuple[Entry, Entry]:
    """Put an old reading after a charge or a recovery right; returns the reversal and the line written anew.

    `typed` is the corrected reading as typed. Later weighings of the cylinder still hold: the rest is balanced to
    *unexplained* against the difference that the slip had caused.
    """
    with transaction.atomic(durable=True):
        locked = ledger.lock(book)
        old = entry.weighings.select_related("account", "scale").filter(role=Weighing.AFTER).last()
        if old is None:
            raise Refused(f"Line {entry.seq} has no reading after; reverse it instead.")
        shift_mg = gross_mg - int(old.gross_mg)
        if shift_mg == 0:
            raise Refused(f"Line {entry.seq} has this reading already.")
        act = replace(act, occurred_at=entry.occurred_at)  # it counts for then, and is listed as late
        movements = undoing.movements_of(entry)
        lines = _lines_anew(movements, old, shift_mg)
        before, after = undoing.effects_of(movements), undoing.effects_of(lines)
        more_by = {account: after.get(account, 0) - effect for account, effect in before.items()}

        def build(draft: Draft) -> None:
            for line in lines:
                draft.move(line)
            draft.context = entry.context
            if not undoing.stands_later(old.account, entry):
                tare_mg, u_mg = int(old.tare_mg), int(old.u_mg)
                draft.read(Reading(old.account, old.role, gross_mg, tare_mg, u_mg, old.scale, typed[:60]))

        reversal, again = undoing.undo(locked, act, entry, more_by=more_by, anew=build)
        assert again is not None  # noqa: S101 - for the type: a line written anew is never empty
        undoing.told(entry, again)
        return reversal, again


def written_anew(reversal: Entry) -> Entry:
    """Return the line that `correct_after` wrote anew with a reversal; the reversal itself where there is none."""
    key = uuid5(reversal.request_key, undoing.ANEW)
    return Entry.objects.filter(book=reversal.book, request_key=key).first() or reversal


def _lines_anew(movements: Sequence[Movement], old: Weighing, shift_mg: int) -> list[Line]:
    """Return the lines of an entry with what a corrected reading makes of the mass that it measured."""
    gave = any(one.source_id == old.account_id for one in movements if one.cause not in APART)
    lines = []
    for movement in movements:
        mass_mg = int(movement.mass_mg)
        if movement.cause not in APART:
            mass_mg += -shift_mg if gave else shift_mg
        if mass_mg <= 0 and movement.cause == "found-in-vehicle":
            continue  # what came out was in the vehicle by the book already
        if mass_mg <= 0:
            raise Refused("By this reading nothing would have moved. Reverse the line instead.")
        lines.append(replace(Line.of(movement), mass_mg=mass_mg, explains=None))
    return _with_found(lines, shift_mg)


def _with_found(lines: list[Line], shift_mg: int) -> list[Line]:
    """Add what must have been in the vehicle beyond the book, where a recovery was of more than it held."""
    recovered = next((line for line in lines if line.cause == "recovery"), None)
    if recovered is None or shift_mg <= 0 or any(line.cause == "found-in-vehicle" for line in lines):
        return lines
    content = (recovered.refrigerant, "")
    found_mg = shift_mg - max(Balances().of(recovered.source).get(content, 0), 0)
    if found_mg <= 0:
        return lines
    opening = Account.objects.get(book=recovered.source.book_id, kind=causes.OPENING)
    found = replace(
        recovered, cause="found-in-vehicle", source=opening, target=recovered.source, mass_mg=found_mg, scale=None
    )
    return [found, *lines]
