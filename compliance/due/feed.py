"""What falls due as a calendar (iCalendar, RFC 5545): whole days, codes, nobody's name.

The address of a calendar is a secret of one person: it can be revoked, and ends when the person leaves.
"""

from datetime import date, datetime, timedelta
from uuid import uuid5

from django.db import transaction
from django.utils import timezone
from icalendar import Calendar, Event

from compliance.due.falling import INSTRUMENT, SCALE, Due
from compliance.due.standing import due_of
from compliance.due.words import by_code
from compliance.models import CalendarAddress, link_token
from inventory.measure.codes import digest_of
from shop.models import Membership, User, Workshop

AHEAD = timedelta(days=400)
AGAIN = timedelta(hours=12)  # how often a calendar is asked to look
SHORTEST_NAME = 3  # letters: shorter ones stand in too many other words
NAMELESS = {SCALE: "A scale", INSTRUMENT: "An instrument"}


class NoCalendar(Exception):
    """An address at which there is no calendar; the text is a sentence."""


class Revoked(NoCalendar):
    """An address at which there was one."""


def new_address(member: Membership) -> str:
    """Make a person's calendar address anew and return its token, which nobody can read later; an older one ends."""
    with transaction.atomic():
        Membership.objects.select_for_update().get(pk=member.pk)
        revoke_address(member)
        token = link_token()
        CalendarAddress.objects.create(member=member, token_digest=digest_of(token.encode()), made_at=timezone.now())
    return token


def revoke_address(member: Membership) -> int:
    """Let a person's calendar address lead nowhere from now on; return how many did lead there."""
    standing = CalendarAddress.objects.filter(member=member, revoked_at__isnull=True)
    return standing.update(revoked_at=timezone.now())


def opened(token: str) -> Workshop:
    """Return the workshop whose calendar an address is. Raises NoCalendar."""
    rows = CalendarAddress.objects.select_related("member__user", "member__workshop__book")
    found = rows.filter(token_digest=digest_of(token.encode())).first()
    if found is None:
        raise NoCalendar("There is no calendar at this address. Make one in the book, under Reminders.")
    if found.revoked_at is not None or not (found.member.active and found.member.user.is_active):
        raise Revoked("This calendar address was revoked. Make a new one in the book, under Reminders.")
    return found.member.workshop


def calendar_of(workshop: Workshop, today: date, now: datetime) -> bytes:
    """Return what falls due in a workshop as a calendar."""
    calendar = Calendar()
    calendar.add("prodid", "-//Tarebook//What falls due//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", f"{workshop}: what falls due")
    calendar.add("refresh-interval", AGAIN, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", f"PT{AGAIN // timedelta(hours=1)}H")
    names = _names_of(workshop)
    for due in due_of(workshop, today, ahead=AHEAD):
        calendar.add_component(_event(workshop, due, names, now))
    return bytes(calendar.to_ical())


def _event(workshop: Workshop, due: Due, names: set[str], now: datetime) -> Event:
    """Return the day of one thing; it keeps its identity when the day changes, so that a calendar moves it."""
    event = Event()
    event.add("uid", f"{uuid5(workshop.book.uid, due.thing.key)}@tarebook")
    event.add("dtstamp", now)
    event.add("dtstart", due.on)
    event.add("dtend", due.on + timedelta(days=1))
    event.add("summary", _nameless(due, names))
    event.add("transp", "TRANSPARENT")
    return event


def _nameless(due: Due, names: set[str]) -> str:
    """Return what falls due by code; an instrument that somebody has called after a person is only "A scale"."""
    told = by_code(due)
    if due.thing.kind in NAMELESS and any(name in due.thing.code.casefold() for name in names):
        return told.replace(due.thing.code, NAMELESS[due.thing.kind], 1)
    return told


def _names_of(workshop: Workshop) -> set[str]:
    people = User.objects.filter(memberships__workshop=workshop).values_list("display_name", "username")
    words = {word.casefold() for names in people for name in names for word in name.split()}
    return {word for word in words if len(word) >= SHORTEST_NAME}
