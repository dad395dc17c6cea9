"""Whose hand writes on a phone that several people share: who may take it over by a PIN of their own, and when not.

Somebody may who signed in on it in full that day. A PIN is short, so it is tried five times, whoever tries, until its
person signs in in full; and an owner who came by it does a technician's work alone.
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

HERE = "people_here"  # in the session: who signed in in full, when, and with which password
BY_PIN = "by_pin"  # in the session: the person came by a PIN, and which it was
MOST_TRIES = 5
Session = MutableMapping[str, Any]  # a session of Django has these methods


def signed_in_here(session: Session, person: User, before: dict[str, list[Any]]) -> None:
    """Note in a new session that a person signed in in full; `before` is who did on this phone already."""
    session[HERE] = {**before, str(person.pk): [time.time(), person.get_session_auth_hash()]}
    session.pop(BY_PIN, None)
    User.objects.filter(pk=person.pk).update(pin_tries=0)


def who_may_take_over(session: Session, workshop: Workshop, now: User) -> list[User]:
    """Return who writes in the workshop, signed in here in full today and has a PIN; without the person there is."""
    since = session.get(HERE, {})
    people = User.objects.filter(pk__in=list(since), is_active=True, pin_tries__lt=MOST_TRIES).exclude(pk=now.pk)
    writers = {"workshop": workshop, "active": True, "role__in": (OWNER, TECHNICIAN)}
    members = people.exclude(pin="").filter(**{f"memberships__{name}": value for name, value in writers.items()})
    return [one for one in members.order_by("display_name", "username") if _today(since[str(one.pk)], one)]


def _today(signed_in: list[Any], person: User) -> bool:
    since, password = signed_in
    day = timezone.localdate(datetime.fromtimestamp(since, timezone.get_current_timezone()))
    return day == timezone.localdate() and password == person.get_session_auth_hash()


def takes(person: User, pin: str) -> bool:
    """Whether this is the person's PIN; a wrong one is counted before it is looked at, so that none is tried twice."""
    asked = User.objects.filter(pk=person.pk, pin_tries__lt=MOST_TRIES).exclude(pin="")
    if not asked.update(pin_tries=F("pin_tries") + 1) or not check_password(pin, person.pin):
        return False
    User.objects.filter(pk=person.pk).update(pin_tries=0)  # the fifth try may be the right one
    return True


def came_by(person: User) -> str:
    """Return what a session keeps of the PIN that opened it; another PIN, or none, has another."""
    return salted_hmac("shop.people.hands", person.pin).hexdigest()


def is_over(session: Session, person: User) -> bool:
    """Whether the person came by a PIN that is theirs no longer."""
    return BY_PIN in session and not constant_time_compare(session[BY_PIN], came_by(person))


def set_pin(person: User, pin: str) -> None:
    """Give a person a PIN, or none where it is empty. Raises ValidationError where it is too easy to guess."""
    if pin and not re.fullmatch(r"[0-9]{4,8}", pin):
        raise ValidationError("A PIN has four to eight digits.")
    if pin and (len(set(pin)) == 1 or pin in "0123456789" or pin in "9876543210"):
        raise ValidationError("All digits alike, or one after the other, is tried first. Choose another.")
    User.objects.filter(pk=person.pk).update(pin=make_password(pin) if pin else "", pin_tries=0)
