"""The facts of people: who they are in the workshop and which certificates they hold."""

from collections.abc import Iterator

from compliance.findings.marks import texts, whole
from compliance.rules import facts
from shop.models import Membership, Workshop


def people_of(workshop: Workshop) -> dict[str, facts.Person]:
    """Return the people of a workshop by handle."""
    rows = Membership.objects.filter(workshop=workshop).select_related("user").prefetch_related("user__certifications")
    return {
        one.user.handle: facts.Person(
            handle=one.user.handle,
            role=one.role,
            active=one.active,
            trainee=one.is_trainee,
            enrolled_on=one.enrolled_on,
            certificates=tuple(
                facts.Certificate(each.scheme, each.issued_on, each.expires_on, each.never_expires, each.scope)
                for each in one.user.certifications.all()
            ),
        )
        for one in rows
    }


def read(workshop: Workshop) -> Iterator[str]:
    """Yield what the facts of people are read from; one query."""
    yield from texts(whole(Membership.objects.filter(workshop=workshop), "user__handle", "user__certifications"))
