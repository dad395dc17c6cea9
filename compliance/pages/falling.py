"""What falls due, as the first page lists it: in a sentence, with the page that settles it."""

from collections.abc import Sequence
from datetime import date
from urllib.parse import urlencode

from django.urls import reverse

from compliance.due.falling import CERTIFICATE, CLOSING, CONSIGNMENT, CYLINDER, INSTRUMENT, SCALE, Due
from compliance.due.standing import due_of
from compliance.due.words import said
from inventory.measure.own import Units
from inventory.pages import comeback
from shop.models import Workshop
from shop.pages.owed import Owed

INSTRUMENTS = (SCALE, INSTRUMENT)
# The page that settles a thing, what is done there, and what many of its kind are called together.
FALLING = {
    CYLINDER: ("cylinder", "Look at {}", "cylinders: test dates that run out"),
    SCALE: ("scale-check", "Enter the check of {}", ""),
    INSTRUMENT: ("gauge-check", "Enter the check of {}", ""),
    CERTIFICATE: ("person", "Look at {}", "certificates that run out"),
    CONSIGNMENT: ("consignment-accept", "Enter what was accepted of {}", "consignments not answered"),
    CLOSING: ("close-year", "Close the year", ""),
}


def owed(workshop: Workshop, today: date, units: Units) -> Sequence[Owed]:
    """Return what the first page lists of what falls due; a consignment past its day is told by the findings there."""
    due = due_of(workshop, today)
    instruments = [one for one in due if one.thing.kind in INSTRUMENTS]
    past, soon = [one for one in instruments if one.is_past], [one for one in instruments if not one.is_past]
    listed = [one for one in due if one.thing.kind == CONSIGNMENT and not one.is_past]
    return [
        *_in_turn(workshop, due, CYLINDER, today, units),
        *_to_check(workshop, past, today, units, "past their check"),
        *_to_check(workshop, soon, today, units, "whose check runs out soon"),
        *_in_turn(workshop, due, CERTIFICATE, today, units),
        *(falls_due(workshop, one, today, units) for one in listed),
        *_in_turn(workshop, due, CLOSING, today, units),
    ]


def _in_turn(workshop: Workshop, due: Sequence[Due], kind: str, today: date, units: Units) -> list[Owed]:
    """Return what is due of a kind, the newest first."""
    return [falls_due(workshop, one, today, units) for one in reversed(due) if one.thing.kind == kind]


def _to_check(workshop: Workshop, due: Sequence[Due], today: date, units: Units, words: str) -> list[Owed]:
    if len(due) > 1:
        named = ", ".join(one.thing.of for one in due)
        page = reverse("instrument-checks", args=[workshop.slug])
        back = urlencode({comeback.BACK: reverse("logbook", args=[workshop.slug])})
        return [Owed(f"{len(due)} instruments {words}: {named}.", f"{page}?{back}", "Enter their checks", writes=True)]
    return [falls_due(workshop, one, today, units) for one in due]


def falls_due(workshop: Workshop, due: Due, today: date, units: Units) -> Owed:
    """Return one thing that falls due in a sentence, with the page that settles it."""
    thing = due.thing
    page, act, folded = FALLING[thing.kind]
    return Owed(
        said(due, units, today),
        reverse(page, args=[workshop.slug, *([thing.place] if thing.place else [])]),
        act.format(thing.name),
        writes=thing.kind in (*INSTRUMENTS, CONSIGNMENT),
        owner_only=thing.kind == CLOSING,
        kind=folded,
    )
