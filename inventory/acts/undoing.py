"""An entry is undone, reversed once and whole, or an old reading in it is put right: reversed and written anew.

The cylinders of an entry reversed are what they were before it. Later weighings of a cylinder still hold: what the
reversal would change of it is balanced to *unexplained*, against the difference that the slip had caused.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from uuid import uuid5

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from inventory import causes
from inventory.acts import away, undoing
from inventory.acts.away import WROTE_OFF
from inventory.acts.describing import become
from inventory.book import emptymass, ledger
from inventory.book.draft import Build, Draft, Line, Reading
from inventory.book.holdings import Balances
from inventory.book.ledger import Act
from inventory.book.refusals import NotEnoughHeld, Refused
from inventory.models import Account, Book, Cylinder, Entry, Movement, Tare, Weighing

UNDONE: list[Callable[[Entry, Entry | None], None]] = []
"""What floors above do in the same transaction when a line was reversed: the line, and the one written anew for it."""

SENT = ("sent-away", "heel-returned", "passed-on")
CAME = ("came-back", "returned-reclaimed", "turned-up")
ANEW = "anew"  # what `Act.derived` makes the key of a line from that takes another's place


def reverse(book: Book, act: Act, entry: Entry) -> Entry:
    """Answer a mistake: one entry undone, once and whole; both lines stay.

    Its cylinders are again what they were before it: on the shelf or away, for their gas, with their empty mass. Later
    weighings of them still hold.
    """
    if entry.movements.filter(cause__in=away.SISTER_CAUSES).exists():
        raise Refused("A move between workshops stands in two books: move the cylinder back instead.")
    with transaction.atomic(durable=True):
        locked = ledger.lock(book)
        if Entry.objects.filter(book=locked, request_key=act.key).exists():
            return ledger.reverse_locked(locked, entry, act)  # pressed before; its cylinders were seen to then
        reversal, _ = undo(locked, act, entry)
        _put_back(entry)
        told(entry, None)
        return reversal


def told(entry: Entry, again: Entry | None) -> None:
    """Let the floors above follow a line that was reversed, and the one written anew for it."""
    for follow in UNDONE:
        follow(entry, again)


def _put_back(entry: Entry) -> None:
    """Let the cylinders of a reversed entry be what they were before it."""
    for tare in Tare.objects.filter(since=entry.occurred_at, cylinder__account__weighings__entry=entry).distinct():
        _tare_before(tare)
    moved = [account.pk for account in effects_of(movements_of(entry))]
    balances = Balances()
    theirs = Q(account__in=moved) | Q(consignments__entry=entry)
    for cylinder in Cylinder.objects.filter(theirs).select_related("account").distinct():
        content = balances.content(cylinder.account)
        state = _state_before(entry, cylinder, empty=content is None)
        if state != cylinder.state:
            cylinder.turn(state)
        if content is not None and content[:2] != (cylinder.refrigerant, cylinder.grade):
            become(cylinder, *content[:2])


def _state_before(entry: Entry, cylinder: Cylinder, *, empty: bool) -> str:
    """Return the state of a cylinder without an entry that took it off the shelf or put it there."""
    own = entry.movements.touching(cylinder.account)
    gone = cylinder.is_gone
    if gone and (own.filter(cause__in=WROTE_OFF).exists() or cylinder.consignments.filter(entry=entry).exists()):
        return "suspect" if cylinder.grade == "suspect" else "ready"
    if gone or not empty or not own.filter(cause__in=CAME).exists():
        return str(cylinder.state)
    last = Movement.objects.standing().filter(source=cylinder.account, cause__in=(*WROTE_OFF, *SENT))
    left = last.order_by("-id").first()
    if left is None:
        return str(cylinder.state)
    return "done with" if left.cause in WROTE_OFF else "away"


def _tare_before(tare: Tare) -> None:
    """Give a cylinder the empty mass that it had before `tare`, unless that is its first or was corrected again."""
    cylinder = tare.cylinder
    before = cylinder.tares.filter(pk__lt=tare.pk).order_by("-pk").first()
    if before is None or cylinder.tares.filter(pk__gt=tare.pk).exists():
        return
    if tare.source == Cylinder.RECKONED and ledger.last_weighing(cylinder.account) is not None:
        return  # a later reading rests on it
    cylinder.tare_mg, cylinder.tare_u_mg, cylinder.tare_source = before.tare_mg, before.u_mg, before.source
    emptymass.keep(cylinder, timezone.now())


def undo(
    book: Book, act: Act, entry: Entry, *, more_by: Mapping[Account, int] | None = None, anew: Build | None = None
) -> tuple[Entry, Entry | None]:
    """Reverse an entry and write what takes its place, so that a cylinder weighed since holds what it held.

    `anew` builds the new lines; `more_by` is how much more they leave in each cylinder than the old ones did. Where the
    entry had filled the cylinder, the new line is written first: the reversal needs the mass to be there.
    """
    effects = effects_of(movements_of(entry))
    changed = {account: -more_by.get(account, 0) for account in effects} if more_by is not None else effects
    balances = {account: mass for account, mass in changed.items() if mass and stands_later(account, entry)}

    def build(draft: Draft) -> None:
        if anew is not None:
            anew(draft)
        for account, mass_mg in balances.items():
            _balance(draft, account, mass_mg, entry)

    def follow() -> Entry | None:
        return ledger.write_locked(book, act.derived(ANEW), build) if anew or balances else None

    def reverse_first() -> tuple[Entry, Entry | None]:
        return ledger.reverse_locked(book, entry, act), follow()

    def follow_first() -> tuple[Entry, Entry | None]:
        again = follow()
        return ledger.reverse_locked(book, entry, act), again

    filled = any(effect > 0 for effect in effects.values())
    first, second = (follow_first, reverse_first) if filled else (reverse_first, follow_first)
    try:
        with transaction.atomic():
            return first()
    except NotEnoughHeld:
        return second()


def movements_of(entry: Entry) -> list[Movement]:
    """Return the movements of an entry in their order, with what they run between."""
    return list(entry.movements.select_related("source", "target", "scale").order_by("line"))


def effects_of(moved: Iterable[Movement | Line]) -> dict[Account, int]:
    """Return by how much lines change what each cylinder holds, in milligrams."""
    effects: dict[Account, int] = {}
    for one in moved:
        for account, sign in ((one.source, -1), (one.target, 1)):
            if account.kind == causes.CYLINDER:
                effects[account] = effects.get(account, 0) + sign * int(one.mass_mg)
    return effects


def stands_later(account: Account, entry: Entry) -> bool:
    """Whether a cylinder was weighed after an entry."""
    last = ledger.last_weighing(account)
    return last is not None and last.entry.seq > entry.seq


def _balance(draft: Draft, account: Account, mass_mg: int, entry: Entry) -> None:
    """Post what keeps a cylinder at its later weighing; positive is put back into it from *unexplained*."""
    moved = entry.movements.touching(account).order_by("-line").first()
    assert moved is not None  # noqa: S101 - for the type: the entry changed what the account holds
    source, target = draft.account(causes.UNEXPLAINED), account
    if mass_mg < 0:
        source, target = target, source
    content, caused = (moved.refrigerant, moved.grade, abs(mass_mg)), _next_difference(account, entry)
    draft.move(Line("balance-after-correction", source, target, *content, "computed", explains=caused))


def _next_difference(account: Account, entry: Entry) -> Movement | None:
    """Return the first weighing difference of a cylinder after an entry: the one that a slip in it went into."""
    later = Movement.objects.standing().filter(cause="weighing-difference", entry__seq__gt=entry.seq, book=entry.book)
    return later.touching(account).order_by("entry__seq").first()


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
