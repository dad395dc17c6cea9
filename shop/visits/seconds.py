"""Who may look at somebody else's visit: those who write in its workshop and did none of its steps."""

from django.db.models import QuerySet

from inventory.models.access import OWNER, TECHNICIAN
from shop.models import Membership, User, Visit
from shop.visits.spotcheck import SPOT_CHECK

NOT_YET = "A spot check comes after the hand-over. Hand the vehicle over first."
NOBODY = (
    "Nobody else writes here who did no step of this visit, so it has no spot check. Write what was seen as a note."
)


def seconds(visit: Visit) -> QuerySet[Membership]:
    """Return those of a visit's workshop who may check it; nobody where only one person may write."""
    doers = visit.steps.exclude(kind=SPOT_CHECK).order_by().values("doer")
    writers = Membership.objects.filter(workshop=visit.workshop_id, active=True, role__in=(OWNER, TECHNICIAN))
    return writers.exclude(user__in=doers).select_related("user").order_by("pk")


def check_refused(visit: Visit, person: User) -> str:
    """Say why somebody may not check a visit, and who may; empty where nothing speaks against it."""
    if visit.state != Visit.CLOSED:
        return NOT_YET
    others = list(seconds(visit))
    if person in [one.user for one in others]:
        return ""
    names = ", ".join(str(one.user) for one in others)
    if not names:
        return NOBODY
    return f"A spot check is done and entered by somebody who did no step of this visit: {names}. {person} is not."
