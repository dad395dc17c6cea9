"""Who may do what in one book: roles, and what a person who works in it is told of its workshop. Knows no request."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from inventory.measure.atmosphere import SEA_LEVEL_PA, Air
from inventory.measure.own import Units
from inventory.models import Book

OWNER, TECHNICIAN, READER = "owner", "technician", "reader"


def no_other_books() -> Sequence[Book]:
    """Return nothing: a person who writes in one book alone."""
    return ()


@dataclass(frozen=True)
class Access:
    """What a person may do in one book. `actor` is the handle that entries carry.

    `atmosphere_pa` is what gauges are read against, `atmosphere_low_pa` and `atmosphere_high_pa` what it lies between,
    `atmosphere_words` what is not known of it ("" where the height is entered: then the three are one).
    `other_books` returns the further books in which the person may write, `owners` the names of the owners; both are
    asked only where that matters.
    """

    book: Book
    slug: str  # the workshop's part of every address
    role: str
    actor: str
    atmosphere_pa: float = SEA_LEVEL_PA
    atmosphere_low_pa: float = SEA_LEVEL_PA
    atmosphere_high_pa: float = SEA_LEVEL_PA
    atmosphere_words: str = ""
    jurisdiction: str = ""
    here_alone: bool = False  # the owner chose the server's own machine alone: an address that no phone reaches stands
    units: Units = Units()
    owner_by_pin: bool = False  # an owner who may do a technician's work until the password is given
    other_books: Callable[[], Sequence[Book]] = no_other_books
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
