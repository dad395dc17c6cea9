"""The link by which the owner of a car reads one visit: its secret, and the code that the visit's record may bear.

The secret follows from the link's own key and the server's, so that the code can be shown again and printed while the
database holds only a digest of it; with another key of the server it is lost, and a new link is to be made.
"""

from base64 import urlsafe_b64encode
from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import salted_hmac

from compliance.models import ReaderLink
from compliance.papers.paper import Block, Label
from inventory.measure.codes import digest_of
from inventory.measure.reach import stays_here
from shop.models import Workshop


def secret_of(key: UUID) -> str:
    """Return the secret of a link by its key: 256 bits, nobody can tell them without the server's own key."""
    return urlsafe_b64encode(salted_hmac("link of a visit", str(key), algorithm="sha256").digest()).decode().rstrip("=")


def standing_link(workshop: Workshop, about: str, now: datetime | None = None) -> ReaderLink | None:
    """Return the link of a visit that leads somewhere now; None where there is none."""
    rows = ReaderLink.objects.filter(workshop=workshop, kind=ReaderLink.VISIT, about=about, revoked_at=None)
    return rows.filter(ends_at__gt=now or timezone.now()).order_by("-made_at", "-pk").first()


def path_of(link: ReaderLink) -> str:
    """Return the address of a link below the server's; empty where the secret can no longer be told."""
    secret = secret_of(link.request_key)
    return reverse("car", args=[secret]) if digest_of(secret.encode()) == link.token_digest else ""


def on_record(workshop: Workshop, about: str) -> tuple[Block, ...]:
    """Return the code that the record of a visit bears: where its link was made for that, and a phone comes there."""
    link = standing_link(workshop, about)
    path = path_of(link) if link is not None and link.on_paper and not stays_here(settings.ADDRESS) else ""
    if link is None or not path:
        return ()
    last = workshop.units.day_said(link.ends_at.astimezone(timezone.get_current_timezone()).date())
    rows = (("Shows", "this visit in plain words, to whoever has the code"), ("Until", f"the end of {last}"))
    return (Label("To read on a phone", rows, f"{settings.ADDRESS}{path}"),)
