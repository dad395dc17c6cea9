"""Whom the names in a file mean: people of the workshop, as the owner chose or by the same name, else new ones."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from inventory.measure.marks import mark
from inventory.models.access import TECHNICIAN
from shop.models import Membership, User, Workshop

NEW, GONE = "new", "gone"  # what is chosen of a name beside a person's handle: somebody new, who works here or left
MOST_NAMES = 60  # that a page asks about; what a file has beyond them means who has the same name, else somebody new


def people_of(workshop: Workshop) -> list[User]:
    """Return the people of a workshop, also those who left, by name."""
    found = User.objects.filter(memberships__workshop=workshop)
    return sorted(found, key=lambda one: (str(one).casefold(), one.pk))


def proposed(name: str, people: Sequence[User]) -> str:
    """Return the handle of who is probably meant: who has the name, else alone has it as a first name; or `NEW`."""
    known = Meant(people).same(name)
    firsts = [one for one in people if mark(one.display_name.partition(" ")[0]) == mark(name)]
    if known is None and len(firsts) == 1:
        known = firsts[0]
    return known.handle if known else NEW


class Meant:
    """Who is meant by a name: who has just that one, else the only one who has it but for case, spaces and signs."""

    def __init__(self, people: Sequence[User]) -> None:
        self._by: dict[str, User | None] = {}
        for field in ("display_name", "username"):
            alike: dict[str, list[User]] = {}
            for one in people:
                name = str(getattr(one, field))
                self._by.setdefault(f"={name}", one)
                alike.setdefault(mark(name), []).append(one)
            for said, found in alike.items():
                self._by.setdefault(f"~{said}", found[0] if len(found) == 1 else None)

    def same(self, name: str) -> User | None:
        """Return the person of a name; None where nobody has it, or several who differ by more than its case."""
        return self._by.get(f"={name}") or self._by.get(f"~{mark(name)}")


class Named:
    """The people of the names in a file, as they come; who is new is entered.

    Who is new does not sign in, and works here unless the owner said otherwise: a file does not say that anybody left.
    """

    def __init__(self, workshop: Workshop, chosen: Mapping[str, str] = MappingProxyType({})) -> None:
        people = people_of(workshop)
        self.workshop, self.chosen, self.meant = workshop, chosen, Meant(people)
        self.by_handle = {one.handle: one for one in people}
        self.found: dict[str, User] = {}

    def person(self, name: str) -> User:
        """Return the person of a name."""
        if name not in self.found:
            said = self.chosen.get(name, "")
            known = self.by_handle.get(said) if said else self.meant.same(name)
            self.found[name] = known or self._enter(name, active=said != GONE)
        return self.found[name]

    def _enter(self, name: str, *, active: bool) -> User:
        user = User(display_name=name)
        user.username, user.is_active = user.handle, False
        user.set_unusable_password()
        user.save()
        Membership.objects.create(user=user, workshop=self.workshop, role=TECHNICIAN, active=active)
        return user
