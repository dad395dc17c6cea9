"""What floors above show beside a record: their `AppConfig.ready` appends to `PANELS`; nothing here knows of them.

A panel is a function of the request and the record's name (such as ``visit:12``, ``cylinder:7``, ``line:214``,
``vehicle:9``, ``person:p-7x``, ``people``, ``period:2025-01-01:2025-12-31``) that returns markup, empty where it has
nothing to say.
"""

from collections.abc import Callable

from django.http import HttpRequest
from django.utils.safestring import SafeString, mark_safe

from inventory.models import Account

Panel = Callable[[HttpRequest, str], SafeString]
PANELS: list[Panel] = []


def panels_of(request: HttpRequest, about: str) -> SafeString:
    """Return what the floors above show beside a record."""
    return mark_safe("".join(panel(request, about) for panel in PANELS))  # noqa: S308 - each part is markup already


ASKED_OF_CHARGES: list[Callable[[Account, str, str], str]] = []
"""What a floor above asks before gas is put into a vehicle's account here: by account, refrigerant and grade."""


def asked_of_charge(vehicle: Account, code: str, grade: str) -> str:
    """Return what is to be asked before a charge into a vehicle is written; empty where nothing is odd about it."""
    return " ".join(question for ask in ASKED_OF_CHARGES if (question := ask(vehicle, code, grade)))
