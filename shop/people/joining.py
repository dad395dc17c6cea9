"""Two records of one vehicle: joined, and parted again, without touching a line of the book.

The accounts stay as they are and are read together. The visits of the joined record go on under the kept one. What the
book found in one record though the other one held it was counted twice: one line of its own takes it out again.
"""

from collections.abc import Iterable
from datetime import UTC, datetime

from django.db import transaction
from django.db.models import Max

from inventory import causes
from inventory.acts import joining
from inventory.book import ledger
from inventory.book.draft import Draft, Line
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.models import Account, Movement
from shop.models import Joining, User, Vehicle, Visit

FOUND = "found-in-vehicle"


def counted_twice(one: Account, kept: Account) -> dict[str, int]:
    """Return what was found in one of two records though the other one held it, by refrigerant, in milligrams.

    That is what would not have been posted, had they been one record from the start.
    """
    unit = dict.fromkeys(kept.together().values_list("pk", flat=True), "kept") | {one.pk: "joined"}
    standing = Movement.objects.standing()
    rows = standing.filter(source__in=unit) | standing.filter(target__in=unit)
    held: dict[tuple[str, str], int] = {}
    twice: dict[str, int] = {}
    for line in rows.select_related("entry").order_by("entry__occurred_at", "entry__seq", "line"):
        code, mass_mg = line.refrigerant, int(line.mass_mg)
        if line.cause == FOUND:
            here = max(held.get((unit[line.target_id], code), 0), 0)
            whole = sum(mass for (_, each), mass in held.items() if each == code) - twice.get(code, 0)
            twice[code] = twice.get(code, 0) + max(0, min(mass_mg, whole - here))
        for pk, sign in ((line.source_id, -1), (line.target_id, 1)):
            if pk in unit:
                held[unit[pk], code] = held.get((unit[pk], code), 0) + sign * mass_mg
    return {code: mass_mg for code, mass_mg in twice.items() if mass_mg}


def join(vehicle: Vehicle, kept: Vehicle, act: Act, by: User) -> Joining:
    """Let a record go on under another one; the same request again returns what stands. Raises LedgerError."""
    with transaction.atomic(durable=True):
        book = ledger.lock(kept.account.book)
        known = Joining.objects.filter(vehicle=vehicle, kept=kept).first()
        if known is not None:
            return known
        one, other = (Account.objects.get(pk=each.account_id) for each in (vehicle, kept))
        twice = counted_twice(one, other)
        joining.join(one, other)

        def build(draft: Draft) -> None:
            opening = draft.account(causes.OPENING)
            for code, mass_mg in twice.items():
                draft.move(Line("out-of-sight", other, opening, code, "recovered", mass_mg, "rest"))

        entry = ledger.write(book, act, build) if twice else None
        before, newer = kept.content, _last_line(one) > _last_line(other, but=entry.pk if entry else 0)
        made = Joining.objects.create(vehicle=vehicle, kept=kept, content_before=before, entry=entry, by=by)
        made.visits.set(vehicle.visits.all())
        Visit.objects.filter(vehicle=vehicle).update(vehicle=kept)
        if newer:
            Vehicle.objects.filter(pk=kept.pk).update(content=vehicle.content)
        return made


def part(vehicle: Vehicle, act: Act) -> None:
    """Let a joined record stand by itself again; a visit whose lines went to the kept record since stays there."""
    with transaction.atomic(durable=True):
        book = ledger.lock(vehicle.account.book)
        made = Joining.objects.select_related("kept__account", "entry").filter(vehicle=vehicle).first()
        if made is None:
            raise Refused(f"{vehicle} stands by itself already.")
        if made.entry is not None and not hasattr(made.entry, "reversal"):
            ledger.reverse_locked(book, made.entry, act)
        Visit.objects.filter(pk__in=_own_visits(made)).update(vehicle=vehicle)
        if made.kept.content == vehicle.content:
            Vehicle.objects.filter(pk=made.kept_id).update(content=made.content_before)
        made.delete()
        joining.part(vehicle.account)


def _own_visits(made: Joining) -> Iterable[int]:
    """Return the visits that came along and whose lines are all of the joined record."""
    account = made.kept.account_id
    lines = Movement.objects.filter(source=account) | Movement.objects.filter(target=account)
    taken = lines.filter(entry__steps__visit__in=made.visits.all()).values_list("entry__steps__visit", flat=True)
    return list(made.visits.exclude(pk__in=list(taken)).values_list("pk", flat=True))


def _last_line(account: Account, *, but: int = 0) -> datetime:
    """Return when the last line of an account happened, the one of key `but` not counted."""
    ends = Movement.objects.filter(source=account) | Movement.objects.filter(target=account)
    last = ends.exclude(entry=but).aggregate(last=Max("entry__occurred_at"))["last"]
    return last or datetime.min.replace(tzinfo=UTC)
