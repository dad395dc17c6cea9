"""Two records of one vehicle or partner, read as one: no line and no account of the book changes.

The joined record's account points at the kept one's. What is read of the kept one counts the lines of both; what is
written new goes to its own account. The pointer can be taken away again.
"""

from django.db import transaction

from inventory.book import ledger
from inventory.book.refusals import Refused
from inventory.causes import PARTNER, VEHICLE
from inventory.models import Account, Partner


def join(other: Account, kept: Account) -> None:
    """Let `other` be read as part of `kept`; under the book's lock. Raises Refused where that cannot be."""
    if other.pk == kept.pk:
        raise Refused("That is this very record. Choose the other one.")
    if other.book_id != kept.book_id or other.kind != kept.kind or kept.kind not in (VEHICLE, PARTNER):
        raise Refused("Only two vehicles, or two partners, of one book can be one.")
    if kept.joined_to_id is not None:
        raise Refused(f"{kept} is joined to {kept.joined_to} itself. Choose that one.")
    if other.joined_to_id is not None:
        raise Refused(f"{other} is joined to {other.joined_to} already.")
    if other.joined.exists():
        raise Refused(f"Others are joined to {other}: join {kept} to it instead, or part them first.")
    other.joined_to = kept
    other.save(update_fields=["joined_to"])


def part(other: Account) -> None:
    """Let a joined record stand by itself again; under the book's lock."""
    other.joined_to = None
    other.save(update_fields=["joined_to"])


def join_partners(other: Partner, kept: Partner) -> None:
    """Let a partner's record go on under another one; pressed twice, it stands. Raises Refused."""
    with transaction.atomic(durable=True):
        ledger.lock(kept.account.book)
        one, to = (Account.objects.select_related("joined_to").get(pk=each.account_id) for each in (other, kept))
        if one.joined_to_id == to.pk:
            return
        if other.sister_id is not None or kept.sister_id is not None:
            raise Refused("A sister workshop has one record, which the moves between the two books need.")
        join(one, to)


def part_partners(other: Partner) -> None:
    """Let a joined partner stand by itself again."""
    with transaction.atomic(durable=True):
        ledger.lock(other.account.book)
        part(other.account)
