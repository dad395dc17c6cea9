"""Addresses of pages below the workshop, where this floor does not know whether a page exists.

Vehicles and visits live on the floor above; their pages are named here as plain words and left out where they are not
installed.
"""

from collections.abc import Mapping
from urllib.parse import urlencode

from django.urls import NoReverseMatch, reverse

from inventory.access import Access
from inventory.models import Account, Cylinder

PAGE_OF_KIND = {"cylinder": "cylinder", "partner": "partner", "vehicle": "vehicle"}


def address(access: Access, name: str, *args: object, query: Mapping[str, object] | None = None) -> str:
    """Return the address of the page `name` of this workshop; empty where there is no such page."""
    try:
        found = reverse(name, args=[access.slug, *args])
    except NoReverseMatch:
        return ""
    return f"{found}?{urlencode(query)}" if query else found


def of_account(access: Access, account: Account) -> str:
    """Return the address of what stands behind an account; of a single account, its lines."""
    page = PAGE_OF_KIND.get(account.kind)
    if page is not None:
        return address(access, page, account.number)
    return address(access, "entries", query={"account": account.number})


def of_context(access: Access, context: str) -> tuple[str, str]:
    """Return the words and the address for what an entry belongs to, such as ``visit:214``; empty where nothing."""
    kind, _, number = context.partition(":")
    if kind == "visit" and number.isdigit():
        return f"visit {number}", address(access, "visit", int(number))
    if kind == "cylinder" and number.isdigit():
        return f"cylinder {number}", address(access, "cylinder", int(number))
    return "", ""


def of_label(origin: str, cylinder: Cylinder) -> str:
    """Return the address that a cylinder's label bears, in capitals: they make a smaller code.

    `origin` is where the pages are reached, such as ``https://book.lan``.
    """
    return f"{origin.rstrip('/')}/C/{cylinder.label}".upper()
