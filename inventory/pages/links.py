"""Addresses of pages below the workshop, where this floor does not know whether a page exists.

Vehicles and visits live on the floor above; their pages are named here as plain words and left out where they are not
installed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import NoReverseMatch, reverse

from inventory.models import Account
from inventory.models.access import Access
from inventory.shelf.lines import place_of

PAGE_OF_CONTEXT = {"visit": "visit", "cylinder": "cylinder", "vehicle": "vehicle", "line": "entry"}
WITH_GAS, WITHOUT_GAS = "gas", "empty"  # what the page that receives a cylinder is narrowed to by ``only``
PAGE_OF_KIND = {"cylinder": "cylinder", "partner": "partner", "vehicle": "vehicle"}


@dataclass(frozen=True)
class Link:
    """Words and where they lead."""

    words: str
    href: str


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
    """Return the words and the address for what an entry belongs to, such as ``visit:214``; empty where nothing.

    Of a photo it is what the photo is of, such as ``photo:line:12`` or ``photo:visit:214/step:9``.
    """
    words = place_of(context)
    if not words:
        return "", ""
    kind, _, number = words.partition(" ")
    found, step = address(access, PAGE_OF_CONTEXT[kind], int(number)), context.partition("/step:")[2]
    return words, f"{found}#step-{step}" if found and step else found
