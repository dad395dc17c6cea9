"""Links for readers: one statement, one vehicle or a set of documents, to read alone, until a day, revocable.

The token of a link is shown once and not kept: the database has its digest. Every page opened by it is written down.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from compliance.models import Document, Opening, ReaderLink, link_token
from inventory.book.refusals import LedgerError
from inventory.measure.codes import digest_of
from inventory.measure.spoken import days_in
from shop.models import User, Vehicle, Workshop
from shop.people.identity import all_of, kept

LONGEST = timedelta(days=366)
FOR_READERS = (ReaderLink.STATEMENT, ReaderLink.VEHICLE, ReaderLink.DOCUMENTS)
NAMES_CUSTOMER = '"names_customer":true'  # among the figures of a visit record, as its content is kept


class LinkRefused(LedgerError):
    """A link that cannot be made; the text is a sentence."""


class NoLink(Exception):
    """A link that leads nowhere: never made, ended or revoked; the text is a sentence for the reader."""


@dataclass(frozen=True)
class Wanted:
    """What a link is to show: `about` of a statement is ``period:FROM:TO:BASIS``, of a vehicle ``vehicle:N``.

    `token` is what the link is to be known by, where it is to be told again; else it is made at random.
    """

    kind: str
    about: str = ""
    documents: tuple[Document, ...] = ()
    on_paper: bool = False
    token: str = ""


def make_link(
    workshop: Workshop, wanted: Wanted, *, for_whom: str, ends_at: datetime, by: User, key: UUID
) -> tuple[ReaderLink, str]:
    """Make a link and return it with its token, which nobody can read later; empty where the form was sent before.

    Raises LinkRefused.
    """
    now = timezone.now()
    if not now < ends_at <= now + LONGEST:
        raise LinkRefused("A link ends after now and within a year.")
    if wanted.kind == ReaderLink.DOCUMENTS and not wanted.documents:
        raise LinkRefused("Choose the documents that the link is to show.")
    with transaction.atomic():
        known = ReaderLink.objects.filter(request_key=key, workshop=workshop).first()
        if known is not None:
            return known, ""
        token = wanted.token or link_token()
        made = ReaderLink.objects.create(
            workshop=workshop,
            token_digest=digest_of(token.encode()),
            kind=wanted.kind,
            about=wanted.about,
            for_whom=for_whom.strip(),
            on_paper=wanted.on_paper,
            made_by=by,
            made_at=now,
            ends_at=ends_at,
            request_key=key,
        )
        made.documents.set(wanted.documents)
    return made, token


def revoke(link: ReaderLink) -> None:
    """Let a link lead nowhere from now on; it stays on the list with what was opened by it."""
    ReaderLink.objects.filter(pk=link.pk, revoked_at__isnull=True).update(revoked_at=timezone.now())


def opened(token: str, what: str, kinds: Sequence[str] = FOR_READERS) -> ReaderLink:
    """Return the link of a token and write down that `what`, if anything, was opened by it. Raises NoLink."""
    rows = ReaderLink.objects.filter(token_digest=digest_of(token.encode()), kind__in=kinds)
    link = rows.select_related("workshop__book").first()
    if link is None:
        raise NoLink("This link leads nowhere. Ask the workshop for another.")
    state = state_of(link)
    if state != "open":
        raise NoLink(days_in(f"This link {state}. Ask the workshop for another.", link.workshop.units))
    if what:
        Opening.objects.create(link=link, at=timezone.now(), what=what[:200])
    return link


def state_of(link: ReaderLink) -> str:
    """Return "open", "ended on ..." or "was revoked on ..." in words."""
    if link.revoked_at is not None:
        return f"was revoked on {_day(link, link.revoked_at)}"
    if link.ends_at <= timezone.now():
        return f"ended on {_day(link, link.ends_at)}"
    return "open"


def _day(link: ReaderLink, moment: datetime) -> str:
    return moment.astimezone(ZoneInfo(link.workshop.zone)).date().isoformat()


def vehicle_of(link: ReaderLink) -> Vehicle:
    """Return the vehicle of a link. Raises NoLink where it is no longer there."""
    number = link.about.partition(":")[2]
    found = all_of(link.workshop.book).filter(account__number=number).first()
    if found is None:
        raise NoLink("The vehicle of this link is no longer in the book.")
    return kept(found)


def documents_of(vehicle: Vehicle, workshop: Workshop) -> "QuerySet[Document]":
    """Return the documents issued for the visits of a vehicle that name nobody, newest first, without their files."""
    abouts = [f"visit:{number}" for number in vehicle.visits.values_list("number", flat=True)]
    issued = Document.objects.filter(workshop=workshop, about__in=abouts).exclude(content__contains=NAMES_CUSTOMER)
    return issued.defer("file").order_by("-number")
