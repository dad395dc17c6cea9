"""How often may be guessed: passwords by name and by address each, secret addresses and codes by address.

Ten wrong passwords for one name from one address are counted by django-axes. Here the same tries are summed up: those
of one address whatever the names, those for one name wherever they come from. A browser on which a person has signed in
before is not asked for that name's sum, so that nobody is kept out by what strangers try in their name.

Secret addresses are long; that guessing them is slowed down is a second lock. Their wrong ones are counted in the cache
of each server process, so that several let through as many times more.
"""

import time
from dataclasses import dataclass
from datetime import timedelta
from ipaddress import IPv6Address, ip_address, ip_network

from axes.models import AccessAttempt
from django.conf import settings
from django.core.cache import cache
from django.db.models import QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import salted_hmac

from shop.models import User

WITHIN = timedelta(hours=settings.AXES_COOLOFF_TIME)
MOST_OF_ADDRESS = 40  # wrong passwords; a workshop may stand behind one address
MOST_OF_NAME = 40
KNOWN = "__Host-known" if settings.HTTPS else "known"  # the cookie of who has signed in with a browser
KNOWN_S = 90 * 24 * 3600
MOST_KNOWN = 8


def address_of(request: HttpRequest) -> str:
    """Return the address that asks; behind a front server, the one that it saw. Of IPv6 a whole net is one asker."""
    forwarded = str(request.META.get("HTTP_X_FORWARDED_FOR", "")) if settings.BEHIND_FRONT else ""
    found = forwarded.rpartition(",")[2].strip() or str(request.META.get("REMOTE_ADDR", ""))
    try:
        address = ip_address(found.partition("%")[0])
    except ValueError:
        return "0.0.0.0"  # noqa: S104 - nobody's: a front server that does not say who asks
    return str(ip_network((address, 64), strict=False)[0]) if isinstance(address, IPv6Address) else str(address)


def must_wait(request: HttpRequest, name: str, person: User | None) -> bool:
    """Whether too many wrong passwords came, for this name or from this address, to try one more."""
    tried = AccessAttempt.objects.filter(attempt_time__gte=timezone.now() - WITHIN)
    if _wrong(tried.filter(ip_address=address_of(request))) >= MOST_OF_ADDRESS:
        return True
    return not (person and is_known(request, person)) and _wrong(tried.filter(username=name)) >= MOST_OF_NAME


def _wrong(rows: "QuerySet[AccessAttempt]") -> int:
    return int(rows.aggregate(all=Sum("failures_since_start"))["all"] or 0)


def is_known(request: HttpRequest, person: User) -> bool:
    """Whether the person signed in with this browser before, with the password that is theirs now."""
    return _mark_of(person) in _known(request)


def know(request: HttpRequest, answer: HttpResponse, person: User) -> None:
    """Let the browser show later that the person has signed in with it."""
    mine = _mark_of(person)
    marks = [mine, *(one for one in _known(request) if one != mine)][:MOST_KNOWN]
    answer.set_signed_cookie(
        KNOWN, " ".join(marks), KNOWN, max_age=KNOWN_S, httponly=True, secure=settings.HTTPS, samesite="Lax"
    )


def _known(request: HttpRequest) -> list[str]:
    return str(request.get_signed_cookie(KNOWN, "", KNOWN, max_age=KNOWN_S)).split()


def _mark_of(person: User) -> str:
    return salted_hmac(KNOWN, f"{person.pk} {person.get_session_auth_hash()}").hexdigest()[:32]


@dataclass(frozen=True)
class Tries:
    """What one address may ask `most` times in `within_s` seconds."""

    of: str
    most: int
    within_s: int = 600

    def wait_s(self, request: HttpRequest) -> int:
        """Return 0, or the seconds to wait where there were too many already."""
        asked = self._asked(request)
        return int(asked[0] + self.within_s - time.time()) + 1 if len(asked) >= self.most else 0

    def count(self, request: HttpRequest) -> None:
        """Count one more."""
        cache.set(self._key(request), [*self._asked(request), time.time()], self.within_s)

    def _asked(self, request: HttpRequest) -> list[float]:
        return [moment for moment in cache.get(self._key(request), []) if moment > time.time() - self.within_s]

    def _key(self, request: HttpRequest) -> str:
        return f"{self.of}-{address_of(request)}"
