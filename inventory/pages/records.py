"""The record that an address names, of the request's own book; 404 for any other."""

from django.shortcuts import get_object_or_404

from inventory.models import Cylinder, Entry, Partner
from inventory.pages.access import BookRequest


def cylinder_of(request: BookRequest, number: int) -> Cylinder:
    """Return a cylinder by its account's number, or answer 404."""
    rows = Cylinder.objects.select_related("account__book")
    found: Cylinder = get_object_or_404(rows, account__book=request.book, account__number=number)
    return found


def partner_of(request: BookRequest, number: int) -> Partner:
    """Return a partner by its account's number, or answer 404."""
    rows = Partner.objects.select_related("account__book", "account__joined_to")
    found: Partner = get_object_or_404(rows, account__book=request.book, account__number=number)
    return found


def entry_of(request: BookRequest, seq: int) -> Entry:
    """Return a line by its number, or answer 404."""
    rows = Entry.objects.select_related("book", "reversal", "reverses").prefetch_related(
        "movements__source", "movements__target", "weighings__account"
    )
    found: Entry = get_object_or_404(rows, book=request.book, seq=seq)
    return found
