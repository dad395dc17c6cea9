"""What a request inside a workshop carries, `shop` fills it in; who may ask for a page; the record an address names."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar, cast
from urllib.parse import urlencode

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, resolve_url
from django.views.decorators.http import require_http_methods
from django_htmx.middleware import HtmxDetails

from inventory.models import Book, Cylinder, Entry, Partner
from inventory.models.access import OWNER, TECHNICIAN, Access


class BookRequest(HttpRequest):
    """A request inside a workshop: signed in, a member, its book resolved."""

    access: Access
    book: Book
    htmx: HtmxDetails


P = ParamSpec("P")
R = TypeVar("R", bound=BookRequest)  # pages of other floors know more of their request
View = Callable[Concatenate[R, P], HttpResponse]


def writer_required(view: View[R, P]) -> View[R, P]:
    """Let owners and technicians through; a reader gets 403."""

    @wraps(view)
    def guarded(request: R, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if not request.access.may_write:
            raise PermissionDenied("A reader may look, not write.")
        return view(request, *args, **kwargs)

    guarded.needs = TECHNICIAN  # type: ignore[attr-defined]  # the table of who may what is made of it
    return cast(View[R, P], guarded)


def owner_required(view: View[R, P]) -> View[R, P]:
    """Let the owner through; anyone else gets 403."""

    @wraps(view)
    def guarded(request: R, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if request.access.owner_by_pin:
            return ask_for_password(request)
        if not request.access.is_owner:
            raise PermissionDenied("Only the owner of the workshop may do this.")
        return view(request, *args, **kwargs)

    guarded.needs = OWNER  # type: ignore[attr-defined]
    return cast(View[R, P], guarded)


def ask_for_password(request: HttpRequest) -> HttpResponse:
    """Lead somebody who came by a PIN to the sign-in in full, and from there back to the page.

    What was sent lies in the browser until then, which puts it back.
    """
    back = request.get_full_path()
    return HttpResponseRedirect(
        f"{resolve_url(settings.LOGIN_URL)}?{urlencode({'other': '1', 'next': back})}", status=303
    )


def writer_page(view: View[R, P]) -> View[R, P]:
    """Answer GET and POST alone, and let owners and technicians through."""
    return cast(View[R, P], writer_required(require_http_methods(["GET", "POST"])(view)))


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
