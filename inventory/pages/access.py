"""What a request inside a workshop carries, and which pages ask for more than a reader; `shop` fills it in."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods
from django_htmx.middleware import HtmxDetails

from inventory.models import Book
from inventory.models.access import Access


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

    return cast(View[R, P], guarded)


def owner_required(view: View[R, P]) -> View[R, P]:
    """Let the owner through; anyone else gets 403."""

    @wraps(view)
    def guarded(request: R, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if not request.access.is_owner:
            raise PermissionDenied("Only the owner of the workshop may do this.")
        return view(request, *args, **kwargs)

    return cast(View[R, P], guarded)


def writer_page(view: View[R, P]) -> View[R, P]:
    """Answer GET and POST alone, and let owners and technicians through."""
    return cast(View[R, P], writer_required(require_http_methods(["GET", "POST"])(view)))
