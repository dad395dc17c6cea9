"""Where the pages are reached, for the pages that show it: the address with its code, what it lacks, whom it trusts."""

from pathlib import Path

import segno
from django.conf import settings
from django.http import HttpRequest
from django.utils.safestring import SafeString

from inventory.measure.reach import is_number, stays_here
from shop.serving.trust import Authority


def authority() -> Authority | None:
    """Return the authority that phones are to trust; None where the server has none of its own."""
    if not settings.AUTHORITY:
        return None
    try:
        return Authority.read(Path(settings.AUTHORITY))
    except (OSError, ValueError):
        return None


def reached(request: HttpRequest) -> dict[str, object]:
    """Return what `shop/_reached.html` says: the address that papers bear, else the one of this very page."""
    address = (settings.ADDRESS or request.build_absolute_uri("/")).rstrip("/") + "/"
    here_alone = stays_here(address)
    return {
        "address": address,
        "here_alone": here_alone,
        "code": "" if here_alone else qr_code(address),
        "is_number": is_number(address),
        "https": address.startswith("https:"),
        "authority": authority(),
    }


def qr_code(text: str) -> SafeString:
    """Return a QR code as an SVG without any style attribute."""
    code = segno.make(text, error="m", micro=False)
    return SafeString(code.svg_inline(scale=4, border=4, dark="#000", light="#fff", omitsize=True, svgclass="qr"))
