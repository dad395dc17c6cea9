"""How often one address may ask an open page: a count of questions in a sliding time, kept in the cache.

The cache of each server process is its own, so several processes let through as many times more; that still is too few
to guess a code.
"""

import time

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

QUESTIONS = 20
WITHIN_S = 600


def address_of(request: HttpRequest) -> str:
    """Return the address that asks; behind a front server that speaks https, the one that it saw."""
    forwarded = str(request.META.get("HTTP_X_FORWARDED_FOR", "")) if settings.HTTPS else ""
    return forwarded.rpartition(",")[2].strip() or str(request.META.get("REMOTE_ADDR", ""))


def wait_s(request: HttpRequest, what: str) -> int:
    """Count one more question and return 0, or the seconds to wait where there were too many already."""
    key, now = f"{what}-{address_of(request)}".replace(" ", ""), time.time()
    asked = [moment for moment in cache.get(key, []) if moment > now - WITHIN_S]
    if len(asked) >= QUESTIONS:
        return int(asked[0] + WITHIN_S - now) + 1
    cache.set(key, [*asked, now], WITHIN_S)
    return 0
