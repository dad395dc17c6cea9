"""What a page shows by who looks at it: the menu of a role."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import template

from inventory.measure.own import Units
from inventory.models.access import OWNER, READER, TECHNICIAN
from inventory.pages.links import address
from shop.visits.kinds import KINDS
from shop.visits.spotcheck import SPOT_CHECK
from shop.visits.steps import StepKind
from shop.visits.underway import Read

register = template.Library()


@register.simple_tag
def step_kinds() -> tuple[StepKind, ...]:
    """Return the kinds of step that a visit may go on with, in the order of the work."""
    first = KINDS[1:]  # it has arrived already
    return tuple(kind for kind in first if kind.name != SPOT_CHECK)  # which comes after all of them


@register.filter
def read(row: Read, units: Units) -> str:
    """Return one reading of what is under way in the units of who looks at it."""
    return row.said(units)


PAGES = {
    "logbook": "Logbook",
    "cylinders": "Cylinders",
    "vehicles": "Vehicles",
    "visits": "Visits",
    "people": "People",
    "partners": "Partners",
    "year": "The year",
    "statements": "Statements",
    "documents": "Documents",
    "findings": "Findings",
    "checks": "Checks",
    "settings": "Settings",
}
USED = {
    OWNER: tuple(PAGES),
    TECHNICIAN: ("logbook", "cylinders", "vehicles", "visits", "checks"),
    READER: ("logbook", "year", "statements", "documents", "findings"),
}


@dataclass(frozen=True)
class MenuPage:
    """One page of the menu, and whether it is the one that is looked at."""

    words: str
    href: str
    here: bool


@dataclass(frozen=True)
class Menu:
    """The pages that a role uses, and all others, which it may open too."""

    used: list[MenuPage]
    more: list[MenuPage]

    @property
    def more_open(self) -> bool:
        return any(one.here for one in self.more)


@register.simple_tag(takes_context=True)
def menu(context: Mapping[str, Any]) -> Menu:
    """Return the menu of the person of the request, by the role: ``{% menu as pages %}``."""
    access, path = context["access"], context["request"].path
    found = {name: address(access, name) for name in PAGES}
    pages = {name: MenuPage(PAGES[name], href, href == path) for name, href in found.items() if href}
    used = USED[access.role]
    return Menu([pages[name] for name in used if name in pages], [pages[n] for n in pages if n not in used])
