"""The page of a record that is joined to another."""

from django.http import HttpResponse
from django.shortcuts import render

from inventory.models import Account
from inventory.pages import links
from inventory.pages.access import BookRequest
from inventory.pages.tables.lines import AccountLines


def joined_page(request: BookRequest, account: Account, name: str) -> HttpResponse:
    """Show a joined record: where it goes on, and its own lines; `name` begins the names of its pages."""
    kept = account.joined_to
    assert kept is not None  # noqa: S101 - for the type
    context = {
        "record": account,
        "kept": kept,
        "kept_href": links.of_account(request.access, kept),
        "part_href": links.address(request.access, f"{name}-part", account.number) if request.access.is_owner else "",
        "lines": AccountLines(account, request=request),
    }
    return render(request, "inventory/joined.html", context)
