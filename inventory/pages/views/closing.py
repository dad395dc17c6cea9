"""The page that closes the book through a day."""

from datetime import timedelta

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.acts import closing
from inventory.book.differences import open_differences
from inventory.models import Book, Entry
from inventory.pages.access import BookRequest, owner_required
from inventory.pages.forms.lines import CloseForm
from inventory.pages.running import ActPage, Understood, run
from inventory.shelf import queries

NOT_WEIGHED_DAYS = 30
OPEN_SHOWN = 50


@owner_required
@require_http_methods(["GET", "POST"])
def close(request: BookRequest) -> HttpResponse:
    """Close the book through a day: the owner alone, read back, not to be undone."""
    access = request.access
    form = CloseForm(request.POST or None, access=access)

    def understood() -> Understood:
        rows = [
            ("Book", request.book),
            ("Closed through", f"{form.cleaned_data['through']:%-d %B %Y}"),
            ("Open differences", len(open_differences(request.book))),
        ]
        then = "Nothing counts for a closed day any more. A later correction counts on the day it is written, as late."
        return Understood(rows, then, always=True)

    def write() -> Entry:
        return closing.close_through(request.book, form.act(access), form.cleaned_data["through"])

    shown = ActPage(
        "Close a year",
        "Close it for good",
        reverse("entries", args=[access.slug]),
        irrevocable="This cannot be undone: a closed day stays closed.",
    )
    since = timezone.now() - timedelta(days=NOT_WEIGHED_DAYS)
    return run(
        request,
        form,
        shown,
        understood=understood,
        write=write,
        to=lambda one: ("entry", one.seq),
        template="inventory/close.html",
        context={
            "book": request.book,
            "differences": _open_shown(request.book, request.access.mass_unit),
            "not_weighed": queries.not_weighed_since(request.book, since),
            "days": NOT_WEIGHED_DAYS,
        },
    )


def _open_shown(book: Book, unit: str) -> list[tuple[int, str, str]]:
    """Return the newest open differences of a book as line number, cylinder and sentence."""
    newest = open_differences(book)[:OPEN_SHOWN]
    return [(one.movement.entry.seq, str(one.cylinder), one.said(unit)) for one in newest]
