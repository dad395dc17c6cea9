"""Two records of one vehicle or partner: the page of the joined one, and the forms that join and part them."""

from collections.abc import Iterable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from inventory.models import Account
from inventory.pages import links
from inventory.pages.access import BookRequest
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.parts import CHOOSE, choice, set_choices
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


SUBMIT = "Join them"
NO_LINE = "No line of the book changes. They can be parted again on the page of the joined one."


class JoinForm(BookForm):
    """Which of the other records is the same one; `others` are (number of the account, words), likely ones first."""

    kept = choice("It is the same as", (), what="record that is kept")

    def __init__(self, *args: Any, others: Iterable[tuple[int, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        del self.fields["occurred_at"]
        set_choices(self, "kept", [CHOOSE, *((str(number), words) for number, words in others)])


class PartForm(BookForm):
    """Nothing is asked; the read-back page says what is parted."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        del self.fields["occurred_at"]
