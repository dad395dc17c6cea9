"""Whose hand writes on a phone that several people share: who may take it over by a PIN of their own, and when not.

Somebody may who signed in on it in full that day, in the workshop whose page was open. A PIN is short, so on each phone
it is tried five times, whoever tries, and a few more on all phones together; then its person signs in there in full
once, and both counts begin anew. What was tried on one phone takes nothing from the person on another. An owner who
came by a PIN does a technician's work alone.
"""

import re
import time
from collections.abc import MutableMapping
from datetime import datetime
from typing import Any

from django.contrib.auth.hashers import check_password, make_password
from django.core.exceptions import ValidationError
from django.db.models import F
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac

from inventory.models.access import OWNER, TECHNICIAN
from shop.models import User, Workshop

HERE = "people_here"  # in the session: who signed in in full, when, with which password, how many wrong PINs since
BY_PIN = "by_pin"  # in the session: the person came by a PIN, which it was, and for which workshop
MOST_HERE = 5  # wrong ones on one phone
MOST_IN_ALL = 20  # on all phones
Session = MutableMapping[str, Any]  # a session of Django has these methods


def signed_in_here(session: Session, person: User, before: dict[str, list[Any]]) -> None:
    """Note in a new session that a person signed in in full; `before` is who did on this phone already."""
    session[HERE] = {**before, str(person.pk): [time.time(), person.get_session_auth_hash(), 0]}
    session.pop(BY_PIN, None)
    User.objects.filter(pk=person.pk).update(pin_tries=0)


def who_may_take_over(session: Session, workshop: Workshop, now: User) -> list[User]:
    """Return who writes in the workshop, signed in here in full today and has a PIN that may still be tried here."""
    return [one for one in _people_here(session, workshop, now) if tries_left(session, one)]


def who_is_tried_out(session: Session, workshop: Workshop, now: User) -> list[User]:
    """Return who could take over, were it not for the wrong PINs that were given for them."""
    return [one for one in _people_here(session, workshop, now) if not tries_left(session, one)]


def _people_here(session: Session, workshop: Workshop, now: User) -> list[User]:
    since = session.get(HERE, {})
    people = User.objects.filter(pk__in=list(since), is_active=True).exclude(pk=now.pk)
    writers = {"workshop": workshop, "active": True, "role__in": (OWNER, TECHNICIAN)}
    members = people.exclude(pin="").filter(**{f"memberships__{name}": value for name, value in writers.items()})
    return [one for one in members.order_by("display_name", "username") if _today(since[str(one.pk)], one)]


def _today(signed_in: list[Any], person: User) -> bool:
    since, password, _ = signed_in
    day = timezone.localdate(datetime.fromtimestamp(since, timezone.get_current_timezone()))
    return day == timezone.localdate() and password == person.get_session_auth_hash()


def tries_left(session: Session, person: User) -> int:
    """Return how often the PIN of a person may still be tried on this phone."""
    wrong: int = session[HERE][str(person.pk)][2]
    return max(0, min(MOST_HERE - wrong, MOST_IN_ALL - int(person.pin_tries)))


def takes(session: Session, person: User, pin: str) -> bool:
    """Whether this is the person's PIN; a wrong one is counted before it is looked at, so that none is tried twice."""
    if not tries_left(session, person):
        return False
    _count(session, person, session[HERE][str(person.pk)][2] + 1)
    asked = User.objects.filter(pk=person.pk, pin_tries__lt=MOST_IN_ALL).exclude(pin="")
    if not asked.update(pin_tries=F("pin_tries") + 1) or not check_password(pin, person.pin):
        person.refresh_from_db(fields=["pin_tries"])
        return False
    User.objects.filter(pk=person.pk).update(pin_tries=0)  # the last try may be the right one
    _count(session, person, 0)
    return True


def _count(session: Session, person: User, wrong: int) -> None:
    since, password, _ = session[HERE][str(person.pk)]
    session[HERE] = {**session[HERE], str(person.pk): [since, password, wrong]}


def kept_of(person: User, workshop: Workshop) -> list[Any]:
    """Return what a session keeps of the PIN by which a person came, and of the workshop that it opened."""
    return [came_by(person), workshop.pk]


def came_by(person: User) -> str:
    """Return the mark of a person's PIN; another PIN, or none, has another."""
    return salted_hmac("shop.people.hands", person.pin).hexdigest()


def is_over(session: Session, person: User) -> bool:
    """Whether the person came by a PIN that is theirs no longer."""
    return BY_PIN in session and not constant_time_compare(session[BY_PIN][0], came_by(person))


def opens(session: Session, workshop: Workshop) -> bool:
    """Whether the way in by which the person came is one into this workshop: a PIN opens that of the phone alone."""
    return BY_PIN not in session or session[BY_PIN][1] == workshop.pk


def set_pin(person: User, pin: str) -> None:
    """Give a person a PIN, or none where it is empty. Raises ValidationError where it is too easy to guess."""
    if pin and not re.fullmatch(r"[0-9]{4,8}", pin):
        raise ValidationError("A PIN has four to eight digits.")
    if pin and (len(set(pin)) == 1 or pin in "0123456789" or pin in "9876543210"):
        raise ValidationError("All digits alike, or one after the other, is tried first. Choose another.")
    User.objects.filter(pk=person.pk).update(pin=make_password(pin) if pin else "", pin_tries=0)
