"""The list of people."""

from collections.abc import Iterable
from datetime import date

import django_tables2 as tables
from django.db.models import F, Prefetch, QuerySet, Value
from django.db.models.functions import Coalesce, NullIf

from inventory.measure.own import Units
from inventory.output.days import ends
from inventory.pages.tables.columns import to_page
from inventory.pages.tables.table import BookTable
from shop.models import Certification, Membership
from shop.pages.middleware import ShopRequest

NEVER_EXPIRES = "never expires"
NEVER_ENTERED = "never entered"


def members_of(request: ShopRequest) -> QuerySet[Membership]:
    """Return the people of the workshop, those who left too, with the name they go by and their certificates."""
    certificates = Certification.objects.order_by("scheme", "expires_on", "pk")
    return (
        Membership.objects.filter(workshop=request.workshop)
        .select_related("user")
        .prefetch_related(Prefetch("user__certifications", certificates))
        .annotate(called=Coalesce(NullIf(F("user__display_name"), Value("")), F("user__username")))
    )


def good_until(certificate: Certification, units: Units) -> str:
    """Return how long a certificate is good: "runs out in 12 days", "never expires", "never entered"."""
    return NEVER_EXPIRES if certificate.never_expires else ends(certificate.expires_on, units)


def latest_of(certificates: Iterable[Certification]) -> list[Certification]:
    """Return the certificate of each scheme that is good the longest: one that was renewed says nothing any more."""
    latest: dict[str, Certification] = {}
    for one in sorted(certificates, key=lambda one: (one.never_expires, one.expires_on or date.min)):
        latest[one.scheme] = one
    return sorted(latest.values(), key=lambda one: one.scheme)


def certificates_said(member: Membership, units: Units) -> str:
    """Return a person's certificates in words."""
    found = latest_of(member.user.certifications.all())
    return "; ".join(f"{one.scheme}: {good_until(one, units)}" for one in found) or NEVER_ENTERED


def role_said(member: Membership) -> str:
    """Return a person's role, and that they left where they did."""
    return member.role if member.active else f"{member.role}, no longer here"


class PeopleTable(BookTable):
    """People, their roles and how long their certificates are good."""

    nouns = ("person", "people")
    called = tables.Column("Name", linkify=to_page("person", lambda record: record.user.handle))
    role = tables.Column("Role")
    trainee = tables.Column("Trainee", accessor="is_trainee")
    certificates = tables.Column("Certificates", accessor="pk", orderable=False)

    class Meta:
        order_by = "called"

    def render_role(self, record: Membership) -> str:
        return role_said(record)

    def render_trainee(self, record: Membership) -> str:
        return "trainee" if record.is_trainee else "no"

    def render_certificates(self, record: Membership) -> str:
        return certificates_said(record, self.access.units)
