"""Who may do what in the book that a request is about; `shop` fills it in for every request."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec, TypeVar, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django_htmx.middleware import HtmxDetails

from inventory.measure.atmosphere import SEA_LEVEL_PA, Air

if TYPE_CHECKING:
    from inventory.models import Book

OWNER, TECHNICIAN, READER = "owner", "technician", "reader"


def no_other_books() -> "Sequence[Book]":
    """Return nothing: a person who writes in one book alone."""
    return ()


@dataclass(frozen=True)
class Access:
    """What the person of a request may do in one book. `actor` is the handle that entries carry.

    `atmosphere_pa` is what gauges are read against, `atmosphere_low_pa` and `atmosphere_high_pa` what it lies between,
    `atmosphere_words` what is not known of it ("" where the height is entered: then the three are one).
    `other_books` returns the further books in which the person may write, `owners` the names of the owners; both are
    asked only where that matters.
    """

    book: "Book"
    slug: str  # the workshop's part of every address
    role: str
    actor: str
    atmosphere_pa: float = SEA_LEVEL_PA
    atmosphere_low_pa: float = SEA_LEVEL_PA
    atmosphere_high_pa: float = SEA_LEVEL_PA
    atmosphere_words: str = ""
    jurisdiction: str = ""
    mass_unit: str = "kg"
    other_books: "Callable[[], Sequence[Book]]" = no_other_books
    owners: Callable[[], Sequence[str]] = tuple

    @property
    def air(self) -> Air:
        """The air around the workshop."""
        return Air(self.atmosphere_pa, self.atmosphere_low_pa, self.atmosphere_high_pa, self.atmosphere_words)

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
