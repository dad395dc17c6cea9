"""Suppliers, reclaimers and other parties outside, each with an account of its own in the book."""

from typing import Any

from django.db import transaction

from inventory import causes
from inventory.book import ledger
from inventory.book.refusals import Refused
from inventory.measure import marks
from inventory.models import Account, Book, Partner
from inventory.models.likeness import alike


def add_partner(book: Book, **facts: Any) -> Partner:
    """Enter a supplier, reclaimer or other party outside, with an account of its own in the book."""
    with transaction.atomic(durable=True):
        ledger.lock(book)
        _refuse_second(book, facts["name"], facts["kind"], None)
        account = ledger.open_account(book, causes.PARTNER, facts["name"])
        return Partner.objects.create(account=account, **facts)


def change_partner(partner: Partner, **facts: Any) -> Partner:
    """Put right what a partner is called and where it is; its account's label follows its name."""
    with transaction.atomic(durable=True):
        ledger.lock(partner.account.book)
        _refuse_second(partner.account.book, facts["name"], facts["kind"], partner)
        for name, value in facts.items():
            setattr(partner, name, value)
        partner.save()
        Account.objects.filter(pk=partner.account_id).update(label=partner.name)
        return partner


def _refuse_second(book: Book, name: str, kind: str, own: Partner | None) -> None:
    known = next((p for p in partners_like(book, name, own) if p.kind == kind and marks.same(p.name, name)), None)
    if known is not None:
        raise Refused(f"A {kind} called {known} is in the book already. Open it, or give this one another name.")


def partners_like(book: Book, name: str, own: Partner | None = None) -> list[Partner]:
    """Return the partners that may be meant by a name, the same ones first; not `own` nor one joined to another."""
    rows = Partner.objects.filter(account__book=book, account__joined_to=None).select_related("account")
    return [one for one in alike(rows, "name", name) if own is None or one.pk != own.pk]


def sister_partner(book: Book, sister: Book) -> Partner:
    """Return the partner by which a book knows a sister workshop; entered where it is not there yet."""
    known = Partner.objects.filter(account__book=book, sister=sister).select_related("account__book").first()
    return known or add_partner(book, name=sister.name, kind="sister workshop", sister=sister)
