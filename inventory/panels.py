"""What floors above show beside a record: their `AppConfig.ready` appends to `PANELS`; nothing here knows of them.

A panel is a function of the request and the record's name (such as ``visit:12``, ``cylinder:7``, ``line:214``,
``vehicle:9``, ``person:p-7x``, ``people``, ``period:2025-01-01:2025-12-31``) that returns markup, empty where it has
nothing to say.
"""

from collections.abc import Callable

from django.http import HttpRequest
from django.utils.safestring import SafeString, mark_safe

Panel = Callable[[HttpRequest, str], SafeString]
PANELS: list[Panel] = []


def panels_of(request: HttpRequest, about: str) -> SafeString:
    """Return what the floors above show beside a record."""
    return mark_safe("".join(panel(request, about) for panel in PANELS))  # noqa: S308 - each part is markup already
