"""Links for the owners of cars: made and revoked at the visit, one at a time.

Whatever is wrong with a link (never made, changed, ended, revoked) has one sentence, so that nobody learns by trying.
"""

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from compliance.models import Opening, ReaderLink
from compliance.papers.ownerlink import secret_of, standing_link
from compliance.readers.links import NoLink, Wanted, make_link, opened
from shop.models import User, Visit, Workshop

LEADS_NOWHERE = "This link leads nowhere, or no longer. Ask the workshop for another."
FOR_WHOM = "the owner of the car"


def make(visit: Visit, *, ends_at: datetime, on_paper: bool, by: User, key: UUID) -> ReaderLink:
    """Make the link of a visit; one that stood before leads nowhere from now on. Raises LinkRefused."""
    with transaction.atomic():
        Visit.objects.select_for_update().get(pk=visit.pk)
        wanted = Wanted(ReaderLink.VISIT, visit.context, on_paper=on_paper, token=secret_of(key))
        made, token = make_link(visit.workshop, wanted, for_whom=FOR_WHOM, ends_at=ends_at, by=by, key=key)
        if token:
            _standing(visit.workshop, visit.context).exclude(pk=made.pk).update(revoked_at=timezone.now())
    return made


def revoke(visit: Visit) -> bool:
    """Let the link of a visit lead nowhere from now on; return whether one did lead somewhere."""
    there = standing_link(visit.workshop, visit.context) is not None
    _standing(visit.workshop, visit.context).update(revoked_at=timezone.now())
    return there


def _standing(workshop: Workshop, about: str) -> QuerySet[ReaderLink]:
    return ReaderLink.objects.filter(workshop=workshop, kind=ReaderLink.VISIT, about=about, revoked_at=None)


def read(token: str) -> ReaderLink:
    """Return the link of a token. Raises NoLink with the one sentence."""
    try:
        return opened(token, "", kinds=(ReaderLink.VISIT,))
    except NoLink:
        raise NoLink(LEADS_NOWHERE) from None


def was_read(link: ReaderLink) -> None:
    """Write down that a link's page was read."""
    Opening.objects.create(link=link, at=timezone.now(), what="the visit")
