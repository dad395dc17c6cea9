"""Who may do what in the book that a request is about; `shop` fills it in for every request."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec, TypeVar, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django_htmx.middleware import HtmxDetails

if TYPE_CHECKING:
    from inventory.models import Book

OWNER, TECHNICIAN, READER = "owner", "technician", "reader"


def no_other_books() -> "Sequence[Book]":
    """Return nothing: a person who writes in one book alone."""
    return ()


@dataclass(frozen=True)
class Access:
    """What the person of a request may do in one book. `actor` is the handle that entries carry.

    `other_books` returns the further books in which the person may write, and is asked only where that matters.
    """

    book: "Book"
    slug: str  # the workshop's part of every address
    role: str
    actor: str
    atmosphere_pa: float = 101_325.0
    jurisdiction: str = ""
    mass_unit: str = "kg"
    other_books: "Callable[[], Sequence[Book]]" = no_other_books

    @property
    def may_write(self) -> bool:
        return self.role in (OWNER, TECHNICIAN)

    @property
    def is_owner(self) -> bool:
        return self.role == OWNER


class BookRequest(HttpRequest):
    """A request inside a workshop: signed in, a member, its book resolved."""

    access: Access
    book: "Book"
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
