"""What is owed: the list on the first page. Floors above add theirs to `PROVIDERS`; nothing here knows of them.

A provider is a function of the workshop and the day that returns what is owed, in the order in which it is to be shown.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from django.urls import reverse
from django.utils import timezone

from inventory.book.differences import open_differences
from inventory.measure.own import Units
from shop.models import Step, Visit, Workshop
from shop.people.setup import DONE, steps_of
from shop.visits.log import asked_here, unfinished, with_log
from shop.visits.spotcheck import SPOT_CHECK, WITHIN, is_chosen

MOST_VISITS = 20
MOST_OPEN = 3  # of a kind; more are folded


@dataclass(frozen=True)
class Owed:
    """One thing owed, in a sentence, and the page that settles it."""

    words: str
    href: str
    act: str
    writes: bool = False  # its page is a form: a reader is shown the words alone
    owner_only: bool = False  # only the owner can settle it, so only he is shown it
    kind: str = ""  # what many of its kind are called together; more than three of them are folded under it


Provider = Callable[[Workshop, date, Units], Iterable[Owed]]
PROVIDERS: list[Provider] = []
"""What floors above owe: their `AppConfig.ready` appends to it."""


NOTES: list[Callable[[Workshop], str]] = []
"""What floors above say of how what is listed is counted: a sentence, or empty."""


def owed(workshop: Workshop, units: Units, *, is_owner: bool = True) -> list[Owed]:
    """Return all that is owed in a workshop today, to the owner or to those who work there."""
    today = timezone.localdate()
    own: tuple[Provider, ...] = (_set_up, _differences, _visits, _spot_checks)
    found = [one for provider in (*own, *PROVIDERS) for one in provider(workshop, today, units)]
    return [one for one in found if is_owner or not one.owner_only]


def gathered(found: Iterable[Owed]) -> list[tuple[str, list[Owed]]]:
    """Return what is owed by kind, each with the words it is folded under; empty where it stands open."""
    groups = [(kind, list(of_it)) for kind, of_it in groupby(found, key=lambda one: one.kind)]
    return [(f"{len(of_it)} {kind}" if kind and len(of_it) > MOST_OPEN else "", of_it) for kind, of_it in groups]


SET_UP = {
    "rules": ("units and basis are those proposed, nobody has looked at them", "Choose the units"),
    "scales": ("no scale is entered, so nothing can be weighed", "Enter a scale"),
    "gauges": ("no gauge is entered, and a visit’s pressures are read from one", "Enter a gauge"),
    "phone": ("nobody has looked at how a phone reaches these pages", "Reach them from a phone"),
    "cylinders": ("no cylinder is entered", "Enter the first cylinder"),
    "machine": ("no recovery or charging machine is entered, and its figures are read from it", "Enter the machine"),
    "certificate": ("no certificate of the owner is entered, and papers and findings ask for it", "Enter it"),
    "people": ("nobody else who works here is entered", "Add the people"),
}


def _set_up(workshop: Workshop, today: date, units: Units) -> list[Owed]:
    """Return the steps of the set-up that were put off or not come to, and what its first page left open."""
    if workshop.set_up is None:
        return []
    found = [
        Owed(f"Set-up: {words}.", reverse(f"set-up-{step}", args=[workshop.slug]), act, owner_only=True)
        for step, became in steps_of(workshop).items()
        if became != DONE
        for words, act in [SET_UP[step]]
    ]
    page = reverse("settings-workshop", args=[workshop.slug])
    if not workshop.address:
        found.append(
            Owed("The address is not entered; it stands on every document.", page, "Enter the address", owner_only=True)
        )
    if workshop.air.words:
        said = workshop.air.words
        found.append(Owed(f"{said[:1].upper()}{said[1:]}.", page, "Enter the height", owner_only=True))
    return found


def _differences(workshop: Workshop, today: date, units: Units) -> list[Owed]:
    found = []
    for one in open_differences(workshop.book):
        seq = one.movement.entry.seq
        href = reverse("explain", args=[workshop.slug, seq])
        way = "less" if one.open_mg > 0 else "more"
        day = units.day_said(one.movement.booked_on)
        found.append(
            Owed(
                f"{one.cylinder}, {day}, {way} than the book: {one.said(units.mass)}.",
                href,
                f"Explain line {seq}",
                writes=True,
                kind="weighings: differences to explain",
            )
        )
    return found


def _visits(workshop: Workshop, today: date, units: Units) -> list[Owed]:
    found = []
    for visit in unfinished(workshop)[:MOST_VISITS]:
        points = asked_here(visit, units)
        words = [one.words for one in points]
        shown = ", ".join(words[:3]) + (f" and {len(words) - 3} more" if len(words) > 3 else "")
        href = reverse("visit", args=[workshop.slug, visit.number])
        said = f"Visit {visit.number}, {visit.vehicle}: {shown} not entered."
        found.append(Owed(said, href, f"Go to visit {visit.number}", kind="visits: things still asked"))
    return found


def _spot_checks(workshop: Workshop, today: date, units: Units) -> list[Owed]:
    """Return the visits that were chosen and that nobody has looked at; later than `WITHIN` a finding says it."""
    since = timezone.now() - WITHIN
    handed = Step.objects.standing().filter(visit__workshop=workshop, kind="hand-over", visit__closed_at__gte=since)
    chosen = [visit for visit, data in handed.values_list("visit", "data") if is_chosen(data)]
    visits = with_log(Visit.objects.filter(pk__in=chosen)).order_by("number") if chosen else ()
    return [
        Owed(
            f"Visit {visit.number}, {visit.vehicle}, was chosen for a spot check: somebody who did no step of it "
            f"looks at it by {units.day_said(timezone.localdate(visit.closed_at + WITHIN))}.",
            reverse("visit-step", args=[workshop.slug, visit.number, "spot-check"]),
            f"Check visit {visit.number}",
            writes=True,
            kind="visits chosen for a spot check",
        )
        for visit in visits
        if visit.closed_at and any(one.kind == SPOT_CHECK for one in asked_here(visit, units))
    ]
